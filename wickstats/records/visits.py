"""The table of visits: states of plants, or counts of a plot's plants.

Leans on the modules of this package.
"""

import numpy as np
import pandas as pd

from wickstats.records.duplicates import group_codes, settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import (
    Ground,
    ask_out_of_season,
    day,
    drop,
    groups,
    need,
    with_columns,
)

UNSEEN = "not visited"
NOBODY_WENT = "a plot where nobody went"
COUNTS = ("alive_n", "dead_n", "not_found_n")


def check_visits(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a plant and visit, or one row a plot and visit with counts."""
    out = ground.out
    frame = with_columns(frame, date="date", plant="text", status="text", cause="text")
    frame = with_columns(frame, **dict.fromkeys(COUNTS, "number"))
    counted = frame[list(COUNTS)].notna().any(axis=1).to_numpy()
    named = frame["plant"].notna().to_numpy()
    said = frame["status"].notna().to_numpy()
    frame = drop(frame, named & ~said, out, "no status")
    counted, said, named = (
        frame[list(COUNTS)].notna().any(axis=1).to_numpy(),
        frame["status"].notna().to_numpy(),
        frame["plant"].notna().to_numpy(),
    )
    _ask_both(frame, named & counted, ground)
    whole = ~named & said & ~counted
    _ask_whole_plot(frame, whole, ground)
    silent = (frame["status"] == UNSEEN).to_numpy()
    frame = drop(frame, whole & silent, out, NOBODY_WENT)
    frame = drop(frame, whole[~(whole & silent)], out, "a status without a plant")
    empty = frame["plant"].isna() & frame[list(COUNTS)].isna().all(axis=1)
    frame = drop(frame, empty.to_numpy(), out, "neither a plant nor counts")
    frame = _date_of_single_visit(frame, ground)
    if _no_dates(frame, ground):
        return frame
    need(frame, ("date",), out)
    frame = settle_duplicates(
        frame, ("date", "plot", "plant"), out, "one plant (or plot) at one visit"
    )
    ask_out_of_season(frame, ground, "a visit")
    return _counts_beside_plants(frame, ground)


def _ask_both(frame: pd.DataFrame, both: np.ndarray, ground: Ground) -> None:
    for file, group in groups(frame[both], "file"):
        ground.out.query(
            file,
            "counts beside a plant",
            found=f"a plant and counts in {rows_in_words(group['row'])}",
            expected="counts only where the plant is blank",
            fix="put counts into rows of their own; the counts of these rows are not used",
            row=int(group["row"].min()),
        )
    for column in COUNTS:
        if both.any():
            frame.loc[both, column] = np.nan


def _ask_whole_plot(frame: pd.DataFrame, whole: np.ndarray, ground: Ground) -> None:
    """A status for a whole plot cannot be told to its plants, except that nobody went."""
    silent = (frame["status"] == UNSEEN).to_numpy()
    for file, group in groups(frame[whole & ~silent], "file"):
        ground.out.query(
            file,
            "a status without a plant",
            found=f"a status and no plant in {rows_in_words(group['row'])}",
            expected="a plant, or counts of the plot",
            fix="name the plant, or give alive_n, dead_n and not_found_n; "
            "the rows are not used",
            row=int(group["row"].min()),
            column="plant",
        )


def _date_of_single_visit(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """Visits without any date are one visit, at the season's end where that is known."""
    if not len(frame) or not frame["date"].isna().all() or np.isnat(ground.season_end):
        return frame
    if np.bincount(group_codes(frame, ("plot", "plant"))).max() > 1:
        return frame  # several visits, and nothing says when
    frame = frame.copy()
    frame["date"] = ground.season_end
    ground.out.query(
        str(frame["file"].iloc[0]),
        "no dates",
        found="no date in the whole table",
        expected="the day of the visit",
        fix=f"add a column date; the season's end, {day(ground.season_end)}, is taken",
        column="date",
    )
    return frame


def _no_dates(frame: pd.DataFrame, ground: Ground) -> bool:
    """Survival is followed from visit to visit: without their days nothing can be said."""
    if not len(frame) or not frame["date"].isna().all():
        return False
    file = str(frame["file"].iloc[0])
    if any(p.file == file and p.column == "date" for p in ground.out.problems):
        return True  # dates were there and could not be read
    ground.out.problem(
        file,
        "missing date",
        found="no date in the whole table",
        expected="the day of every visit, in a column date",
        fix="add the column, or say which one it is with `columns: {date: {head: ...}}`",
        row=1,
        column="date",
    )
    return True


def _counts_beside_plants(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    named = frame["plant"].notna().to_numpy()
    if named.all() or not named.any():
        return frame
    both = frame["plot"].isin(frame["plot"][named].unique()).to_numpy() & ~named
    for (file, plot), group in groups(frame[both], "file", "plot"):
        ground.out.query(
            file,
            "plants and counts",
            found=f"counts of plot {plot} in {rows_in_words(group['row'])}, "
            "whose plants are also listed one by one",
            expected="one of the two for a plot",
            fix="delete the counts; they are not used",
            row=int(group["row"].min()),
        )
    return drop(frame, both, ground.out, "the plot's plants are listed one by one")
