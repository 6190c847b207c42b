"""The water ledger's arithmetic, by hand."""

import math
from typing import Any

import pytest
from support_records import WATER, frame, small_layout, small_trial

from wickstats.records.read import read_records

HEAD = (
    "date,plot,reservoir,applied_l,level_before_l,level_after_l,"
    "meter_start_l,meter_end_l,leaked_l\n"
)
D1, D2, D3, D4 = "2025-04-01", "2025-04-08", "2025-04-15", "2025-04-22"


def line(season: Any, unit: str) -> dict[str, Any]:
    rows = season.ledger[season.ledger["unit"] == unit]
    assert len(rows) == 1
    found: dict[str, Any] = rows.iloc[0].to_dict()
    return found


def test_hand_watering_is_delivered_as_it_is_applied() -> None:
    season = _read(f"{D1},A1,,9,,,,,\n{D2},A1,,18,,,,,\n")
    found = line(season, "A1")
    assert (found["applied_l"], found["delivered_l"], found["stored_change_l"]) == (27, 27, 0)
    assert (found["planned_l"], found["refills"], found["note"]) == (100, 2, None)


def _read(rows: str, water: Any = None, events: str | None = None) -> Any:
    tables = {"water": frame(HEAD + rows)}
    if events is not None:
        tables["events"] = frame(events)
    return read_records(small_trial(water=water or WATER), small_layout(), tables)


def test_delivered_is_applied_less_stored_less_leaked() -> None:
    # starts empty, 20 L; 8 left, 12 given; 5 left, none given, 2 L leaked: 32 - 5 - 2
    season = _read(f"{D1},,R2,20,0,20,,,\n{D2},,R2,12,8,20,,,\n{D3},,R2,,5,,,,2\n")
    found = line(season, "B2")
    assert found["applied_l"] == 32
    assert found["stored_change_l"] == 5
    assert found["leaked_l"] == 2
    assert found["delivered_l"] == 25
    assert (found["planned_l"], found["refills"]) == (60, 2)


def test_a_reservoir_that_was_filled_before_the_season_gives_its_store() -> None:
    # 15 L at the first visit, 3 L at the last: 12 L more than was applied
    season = _read(f"{D1},,R2,5,15,20,,,\n{D2},,R2,0,3,3,,,\n")
    assert line(season, "B2")["delivered_l"] == 5 + 12


def test_levels_in_cm_become_liters() -> None:
    text = (
        "date,reservoir,applied_l,level_before_cm,level_after_cm\n"
        f"{D1},R2,10,0,20\n{D2},R2,,6,6\n"
    )
    season = read_records(small_trial(water=WATER), small_layout(), {"water": frame(text)})
    assert line(season, "B2")["stored_change_l"] == 3.0  # 6 cm at half a liter a cm
    assert line(season, "B2")["delivered_l"] == 7.0


def test_the_meter_counts_where_no_amount_is_noted() -> None:
    season = _read(f"{D1},A1,,,,,100,112.5,\n{D2},A1,,,,,112.5,120,\n")
    assert line(season, "A1")["applied_l"] == 20


def test_a_refill_without_amount_follows_from_its_levels() -> None:
    season = _read(f"{D1},,R2,,2,18,,,\n{D2},,R2,,10,10,,,\n")
    found = line(season, "B2")
    assert (found["applied_l"], found["stored_change_l"], found["delivered_l"]) == (16, 8, 8)


def test_the_can_error_is_shared_and_moves_applied_only() -> None:
    water = {**WATER, "can_within_percent": 5.0}
    season = _read(f"{D1},,R2,20,0,20,,,\n{D2},,R2,,5,,,,\n", water)
    found = line(season, "B2")
    assert found["delivered_l"] == 15
    assert found["delivered_low_l"] == pytest.approx(14, rel=1e-12)
    assert found["delivered_high_l"] == pytest.approx(16, rel=1e-12)


