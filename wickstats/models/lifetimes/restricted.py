"""Shares alive and restricted mean survival times by unit: what the dispersion rule needs.

Time lived to a common horizon: min(T, horizon) with T spread evenly over (last seen alive,
first seen dead]. Where plants of an arm were lost before the horizon, the arm's values are
pseudo-values n A - (n - 1) A_(-i) (Andersen, Hansen & Klein 2004, Lifetime Data Analysis
10:335-350), A the area under the product-limit curve of these times; its last value is
carried to the horizon where nobody is followed so far. Without loss the two are the same.

Leans on pseudo and numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.lifetimes.pseudo import left_out_hazards

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class AliveCounts:
    """Per unit at one date: plants, alive, dead, open (status not known)."""

    plants: IntArray
    alive: IntArray
    dead: IntArray
    open: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class RestrictedMeans:
    """Restricted mean survival time per unit.

    Attributes
    ----------
    values
        (n_units,) mean over the unit's plants.
    plants
        (n_units,) m.
    plant_values
        (n,) time lived to the horizon; pseudo-values in arms with early censoring.
    horizon
        The common horizon.
    censored
        Number of plants lost to follow-up before the horizon.
    """

    values: Array
    plants: IntArray
    plant_values: Array
    horizon: float
    censored: int


def alive_at(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    n_units: int,
    date: ArrayLike,
    *,
    grace: float = 14.0,
) -> AliveCounts:
    """Count plants alive, dead and open at a date, by unit.

    Dead: first seen dead by the date. Alive: seen alive at the date or later, or within
    ``grace`` before it. Open: the rest.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead.
    units
        (n,) unit codes 0..n_units-1.
    date
        One for all, or (n,) one a plant.
    """
    low, high, codes = _lives(lows, highs, units, n_units)
    at = np.asarray(date, dtype=float)
    dead = high <= at
    alive = ~dead & (low >= at - grace)

    def count(which: BoolArray) -> IntArray:
        return np.bincount(codes[which], minlength=n_units).astype(np.int64)

    everyone = np.ones(low.size, dtype=bool)
    return AliveCounts(count(everyone), count(alive), count(dead), count(~dead & ~alive))


def common_horizon(lows: ArrayLike, highs: ArrayLike, units: ArrayLike) -> float:
    """The last time at which every unit was still looked at.

    Raises
    ------
    ValueError
        For an empty list or shapes that do not fit.
    """
    codes = np.unique(np.asarray(units), return_inverse=True)[1].reshape(-1)
    n_units = int(codes.max(initial=-1)) + 1
    low, high, codes = _lives(lows, highs, codes, n_units)
    if low.size == 0:
        raise ValueError("no lives, no horizon")
    seen = np.where(np.isfinite(high), high, low)
    last = np.full(n_units, -np.inf)
    np.maximum.at(last, codes, seen)
    return float(last.min())


def restricted_means(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    arms: ArrayLike,
    horizon: float,
) -> RestrictedMeans:
    """Restricted mean survival time to the horizon by unit.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high], times from planting; high inf: not seen dead.
    units
        (n,) unit codes 0..n_units-1; every unit needs a plant.
    arms
        (n_units,) arm code of each unit.
    horizon
        Above zero; ``common_horizon`` gives the last time common to all units.

    Raises
    ------
    ValueError
        For shapes that do not fit, a unit without plants, a horizon at or below zero.
    """
    arm = np.asarray(arms, dtype=np.int64)
    low, high, codes = _lives(lows, highs, units, arm.size)
    m = np.bincount(codes, minlength=arm.size)
    if (m == 0).any():
        raise ValueError("a unit without plants has no restricted mean")
    if not horizon > 0.0:
        raise ValueError("the horizon must be above zero")
    lived = _time_lived(low, high, horizon)
    lost = np.isinf(high) & (low < horizon)
    values = lived.copy()
    for code in np.unique(arm):
        mine = np.flatnonzero(arm[codes] == code)
        if lost[mine].any():
            died = ~lost[mine] & (lived[mine] < horizon)
            values[mine] = _pseudo_values(lived[mine], died, horizon)
    return RestrictedMeans(
        values=np.bincount(codes, weights=values, minlength=arm.size) / m,
        plants=m.astype(np.int64),
        plant_values=values,
        horizon=float(horizon),
        censored=int(lost.sum()),
    )


def _lives(
    lows: ArrayLike, highs: ArrayLike, units: ArrayLike, n_units: int
) -> tuple[Array, Array, IntArray]:
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    codes = np.asarray(units, dtype=np.int64)
    if low.ndim != 1 or not low.shape == high.shape == codes.shape:
        raise ValueError("lows, highs and units must be lists of the same length")
    if not np.isfinite(low).all() or np.isnan(high).any() or (high < low).any():
        raise ValueError("an interval has a missing end, or ends before it begins")
    if codes.size and (codes.min() < 0 or codes.max() >= n_units):
        raise ValueError("a unit code is out of range")
    return low, high, codes


def _time_lived(low: Array, high: Array, horizon: float) -> Array:
    """Mean of min(T, horizon), T even on (low, high]; lost lives end when last seen."""
    start, end = np.minimum(low, horizon), np.minimum(high, horizon)
    span = np.where(np.isfinite(high), high - low, 0.0)
    inside = span > 0.0
    early = np.where(inside, (end - start) / np.where(inside, span, 1.0), 1.0)
    spread = early * 0.5 * (start + end) + (1.0 - early) * horizon
    return np.where(inside, spread, start)


def _pseudo_values(times: Array, died: BoolArray, horizon: float) -> Array:
    """Jackknife pseudo-values of the area under the product-limit curve."""
    n = times.size
    if n == 1:
        return times.copy()
    points, hazards, without, which = left_out_hazards(times, died)
    whole = _area(points, hazards[None, :], horizon)[0]
    return np.asarray((n * whole - (n - 1) * _area(points, without, horizon))[which])


def _area(points: Array, hazards: Array, horizon: float) -> Array:
    curves = np.cumprod(1.0 - hazards, axis=1)
    steps = np.diff(np.concatenate([[0.0], points, [horizon]]))
    return np.asarray(steps[0] + curves @ steps[1:])
