"""Rise of water in a piece of cord: one number a piece, right-censored at the top.

    height at T   between the readings around T, straight in the root of time (Washburn 1921)
    early slope   mm for each root minute: least squares of height on the root of time over
                  the first ten minutes (at least the first three readings)
    plateau       the last height, where it rose by at most 5 % over the second half of the
                  time; else the true plateau is no lower

A piece whose front stood at the top before T counts as the top: its true height is no lower,
and means and differences are of heights counted up to the top (as restricted mean times are
counted up to the last visit). Differences of such means are no larger than the true ones, so
that more and less can be told from them, but not sameness. Leans on readings.
"""

import re
from dataclasses import dataclass

import numpy as np

from wickstats.analysis.summaries.readings import Series, line_slope
from wickstats.analysis.units import Array
from wickstats.core.words import say

EARLY_MIN, FEWEST_EARLY = 10.0, 3
SETTLED = 0.05
NEAR = 0.95  # a last reading so near to the minute asked stands for it
EARLY, PLATEAU = "early slope", "plateau"
DEFAULT = "height at 60 min"
_AT = re.compile(r"height at (\d+(?:\.\d+)?) min")


@dataclass(frozen=True, slots=True)
class Measured:
    """A piece's value; ``at_least``: the true one is no smaller."""

    value: float | None
    at_least: bool = False
    reason: str | None = None


def minute_of(measure: str) -> float | None:
    """The minute of "height at 60 min"; None for the other measures."""
    found = _AT.fullmatch(measure)
    return float(found.group(1)) if found else None


def unit_of(measure: str) -> str:
    """Unit of a measure."""
    return "mm/min^0.5" if measure == EARLY else "mm"


def measure_rise(series: Series, measure: str, top_mm: float | None) -> Measured:
    """Reduce one piece's readings to the measure."""
    known = np.isfinite(series.height_mm) | series.reached_top
    minutes = series.minutes[known]
    heights, top = counted_to_top(series.height_mm[known], series.reached_top[known], top_mm)
    if not minutes.size or not np.isfinite(heights).all():
        return Measured(None, reason=say("rise nothing read"))
    reached = float(minutes[top].min()) if top.any() else np.inf
    before = minutes < reached
    if measure == EARLY:
        return _early(minutes[before], heights[before])
    if measure == PLATEAU:
        return _plateau(minutes, heights, reached)
    return _height_at(minutes, heights, reached, minute_of(measure) or 60.0)


def counted_to_top(heights: Array, reached: Array, top_mm: float | None) -> tuple[Array, Array]:
    """Heights counted up to the top, and where the front stood there (or was seen to)."""
    if top_mm is None:
        return heights, reached
    top = np.logical_or(reached, heights >= top_mm)
    return np.where(top, top_mm, heights), top


def _height_at(minutes: Array, heights: Array, reached: float, at: float) -> Measured:
    if reached <= at:
        return Measured(float(heights[minutes >= reached][0]), at_least=True)
    last = float(minutes.max())
    if last < NEAR * at:
        return Measured(None, reason=say("rise not read", minute=f"{at:g}", last=f"{last:g}"))
    root = np.sqrt(np.concatenate([[0.0], minutes[minutes > 0.0]]))
    held = np.concatenate([[0.0], heights[minutes > 0.0]])
    return Measured(float(np.interp(np.sqrt(at), root, held)))


def _early(minutes: Array, heights: Array) -> Measured:
    soon = minutes <= EARLY_MIN
    if soon.sum() < FEWEST_EARLY:
        soon = np.arange(minutes.size) < FEWEST_EARLY
    if soon.sum() < FEWEST_EARLY:
        return Measured(None, reason=say("rise too few early", n=FEWEST_EARLY))
    return Measured(line_slope(np.sqrt(minutes[soon]), heights[soon]))


def _plateau(minutes: Array, heights: Array, reached: float) -> Measured:
    if np.isfinite(reached):
        return Measured(float(heights[minutes >= reached][0]), at_least=True)
    last, end = float(heights[-1]), float(minutes[-1])
    half = heights[minutes <= end / 2.0]
    settled = half.size > 0 and last - float(half[-1]) <= SETTLED * last
    return Measured(last, at_least=not settled)


def highest_mm(series: Series) -> float:
    """The highest height read; 0 without one."""
    known = series.height_mm[np.isfinite(series.height_mm)]
    return float(known.max()) if known.size else 0.0
