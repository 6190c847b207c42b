"""Regions of mass of interval-censored lives (Turnbull 1976, JRSS B 38:290-295).

A life is known to end in (low, high]; the likelihood can only tell where between a left
end and the next right end the mass lies. With half-open intervals a left end at t opens
just after t, a right end at t includes t, and a known day t is the point t itself: in
order, known day at t < right end at t < left end at t. Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

POINT, RIGHT, LEFT = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """Regions of mass and where each life's interval lies among them.

    Attributes
    ----------
    lows, highs
        (m,) regions (low, high]; low = high for a known day; high inf beyond all visits.
    first, stop
        (n,) life i may end in regions first[i] .. stop[i] - 1.
    """

    lows: Array
    highs: Array
    first: IntArray
    stop: IntArray


def find_regions(lows: ArrayLike, highs: ArrayLike) -> Regions:
    """Find the regions of mass.

    Parameters
    ----------
    lows, highs
        (n,) last seen alive (finite) and first seen dead (inf: never seen dead).

    Raises
    ------
    ValueError
        For an empty list, shapes that do not fit, a missing number, high below low.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    if low.ndim != 1 or low.size == 0 or low.shape != high.shape:
        raise ValueError("lows and highs must be lists of the same length, not empty")
    if not np.isfinite(low).all() or np.isnan(high).any():
        raise ValueError("an end of an interval is missing")
    if (high < low).any():
        raise ValueError("an interval ends before it begins")
    times, codes = np.unique(np.concatenate([low, high]), return_inverse=True)
    at_low, at_high = codes[: low.size], codes[low.size :]
    left = 3 * at_low + np.where(low == high, POINT, LEFT)
    right = 3 * at_high + RIGHT
    ends = np.unique(np.concatenate([left, right]))
    is_right = ends % 3 == RIGHT
    opens = np.flatnonzero(~is_right[:-1] & is_right[1:])
    start, end = ends[opens], ends[opens + 1]
    return Regions(
        lows=times[start // 3],
        highs=times[end // 3],
        first=np.searchsorted(start, left, side="left").astype(np.int64),
        stop=np.searchsorted(end, right, side="right").astype(np.int64),
    )
