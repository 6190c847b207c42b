"""The survival curve of lives that come under watch late and end between two visits.

Model: between successive ends of intervals and days of entry lie cells c with cumulative
hazards l_c >= 0, survival being exp(-sum l). A life that entered at e and is known alive up
to its low contributes -l over the cells between; if it died by its high, log(1 - exp(-x)),
x the sum of l over the cells from low to high (Turnbull 1976, JRSS B 38:290, section 5;
Alioum & Commenges 1996, Biometrics 52:512, whose intervals these are). This is concave in
l, so that the maximum is found by Newton steps with an active set at zero, and is reached
when the slope is zero where l > 0 and not above zero elsewhere (Kuhn & Tucker). With known
days it is the product-limit curve with late entry.

Early hazards rest on few lives when most enter late: ``at_risk`` says how many. Leans on
numpy and scipy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEPS = 300
TOLERANCE = 1e-12  # on the slope, by life
LEAST = 1e-13  # exposure that keeps a sure death finite
GONE = 1e-9  # a share of this size is nobody


@dataclass(frozen=True, slots=True, eq=False)
class LateCurve:
    """Share alive at ``times`` (the ends of cells that hold deaths), and how many at risk.

    ``lows`` are the last times before which the deaths of that step lie; the share holds
    from a step's time to the next step's low. ``excess`` is the largest violation of the
    Kuhn-Tucker conditions over all cells, by life: the slope's size where a hazard is above
    zero, the slope itself elsewhere.
    """

    lows: Array
    times: Array
    survival: Array
    at_risk: IntArray
    excess: float

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
    hazard, excess = _hazards(begin, first, last, dead, cells)
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
        survival=np.where(survival[holds] < GONE, 0.0, survival[holds]),
        at_risk=np.array(risk, dtype=np.int64),
        excess=excess,
    )


def _hazards(
    begin: IntArray, first: IntArray, last: IntArray, dead: NDArray[np.bool_], cells: int
) -> tuple[Array, float]:
    """(cells,) hazards and the Kuhn-Tucker size by life.

    Lives are at risk from ``begin``, dead in ``first`` to ``last`` - 1.
    """
    jumps = np.bincount(begin, minlength=cells + 1) - np.bincount(first, minlength=cells + 1)
    sure = np.cumsum(jumps)[:cells] + LEAST  # at risk and known to have lived on
    if not dead.any():
        return np.zeros(cells), 0.0
    column = np.arange(cells)
    runs = ((column >= first[dead, None]) & (column < last[dead, None])).astype(float)
    rate = np.where(runs.any(axis=0), 0.1, 0.0)
    room, off = TOLERANCE * begin.size, np.full(cells, np.inf)
    for _ in range(STEPS):
        rate = _dropped(runs, sure, _expected(runs, sure, rate))
        x = runs @ rate
        slope = runs.T @ (1.0 / np.expm1(x)) - sure
        off = np.where(rate > 0.0, np.abs(slope), slope)
        if float(off.max()) <= room:
            return np.asarray(-np.expm1(-rate)), max(float(off.max()), 0.0) / begin.size
        bend = 0.25 / np.sinh(0.5 * np.minimum(x, 700.0)) ** 2
        aim = _nonnegative((runs.T * bend) @ runs, slope, rate)
        rate = _toward(runs, sure, rate, aim)
    if float(off.max()) <= 1e6 * room:  # rounding, told by the size returned
        return np.asarray(-np.expm1(-rate)), float(off.max()) / begin.size
    raise ArithmeticError(f"the curve with late entry did not settle: slope {off.max():.1e}")


def _expected(runs: Array, sure: Array, rate: Array) -> Array:
    """One step of self-consistency: deaths over lives at risk, as expected in every cell."""
    lived = np.concatenate([[0.0], -np.cumsum(rate)[:-1]])
    first = runs.argmax(axis=1)
    part = runs * np.exp(np.minimum(lived - lived[first][:, None], 0.0)) * -np.expm1(-rate)
    part /= part.sum(axis=1, keepdims=True)
    deaths = part.sum(axis=0)
    left = (np.cumsum(part[:, ::-1], axis=1)[:, ::-1] * runs).sum(axis=0)
    # what is left at risk beside the deaths, at least the exposure that keeps it finite
    return np.asarray(np.log1p(deaths / np.maximum(sure + left - deaths, LEAST)))


def _nonnegative(bend: Array, slope: Array, rate: Array) -> Array:
    """Newton's aim: the maximum of the quadratic at rates that are not below zero."""
    from scipy.linalg import cholesky, solve_triangular
    from scipy.optimize import nnls

    size = np.sqrt(np.diag(bend))
    held = size > 0.0
    scaled = bend[np.ix_(held, held)] / np.outer(size[held], size[held])
    # cells that always go together have one sum only: any part of it will do
    scaled[np.diag_indices_from(scaled)] += 1e-10
    right = slope[held] / size[held] + scaled @ (rate * size)[held]
    root = cholesky(scaled)
    found, _ = nnls(root, solve_triangular(root, right, trans="T"))
    aim = np.zeros_like(rate)
    aim[held] = found / size[held]
    return aim


def _value(runs: Array, sure: Array, rate: Array) -> float:
    """Log likelihood, up to what does not depend on the rates."""
    x = runs @ rate
    if float(x.min()) <= 0.0:
        return -np.inf
    return float(np.log(-np.expm1(-x)).sum() - sure @ rate)


def _dropped(runs: Array, sure: Array, rate: Array) -> Array:
    """Set cells to zero that only cost likelihood: self-consistency halves them for ever."""
    x = runs @ rate
    slope = runs.T @ (1.0 / np.expm1(x)) - sure
    now = _value(runs, sure, rate)
    for k in np.flatnonzero((rate > 0.0) & (slope < 0.0)):
        trial = rate.copy()
        trial[k] = 0.0
        then = _value(runs, sure, trial)
        if then > now:
            rate, now = trial, then
    return rate


def _toward(runs: Array, sure: Array, rate: Array, aim: Array) -> Array:
    """Go toward the aim as far as the likelihood does not fall."""
    now, share = _value(runs, sure, rate), 1.0
    for _ in range(60):
        trial = np.maximum(rate + share * (aim - rate), 0.0)
        if _value(runs, sure, trial) > now - 1e-14 * abs(now):
            return trial
        share *= 0.5
    return rate
