"""What every table's check stands on: the trial, its layout, what is found, small helpers.

Leans on layout and on the collector of findings.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.records.duplicates import group_codes
from wickstats.records.findings import MOST_ALIKE, Findings, rows_in_words

NO_DAY = np.datetime64("NaT", "ns")


@dataclass(slots=True)
class Ground:
    """Trial, layout and the collector of findings."""

    trial: Trial
    layout: Layout
    out: Findings

    @property
    def season_start(self) -> np.datetime64:
        """First day of the season, NaT where the trial names none."""
        season = self.trial.trial.season
        return NO_DAY if season is None else np.datetime64(season.start, "ns")

    @property
    def season_end(self) -> np.datetime64:
        """Last day of the season, NaT where the trial names none."""
        season = self.trial.trial.season
        return NO_DAY if season is None else np.datetime64(season.end, "ns")

    def planted(self) -> dict[str, int]:
        """Plants of every plot as planned, where the layout or the design says so."""
        default = self.trial.design.plants_per_plot
        counts = {p.plot: p.plants or default for p in self.layout.plots}
        return {plot: n for plot, n in counts.items() if n is not None}


def day(value: Any) -> str:
    """A day (numpy's or pandas') as ISO 8601 text."""
    return str(np.datetime64(value).astype("datetime64[D]"))


def vessels_of(rows: pd.DataFrame) -> pd.Series:
    """What every row of water is about: its reservoir, or the plot itself."""
    if "vessel" in rows:
        return rows["vessel"]
    vessels: pd.Series = rows["reservoir"].where(rows["reservoir"].notna(), rows["plot"])
    return vessels


def units_of(rows: pd.DataFrame, layout: Layout) -> list[str | None]:
    """Unit of every row by its plot, else by its reservoir; None where neither tells."""
    unit_of = layout.unit_of
    by_reservoir = {p.reservoir: unit_of[p.plot] for p in layout.plots if p.reservoir}
    return [
        by_reservoir.get(reservoir) if plot is None else unit_of.get(plot)
        for plot, reservoir in zip(rows["plot"], rows["reservoir"], strict=True)
    ]


def groups(frame: pd.DataFrame, *keys: str) -> Iterator[tuple[Any, pd.DataFrame]]:
    """Groups in the order of their keys: the key (or tuple of keys) and its rows."""
    if len(frame):
        yield from frame.groupby(list(keys) if len(keys) > 1 else keys[0], sort=True)


def with_columns(frame: pd.DataFrame, **kinds: str) -> pd.DataFrame:
    """Add columns that the file left out: kind "text", "date" or "number", all blank."""
    n = len(frame)
    for name, kind in kinds.items():
        if name in frame:
            continue
        if kind == "text":
            frame[name] = np.full(n, None, dtype=object)
        elif kind == "date":
            frame[name] = np.full(n, NO_DAY)
        else:
            frame[name] = np.full(n, np.nan)
    return frame


def drop(frame: pd.DataFrame, wrong: np.ndarray, out: Findings, reason: str) -> pd.DataFrame:
    """Leave rows out and list each with the reason."""
    if not wrong.any():
        return frame
    gone = frame[wrong]
    for file, row in zip(gone["file"], gone["row"], strict=True):
        out.exclude(str(file), int(row), reason)
    return frame[~wrong]


def need(frame: pd.DataFrame, columns: Sequence[str], out: Findings) -> None:
    """Columns in which no cell may be blank."""
    told = {(p.file, p.row) for p in out.problems}
    for column in columns:
        if column not in frame:
            continue
        blank = np.flatnonzero(frame[column].isna().to_numpy())
        for place in blank.tolist():
            file, row = str(frame["file"].iloc[place]), int(frame["row"].iloc[place])
            if (file, row) in told:
                continue  # it was not blank: it could not be read
            out.problem(
                file,
                "missing value",
                found="a blank",
                expected=f"a value for {column}",
                fix="fill it in, or delete the row if it is empty",
                row=row,
                column=column,
            )


def need_dates(frame: pd.DataFrame, key: Sequence[str], out: Findings) -> None:
    """A date may be missing only where a plant or plot has one row."""
    missing = frame["date"].isna().to_numpy()
    if not missing.any():
        return
    codes = group_codes(frame, [k for k in key if k in frame])
    wrong = np.flatnonzero(missing & (np.bincount(codes)[codes] > 1))
    files, rows = frame["file"].to_numpy(), frame["row"].to_numpy()
    for place in wrong[:MOST_ALIKE].tolist():
        out.problem(
            str(files[place]),
            "missing date",
            found="no date where a plot or plant has several rows",
            expected="a date in each of them",
            fix="fill in the dates",
            row=int(rows[place]),
            column="date",
        )
    if len(wrong) > MOST_ALIKE:
        out.rest(out.problems, len(wrong) - MOST_ALIKE, int(rows[wrong[-1]]))


def ask_out_of_season(frame: pd.DataFrame, ground: Ground, what: str) -> None:
    """Tell every day outside the season once a file; the rows stay in use."""
    start, end = ground.season_start, ground.season_end
    days = frame["date"].to_numpy()
    outside = (days < start) | (days > end)  # NaT compares as no
    if not outside.any():
        return
    for (file, when), group in groups(frame[outside], "file", "date"):
        rows = group["row"]
        ground.out.query(
            file,
            "out of season",
            found=f"{what} on {day(when)} in {rows_in_words(rows)}",
            expected=f"a day from {day(start)} to {day(end)}",
            fix="correct the date, or the season in the trial file; the rows are used",
            row=int(rows.min()),
            column="date",
        )


def natural(text: str) -> tuple[object, ...]:
    """Key that puts "2" before "10"."""
    parts = re.split(r"(\d+)", text)
    return tuple((0, int(p), "") if p.isdigit() else (1, 0, p) for p in parts if p)


def in_order(frame: pd.DataFrame, layout: Layout) -> pd.DataFrame:
    """Rows by plot in walking order, plant, day, then place in the file."""
    if len(frame) < 2:
        return frame.reset_index(drop=True)
    keys: list[np.ndarray] = []
    if "row" in frame:
        keys = [frame["row"].to_numpy(), frame["file"].to_numpy().astype(str)]
    for column in ("new_plant", "what", "source", "pick"):  # where the rest is equal
        if column in frame:
            keys.append(frame[column].fillna("").to_numpy().astype(str))
    if "date" in frame:
        keys.append(frame["date"].to_numpy())
    for column, order in (
        ("plant", None),
        ("reservoir", None),
        ("plot", {p.plot: i for i, p in enumerate(layout.plots)}),
    ):
        if column in frame:
            codes, distinct = pd.factorize(frame[column].to_numpy())
            if order is None:
                order = {n: i for i, n in enumerate(sorted(distinct, key=natural))}
            ranks = np.asarray([*(order.get(n, len(order)) for n in distinct), -1])
            keys.append(ranks[codes])
    return frame.iloc[np.lexsort(keys)].reset_index(drop=True)