def test_a_shared_reservoir_is_one_unit_and_is_told_to_plots_by_plants() -> None:
    season = _read(f"{D1},,R1,20,0,20,,,\n{D2},A2,,4,,,,,\n{D3},,R1,,6,,,,\n")
    found = line(season, "R1")
    assert (found["applied_l"], found["delivered_l"]) == (24, 18)
    assert found["planned_l"] == 120  # two plots of 60
    by_plot = season.ledger_by_plot.set_index("plot")
    assert by_plot.loc[["A2", "A3"], "delivered_l"].tolist() == [9, 9]
    assert by_plot.loc[["A2", "A3"], "share"].tolist() == [0.5, 0.5]


def test_units_without_rows_are_not_zero_unless_none_was_planned() -> None:
    water = {**WATER, "planned_l": {"hand watering": 0.0, "capillary wick": 60.0}}
    season = _read(f"{D1},,R2,20,0,20,,,\n", water)
    dry, unknown = line(season, "A1"), line(season, "R1")
    assert (dry["applied_l"], dry["delivered_l"]) == (0, 0)
    assert math.isnan(unknown["applied_l"])
    assert unknown["note"] == "no water rows"


def test_contradicting_rows_make_the_sum_unknown() -> None:
    season = _read(f"{D1},A1,,9,,,,,\n{D1},A1,,18,,,,,\n{D2},A1,,9,,,,,\n{D1},007,,9,,,,,\n")
    assert math.isnan(line(season, "A1")["applied_l"])
    assert line(season, "A1")["note"] == (
        "rows that contradict each other were left out: the sum is not known, at least 9.00 L "
        "were given"
    )
    assert line(season, "007")["applied_l"] == 9
    assert [q.code for q in season.queries] == ["conflicting duplicates"]


def test_a_meter_that_ran_backwards_makes_the_sum_unknown_unless_an_amount_was_noted() -> None:
    text = (
        "date,plot,applied_l,meter_start_l,meter_end_l\n"
        f"{D1},A1,,0,9\n{D2},A1,,9,4\n{D1},007,,0,9\n{D2},007,5,9,4\n"
    )
    season = read_records(small_trial(water=WATER), small_layout(), {"water": frame(text)})
    found = line(season, "A1")
    assert math.isnan(found["applied_l"])
    assert math.isnan(found["delivered_l"])
    assert found["note"] == (
        "a meter ran backwards and no amount was noted: the sum is not known, at least 9.00 L "
        "were given"
    )
    assert line(season, "007")["applied_l"] == 14
    assert [q.code for q in season.queries] == ["meter ran backwards"]


@pytest.mark.parametrize(
    ("rows", "unit", "least"),
    [
        (f"{D1},A1,,9,,,,,\n{D2},A1,,,,,,,\n{D3},A1,,9,,,,,\n", "A1", "18.0"),
        (f"{D1},,R2,10,0,10,,,\n{D2},,R2,,,20,,,\n{D3},,R2,,5,,,,\n", "B2", "10.0"),
        (f"{D1},,R2,20,0,20,,,\n{D2},,R2,,18,4,,,\n{D3},,R2,,3,,,,\n", "B2", "20.0"),
        (f"{D1},A1,,,,,0,7,\n{D2},A1,,,,,,12,\n", "A1", "7.00"),
    ],
    ids=["blank", "filled to a level", "levels exchanged", "half a meter"],
)
def test_a_row_without_its_liters_makes_the_sum_unknown_and_never_short(
    rows: str, unit: str, least: str
) -> None:
    found = line(_read(rows), unit)
    for name in ("applied_l", "delivered_l", "delivered_low_l", "delivered_high_l"):
        assert math.isnan(found[name])
    assert found["note"].endswith(f": the sum is not known, at least {least} L were given")


def test_zero_given_is_known_and_the_first_level_is_store() -> None:
    season = _read(f"{D1},A1,,9,,,,,\n{D2},A1,,0,,,,,\n{D1},,R2,,,20,,,\n{D3},,R2,,5,,,,\n")
    assert line(season, "A1")["delivered_l"] == 9
    assert line(season, "B2")["delivered_l"] == 15


