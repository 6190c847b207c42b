"""The visits of a season: on which days each unit was looked at, and which date they serve.

A visit is a row of the crew that says something of a plant (not found, too) or counts
plants; "not visited" is none. Where a season holds lives but no table of visits, the days
on which its plants were seen are taken. A unit's visit for a date is its last one in the 14
days up to the date, else its first one in the 14 days after. Leans on units, records,
numpy and pandas.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wickstats.analysis.units import Array, IntArray, Units
from wickstats.records.asked_dates import NEAR_DAYS
from wickstats.records.season import Season

GRACE_DAYS = NEAR_DAYS
SEEN = ("last_alive", "first_dead", "last_seen", "doubtful_from")


@dataclass(frozen=True, slots=True, eq=False)
class Rounds:
    """Visits of units, in days after the lives' origin, in order of days.

    Attributes
    ----------
    units, days
        (k,) unit and day of each visit.
    """

    units: IntArray
    days: Array

    def served(self, day: float, n_units: int) -> Array:
        """(n_units,) the day of the visit that serves a date; NaN where there is none."""
        out = np.full(n_units, np.nan)
        after = (self.days > day) & (self.days <= day + GRACE_DAYS)
        # written in turn: the first visit after is overwritten by the last one before
        out[self.units[after][::-1]] = self.days[after][::-1]
        before = (self.days <= day) & (self.days >= day - GRACE_DAYS)
        out[self.units[before]] = self.days[before]
        return out

    def effective(self, day: float) -> float | None:
        """The date itself where a visit serves it, else the last visit before; or None."""
        if ((self.days >= day - GRACE_DAYS) & (self.days <= day + GRACE_DAYS)).any():
            return day
        before = self.days[self.days < day]
        return float(before[-1]) if before.size else None


def read_rounds(season: Season, units: Units, origin: pd.Timestamp | None) -> Rounds:
    """Visits of every unit; none where lives count days."""
    held = [part for part in (_looks(season), _sightings(season)) if part is not None]
    if origin is None or not held:
        return Rounds(np.zeros(0, dtype=np.int64), np.zeros(0))
    rows = pd.concat(held, ignore_index=True).dropna()
    rows = rows.loc[rows["plot"].astype(str).isin(list(units.index))]
    unit = np.array([units.index[str(plot)] for plot in rows["plot"]], dtype=np.int64)
    since = (pd.to_datetime(rows["date"]) - origin) / pd.Timedelta(days=1)
    visits = np.unique(np.stack([since.to_numpy(dtype=float), unit.astype(float)]), axis=1)
    return Rounds(visits[1].astype(np.int64), visits[0])


def _looks(season: Season) -> pd.DataFrame | None:
    """Plot and date of every row of the crew's visits."""
    frame = season.table("visits")
    if frame is None or not {"plot", "date"} <= set(frame.columns):
        return None
    if "status" in frame:
        frame = frame.loc[frame["status"].fillna("") != "not visited"]
    return frame[["plot", "date"]]


def _sightings(season: Season) -> pd.DataFrame | None:
    """Plot and date of every day on which a plant was seen after its planting."""
    frame = season.lives
    if frame is None or season.days_not_dates:
        return None
    planted = pd.to_datetime(frame["planted_on"])
    parts = []
    for name in SEEN:
        day = pd.to_datetime(frame[name])
        parts.append(frame[["plot"]].assign(date=day.where(~(day <= planted))))
    return pd.concat(parts, ignore_index=True)
