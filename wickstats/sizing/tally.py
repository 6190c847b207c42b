"""What simulated seasons gave, counted: whole numbers, so that any order sums to the same.

Leans on models.power_verdicts; numpy.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wickstats.models.power_verdicts import CLASSES

Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """Seasons counted.

    Attributes
    ----------
    seasons
        How many were simulated.
    shown
        (k,) seasons in which a comparison's interval left no difference out.
    classes
        (k, 6) seasons by verdict, in the order of ``CLASSES``; without an interval a season
        cannot tell.
    unjudged
        (k,) seasons without an interval.
    bounded
        (k,) seasons in which an arm lost no plant, or all, and a bound gave the verdict.
    any_shown, all_shown
        (f,) seasons in which some comparison of a family was shown, or all were.
    """

    seasons: int
    shown: Counts
    classes: Counts
    unjudged: Counts
    bounded: Counts
    any_shown: Counts
    all_shown: Counts

    def chance(self, which: int) -> float:
        """Share of seasons in which that comparison was shown."""
        return float(self.shown[which]) / self.seasons

    def error(self, which: int) -> float:
        """Monte Carlo standard error of that share; not nil where all or none were shown."""
        return self._error(int(self.shown[which]))

    def told(self, which: int, verdicts: tuple[int, ...]) -> tuple[float, float]:
        """Share of seasons with one of these verdicts, and its Monte Carlo standard error."""
        count = int(self.classes[which, list(verdicts)].sum())
        return float(count) / self.seasons, self._error(count)

    def _error(self, count: int) -> float:
        p = (count + 0.5) / (self.seasons + 1.0)
        return sqrt(p * (1.0 - p) / self.seasons)

    def to_plain(self) -> dict[str, Any]:
        """Plain values, for a file."""
        out: dict[str, Any] = {"seasons": self.seasons}
        for name in _ARRAYS:
            out[name] = getattr(self, name).tolist()
        return out

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Tally":
        """What ``to_plain`` gave.

        Raises
        ------
        ValueError
            For values that are no tally.
        """
        try:
            parts = {name: np.array(plain[name], dtype=np.int64) for name in _ARRAYS}
            found = cls(seasons=int(plain["seasons"]), **parts)
        except (KeyError, TypeError, OverflowError) as error:
            raise ValueError(f"no tally: {error}") from error
        k = found.shown.size
        if found.classes.shape != (k, len(CLASSES)) or found.classes.sum() != k * found.seasons:
            raise ValueError("no tally: its counts do not add up")
        return found


_ARRAYS = ("shown", "classes", "unjudged", "bounded", "any_shown", "all_shown")


def summed(tallies: Iterable[Tally]) -> Tally | None:
    """All together; None of none."""
    out: Tally | None = None
    for one in tallies:
        if out is None:
            out = one
            continue
        parts = {name: getattr(out, name) + getattr(one, name) for name in _ARRAYS}
        out = Tally(seasons=out.seasons + one.seasons, **parts)
    return out