def test_less_than_nothing_is_not_known() -> None:
    season = _read(f"{D1},A1,,9,,,,,\n{D2},A1,,,,,,,20\n")
    found = line(season, "A1")
    assert found["applied_l"] == 9
    assert math.isnan(found["delivered_l"])
    assert found["note"] == "more was left or leaked than was given: delivered is not known"
    assert "less than no water" in [q.code for q in season.queries]


def test_a_wick_that_gave_less_than_can_be_read_gave_none() -> None:
    # the rows of R1 tell how badly levels are read: half a liter off at every refill
    rows = "".join(f"2025-04-0{k},,R1,5,{k},{k + 5 + (k % 2 - 0.5)},,,\n" for k in range(1, 8))
    season = _read(f"{rows}{D1},,R2,10,0,10,,,\n{D3},,R2,,10.5,,,,\n")
    found = line(season, "B2")
    assert found["delivered_l"] == 0.0
    assert 0.0 == found["delivered_low_l"] < found["delivered_high_l"] < 2.0
    assert found["note"] == "less than the error of reading was delivered: counted as none"


def test_a_level_that_rose_hides_a_refill_above_the_upper_limit() -> None:
    # 10 L left, 15 L found: at least 5 L are missing, at most a full reservoir of 20 L
    season = _read(
        f"{D1},,R2,20,0,20,,,\n{D2},,R2,,10,,,,\n{D3},,R2,,15,,,,\n{D4},,R2,,2,,,,\n"
    )
    found = line(season, "B2")
    assert (found["delivered_l"], found["delivered_high_l"]) == (18, 38)
    assert found["note"] == "water without a row: delivered is a lower limit"


def test_a_plot_and_its_reservoir_are_one_vessel() -> None:
    # filled by its reservoir's name, read by its plot's: 20 given, 8 left
    season = _read(f"{D1},,R2,20,0,20,,,\n{D2},B2,,,8,,,,\n")
    found = line(season, "B2")
    assert (found["stored_change_l"], found["left_l"], found["delivered_l"]) == (8, 8, 12)


@pytest.mark.parametrize("turned", [False, True])
def test_fills_of_one_day_stand_as_the_level_rises_in_whatever_row(turned: bool) -> None:
    # A3 was served first: 2 L found, 7 left; then A2: 7 found, 12 left; 4 L at the end
    same_day = [f"{D1},A2,,5,7,12,,,\n", f"{D1},A3,,5,2,7,,,\n"]
    rows = "".join(reversed(same_day) if turned else same_day) + f"{D2},,R1,,4,,,,\n"
    season = _read(rows)
    found = line(season, "R1")
    assert (found["applied_l"], found["stored_change_l"]) == (10.0, 2.0)
    assert found["delivered_l"] == 8.0
    assert not [q for q in season.queries if q.code == "rose by itself"]


def test_a_reservoir_without_levels_is_bounded_by_what_it_holds() -> None:
    season = _read(f"{D1},,R2,30,,,,,\n")
    found = line(season, "B2")
    assert math.isnan(found["delivered_l"])
    # 10 L had no room, and 20 may still be in it
    assert (found["delivered_low_l"], found["delivered_high_l"]) == (0, 50)


def test_a_leak_without_an_amount_is_bounded_by_the_loss_around_it() -> None:
    rows = f"{D1},,R2,20,0,20,,,\n{D3},,R2,15,5,20,,,\n{D4},,R2,,16,,,,\n"
    season = _read(rows, events=f"date,plot,reservoir,what\n{D2},,R2,leak\n")
    found = line(season, "B2")
    assert found["delivered_l"] == 35 - 16
    assert found["delivered_low_l"] == 19 - 15
    assert found["note"] == f"a leak without an amount on {D2}: delivered is an upper limit"


def test_dry_intervals_lie_between_visits() -> None:
    rows = f"{D1},,R2,20,0,20,,,\n{D2},,R2,,9,,,,\n{D3},,R2,19,1,20,,,\n"
    season = _read(rows, events=f"date,plot,reservoir,what\n{D4},,R1,reservoir empty\n")
    assert season.dry == {"B2": ((D2, D3, D3),), "R1": ((D4, D4, None),)}
