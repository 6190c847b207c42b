"""The survival curve of lives that come under watch late and end between two visits.

Model: between successive ends of intervals and days of entry lie cells c with hazards h_c.
A life that entered at e is at risk in the cells from e on; it is known to be alive up to
its low, and if it died, died in one of the cells up to its high. The likelihood is the
product over lives and cells of (1 - h_c) while known alive and of the sum over its cells
of h_c times the earlier (1 - h_c) (Turnbull 1976, section 5; Frydman 1994, JRSS B 56:71-74,
whose cells these are). Fitted by expectation and maximization: h_c = expected deaths /
expected at risk. With known days it is the product-limit curve with late entry.

Early hazards rest on few lives when most enter late: ``at_risk`` says how many. Leans on
numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEPS = 20_000
TOLERANCE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class LateCurve:
    """Share alive at ``times`` (the ends of cells that hold deaths), and how many at risk.

    ``lows`` are the last times before which the deaths of that step lie; the share holds
    from a step's time to the next step's low.
    """

    lows: Array
    times: Array
    survival: Array
    at_risk: IntArray

    def share(self, times: ArrayLike) -> Array:
        """Share alive at times at or after the end of a step."""
        index = np.searchsorted(self.times, np.asarray(times, dtype=float), side="right")
        return np.asarray(np.concatenate([[1.0], self.survival])[index])


def late_curve(entered: ArrayLike, lows: ArrayLike, highs: ArrayLike) -> LateCurve:
    """Fit the curve.

    Parameters
    ----------
    entered
        (n,) when each life came under watch, alive.
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead; low = high: day known.

    Raises
    ------
    ValueError
        For an empty list, missing numbers, a life that ends before it enters, or a death
        on the very day of entry.
    ArithmeticError
        When the steps do not settle.
    """
    e, low, high = (np.asarray(x, dtype=float) for x in (entered, lows, highs))
    if low.ndim != 1 or low.size == 0 or e.shape != low.shape or high.shape != low.shape:
        raise ValueError("entered, lows and highs must be lists of the same length, not empty")
    if not (np.isfinite(e).all() and np.isfinite(low).all()) or np.isnan(high).any():
        raise ValueError("a time is missing or not finite")
    if (low < e).any() or (high < low).any() or (high <= e).any():
        raise ValueError("a life ends before it comes under watch")
    dead = np.isfinite(high)
    # every time has two places: just before it, and at it
    times = np.unique(np.concatenate([e, low, high[dead]]))
    at = {name: 2 * np.searchsorted(times, x) + 1 for name, x in (("e", e), ("low", low))}
    known = dead & (low == high)
    start = np.where(known, at["low"] - 1, at["low"])
    stop = np.where(dead, 2 * np.searchsorted(times, np.where(dead, high, times[0])) + 1, start)
    places = np.unique(np.concatenate([at["e"], start, stop]))
    begin, first, last = (np.searchsorted(places, x) for x in (at["e"], start, stop))
    cells = places.size - 1
    hazard = _hazards(begin, first, last, dead, cells)
    ends = times[places[1:] // 2]
    opens = times[places[:-1] // 2]
    # places 2i and 2i + 1 are the same day: the cell between them is that very day
    survival = np.cumprod(1.0 - hazard)
    holds = hazard > 1e-9
    followed = np.where(dead, high, low)
    risk = [int(np.sum((e < t) & (followed >= t))) for t in ends[holds]]
    return LateCurve(
        lows=np.minimum(opens[holds], ends[holds]),
        times=ends[holds],
        survival=np.clip(survival[holds], 0.0, 1.0),
        at_risk=np.array(risk, dtype=np.int64),
    )


def _hazards(
    begin: IntArray, first: IntArray, last: IntArray, dead: NDArray[np.bool_], cells: int
) -> Array:
    """(cells,) hazards; lives at risk from ``begin``, dead in ``first`` to ``last`` - 1."""
    jumps = np.bincount(begin, minlength=cells + 1) - np.bincount(first, minlength=cells + 1)
    sure = np.cumsum(jumps)[:cells].astype(float)  # at risk and known to have lived on
    column = np.arange(cells)
    mine = (column >= first[dead, None]) & (column < last[dead, None])
    if not dead.any():
        return np.zeros(cells)
    weight = mine / mine.sum(axis=1, keepdims=True)
    hazard = np.zeros(cells)
    for _ in range(STEPS):
        deaths = weight.sum(axis=0)
        left = np.cumsum(weight[:, ::-1], axis=1)[:, ::-1] * mine
        at_risk = sure + left.sum(axis=0)
        new = np.where(at_risk > 0.0, deaths / np.where(at_risk > 0.0, at_risk, 1.0), 0.0)
        if np.abs(new - hazard).max() <= TOLERANCE:
            return new
        hazard = new
        # a sure death (hazard one) leaves next to nothing for the cells behind it
        lived = np.cumprod(np.maximum(1.0 - hazard, 1e-15))
        weight = mine * hazard * np.concatenate([[1.0], lived[:-1]])
        weight = weight / weight.sum(axis=1, keepdims=True)
    raise ArithmeticError(f"the curve with late entry did not settle after {STEPS} steps")
