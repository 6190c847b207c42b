"""Lives of planted originals as arrays: days from planting, joined to units.

Death lies in (low, high]; high is infinite where a plant was never seen dead. A plant
never seen after planting was last known alive on the day it was planted. Leans on
units, rounds, records.season, numpy and pandas.
"""

from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.rounds import Rounds, read_rounds
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.records.season import Season

GONE = ("not found", "lost", "never seen")
BROWSING = "browsing"
COMPETING = "competing cause"


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """Originals of plots that are not lost.

    Attributes
    ----------
    units
        (n,) position of each plant's unit.
    low, high
        (n,) days after ``origin``; high infinite where never seen dead.
    planted
        (n,) days after ``origin`` (0 for lifetimes).
    doubtful
        (n,) day on which it was first doubtful, NaN where never.
    last_seen
        (n,) day on which it was last seen in any state.
    cause, fate
        (n,) words.
    origin
        The day 0; None where lives count days.
    plots, plants
        Identifiers.
    rounds
        The days on which units were visited; none for lifetimes.
    replaced
        How many replacements there are (they are not in these arrays).
    browsing, browsed
        How browsed plants were taken, and how many that changed.
    """

    units: IntArray
    low: Array
    high: Array
    planted: Array
    doubtful: Array
    last_seen: Array
    cause: tuple[str | None, ...]
    fate: tuple[str, ...]
    origin: pd.Timestamp | None
    plots: tuple[str, ...]
    plants: tuple[str, ...]
    rounds: Rounds
    replaced: int
    browsing: str = "as seen"
    browsed: int = 0

    @property
    def n(self) -> int:
        """Number of plants."""
        return int(self.units.size)

    @property
    def dead(self) -> NDArray[np.bool_]:
        """(n,) seen dead."""
        return np.isfinite(self.high)

    def dead_by(self, cause: str) -> NDArray[np.bool_]:
        """(n,) seen dead, with that cause noted."""
        return np.array([word == cause for word in self.cause], dtype=bool) & self.dead

    def day(self, at: date | float) -> float:
        """A date (or day) as days after the origin."""
        if isinstance(at, int | float):
            return float(at)
        if self.origin is None:
            raise ValueError("lives count days, not dates")
        return float((pd.Timestamp(at) - self.origin) / pd.Timedelta(days=1))

    def words(self, day: float) -> str:
        """A day as a date, or as a number of days."""
        if self.origin is None:
            return f"{day:g} d"
        return str((self.origin + pd.Timedelta(days=day)).date().isoformat())


def read_lives(season: Season, units: Units) -> Lives | None:
    """Arrays of the originals; None where the season tells of no lives."""
    return _lives(season, units, replacements=False)


def read_replacements(season: Season, units: Units, origin: pd.Timestamp) -> Lives | None:
    """Arrays of the replacements, in days after the originals' first day; None without any."""
    found = _lives(season, units, replacements=True)
    if found is None or found.n == 0 or found.origin is None:
        return None
    later = float((found.origin - origin) / pd.Timedelta(days=1))
    return replace(
        found,
        low=found.low + later,
        high=found.high + later,
        planted=found.planted + later,
        doubtful=found.doubtful + later,
        last_seen=found.last_seen + later,
        rounds=Rounds(found.rounds.units, found.rounds.days + later),
        origin=origin,
    )


def _lives(season: Season, units: Units, *, replacements: bool) -> Lives | None:
    frame = season.lives
    if frame is None or frame.empty:
        return None
    original = frame["original"].fillna(value=True).astype(bool).to_numpy()
    known = frame["plot"].isin(list(units.index)).to_numpy()
    lost = frame["plot"].isin(list(season.lost_plots)).to_numpy()
    held = frame.loc[(original != replacements) & known & ~lost]
    replaced = int((~original).sum())
    return _arrays(held, season, units, replaced)


def _arrays(held: pd.DataFrame, season: Season, units: Units, replaced: int) -> Lives:
    origin = None if season.days_not_dates else _origin(held)
    planted = _days(held, "planted_on", origin)
    planted = np.where(np.isfinite(planted), planted, 0.0).astype(float)
    low = _days(held, "last_alive", origin)
    low = np.asarray(np.where(np.isfinite(low), np.maximum(low, planted), planted), float)
    high = _days(held, "first_dead", origin)
    high = np.where(np.isfinite(high), np.maximum(high, low), np.inf)
    last = _days(held, "last_seen", origin)
    return Lives(
        units=np.array([units.index[p] for p in held["plot"]], dtype=np.int64),
        low=low,
        high=high,
        planted=planted,
        doubtful=_days(held, "doubtful_from", origin),
        last_seen=np.where(np.isfinite(last), last, np.where(np.isfinite(high), high, low)),
        cause=_words(held, "cause"),
        fate=tuple(str(word) for word in held["fate"]),
        origin=origin,
        plots=tuple(str(p) for p in held["plot"]),
        plants=tuple(str(p) for p in held["plant"]),
        rounds=read_rounds(season, units, origin),
        replaced=replaced,
    )


def _origin(held: pd.DataFrame) -> pd.Timestamp:
    for column in ("planted_on", "last_alive", "last_seen", "first_dead"):
        if column in held:
            first = pd.to_datetime(held[column]).min()
            if not pd.isna(first):
                return pd.Timestamp(first)
    return pd.Timestamp(datetime(2000, 1, 1))  # noqa: DTZ001 - dates have no time zone


def _days(frame: pd.DataFrame, column: str, origin: pd.Timestamp | None) -> Array:
    if column not in frame:
        return np.full(len(frame), np.nan)
    if origin is None:
        if frame[column].dtype.kind == "M":
            return np.full(len(frame), np.nan)
        return pd.to_numeric(frame[column], errors="coerce").to_numpy(dtype=float)
    given = pd.to_datetime(frame[column])
    return np.asarray((given - origin) / pd.Timedelta(days=1), dtype=np.float64)


def _words(frame: pd.DataFrame, column: str) -> tuple[str | None, ...]:
    if column not in frame:
        return (None,) * len(frame)
    return tuple(None if pd.isna(word) else str(word) for word in frame[column])
