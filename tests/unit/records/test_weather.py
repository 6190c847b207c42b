"""The table of weather: what is asked about, what is left out, what is kept."""

import numpy as np
import pandas as pd
import pytest
from support_records import frame, small_layout, small_trial

from wickstats.records.read import read_records
from wickstats.records.season import Season
from wickstats.records.weather import days_covered

SITE = {"latitude": 50.8, "elevation_m": 100.0}
WHOLE = "date,period,tmin_c,tmax_c\n" + "".join(
    f"2025-{m:02d}-03,month,10,20\n" for m in range(3, 11)
)


def _read(text: str, latitude: float | None = 50.8) -> Season:
    trial = small_trial()
    site = trial.trial.site.model_copy(update={"latitude": latitude})
    head = trial.trial.model_copy(update={"site": site})
    return read_records(
        trial.model_copy(update={"trial": head}), small_layout(), {"weather": frame(text)}
    )


def _kept(season: Season) -> pd.DataFrame:
    table = season.table("weather")
    assert table is not None
    return table


def test_a_row_a_month_covers_the_season() -> None:
    season = _read(WHOLE)
    assert season.queries == ()
    table = _kept(season)
    # a month's row stands on the 15th, whichever day was written
    assert [d.day for d in table["date"]] == [15] * 8
    assert len(days_covered(table)) == 245  # March to October


BAD = [
    # row added, code, column, column that is then blank, found
    ("tmin_c,tmax_c", "21,9", "maximum below minimum", "tmax_c", None),
    ("tmin_c,tmax_c", ",9", "no temperature", "tmin_c", None),
    ("tmin_c,tmax_c", "59,88", "impossible temperature", "tmax_c", None),
    ("tmin_c,tmax_c,rh_min,rh_max", "9,21,40,104", "humidity above 100", "rh_max", "rh_max"),
    ("tmin_c,tmax_c,rh_min,rh_max", "9,21,84,63", "maximum below minimum", "rh_max", "rh_min"),
    ("tmin_c,tmax_c,wind_m_s", "9,21,3", "wind height missing", "wind_height_m", None),
    (
        "tmin_c,tmax_c,wind_m_s,wind_height_m",
        "9,21,3,0.1",
        "wind height too low",
        "wind_height_m",
        "wind_m_s",
    ),
    # the longest day at 50.8 N has 16.3 hours
    ("tmin_c,tmax_c,sun_h", "9,21,17.5", "sun above day length", "sun_h", "sun_h"),
    (
        "tmin_c,tmax_c,radiation_mj_m2",
        "9,21,2207",
        "radiation above the sun's",
        "radiation_mj_m2",
        "radiation_mj_m2",
    ),
]


@pytest.mark.parametrize(("heads", "cells", "code", "column", "blank"), BAD)
def test_what_cannot_be_is_asked_about_and_not_used(
    heads: str, cells: str, code: str, column: str, blank: str | None
) -> None:
    good = "10,20" + "," * (heads.count(",") - 1)
    season = _read(f"date,{heads}\n2025-07-01,{good}\n2025-07-02,{cells}\n")
    asked = {q.code: q for q in season.queries}
    assert set(asked) == {code, "missing days"}
    assert (asked[code].row, asked[code].column) == (3, column)
    used = _kept(season)
    if column in ("tmin_c", "tmax_c"):
        assert [(e.row, e.reason) for e in season.exclusions] == [(3, code)]
        assert list(used["row"]) == [2]
    else:
        assert season.exclusions == ()
        assert list(used["row"]) == [2, 3]
    if blank is not None:
        assert np.isnan(used[blank].iloc[1])


def test_sun_is_not_judged_without_a_latitude() -> None:
    season = _read("date,tmin_c,tmax_c,sun_h\n2025-07-02,9,21,17.5\n", latitude=None)
    assert [q.code for q in season.queries] == ["missing days"]


def test_missing_days_and_days_out_of_season_are_told_once() -> None:
    extra = "2025-02-27,,1,9\n2025-02-28,,1,9\n"
    rows = WHOLE.replace("2025-04-03,month,10,20\n", "2025-04-03,day,10,20\n") + extra
    season = _read(rows)
    asked = {q.code: q for q in season.queries}
    assert len(season.queries) == len(asked) == 2
    assert asked["out of season"].found == "2 days before or after the season in rows 10 and 11"
    assert asked["missing days"].found == (
        "29 of 245 days without weather: 2025-04-01 to 2025-04-02, 2025-04-04 to 2025-04-30"
    )


def test_two_rows_of_one_month_that_disagree_are_not_used() -> None:
    season = _read(WHOLE + "2025-10-30,month,11,20\n")
    assert "conflicting duplicates" in {q.code for q in season.queries}
    assert 10 not in {d.month for d in _kept(season)["date"]}


def test_an_unknown_period_and_a_missing_column_are_problems() -> None:
    from wickstats.core.errors import RecordsError

    with pytest.raises(RecordsError) as caught:
        _read(WHOLE.replace("2025-03-03,month", "2025-03-03,week"))
    assert [(p.row, p.column) for p in caught.value.problems] == [(2, "period")]
    with pytest.raises(RecordsError) as caught:
        _read("date,tmin_c\n2025-07-01,9\n")
    assert [p.code for p in caught.value.problems] == ["missing column"]
