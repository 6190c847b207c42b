"""The ledger's rain, errors of reading and calibration, periods, leaks and blocked wicks."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from support_records import WATER, frame, small_layout, small_trial

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.read import read_records
from wickstats.records.vessels import scale_step
from wickstats.records.water_losses import LESS, MORE

HEAD = (
    "date,plot,reservoir,source,applied_l,level_before_l,level_after_l,"
    "meter_start_l,meter_end_l,leaked_l\n"
)
D1, D2, D3, D4 = "2025-04-01", "2025-04-08", "2025-04-15", "2025-04-22"


def read(rows: str, water: Any = None, **tables: str) -> Any:
    frames = {"water": frame(HEAD + rows), **{k: frame(v) for k, v in tables.items()}}
    return read_records(small_trial(water=water or WATER), small_layout(), frames)


def line(season: Any, unit: str) -> dict[str, Any]:
    found: dict[str, Any] = season.ledger.set_index("unit").loc[unit].to_dict()
    return found


# 12 L left on D1, 2 mm on D2, none on D3 (the day of the visit belongs to the next time)
RAIN = f"date,tmin_c,tmax_c,rain_mm\n{D1},5,20,0\n{D2},5,20,4\n{D3},5,20,10\n{D4},5,20,50\n"


def test_rain_on_the_catching_area_is_water_that_the_reservoir_gave() -> None:
    water = {**WATER, "rain_catch_m2": 0.5}
    rows = f"{D1},,R2,,12,0,12,,,\n{D3},,R2,,0,8,8,,,\n{D4},,R2,,,9,,,,\n{D4},A1,,,9,,,,,\n"
    season = read(rows, water, weather=RAIN)
    # 4 mm before D3, 10 mm from D3 on: 2 and 5 L; the last day's 50 mm came after the visit
    assert line(season, "B2")["rain_l"] == 7
    assert line(season, "B2")["delivered_l"] == 12 + 7 - 9
    assert line(season, "A1")["rain_l"] == 0  # a plot without a reservoir catches none
    assert season.water_periods["lost_l"].tolist() == [12 + 2 - 8, 8 + 5 - 9]
    assert "rain not known on 18 days" in line(season, "B2")["note"]


def test_rain_that_may_have_run_over_moves_only_the_lower_limit() -> None:
    water = {**WATER, "rain_catch_m2": 1.0}
    rows = f"{D1},,R2,,18,0,18,,,\n{D3},,R2,,,12,,,,\n"
    found = line(read(rows, water, weather=RAIN), "B2")
    # 18 + 4 L in a reservoir of 20
    assert found["delivered_l"] == 18 + 4 - 12
    assert found["delivered_high_l"] - found["delivered_l"] == 0
    assert found["delivered_l"] - found["delivered_low_l"] == 2
    assert "rain may have run over" in found["note"]


def test_an_area_without_rain_in_the_table_is_asked_about() -> None:
    water = {**WATER, "rain_catch_m2": 1.0}
    dry = f"date,tmin_c,tmax_c\n{D1},5,20\n"
    season = read(f"{D1},,R2,,18,0,18,,,\n", water, weather=dry)
    assert "rain not known" in [q.code for q in season.queries]
    assert line(season, "B2")["rain_l"] == 0


def test_without_any_weather_a_catching_reservoir_gave_at_least_so_much() -> None:
    rows = f"{D1},,R2,,20,0,20,,,\n{D3},,R2,,,5,,,,\n{D1},A1,,,9,,,,,\n"
    season = read(rows, {**WATER, "rain_catch_m2": 1.0})
    assert [(q.file, q.code) for q in season.queries if q.code != "plots without records"] == [
        ("water (in memory)", "rain not known")
    ]
    found = line(season, "B2")
    assert (found["delivered_l"], found["delivered_low_l"]) == (15, 15)
    assert math.isnan(found["delivered_high_l"])
    assert found["note"] == "rain is not known: delivered is a lower limit"
    # a plot without a reservoir catches nothing
    assert (line(season, "A1")["delivered_high_l"], line(season, "A1")["note"]) == (9, None)


def test_can_and_meter_err_each_by_its_own_share() -> None:
    water = {**WATER, "can_within_percent": 5.0, "meter_within_percent": 2.0}
    season = read(f"{D1},A1,,,40,,,,,\n{D2},A1,,,,,,100,150,\n{D1},007,,,40,,,,,\n", water)
    found = line(season, "A1")
    assert (found["by_can_l"], found["by_meter_l"], found["delivered_l"]) == (40, 50, 90)
    assert found["delivered_high_l"] == pytest.approx(90 + 2 + 1, rel=1e-12)
    assert found["delivered_low_l"] == pytest.approx(90 - 2 - 1, rel=1e-12)


def test_a_scale_shows_its_step() -> None:
    assert scale_step(np.array([0.5, 1.0, 2.5, 3.0, 7.5, 8.0])) == 0.5
    assert scale_step(0.35 * np.arange(1, 12)) == pytest.approx(0.35)
    assert scale_step(np.array([0.5, 1.0, 2.5, 3.0])) == 0.0  # too few to say
    assert scale_step(np.random.default_rng(1).uniform(1, 20, 60)) == 0.0


def test_reading_error_is_taken_once_at_both_ends_and_never_in_between() -> None:
    # levels on a scale of half liters; first level is an empty reservoir, seen without error
    levels = [20.0, 8.5, 19.0, 7.5, 18.5, 6.0, 18.0, 5.5]
    rows = f"{D1},,R2,,20,0,{levels[0]},,,\n"
    days = [f"2025-05-{d:02d}" for d in range(1, 29, 4)]
    for k, when in enumerate(days[:3]):
        given = levels[2 * k + 2] - levels[2 * k + 1]
        rows += f"{when},,R2,,{given},{levels[2 * k + 1]},{levels[2 * k + 2]},,,\n"
    rows += f"{days[3]},,R2,,,{levels[7]},,,,\n"
    found = line(read(rows), "B2")
    half = 1.959964 * 0.5 / math.sqrt(12)
    assert found["delivered_high_l"] - found["delivered_l"] == pytest.approx(half, rel=1e-6)
    assert found["left_l"] == 5.5


def test_per_plant_and_per_day_have_what_they_need() -> None:
    found = line(read(f"{D1},,R1,,20,0,20,,,\n{D2},,R1,,,6,,,,\n"), "R1")
    assert (found["plants"], found["days"]) == (6, 244)  # 2025-03-01 to 2025-10-31


def test_two_logs_of_one_day_are_asked_about_and_bound_the_delivered() -> None:
    rows = f"{D1},A1,,meter,,,,100,109.5,\n{D1},A1,,cans,9,,,,,\n{D2},A1,,meter,,,,109.5,118,\n"
    season = read(rows)
    found = line(season, "A1")
    assert (found["delivered_l"], found["delivered_low_l"]) == (27, 18)
    assert [q.code for q in season.queries] == ["two logs agree"]
    other = read(rows.replace("cans,9", "cans,18"))
    assert [q.code for q in other.queries] == ["two logs disagree"]
    assert line(other, "A1")["delivered_low_l"] == 36 - 9.5


def test_two_files_of_cans_for_one_day_are_asked_about_whatever_their_sources(
    tmp_path: Path,
) -> None:
    head = "date,plot,source,applied_l\n"
    (tmp_path / "crew.csv").write_text(f"{head}{D1},A1,crew,9\n{D2},A1,crew,9\n")
    (tmp_path / "owner.csv").write_text(f"{head}{D1},A1,owner,12\n{D3},A1,owner,9\n")
    files = ({"file": "crew.csv"}, {"file": "owner.csv"})
    season = read_records(small_trial(tmp_path, {"water": files}, water=WATER), small_layout())
    (asked,) = [q for q in season.queries if q.code != "plots without records"]
    assert (asked.file, asked.row, asked.code) == ("crew.csv", 2, "two logs disagree")
    assert asked.found == (f"A1 on {D1}: 9 L noted in crew.csv and 12 L noted in owner.csv")
    found = line(season, "A1")
    assert (found["delivered_l"], found["delivered_low_l"]) == (39, 30)


def test_meters_that_fall_or_jump_are_asked_about() -> None:
    rows = f"{D1},A1,,,,,,100,110,\n{D2},A1,,,,,,90,99,\n{D3},A1,,,,,,130,140,\n"
    season = read(rows)
    assert [(q.code, q.row) for q in season.queries] == [
        ("meter fell", 3),
        ("water without a row", 4),
    ]
    assert line(season, "A1")["applied_l"] == 29


def test_one_level_in_liters_and_the_other_in_cm() -> None:
    text = (
        "date,reservoir,applied_l,level_before_l,level_after_cm\n"
        f"{D1},R2,10,0,20\n{D2},R2,,6,\n"
    )
    season = read_records(small_trial(water=WATER), small_layout(), {"water": frame(text)})
    query = season.queries[0]
    assert (query.code, query.row) == ("mixed units", 2)
    assert season.ledger.set_index("unit").loc["B2", "delivered_l"] == 4


# one reservoir in each of four blocks and two arms, refilled every week for ten weeks


def eight(arms: tuple[str, ...] = ("hand watering", "capillary wick")) -> Layout:
    plots = tuple(
        Plot(f"{arm[0]}{block}", {"watering": arm}, block=str(block), plants=4)
        for block in (1, 2, 3, 4)
        for arm in arms
    )
    return Layout("randomized complete block", ("watering",), plots, "elsewhere")


def weeks(
    use: dict[str, list[float]], leaked: dict[tuple[str, int], float] | None = None
) -> Any:
    """Levels of reservoirs of 20 L, filled up every week; ``use``: plot to liters a week."""
    rows = []
    start = pd.Timestamp(D1)
    for plot, drawn in use.items():
        held = 20.0
        rows.append((start, plot, 20.0, 0.0, 20.0, None))
        for k, liters in enumerate(drawn):
            held = max(held - liters, 0.0)
            told = (leaked or {}).get((plot, k))
            rows.append((start + pd.Timedelta(weeks=k + 1), plot, 20 - held, held, 20.0, told))
            held = 20.0
    columns = ["date", "plot", "applied_l", "level_before_l", "level_after_l", "leaked_l"]
    return pd.DataFrame(rows, columns=columns)


def steady(seed: int = 3, cv: float = 0.1) -> dict[str, list[float]]:
    rng = np.random.default_rng(seed)
    return {
        p.plot: (6.0 * rng.lognormal(0, cv) * rng.lognormal(0, cv, 10)).tolist()
        for p in eight().plots
    }


def losses(water: pd.DataFrame, trial: Trial | None = None, **tables: str) -> Any:
    frames = {"water": water, **{k: frame(v) for k, v in tables.items()}}
    return read_records(trial or small_trial(water=WATER), eight(), frames)


def asked(season: Any) -> list[Any]:
    """Queries about losses; that a number lies far from the others is asked elsewhere."""
    return [q for q in season.queries if q.code in (MORE, LESS)]


def test_nothing_is_asked_of_reservoirs_that_draw_alike() -> None:
    for seed in range(20):
        assert asked(losses(weeks(steady(seed, 0.2)))) == []


def test_a_leak_in_one_week_is_found_and_bounds_the_delivered() -> None:
    use = steady()
    use["c3"][4] = 19.0
    season = losses(weeks(use))
    assert [q.code for q in asked(season)] == ["lost more than any demand"]
    assert "unit c3 lost 19.0 L from 2025-04-29 to 2025-05-06" in asked(season)[0].found
    found = season.ledger.set_index("unit").loc["c3"]
    assert found["delivered_l"] == pytest.approx(sum(use["c3"]))
    assert found["delivered_l"] - found["delivered_low_l"] >= 19
    assert found["delivered_high_l"] - found["delivered_l"] < 0.5
    told = losses(weeks(use), events="date,plot,what\n2025-05-02,c3,leak\n")
    assert asked(told) == []


def test_a_wick_that_is_blocked_for_two_weeks_is_found() -> None:
    use = steady()
    use["h2"][6:8] = [0.3, 0.0]
    season = losses(weeks(use))
    assert [q.code for q in asked(season)] == ["hardly any loss"] * 2
    told = losses(
        weeks(use), events="date,plot,what,until\n2025-05-14,h2,blocked wick,2025-05-26\n"
    )
    assert asked(told) == []


def test_a_unit_that_leaks_or_is_blocked_all_season_is_found() -> None:
    use = steady()
    use["c1"] = [3.0 * liters for liters in use["c1"]]
    use["h4"] = [0.1 * liters for liters in use["h4"]]
    season = losses(weeks(use))
    assert {(q.code, q.found.split()[1]) for q in asked(season)} == {
        ("lost more than any demand", "c1"),
        ("hardly any loss", "h4"),
    }
    low = season.ledger.set_index("unit").loc["c1"]
    truth = sum(use["c1"]) / 3.0
    assert low["delivered_low_l"] < truth < low["delivered_high_l"]


def test_one_reservoir_alone_is_judged_by_what_wet_ground_can_evaporate() -> None:
    water = {**WATER, "wetted_m2": 0.02}
    # four plants on 0.02 m2 each: at most 12 mm a day, 6.72 L a week
    season = losses(weeks({"c1": [5.0, 15.0]}), small_trial(water=water))
    assert [q.code for q in asked(season)] == ["lost more than any demand"]
    assert "15.0 L" in asked(season)[0].found


def test_levels_that_cannot_be_told_apart_are_no_leak() -> None:
    # a loss of a liter where half was to be expected lies within the marks of a scale
    use = {p.plot: [0.4, 0.5, 0.4, 0.5, 0.4, 0.5] for p in eight().plots}
    use["c2"][3] = 1.3
    assert asked(losses(weeks(use))) == []


# tables that contradict themselves are asked about, and the limits hold what else it may be


@pytest.mark.parametrize(
    ("rows", "unit", "code", "delivered", "low", "high"),
    [
        # 30 L ran through the meter, 9 were noted
        (f"{D1},A1,,,9,,,100,130,\n", "A1", "meter and amount disagree", 9, 9, 30),
        (f"{D1},A1,,,30,,,100,109,\n", "A1", "meter and amount disagree", 30, 9, 30),
        # 40 L ran between two rows
        (
            f"{D1},A1,,,,,,100,110,\n{D2},A1,,,,,,150,160,\n",
            "A1",
            "water without a row",
            20,
            20,
            60,
        ),
        # the second row tells 5 L of the first again
        (f"{D1},A1,,,,,,100,110,\n{D2},A1,,,,,,105,115,\n", "A1", "meter fell", 20, 15, 20),
        # 2 found, 9 given, 18 left: 16 were given, or 9 were found
        (
            f"{D1},,R2,,9,2,18,,,\n{D2},,R2,,0,3,3,,,\n",
            "B2",
            "levels and water disagree",
            8,
            8,
            15,
        ),
        # 2 found, 18 given, 10 left: 8 were given, or 10 ran over
        (
            f"{D1},,R2,,18,2,10,,,\n{D2},,R2,,0,3,3,,,\n",
            "B2",
            "levels and water disagree",
            17,
            7,
            17,
        ),
        # 10 found and 18 given in a reservoir of 20 L
        (
            f"{D1},,R2,,20,0,20,,,\n{D2},,R2,,18,10,,,,\n{D3},,R2,,,5,5,,,\n",
            "B2",
            "more than there was room for",
            33,
            25,
            33,
        ),
        # one refill under the plot and under its reservoir
        (
            f"{D1},B2,,,10,,,,,\n{D1},,R2,,10,0,10,,,\n{D2},,R2,,0,5,5,,,\n",
            "B2",
            "two logs agree",
            15,
            5,
            15,
        ),
        # one fill of a shared reservoir under both of its plots
        (
            f"{D1},A2,,,20,,20,,,\n{D1},A3,,,20,,20,,,\n{D2},A2,,,,5,,,,\n",
            "R1",
            "two fills of one day",
            35,
            15,
            35,
        ),
    ],
)
def test_limits_hold_what_a_contradiction_leaves_open(
    rows: str, unit: str, code: str, delivered: float, low: float, high: float
) -> None:
    season = read(rows)
    assert code in [q.code for q in season.queries]
    found = line(season, unit)
    limits = [found[f"delivered_{k}l"] for k in ("", "low_", "high_")]
    assert limits == pytest.approx([delivered, low, high])
    assert found["note"]


def test_two_fills_that_go_on_where_the_last_ended_are_no_contradiction() -> None:
    season = read(f"{D1},,R2,tap,10,0,10,,,\n{D1},,R2,barrel,9,10,19,,,\n{D2},,R2,,,5,5,,,\n")
    assert not [q for q in season.queries if q.code != "plots without records"]
    assert line(season, "B2")["delivered_low_l"] == 14


@pytest.mark.parametrize(
    ("first", "delivered", "low", "high"),
    [
        # 20 L into a reservoir of 20 L: it was empty before
        (f"{D1},,R2,,20,,,,,\n", 12 + 20 - 9, 23, 23),
        # 10 L: it held at most 10 before; as much as was found later, 8, is taken
        (f"{D1},,R2,,10,,,,,\n", 8 + 10 + 12 - 9, 10 + 12 - 9, 10 + 10 + 12 - 9),
    ],
)
def test_a_first_fill_without_a_level(
    first: str, delivered: float, low: float, high: float
) -> None:
    found = line(read(f"{first}{D2},,R2,,12,8,20,,,\n{D3},,R2,,,9,,,,\n"), "B2")
    limits = [found[f"delivered_{k}l"] for k in ("", "low_", "high_")]
    assert limits == pytest.approx([delivered, low, high])


def test_a_last_refill_without_a_level_leaves_up_to_a_full_reservoir() -> None:
    rows = f"{D1},,R2,,20,0,20,,,\n{D2},,R2,,12,8,20,,,\n{D3},,R2,,15,,,,,\n"
    found = line(read(rows), "B2")
    assert (found["delivered_l"], found["delivered_low_l"], found["delivered_high_l"]) == (
        27,
        27,
        47,
    )


def test_a_valve_left_open_is_a_loss_where_water_is_stored() -> None:
    rows = f"{D1},,R2,,20,0,20,,,\n{D2},,R2,,15,5,20,,,\n{D3},,R2,,5,15,20,,,\n"
    rows += f"{D1},A1,,,9,,,,,\n{D2},A1,,,9,,,,,\n"
    events = (
        "date,plot,reservoir,what\n2025-04-05,,R2,valve opened\n2025-04-05,A1,,valve opened"
    )
    season = read(rows, events=events)
    assert line(season, "B2")["delivered_low_l"] == 20 - 15
    assert line(season, "A1")["delivered_low_l"] == 18


def test_a_leak_measured_later_does_not_measure_an_earlier_one() -> None:
    rows = (
        f"{D1},,R2,,20,0,20,,,\n{D2},,R2,,15,5,20,,,\n{D3},,R2,,5,15,20,,,\n"
        f"{D4},,R2,,,10,,,,5\n"
    )
    events = "date,reservoir,what\n2025-04-05,R2,leak\n2025-04-20,R2,leak"
    found = line(read(rows, events=events), "B2")
    assert (found["delivered_l"], found["delivered_low_l"]) == (25, 25 - 15)


def test_an_event_that_explains_a_loss_does_not_make_it_water_for_plants() -> None:
    use = steady()
    use["c3"][4] = 19.0
    for what in ("theft", "valve opened", "leak", "other"):
        told = losses(weeks(use), events=f"date,plot,what,plant\n2025-05-02,c3,{what},1\n")
        assert asked(told) == []
        found = told.ledger.set_index("unit").loc["c3"]
        assert found["delivered_l"] - found["delivered_low_l"] == pytest.approx(19.0, abs=0.5)


def test_a_reservoir_told_empty_with_water_in_it_is_asked_about() -> None:
    rows = f"{D1},,R2,,20,0,20,,,\n{D2},,R2,,8,12,20,,,\n{D3},,R2,,18.5,1.5,20,,,\n"
    events = f"date,reservoir,what\n{D2},R2,reservoir empty\n{D3},R2,reservoir empty"
    season = read(rows, events=events)
    (query,) = [q for q in season.queries if q.code == "empty and not empty"]
    assert (query.row, query.found) == (
        2,
        f"B2 told empty on {D2}, and 12.0 L in it on {D2}, before any refill",
    )


def test_water_where_none_was_planned_is_explained_by_a_wrong_treatment() -> None:
    water = {**WATER, "planned_l": {"hand watering": 0.0, "capillary wick": 60.0}}
    rows = f"{D1},A1,,,9,,,,,\n"
    code = "water that was not planned"
    assert code in [q.code for q in read(rows, water).queries]
    told = read(rows, water, events=f"date,plot,what\n{D1},A1,wrong treatment")
    assert code not in [q.code for q in told.queries]


@pytest.mark.parametrize("slip", [81.0, 90.0, 0.9])
def test_cans_for_liters_and_a_slipped_decimal_sign_are_asked_about(slip: float) -> None:
    rows = "".join(
        f"2025-04-{d:02d},A1,,,{slip if d == 9 else 9},,,,,\n" for d in range(1, 17, 2)
    )
    assert [q.code for q in read(rows).queries if q.column == "applied_l"] == [
        "far out of line"
    ]
