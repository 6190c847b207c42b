"""Reference evapotranspiration against the worked examples of its source.

Allen, Pereira, Raes & Smith (1998), Crop evapotranspiration, FAO Irrigation and Drainage
Paper 56, examples 2, 3, 5, 8, 14, 17, 18 and 20. Inputs and printed answers are from memory
and were recomputed from the printed equations; the publication was not at hand.
"""

import pytest
from support_records import frame, small_layout, small_trial
from support_weather import (
    BANGKOK,
    BRUSSELS,
    PRINTED_BANGKOK,
    PRINTED_BRUSSELS,
    PRINTED_LYON,
    Printed,
)

from wickstats.core.sun import sun_over
from wickstats.demand.days import Row, rows_of_weather
from wickstats.demand.reference import pressure, psychrometric, saturation, vapor, wind_at_2_m
from wickstats.records.read import read_records

LYON = "date,period,tmin_c,tmax_c\n2025-07-15,day,14.8,26.6\n"


def _last(text: str, latitude: float, elevation: float) -> Row:
    trial = small_trial(season=False)
    site = trial.trial.site.model_copy(update={"latitude": latitude, "elevation_m": elevation})
    trial = trial.model_copy(update={"trial": trial.trial.model_copy(update={"site": site})})
    table = read_records(trial, small_layout(), {"weather": frame(text)}).table("weather")
    assert table is not None
    return rows_of_weather(table, latitude, elevation)[-1]


def _close(row: Row, printed: Printed) -> None:
    for name, (value, within) in printed.items():
        assert row[name] == pytest.approx(value, abs=within), name


def test_a_day_with_everything_measured() -> None:
    row = _last(BRUSSELS, 50.80, 100.0)
    own = {"et0_penman_mm": (3.88, 0.02), "et0_mm": (3.9, 0.05)}
    _close(row, PRINTED_BRUSSELS | own)
    assert row["route"] == "Penman-Monteith"


def test_a_month_of_mean_values() -> None:
    row = _last(BANGKOK, 13.73, 2.0)
    own = {
        "ea_kpa": (2.85, 1e-12),
        "gamma_kpa_c": (0.0673, 0.00006),  # printed 0.0674
        "g": (0.14, 1e-9),
        "et0_penman_mm": (5.72, 0.02),
    }
    _close(row, PRINTED_BANGKOK | own)
    assert row["et0_mm"] == row["et0_penman_mm"]


def test_the_first_month_says_that_heat_into_the_ground_is_not_known() -> None:
    row = _last("\n".join(BANGKOK.splitlines()[:2]), 13.73, 2.0)
    assert row["g"] == 0.0
    assert "no row of the month before" in str(row["why"])


def test_a_month_between_two_others_takes_both() -> None:
    text = BANGKOK + "2025-05-01,month,25.2,34.0,2.85,2,2,8.5\n"
    trial_rows = text.splitlines()
    # 0.07 (29.6 - 29.2): the month in the middle, by its neighbors' means
    table = read_records(
        small_trial(season=False), small_layout(), {"weather": frame("\n".join(trial_rows))}
    ).table("weather")
    assert table is not None
    assert rows_of_weather(table, 13.73, 2.0)[1]["g"] == pytest.approx(0.028, abs=1e-12)


def test_temperatures_only() -> None:
    row = _last(LYON, 45.72, 200.0)
    _close(row, PRINTED_LYON | {"gamma_kpa_c": (0.0658, 0.00006), "et0_mm": (5.0, 0.05)})
    assert row["route"] == "Hargreaves"
    assert row["why"] == "only temperatures were measured"


def test_single_steps() -> None:
    assert sun_over(-20.0, 246).radiation == pytest.approx(32.2, abs=0.05)
    assert pressure(1800.0) == pytest.approx(81.8, abs=0.05)
    assert psychrometric(pressure(1800.0)) == pytest.approx(0.054, abs=0.0005)
    assert saturation(24.5) == pytest.approx(3.075, abs=0.0005)
    assert saturation(15.0) == pytest.approx(1.705, abs=0.0005)
    # the mean of the two, not the pressure at the mean temperature, which is 2.30
    assert (saturation(24.5) + saturation(15.0)) / 2 == pytest.approx(2.39, abs=0.005)
    assert vapor(18.0, 25.0, 54.0, 82.0) == pytest.approx(1.70, abs=0.005)
    assert wind_at_2_m(3.2, 10.0) == pytest.approx(2.4, abs=0.05)


def test_where_the_sun_does_not_rise_nothing_is_reckoned() -> None:
    row = _last("date,tmin_c,tmax_c\n2025-12-21,-20,-12\n", 78.0, 10.0)
    assert row["et0_mm"] is None
    assert row["ra"] == 0.0
    assert "does not rise" in str(row["why"])


def test_the_equator_has_twelve_hours_and_the_halves_of_the_earth_mirror() -> None:
    assert sun_over(0.0, 80).day_length_h == pytest.approx(12.0, abs=1e-12)
    for day in (1, 100, 172, 300):
        both = sun_over(40.0, day).day_length_h + sun_over(-40.0, day).day_length_h
        assert both == pytest.approx(24.0, abs=1e-9)
