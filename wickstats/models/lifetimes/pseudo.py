"""Shares alive at a date where some lives were followed for less: pseudo-values of plants.

With S the product-limit curve of an arm of n plants (Kaplan & Meier 1958), plant i counts
as n S(t) - (n - 1) S_(-i)(t), S_(-i) the curve without it (Andersen, Klein & Rosthoj 2003,
Biometrika 90:15-27). Their mean is about S(t); without a loss before t they are 1 for the
living and 0 for the dead. A death in (low, high] by the date stands at the middle of its
interval; a life whose interval holds the date counts as followed to low. It takes for
granted that who leaves early would have fared as those that stayed.

Leans on numpy.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def share_pseudo_values(
    lows: ArrayLike, highs: ArrayLike, arms: ArrayLike, date: float
) -> Array:
    """(n,) what each plant counts in its arm's share alive at ``date``.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high], times from planting; high inf: not seen dead.
    arms
        (n,) arm code of each plant.

    Raises
    ------
    ValueError
        For shapes that do not fit, or an interval that ends before it begins.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    arm = np.asarray(arms)
    if low.ndim != 1 or not low.shape == high.shape == arm.shape:
        raise ValueError("lows, highs and arms must be lists of the same length")
    if not np.isfinite(low).all() or np.isnan(high).any() or (high < low).any():
        raise ValueError("an interval has a missing end, or ends before it begins")
    died = high <= date
    followed = died | (low >= date)
    times = np.where(died, 0.5 * (low + np.where(died, high, low)), low)
    out = np.where(followed & ~died, 1.0, 0.0)
    for code in np.unique(arm):
        mine = np.flatnonzero(arm == code)
        if not followed[mine].all():
            out[mine] = _jackknife(times[mine], died[mine])
    return out


def _jackknife(times: Array, died: BoolArray) -> Array:
    """Pseudo-values of the product-limit curve after its last death."""
    n = times.size
    if n == 1:
        return np.where(died, 0.0, 1.0)
    _, hazards, without, which = left_out_hazards(times, died)
    whole = float(np.prod(1.0 - hazards))
    return np.asarray((n * whole - (n - 1) * np.prod(1.0 - without, axis=1))[which])


def left_out_hazards(
    times: Array, died: BoolArray
) -> tuple[Array, Array, Array, NDArray[np.intp]]:
    """Steps of the product-limit curve, and of the curves without one plant each.

    Returns
    -------
    points, hazards
        (k,) times of death, and deaths over plants at risk there.
    without, which
        (r, k) the same without one plant of every kind, and (n,) each plant's kind: plants
        with the same time and fate leave the same curve.
    """
    rows, which = np.unique(np.stack([times, died]), axis=1, return_inverse=True)
    points, d = np.unique(times[died], return_counts=True)
    at_risk = (times[:, None] >= points).sum(axis=0)
    one_time, one_died = rows[0][:, None], rows[1][:, None] > 0.0
    left = at_risk - (one_time >= points)
    gone = d - ((one_time == points) & one_died)
    return points, d / at_risk, gone / np.maximum(left, 1), which.reshape(-1)
