"""Ratios of sums where zeros forbid the logarithm of single units.

    one arm    log(sum of yield / sum of water), per liter
    two arms   the difference of two such logs (without water: of log sums of yield)

Standard error by leaving out one block at a time (Quenouille 1956, Biometrika 43:353;
Tukey 1958): se^2 = (B - 1)/B sum (theta_-b - mean)^2, t with B - 1 df. Without blocks
every unit is left out in its own arm; the arms' variances add and df is the smaller
arm's. Nothing is added to a zero. Always called approximate. Leans on numpy and the
linear estimates.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import Array, Estimate, IntArray, only_estimate, widest
from wickstats.models.linear.strata import finite_values

LEAVE_OUT = "leaving out one block at a time"
LEAVE_OUT_UNITS = "leaving out one unit at a time"


def log_ratio_of_sums(
    yields: ArrayLike,
    cells: ArrayLike,
    *,
    arms: tuple[int] | tuple[int, int],
    water: ArrayLike | None = None,
    blocks: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Estimate:
    """Log ratio of sums for one arm, or of the first arm over the second.

    Parameters
    ----------
    yields, water
        (n,) unit totals, at or above zero. Without ``water`` two arms are compared by
        their mean yield a unit.
    cells
        (n,) arm codes.
    arms
        One or two of them.
    blocks
        (n,) integer codes, or None. Two arms use the blocks that hold both.

    Raises
    ------
    ValueError
        For negative or non-finite numbers, shapes that do not fit, or one arm without
        ``water``.
    """
    y = finite_values(yields)
    codes = np.asarray(cells, dtype=np.int64)
    w = np.ones(y.size) if water is None else finite_values(water)
    if codes.shape != y.shape or w.shape != y.shape:
        raise ValueError("one cell and one number of liters a unit are needed")
    if (y < 0).any() or (w < 0).any():
        raise ValueError("yield and water cannot be negative")
    if len(arms) == 1 and water is None:
        raise ValueError("one arm needs its water")
    if any((codes == arm).sum() == 0 for arm in arms):
        return only_estimate(None, say("linear no unit"))
    if any(w[codes == arm].sum() == 0 for arm in arms):
        return only_estimate(None, say("ratio no water"))
    groups = _groups(codes, arms, blocks)
    if blocks is not None and groups is None:
        estimate = _log_ratio(_arm_sums(y, w, codes, arms))
        return only_estimate(estimate, say("ratio few blocks"))
    if groups is None:
        return _by_units(y, w, codes, arms, confidence)
    return _by_blocks(y, w, codes, arms, groups, confidence)


def _groups(codes: IntArray, arms: Sequence[int], blocks: ArrayLike | None) -> IntArray | None:
    """Block numbers 0.. of the blocks that hold all arms, -1 elsewhere; None below two."""
    if blocks is None:
        return None
    block = np.asarray(blocks, dtype=np.int64)
    if block.shape != codes.shape:
        raise ValueError("one block a unit is needed")
    held = [set(block[codes == arm].tolist()) for arm in arms]
    both = sorted(set.intersection(*held))
    if len(both) < 2:
        return None
    place = {name: k for k, name in enumerate(both)}
    return np.array([place.get(int(name), -1) for name in block], dtype=np.int64)


def _by_blocks(
    y: Array,
    w: Array,
    codes: IntArray,
    arms: Sequence[int],
    groups: IntArray,
    confidence: float,
) -> Estimate:
    count = int(groups.max()) + 1
    sums = np.zeros((len(arms), 2, count))
    for place, arm in enumerate(arms):
        mine = (codes == arm) & (groups >= 0)
        sums[place, 0] = np.bincount(groups[mine], weights=y[mine], minlength=count)
        sums[place, 1] = np.bincount(groups[mine], weights=w[mine], minlength=count)
    estimate = _log_ratio(sums.sum(axis=2))
    if ((sums[:, 0] > 0).sum(axis=1) < 2).any():
        return only_estimate(estimate, say("ratio few blocks with yield"))
    left = sums.sum(axis=2)[:, :, None] - sums
    if (left[:, 1] <= 0).any():
        return only_estimate(estimate, say("ratio no water"))
    logs = np.log(left[:, 0]) - np.log(left[:, 1])
    theta = logs[0] - (logs[1] if len(arms) == 2 else 0.0)
    variance = (count - 1.0) / count * float(np.sum((theta - theta.mean()) ** 2))
    if estimate is None or variance <= 1e-24:
        return only_estimate(estimate, say("ratio identical blocks"))
    return widest(estimate, [(LEAVE_OUT, (variance, count - 1.0))], confidence)


def _by_units(
    y: Array, w: Array, codes: IntArray, arms: Sequence[int], confidence: float
) -> Estimate:
    estimate = _log_ratio(_arm_sums(y, w, codes, arms))
    variance = 0.0
    smallest = min(int((codes == arm).sum()) for arm in arms)
    for arm in arms:
        own_y, own_w = y[codes == arm], w[codes == arm]
        if (own_y > 0).sum() < 2:
            return only_estimate(estimate, say("ratio few blocks with yield"))
        left_y, left_w = own_y.sum() - own_y, own_w.sum() - own_w
        if (left_w <= 0).any():
            return only_estimate(estimate, say("ratio no water"))
        theta = np.log(left_y) - np.log(left_w)
        count = own_y.size
        variance += (count - 1.0) / count * float(np.sum((theta - theta.mean()) ** 2))
    if estimate is None or variance <= 1e-24:
        return only_estimate(estimate, say("ratio identical blocks"))
    return widest(estimate, [(LEAVE_OUT_UNITS, (variance, smallest - 1.0))], confidence)


def _arm_sums(y: Array, w: Array, codes: IntArray, arms: Sequence[int]) -> Array:
    return np.array([[y[codes == arm].sum(), w[codes == arm].sum()] for arm in arms])


def _log_ratio(sums: Array) -> float | None:
    """From (arms, 2) sums of yield and water; None where a yield is zero."""
    if (sums <= 0).any():
        return None
    logs = np.log(sums[:, 0]) - np.log(sums[:, 1])
    return float(logs[0] - (logs[1] if logs.size == 2 else 0.0))
