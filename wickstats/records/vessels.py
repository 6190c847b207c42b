"""Reservoirs, cans and meters between visits: what was there, what left, how well it was read.

    lost between two visits = left at the first + rain caught - found at the second - leaked

A vessel is a named reservoir, or the plot itself. Reading error: where a row has both
levels and the water given, before + given - after would be zero without error; less what
all cans (or meters) read wrong alike, half its variance is that of one reading. Whatever
the rows say, a level read on a scale of steps s has at least s^2/12. Leans on rain, numpy
and pandas.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from wickstats.records.ground import vessels_of
from wickstats.records.rain import Rain

Array = np.ndarray

_FEWEST_READINGS = 6  # for a scale's step to show
_FEWEST_BALANCES = 5  # rows with both levels and the water given, for an error to show
PERIOD_COLUMNS = (
    "unit", "vessel", "from", "to", "days", "lost_l", "rain_l", "by", "emptied", "file", "row",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """Error of reading one level, and of one refill's amount beyond it (both as SD, liters)."""

    level_l: float = 0.0
    refill_l: float = 0.0


def ordered_vessels(rows: pd.DataFrame) -> list[pd.DataFrame]:
    """Rows by reservoir (or plot), each in the order of time."""
    if "vessel" not in rows:
        rows = in_time(rows)
    vessels = rows["vessel"].unique()
    if len(vessels) == 1:
        return [rows]
    return [rows[(rows["vessel"] == name).to_numpy()] for name in vessels]


def in_time(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with their ``vessel``, by vessel and time.

    Rows of one day and vessel (told under several plots, or water of two sources) stand as
    the level rises, those without a level last: one fill goes on where another ended. Where
    a row stands in its file decides nothing.
    """
    opening, closing = levels_at(rows)
    told = rows.assign(vessel=vessels_of(rows), opening=opening, closing=closing)
    order = ["vessel", "date", "opening", "closing", "plot", "reservoir", "source", "row"]
    return told.sort_values(order, kind="stable").drop(columns=["opening", "closing"])


def levels_at(group: pd.DataFrame) -> tuple[Array, Array]:
    """What the vessel held before and after every row, from its levels and what was given."""
    before = group["level_before_l"].to_numpy()
    after = group["level_after_l"].to_numpy()
    given = np.nan_to_num(group["given_l"].to_numpy())
    opening = np.where(np.isnan(before), after - given, before)
    closing = np.where(np.isnan(after), before + given, after)
    return np.where(opening < 0.0, 0.0, opening), closing


def has_levels(group: pd.DataFrame) -> bool:
    """Whether a level of this vessel was ever noted."""
    return bool(group[["level_before_l", "level_after_l"]].notna().to_numpy().any())


def scale_step(values: Array) -> float:
    """The step of the scale that all readings lie on; 0 where none shows."""
    told = np.unique(np.round(values[np.isfinite(values) & (values > 0.0)], 9))
    if told.size < _FEWEST_READINGS:
        return 0.0
    step = float(np.diff(np.r_[0.0, told]).min())
    if step <= 1e-6:
        return 0.0
    off = np.abs(told / step - np.rint(told / step))
    return step if float(off.max()) < 1e-3 else 0.0


def reading_error(water: pd.DataFrame) -> Reading:
    """How well levels were read over the whole trial, from its own rows."""
    before, after = water["level_before_l"].to_numpy(), water["level_after_l"].to_numpy()
    step = scale_step(np.r_[before, after])
    least = step**2 / 12.0
    given = water["given_l"].to_numpy()
    balance = before + given - after
    parts = []
    for instrument in ("can", "meter"):
        mine = (water["instrument"] == instrument).to_numpy() & (given > 0.0)
        mine &= np.isfinite(balance)
        if mine.sum() >= _FEWEST_BALANCES:
            # what cans (or meters) read wrong alike is calibration, and told apart
            wrong = float(np.median(balance[mine] / given[mine]))
            parts.append(balance[mine] - wrong * given[mine])
    if not parts:
        return Reading(level_l=float(np.sqrt(least)))
    balance = np.concatenate(parts)
    # robust: a slip of the pen is asked about, and is no error of reading
    middle = float(np.median(np.abs(balance)))
    typical = np.abs(balance) <= max(6.0 * 1.4826 * middle, 1e-9)
    variance = float(np.mean(balance[typical] ** 2))
    level = max(least, 0.5 * variance)
    return Reading(float(np.sqrt(level)), float(np.sqrt(max(variance - 2.0 * least, 0.0))))


def periods_of(
    unit: str, group: pd.DataFrame, rain: Rain | None, unusable: float
) -> list[tuple[Any, ...]]:
    """What left one vessel between its visits: by levels, else by its meter."""
    days, name = group["date"].to_numpy(), group["vessel"].iloc[0]
    files, rows = group["file"].to_numpy(), group["row"].to_numpy()
    if has_levels(group):
        found = _by_levels(group, rain, unusable)
        by = "levels"
    else:
        given = group["given_l"].to_numpy()
        metered = np.flatnonzero((group["instrument"] == "meter").to_numpy())
        found = [
            (a, b, float(given[b]), 0.0, False)
            for a, b in pairwise(metered.tolist())
            if days[b] > days[a]
        ]
        by = "meter"
    return [
        (
            unit,
            name,
            days[a],
            days[b],
            float((days[b] - days[a]) / np.timedelta64(1, "D")),
            lost,
            caught,
            by,
            emptied,
            files[b],
            rows[b],
        )
        for a, b, lost, caught, emptied in found
    ]


def _by_levels(
    group: pd.DataFrame, rain: Rain | None, unusable: float
) -> list[tuple[int, int, float, float, bool]]:
    """First and last place, what was lost and caught in between, whether it was emptied."""
    opening, closing = levels_at(group)
    days, leaked = group["date"].to_numpy(), np.nan_to_num(group["leaked_l"].to_numpy())
    given = np.nan_to_num(group["given_l"].to_numpy())
    out: list[tuple[int, int, float, float, bool]] = []
    since, held, spilt = -1, 0.0, 0.0  # since the last visit at which the level was known
    for k in range(len(group)):
        spilt += leaked[k]
        if since >= 0 and np.isnan(opening[k]):
            held += given[k]
        elif since >= 0 and days[k] > days[since]:
            caught = 0.0
            if rain is not None:
                caught = float(rain.between(days[since : since + 1], days[k : k + 1])[0][0])
            lost = held + caught - float(opening[k]) - spilt
            out.append((since, k, lost, caught, bool(opening[k] <= unusable)))
        if not np.isnan(closing[k]):
            since, held, spilt = k, float(closing[k]), 0.0
    return out


def water_periods(
    by_unit: dict[str, pd.DataFrame], rain: Rain | None, unusable: float
) -> pd.DataFrame:
    """One row a vessel and time between two visits, units in the order given."""
    rows = [
        period
        for unit, group in by_unit.items()
        for vessel in ordered_vessels(group)
        for period in periods_of(unit, vessel, rain, unusable)
    ]
    return pd.DataFrame(rows, columns=list(PERIOD_COLUMNS))
