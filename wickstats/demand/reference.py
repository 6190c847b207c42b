"""Reference evapotranspiration of a day by Penman-Monteith, with every intermediate.

    ET0 = [0.408 D (Rn - G) + gamma 900/(T + 273) u2 (es - ea)] / [D + gamma (1 + 0.34 u2)]

T mean of Tmax and Tmin, degC; u2 wind at 2 m, m/s; es, ea saturation and actual vapor
pressure, kPa; D slope of the vapor pressure curve, gamma psychrometric constant, kPa/degC;
Rn net radiation, G heat into the ground, MJ/m2 and day; ET0 in mm a day (equation 6).
Beside it Hargreaves: 0.0023 (T + 17.8) sqrt(Tmax - Tmin) 0.408 Ra (equation 52).

Source of every equation: Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage
Paper 56, chapters 3 and 4; equation numbers from memory. Written here since each
intermediate is shown. Leans on the standard library and on the sun's geometry in core.
"""

import math
from dataclasses import dataclass

from wickstats.core.sun import sun_over

ALBEDO = 0.23
STEFAN_BOLTZMANN = 4.903e-9  # MJ/m2, day and K^4
ZERO_C = 273.16
TO_MM = 0.408  # mm of water evaporated by 1 MJ/m2
ASSUMED_WIND = 2.0
INLAND = 0.16  # radiation from the difference of temperatures, away from coasts


@dataclass(frozen=True, slots=True)
class Weather:
    """One day's (or a month's mean) weather; None where it was not measured.

    Temperatures in degC, humidity in %, vapor pressure in kPa, wind in m/s at a height in m
    (2 m where None), sun in h, radiation in MJ/m2 and day; ``ground_heat`` (G) in MJ/m2.
    """

    day_of_year: int
    tmin_c: float
    tmax_c: float
    rh_min: float | None = None
    rh_max: float | None = None
    vapor_kpa: float | None = None
    wind_m_s: float | None = None
    wind_height_m: float | None = None
    sun_h: float | None = None
    radiation: float | None = None
    ground_heat: float = 0.0


@dataclass(frozen=True, slots=True)
class Reference:
    """Reference evapotranspiration and everything it was reckoned from.

    Attributes
    ----------
    et0_penman_mm, et0_hargreaves_mm
        Both in mm a day; None on a day on which the sun does not rise.
    vapor_from, sun_from, wind_from
        What stood for ea, Rs and u2.
    only_temperatures
        Nothing but temperatures was measured.
    """

    t_mean_c: float
    es_kpa: float
    ea_kpa: float
    vpd_kpa: float
    slope_kpa_c: float
    pressure_kpa: float
    gamma_kpa_c: float
    u2_m_s: float
    ra: float
    day_length_h: float
    rs: float
    rso: float
    rns: float
    rnl: float | None
    rn: float | None
    g: float
    et0_penman_mm: float | None
    et0_hargreaves_mm: float | None
    vapor_from: str
    sun_from: str
    wind_from: str
    only_temperatures: bool


def saturation(temperature: float) -> float:
    """Saturation vapor pressure e0(T), kPa (equation 11)."""
    return 0.6108 * math.exp(17.27 * temperature / (temperature + 237.3))


def slope(temperature: float) -> float:
    """Slope of the saturation vapor pressure curve, kPa/degC (equation 13)."""
    return 4098.0 * saturation(temperature) / (temperature + 237.3) ** 2


def pressure(elevation: float) -> float:
    """Air pressure at an elevation in m, kPa (equation 7)."""
    return 101.3 * math.pow((293.0 - 0.0065 * elevation) / 293.0, 5.26)


def psychrometric(air_pressure: float) -> float:
    """Psychrometric constant, kPa/degC (equation 8)."""
    return 0.665e-3 * air_pressure


def wind_at_2_m(wind: float, height: float) -> float:
    """Wind at 2 m from wind at a height in m, over short grass (equation 47)."""
    return wind * 4.87 / math.log(67.8 * height - 5.42)


def vapor(tmin: float, tmax: float, rh_min: float, rh_max: float) -> float:
    """Actual vapor pressure from the extremes of humidity, kPa (equation 17)."""
    return (saturation(tmin) * rh_max + saturation(tmax) * rh_min) / 200.0


