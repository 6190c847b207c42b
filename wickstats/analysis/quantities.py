"""Rows of a quantity picked out of the season's tables, joined to units.

Leans on units, records.season and pandas.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.units import Array, IntArray, Units
from wickstats.records.season import Season

WINDOW_DAYS = 14.0
WHO_JOIN = " / "


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows with a value: unit, plot, plant code, day (NaN where no date), value."""

    units: IntArray
    plots: IntArray
    plants: IntArray  # -1 where the row is about the whole plot
    days: Array
    values: Array
    who: NDArray[np.object_]  # "plot / plant", as the tables name them
    origin: pd.Timestamp | None

    def take(self, keep: NDArray[np.bool_]) -> "Rows":
        """The rows where ``keep`` is true."""
        return Rows(
            self.units[keep],
            self.plots[keep],
            self.plants[keep],
            self.days[keep],
            self.values[keep],
            self.who[keep],
            self.origin,
        )

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.values.size)


def measured_rows(season: Season, units: Units, column: str | None) -> Rows | None:
    """Rows of the measurements with a value in that column; None where there are none."""
    frame = season.table("measurements")
    if frame is None or frame.empty:
        return None
    column = column or _only_quantity(frame)
    if column is None or column not in frame:
        return None
    return rows_of(frame, column, season, units)


def rows_of(frame: pd.DataFrame, column: str, season: Season, units: Units) -> Rows:
    """Rows of one column, without lost plots and blanks, in the layout's order."""
    keep = (
        frame[column].notna()
        & frame["plot"].isin(list(units.index))
        & ~frame["plot"].isin(list(season.lost_plots))
    )
    held = _ordered(frame.loc[keep], units)
    plots = held["plot"].astype(str)
    plot_codes, _ = pd.factorize(plots)
    who = plots
    plant_codes = np.full(len(held), -1)
    if "plant" in held and held["plant"].notna().any():
        named = held["plant"].notna().to_numpy()
        who = plots + WHO_JOIN + held["plant"].astype(str)
        plant_codes = np.where(named, pd.factorize(who)[0], -1)
    origin: pd.Timestamp | None = None
    days = np.full(len(held), np.nan)
    if "date" in held and held["date"].notna().any():
        dates = pd.to_datetime(held["date"])
        origin = pd.Timestamp(dates.min())
        days = ((dates - origin) / pd.Timedelta(days=1)).to_numpy(dtype=float)
    return Rows(
        np.array([units.index[p] for p in plots], dtype=np.int64),
        np.asarray(plot_codes, dtype=np.int64),
        np.asarray(plant_codes, dtype=np.int64),
        days,
        pd.to_numeric(held[column]).to_numpy(dtype=float),
        who.to_numpy(dtype=object),
        origin,
    )


def _ordered(held: pd.DataFrame, units: Units) -> pd.DataFrame:
    """In the layout's order, so that the order of a table's rows changes no last digit."""
    place = {plot: k for k, plot in enumerate(p for plots in units.plots for p in plots)}
    keys = [held["plot"].map(place).to_numpy()]
    for column in ("plant", "date"):
        if column in held:
            text = held[column].astype(str)
            keys.append(text.to_numpy(dtype=str))
    order = np.lexsort(keys[::-1])
    return held.iloc[order]


def plot_window(rows: Rows, day: float | None) -> Rows:
    """Each plot's rows of its last date on or before ``day``, at most 14 days earlier.

    Without ``day``: the last date in the table. Rows without dates stay.
    """
    if not np.isfinite(rows.days).any():
        return rows
    end = float(np.nanmax(rows.days)) if day is None else day
    near = (rows.days <= end) & (rows.days >= end - WINDOW_DAYS)
    last = np.full(int(rows.plots.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(last, rows.plots[near], rows.days[near])
    return rows.take(near & (rows.days == last[rows.plots]))


def plant_window(rows: Rows, day: float | None) -> Rows:
    """Each plant's last row on or before ``day``, at most 14 days earlier."""
    if not np.isfinite(rows.days).any():
        return rows
    end = float(np.nanmax(rows.days)) if day is None else day
    near = (rows.days <= end) & (rows.days >= end - WINDOW_DAYS)
    held = rows.take(near)
    key = plant_keys(held)
    last = np.full(int(key.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(last, key, held.days)
    return held.take(held.days == last[key])


def plant_keys(rows: Rows) -> IntArray:
    """(n,) codes of plants; a row about a whole plot counts as a plant of its own."""
    offset = int(rows.plants.max(initial=-1)) + 1
    key = np.where(rows.plants >= 0, rows.plants, offset + rows.plots)
    return np.unique(key, return_inverse=True)[1].astype(np.int64)


def _only_quantity(frame: pd.DataFrame) -> str | None:
    known = {"file", "row", "date", "plot", "plant", "observer", "note"}
    own = [c for c in frame.columns if c not in known and frame[c].dtype.kind in "fi"]
    return str(own[0]) if len(own) == 1 else None


def by_plant(rows: Rows) -> tuple[Array, IntArray, NDArray[np.object_]]:
    """Mean of each plant's rows, its unit, and who it is."""
    key = plant_keys(rows)
    first = np.unique(key, return_index=True)[1]
    count = np.bincount(key)
    values: Array = np.bincount(key, weights=rows.values) / np.maximum(count, 1)
    return values, rows.units[first], rows.who[first]
