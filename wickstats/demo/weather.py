"""The community garden's weather, as a station nearby would have written it.

Days follow the season's course with scatter that lasts from day to day; wet days are dull,
cool and humid. Leans on draws.
"""

import math
from datetime import date, timedelta

from wickstats.demo.draws import Draws
from wickstats.demo.oaks import Truth
from wickstats.simulate.sheets import Cell

WEATHER_HEAD = (
    "date", "tmin_c", "tmax_c", "rh_min", "rh_max", "wind_m_s", "wind_height_m", "sun_h",
    "rain_mm",
)  # fmt: skip
HOTTEST = 205  # day of the year


def weather_rows(first: date, last: date, truth: Truth) -> list[tuple[Cell, ...]]:
    """One row a day, without those on which the station was silent."""
    of, silent = truth["weather"], truth["mess"]["station_silent"]
    draws = Draws(truth["seed"], "weather")
    rows: list[tuple[Cell, ...]] = []
    odd = 0.0
    for step in range((last - first).days + 1):
        day = first + timedelta(days=step)
        turn = math.cos(2 * math.pi * (day.timetuple().tm_yday - HOTTEST) / 365)
        odd = 0.7 * odd + draws.normal(of["day_sd_c"])
        wet = draws.happens(of["wet_days"])
        rain = -of["rain_mm"] * math.log(draws.uniform(1e-9, 1.0))
        mean = of["mean_c"] + of["swing_c"] * turn + odd - (2.0 if wet else 0.0)
        half = 0.5 * of["range_c"] * draws.spread(0.15) * (0.7 if wet else 1.0)
        sun = (
            of["day_h"]
            * (0.9 + 0.1 * turn)
            * draws.uniform(*of["sun_share"]["wet" if wet else "dry"])
        )
        damp = draws.normal(5.0) + (12.0 if wet else 0.0)
        row = (
            day,
            round(mean - half, 1),
            round(mean + half, 1),
            round(min(max(of["rh_min"] + damp, 20.0), 90.0)),
            round(min(max(of["rh_max"] + damp, 60.0), 100.0)),
            round(of["wind_m_s"] * draws.spread(0.35), 1),
            of["wind_height_m"],
            round(sun, 1),
            round(rain, 1) if wet else 0.0,
        )
        if not silent["from"] <= day <= silent["until"]:
            rows.append(row)
    return rows