def ground_heat_of_month(
    mean: float, before: float | None, after: float | None
) -> float | None:
    """G of a month from mean temperatures of the months around (equations 43 and 44).

    None where the month before is not known.
    """
    if before is None:
        return None
    return 0.14 * (mean - before) if after is None else 0.07 * (after - before)


def _vapor(day: Weather) -> tuple[float, str]:
    if day.vapor_kpa is not None:
        return day.vapor_kpa, "measured"
    if day.rh_max is not None and day.rh_min is not None:
        return vapor(day.tmin_c, day.tmax_c, day.rh_min, day.rh_max), "humidity"
    if day.rh_max is not None:  # equation 18
        return saturation(day.tmin_c) * day.rh_max / 100.0, "highest humidity"
    return saturation(day.tmin_c), "lowest temperature"  # taken as dew point, equation 48


def _solar(day: Weather, above: float, longest: float) -> tuple[float, str]:
    if day.radiation is not None:
        return day.radiation, "measured"
    if day.sun_h is not None and longest > 0.0:  # equation 35
        return (0.25 + 0.50 * min(day.sun_h / longest, 1.0)) * above, "hours of sun"
    difference = max(day.tmax_c - day.tmin_c, 0.0)  # equation 50
    return INLAND * math.sqrt(difference) * above, "difference of temperatures"


def _wind(day: Weather) -> tuple[float, str]:
    if day.wind_m_s is None:
        return ASSUMED_WIND, "assumed"
    if day.wind_height_m is None or day.wind_height_m == 2.0:
        return day.wind_m_s, "measured" if day.wind_height_m else "taken as at 2 m"
    return wind_at_2_m(day.wind_m_s, day.wind_height_m), "measured"


def reference(day: Weather, latitude: float, elevation: float) -> Reference:
    """Reckon a day at a latitude (degrees, north positive) and an elevation (m)."""
    sun = sun_over(latitude, day.day_of_year)
    mean = (day.tmin_c + day.tmax_c) / 2.0
    es = (saturation(day.tmin_c) + saturation(day.tmax_c)) / 2.0  # equation 12
    ea, vapor_from = _vapor(day)
    rs, sun_from = _solar(day, sun.radiation, sun.day_length_h)
    u2, wind_from = _wind(day)
    air, bend = pressure(elevation), slope(mean)
    gamma = psychrometric(air)
    rso = (0.75 + 2e-5 * elevation) * sun.radiation  # equation 37
    rns = (1.0 - ALBEDO) * rs  # equation 38
    rnl = rn = penman = hargreaves = None
    if rso > 0.0:
        warm = ((day.tmax_c + ZERO_C) ** 4 + (day.tmin_c + ZERO_C) ** 4) / 2.0
        cover = 1.35 * min(rs / rso, 1.0) - 0.35
        rnl = STEFAN_BOLTZMANN * warm * (0.34 - 0.14 * math.sqrt(ea)) * cover  # equation 39
        rn = rns - rnl
        dry = gamma * 900.0 / (mean + 273.0) * u2 * (es - ea)
        penman = (TO_MM * bend * (rn - day.ground_heat) + dry) / (
            bend + gamma * (1.0 + 0.34 * u2)
        )
        hargreaves = 0.0023 * (mean + 17.8) * math.sqrt(day.tmax_c - day.tmin_c)
        hargreaves *= TO_MM * sun.radiation
    measured = (day.rh_max, day.vapor_kpa, day.wind_m_s, day.sun_h, day.radiation)
    return Reference(
        t_mean_c=mean,
        es_kpa=es,
        ea_kpa=ea,
        vpd_kpa=es - ea,
        slope_kpa_c=bend,
        pressure_kpa=air,
        gamma_kpa_c=gamma,
        u2_m_s=u2,
        ra=sun.radiation,
        day_length_h=sun.day_length_h,
        rs=rs,
        rso=rso,
        rns=rns,
        rnl=rnl,
        rn=rn,
        g=day.ground_heat,
        et0_penman_mm=penman,
        et0_hargreaves_mm=hargreaves,
        vapor_from=vapor_from,
        sun_from=sun_from,
        wind_from=wind_from,
        only_temperatures=all(value is None for value in measured),
    )
