"""Bad water tables and the exact words they get; nothing is lost in silence."""
# ruff: noqa: E501  (messages are quoted whole, as a reader sees them)

from pathlib import Path
from typing import Any

import pytest
from support_records import WATER, small_layout, small_trial

from wickstats.core.errors import RecordsError
from wickstats.records.read import read_records

WEATHER = "date,tmin_c,tmax_c\n2025-04-01,5,20\n2025-04-02,9,7\n2025-04-04,5,20\n"

# name -> rows, keys of water, problems, queries, rows left out
CASES: dict[str, tuple[str, dict[str, Any], list[str], list[str], list[str]]] = {
    "a level above what the reservoir holds": (
        "date,reservoir,level_before_l,level_after_l,applied_l\n2025-04-01,R1,0,24,24\n",
        {},
        [],
        [
            "water.csv, row 2: above what it holds: found a level above the 20 L that a reservoir holds (unit R1, row 2); expected at most that; to mend it: correct the level or holds_l; the level is used"
        ],
        [],
    ),
    "a refill of a reservoir that the layout does not know": (
        "date,reservoir,applied_l\n2025-04-01,R7,20\n",
        {},
        [
            "water.csv, row 2, column reservoir: unknown reservoir: found R7; expected a reservoir of the layout; to mend it: correct it here or in the layout"
        ],
        [],
        [],
    ),
    "a refill of nothing": (
        "date,plot,reservoir,applied_l\n2025-04-01,,,20\n",
        {},
        [
            "water.csv, row 2, column plot: missing plot: found neither a plot nor a reservoir; expected one of them; to mend it: write the plot or the reservoir, or delete the row if it is empty"
        ],
        [],
        [],
    ),
    "less than no water in three columns": (
        "date,plot,applied_l,leaked_l,meter_start_l,meter_end_l\n2025-04-01,A1,-3,,,\n2025-04-02,A1,3,-1,,\n2025-04-03,A1,,,-5,2\n",
        {},
        [
            "water.csv, row 2, column applied_l: below its limit: found -3; expected a number not below 0; to mend it: correct it, or leave the cell blank and say why in a note",
            "water.csv, row 3, column leaked_l: below its limit: found -1; expected a number not below 0; to mend it: correct it, or leave the cell blank and say why in a note",
            "water.csv, row 4, column meter_start_l: below its limit: found -5; expected a number not below 0; to mend it: correct it, or leave the cell blank and say why in a note",
        ],
        [],
        [],
    ),
    "one level in liters and the other in cm": (
        "date,reservoir,applied_l,level_before_l,level_after_cm\n2025-04-01,R2,10,0,20\n2025-04-08,R2,0,6,12\n",
        {},
        [],
        [
            "water.csv, row 2, column level_after_cm: mixed units: found one level in L and the other in cm in rows 2 and 3; expected both levels of a row in the same unit; to mend it: check that neither stands in the other's column; both are used, the cm turned into L by liters_per_cm"
        ],
        [],
    ),
    "a meter and a can that disagree in one row": (
        "date,plot,applied_l,meter_start_l,meter_end_l\n2025-04-01,A1,9,100,130\n",
        {},
        [],
        [
            "water.csv, row 2, column applied_l: meter and amount disagree: found the meter says otherwise than applied_l in row 2; expected the same within a tenth; to mend it: correct one of the two; applied_l is used, and the limits of delivered water reach to the other"
        ],
        [],
    ),
    "a meter and a can that disagree on one day": (
        "date,plot,source,applied_l,meter_start_l,meter_end_l\n2025-04-01,A1,meter,,100,110\n2025-04-01,A1,cans,18,,\n",
        {},
        [],
        [
            "water.csv, row 2, column applied_l: two logs disagree: found A1 on 2025-04-01: 10 L by the meter and 18 L noted, in rows 2 and 3; expected one log of a watering; to mend it: if both tell the same water, delete one; both are used, and the lower limit of delivered water leaves the smaller one out"
        ],
        [],
    ),
    "a meter and a can that tell the same": (
        "date,plot,source,applied_l,meter_start_l,meter_end_l\n2025-04-01,A1,meter,,100,110\n2025-04-01,A1,cans,10,,\n",
        {},
        [],
        [
            "water.csv, row 2, column applied_l: two logs agree: found A1 on 2025-04-01: 10 L by the meter and 10 L noted, in rows 2 and 3; expected one log of a watering; to mend it: if both tell the same water, delete one; both are used, and the lower limit of delivered water leaves the smaller one out"
        ],
        [],
    ),
    "a meter that fell and one that jumped": (
        "date,plot,meter_start_l,meter_end_l\n2025-04-01,A1,100,110\n2025-04-08,A1,90,99\n2025-04-15,A1,150,160\n",
        {},
        [],
        [
            "water.csv, row 3, column meter_start_l: meter fell: found a meter below where it stood at the end of the row before in row 3; expected a start where the meter ended the last time; to mend it: correct the readings, or note that the meter was changed; the rows are used, and the lower limit of delivered water leaves out what may be told twice",
            "water.csv, row 4, column meter_start_l: water without a row: found a meter above where it stood at the end of the row before in row 4; expected a start where the meter ended the last time; to mend it: add the row that is missing; what ran between the two is not counted, but lifts the upper limit of delivered water",
        ],
        [],
    ),
    "a meter that ran backwards": (
        "date,plot,meter_start_l,meter_end_l\n2025-04-01,A1,110,100\n",
        {},
        [],
        [
            "water.csv, row 2, column meter_end_l: meter ran backwards: found meter_end_l below meter_start_l in row 2; expected an end not below the start; to mend it: correct one of the two; the meter of these rows is not used"
        ],
        [],
    ),
    "a level that rose by itself": (
        "date,reservoir,level_before_l,level_after_l,applied_l\n2025-04-01,R2,0,10,10\n2025-04-08,R2,14,14,0\n",
        {},
        [],
        [
            "water.csv, row 2: less than no water: found 4.00 L more left or leaked than was given to B2 in rows 2 and 3; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
            "water.csv, row 3: rose by itself: found a level above the one left at the last visit (unit B2, row 3); expected a level that only falls between visits; to mend it: correct the levels, or add the missing refill; delivered is a lower limit",
        ],
        [],
    ),
    "levels that do not fit the water given": (
        "date,reservoir,level_before_l,level_after_l,applied_l\n2025-04-01,R2,2,18,9\n",
        {},
        [],
        [
            "water.csv, row 2: levels and water disagree: found level_after_l that is not level_before_l plus the water given (unit B2, row 2); expected the three to agree within half a liter and a tenth; to mend it: correct one of them; all are used as they are, and the limits of delivered water reach as far as they disagree",
            "water.csv, row 2: less than no water: found 7.00 L more left or leaked than was given to B2 in row 2; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
        ],
        [],
    ),
    "more leaked than it held": (
        "date,reservoir,level_before_l,level_after_l,applied_l,leaked_l\n2025-04-01,R2,0,10,10,\n2025-04-08,R2,0,0,0,15\n",
        {},
        [],
        [
            "water.csv, row 2: less than no water: found 5.00 L more left or leaked than was given to B2 in rows 2 and 3; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
            "water.csv, row 3: lost more than it held: found more leaked than the reservoir held (unit B2, row 3); expected at most what it held; to mend it: correct leaked_l or the levels; all are used as they are",
        ],
        [],
    ),
    "no amount at all": (
        "date,plot,applied_l\n2025-04-01,A1,\n2025-04-02,A1,9\n",
        {},
        [],
        [
            "water.csv, row 2: no amount: found neither water nor level nor meter in row 2; expected at least one of them, 0 where nothing was given; to mend it: fill it in; blank is not zero: until then the sum of that plot (or reservoir) is not known"
        ],
        ["2 neither water nor level nor meter"],
    ),
    "filled up, and nobody wrote how much": (
        "date,reservoir,level_before_l,level_after_l,applied_l\n2025-04-01,R2,,20,\n2025-04-08,R2,,20,\n2025-04-15,R2,5,,\n",
        {},
        [],
        [
            "water.csv, row 3, column level_after_l: refill without amount: found a level after a refill, and neither the amount nor the level before in row 3; expected the water given, or the levels before and after; to mend it: fill in one of them; if nothing was given, write it as the level before; until then the sum of that plot (or reservoir) is not known"
        ],
        [],
    ),
    "the two levels of a refill exchanged": (
        "date,reservoir,level_before_l,level_after_l\n2025-04-01,R2,0,20\n2025-04-08,R2,18,4\n2025-04-15,R2,3,3\n",
        {},
        [],
        [
            "water.csv, row 3, column level_after_l: level fell at the visit: found a level that is lower after a visit than before it in row 3; expected a level after that is not below the level before; to mend it: exchange the two if water was given, or note in leaked_l what was taken out; until then the sum of that plot (or reservoir) is not known"
        ],
        [],
    ),
    "a reservoir emptied and the water measured": (
        "date,reservoir,level_before_l,level_after_l,leaked_l\n2025-04-01,R2,0,20,\n2025-04-08,R2,18,0,18\n",
        {},
        [],
        [],
        [],
    ),
    "a meter read once a visit": (
        "date,plot,meter_end_l\n2025-04-01,A1,100\n2025-04-08,A1,120\n",
        {},
        [],
        [
            "water.csv, row 2, column meter_end_l: half a meter: found a meter of which only one reading was noted, and no amount, in rows 2 and 3; expected meter_start_l and meter_end_l, or the amount; to mend it: fill in the other one: a start is where the meter ended the last time; until then the sum of that plot (or reservoir) is not known"
        ],
        [],
    ),
    "more leaked than was given": (
        "date,plot,applied_l,leaked_l\n2025-04-01,A1,9,\n2025-04-02,A1,,20\n",
        {},
        [],
        [
            "water.csv, row 2: less than no water: found 11.0 L more left or leaked than was given to A1 in rows 2 and 3; expected at most as much as was there; to mend it: add the refill that is missing, or correct the levels or leaked_l; until then its delivered water is not known",
        ],
        [],
    ),
    "one level in liters and in cm that disagree": (
        "date,reservoir,applied_l,level_before_l,level_before_cm,level_after_l\n2025-04-01,R2,10,0,,10\n2025-04-08,R2,,6,30,6\n",
        {},
        [],
        [
            "water.csv, row 3, column level_before_l: a level told twice: found level_before_l that is not level_before_cm times 0.5 L in row 3; expected the same level in both, or in one of them; to mend it: correct one of the two, or liters_per_cm; the liters are used"
        ],
        [],
    ),
    "one level in liters and in cm that agree": (
        "date,reservoir,applied_l,level_before_l,level_before_cm,level_after_l\n2025-04-01,R2,10,0,,10\n2025-04-08,R2,,6,12,6\n",
        {},
        [],
        [],
        [],
    ),
    "more than a reservoir had room for": (
        "date,reservoir,applied_l,level_before_l,level_after_l\n2025-04-01,R2,20,0,20\n2025-04-08,R2,18,10,\n2025-04-15,R2,,5,5\n",
        {},
        [],
        [
            "water.csv, row 3: more than there was room for: found more water than a reservoir of 20 L had room for (unit B2, row 3); expected at most what fits, or the level before where some was left; to mend it: correct the amount, the level or holds_l; the amount is used, and the lower limit of delivered water leaves out what may have run over"
        ],
        [],
    ),
    "a whole tank into one reservoir": (
        "date,reservoir,applied_l\n2025-04-01,R2,60\n",
        {},
        [],
        [
            "water.csv, row 2: more than there was room for: found more water than a reservoir of 20 L had room for (unit B2, row 2); expected at most what fits, or the level before where some was left; to mend it: correct the amount, the level or holds_l; the amount is used, and the lower limit of delivered water leaves out what may have run over"
        ],
        [],
    ),
    "one refill told under the plot and under its reservoir": (
        "date,plot,reservoir,applied_l,level_before_l,level_after_l\n2025-04-01,B2,,10,,\n2025-04-01,,R2,10,0,10\n2025-04-08,,R2,0,5,5\n",
        {},
        [],
        [
            "water.csv, row 2, column applied_l: two logs agree: found R2 on 2025-04-01: 10 L noted under the plot and 10 L noted under the reservoir, in rows 2 and 3; expected one log of a watering; to mend it: if both tell the same water, delete one; both are used, and the lower limit of delivered water leaves the smaller one out"
        ],
        [],
    ),
    "one fill of a shared reservoir told under both of its plots": (
        "date,plot,applied_l,level_after_l\n2025-04-01,A2,20,20\n2025-04-01,A3,20,20\n2025-04-08,A2,0,5\n",
        {},
        [],
        [
            "water.csv, row 2: two fills of one day: found two fills of R1 on 2025-04-01, the second from below where the first ended, in rows 2 and 3; expected one row a fill, each from where the last one ended; to mend it: if both tell the same water, delete one; both are used, and the lower limit of delivered water leaves the smaller one out"
        ],
        [],
    ),
    "levels that were copied all season": (
        "date,reservoir,applied_l,level_before_l,level_after_l\n2025-04-01,R2,20,0,20\n2025-04-08,R2,0,20,20\n",
        {},
        [],
        [
            "water.csv, row 2: all of it was kept: found water given to B2, none of it gone, in rows 2 and 3; expected levels that fall between visits; to mend it: look for a blocked wick or levels that were copied, and note it in events; a unit to which nothing was delivered has no yield per liter"
        ],
        [],
    ),
    "water where none was planned": (
        "date,plot,applied_l\n2025-04-01,A1,9\n",
        {"planned_l": {"hand watering": 0.0, "capillary wick": 60.0}},
        [],
        [
            "water.csv, row 2: water that was not planned: found 9.00 L given to A1 in row 2, whose treatment is planned to get none; expected no water; to mend it: correct the plot or `planned_l`, or tell a wrong treatment in events; it counts as given"
        ],
        [],
    ),
    "liters written for cans": (
        "date,plot,applied_l\n2025-04-01,A1,9\n2025-04-03,A1,9\n2025-04-05,A1,9\n2025-04-07,A1,9\n2025-04-09,A1,81\n2025-04-11,A1,9\n2025-04-13,A1,9\n2025-04-15,A1,9\n",
        {},
        [],
        [
            "water.csv, row 6, column applied_l: far out of line: found applied_l 81 for plot A1 on 2025-04-09; the middle value of the column is 9; expected values like the rest of the column; to mend it: look for a slipped decimal sign or another unit; the value is used as it stands"
        ],
        [],
    ),
    "weather without rain under a catching area": (
        "date,reservoir,applied_l,level_before_l,level_after_l\n2025-04-01,R2,10,0,10\n",
        {"rain_catch_m2": 0.5},
        [],
        [
            "weather.csv, column date: missing days: found 243 of 245 days without weather: 2025-03-01 to 2025-03-31, 2025-04-02 to 2025-04-03, 2025-04-05 to 2025-10-31; expected a row for every day of the season, or one for every month; to mend it: add them from a station nearby; nothing is filled in here",
            "weather.csv: rain not known: found a catching area for rain, and no daily rain_mm in a table of weather; expected rain_mm for every day, where reservoirs catch rain; to mend it: add rain_mm, or take rain_catch_m2 out; no rain is counted, so that delivered water is a lower limit",
            "weather.csv, row 3, column tmax_c: maximum below minimum: found tmax_c below tmin_c in row 3; expected tmax_c not below tmin_c; to mend it: correct it in the file; the rows are not used",
        ],
        ["3 maximum below minimum"],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_exact_words_about_water(name: str, tmp_path: Path) -> None:
    rows, keys, problems, queries, left_out = CASES[name]
    (tmp_path / "water.csv").write_text(rows, encoding="utf-8")
    records = {"water": {"file": "water.csv"}}
    if "rain_catch_m2" in keys:
        (tmp_path / "weather.csv").write_text(WEATHER, encoding="utf-8")
        records["weather"] = {"file": "weather.csv"}
    trial = small_trial(tmp_path, records, water={**WATER, **keys})
    if problems:
        with pytest.raises(RecordsError) as caught:
            read_records(trial, small_layout())
        assert [str(p) for p in caught.value.problems] == problems
        return
    season = read_records(trial, small_layout())
    asked = [str(q) for q in season.queries if q.code != "plots without records"]
    assert asked == queries
    assert [f"{x.row} {x.reason}" for x in season.exclusions] == left_out
    # every row that is not listed is in the table that the ledger reads
    assert len(season.table("water")) + len(
        [x for x in season.exclusions if x.file == "water.csv"]
    ) == (rows.count("\n") - 1)


@pytest.mark.parametrize(
    ("cells", "code", "column", "kept"),
    [
        ("0.3,0.8,2,2,0", "humidity as a share", "rh_max", False),
        ("30,80,45,2,0", "impossible wind", "wind_m_s", False),
        ("30,80,2,2,900", "a flood of rain", "rain_mm", True),
    ],
)
def test_weather_in_other_units_is_asked_about(
    cells: str, code: str, column: str, kept: bool, tmp_path: Path
) -> None:
    head = "date,tmin_c,tmax_c,rh_min,rh_max,wind_m_s,wind_height_m,rain_mm\n"
    (tmp_path / "weather.csv").write_text(f"{head}2025-04-01,5,20,{cells}\n", encoding="utf-8")
    trial = small_trial(tmp_path, {"weather": {"file": "weather.csv"}}, water=WATER)
    season = read_records(trial, small_layout())
    (asked,) = [q for q in season.queries if q.code == code]
    assert (asked.row, asked.column) == (2, column)
    assert season.table("weather")[column].notna().tolist() == [kept]
