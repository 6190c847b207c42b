"""The table of measurements: the user's own quantities, by plant or plot and day.

Two rows may tell different quantities of one plant on one day (two sheets); a quantity
told twice is a duplicate. Leans on the modules of this package.
"""

from typing import Any

import numpy as np
import pandas as pd

from wickstats.design.tables import MEASUREMENTS
from wickstats.records.cells import shown
from wickstats.records.duplicates import group_codes
from wickstats.records.findings import MOST_ALIKE, rows_in_words
from wickstats.records.ground import (
    NO_DAY,
    Ground,
    ask_out_of_season,
    day,
    drop,
    groups,
    need_dates,
    with_columns,
)

SHRINKS = 0.10  # share of a plant's size lost between two days that a person should look at


def quantity_names(frame: pd.DataFrame) -> list[str]:
    """Columns that hold quantities."""
    fixed = {*MEASUREMENTS.column_names, "file", "row"}
    return [c for c in frame.columns if c not in fixed]


def check_measurements(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """Every quantity once a plant (or plot) and day, inside its range."""
    frame = with_columns(frame, date="date", plant="text")
    names = quantity_names(frame)
    empty = frame[names].isna().all(axis=1).to_numpy()
    frame = drop(frame, empty, ground.out, "no quantity in this row").copy()
    need_dates(frame, ("plot", "plant"), ground.out)
    for name in names:
        _settle(frame, name, ground)
        _ask_range(frame, name, ground)
    frame = frame[frame[names].notna().any(axis=1).to_numpy()]
    ask_out_of_season(frame, ground, "a measurement")
    for response in ground.trial.responses:
        if response.kind == "growth" and response.column in names:
            above_zero = frame
            if response.model_scale == "log":
                above_zero = _ask_not_above_zero(frame, response.column, ground)
            _ask_shrinking(above_zero, response.column, ground)
    return frame


def _settle(frame: pd.DataFrame, name: str, ground: Ground) -> None:
    """Blank the surplus of a quantity told more than once; tell why."""
    filled = np.flatnonzero(frame[name].notna().to_numpy())
    if len(filled) < 2:
        return
    codes = group_codes(frame.iloc[filled], ("date", "plot", "plant"))
    counts = np.bincount(codes)
    if counts.max() == 1:
        return
    files, rows = frame["file"].to_numpy(), frame["row"].to_numpy()
    values = frame[name].to_numpy(copy=True)
    again = filled[counts[codes] > 1]
    again = again[np.lexsort((rows[again], files[again].astype(str)))]
    code_at = dict(zip(filled.tolist(), codes.tolist(), strict=True))
    by_code: dict[int, list[int]] = {}
    for place in again.tolist():
        by_code.setdefault(code_at[place], []).append(place)
    for places in by_code.values():
        alike = len({values[p] for p in places}) == 1
        said = rows_in_words(rows[places])
        ground.out.query(
            str(files[places[0]]),
            "duplicate" if alike else "conflicting duplicates",
            found=f"{name} of {_who(frame, places[0])} in {said}, "
            + ("the same each time" if alike else "different each time"),
            expected="one value a plant (or plot) and day",
            fix="delete the surplus; the first is used"
            if alike
            else "correct or delete the wrong ones; none of them is used",
            row=int(rows[places[0]]),
            column=name,
        )
        for place in places[1:] if alike else places:
            reason = f"{name}: the same as row {rows[places[0]]}"
            if not alike:
                reason = f"{name}: contradicts another of {said}"
            ground.out.exclude(str(files[place]), int(rows[place]), reason)
            values[place] = np.nan
    frame[name] = values


def _who(frame: pd.DataFrame, place: int) -> str:
    plant, when = frame["plant"].iloc[place], frame["date"].iloc[place]
    text = f"plot {frame['plot'].iloc[place]}"
    if plant is not None:
        text = f"plant {plant} of {text}"
    return text if pd.isna(when) else f"{text} on {day(when)}"


def _ask_range(frame: pd.DataFrame, name: str, ground: Ground) -> None:
    """A value outside the range that the trial file gives is not used."""
    ranges = [r.range for r in ground.trial.responses if r.column == name and r.range]
    if not ranges:
        return
    low, high = max(r[0] for r in ranges), min(r[1] for r in ranges)
    values = frame[name].to_numpy(copy=True)
    outside = np.flatnonzero((values < low) | (values > high))
    for place in outside.tolist():
        file, row = str(frame["file"].iloc[place]), int(frame["row"].iloc[place])
        said = shown(float(f"{values[place]:.12g}"))
        ground.out.query(
            file,
            "outside its range",
            found=f"{name} {said} for {_who(frame, place)}",
            expected=f"{shown(low)} to {shown(high)}, as the trial file says",
            fix="correct the value or the range; the value is not used",
            row=row,
            column=name,
        )
        ground.out.exclude(file, row, f"{name}: outside its range")
        values[place] = np.nan
    if len(outside):
        frame[name] = values


def _ask_not_above_zero(frame: pd.DataFrame, name: str, ground: Ground) -> pd.DataFrame:
    """No living plant has a size of zero or less; the rows without such sizes are returned."""
    values = frame[name].to_numpy()
    for place in np.flatnonzero(values <= 0).tolist():
        ground.out.query(
            str(frame["file"].iloc[place]),
            "not above zero",
            found=f"{name} {shown(float(f'{values[place]:.12g}'))} for {_who(frame, place)}",
            expected="a size above zero, since growth is compared as a ratio",
            fix="correct it, or leave the cell blank; the value is left out of the analysis",
            row=int(frame["row"].iloc[place]),
            column=name,
        )
    return frame[~(values <= 0)]


def _ask_shrinking(frame: pd.DataFrame, name: str, ground: Ground) -> None:
    """A plant that lost more than a tenth of its size; browsing does that too."""
    rows = frame[frame[name].notna() & frame["plant"].notna() & frame["date"].notna()]
    if len(rows) < 2:
        return
    codes = group_codes(rows, ("plot", "plant"))
    order = np.lexsort((rows["date"].to_numpy(), codes))
    codes, values = codes[order], rows[name].to_numpy()[order]
    fell = (codes[1:] == codes[:-1]) & (values[1:] < (1 - SHRINKS) * values[:-1])
    places = (np.flatnonzero(fell) + 1).tolist()
    for place in places[:MOST_ALIKE]:
        at = order[place]
        row: dict[str, Any] = {c: rows[c].iat[at] for c in ("file", "plant", "plot", "row")}
        before = shown(float(f"{values[place - 1]:.12g}"))
        ground.out.query(
            str(row["file"]),
            "shrinking",
            found=f"{name} {shown(float(f'{values[place]:.12g}'))} after {before} for plant "
            f"{row['plant']} of plot {row['plot']}",
            expected="a size that does not fall by more than a tenth",
            fix="check it; if the plant was browsed or died back nothing is to be done: "
            "the value is used",
            row=int(row["row"]),
            column=name,
        )
    if len(places) > MOST_ALIKE:
        last = int(rows["row"].to_numpy()[order[places[-1]]])
        ground.out.rest(ground.out.queries, len(places) - MOST_ALIKE, last)


def drop_after_death(
    frame: pd.DataFrame, lives: pd.DataFrame | None, ground: Ground
) -> pd.DataFrame:
    """Dead plants have no size: what was measured on them is set aside with a query."""
    if lives is None or not len(frame) or lives["first_dead"].dtype.kind != "M":
        return frame
    dead = lives[lives["first_dead"].notna()]
    if not len(dead):
        return frame
    died = dict(
        zip(zip(dead["plot"], dead["plant"], strict=True), dead["first_dead"], strict=True)
    )
    first = np.fromiter(
        (
            np.datetime64(died.get(key, NO_DAY), "ns")
            for key in zip(frame["plot"], frame["plant"], strict=True)
        ),
        dtype="datetime64[ns]",
        count=len(frame),
    )
    late = frame["date"].to_numpy() >= first
    for file, group in groups(frame[late], "file"):
        ground.out.query(
            file,
            "measured after death",
            found=f"sizes of plants already seen dead in {rows_in_words(group['row'])}",
            expected="no size for a dead plant",
            fix="correct the visits, or leave the size blank; the rows are not used",
            row=int(group["row"].min()),
        )
    return drop(frame, late, ground.out, "measured after the plant was seen dead")
