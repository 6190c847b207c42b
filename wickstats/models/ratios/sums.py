"""Ratios of sums where zeros forbid the logarithm of single units.

    one arm    log(sum of yield / sum of water), per liter
    two arms   the difference of two such logs (without water: of log sums of yield)

Standard error by leaving out one block at a time (Quenouille 1956, Biometrika 43:353;
Tukey 1958): se^2 = (B - 1)/B sum (theta_-b - mean)^2, t with B - 1 df. Without blocks
every unit is left out in its own arm; the arms' variances add and df is the smaller
arm's. Nothing is added to a zero. Always called approximate.

An arm whose own units all bore, beside others that did not, says nothing of the zeros it
could have had: alone its interval would miss in up to 30 % of such seasons. Where any unit
of the trial bore nothing, the wider of two counts for one arm: the above, and

    se^2 = that of the arm's bearing units alone + (1 - q)/(n q),  q = (x + 1)/(n + 2)

with x of n units bearing (the delta rule for log q; q by the rule of succession, Laplace).
Simulated, 3 to 10 blocks, coefficients of variation 0.1 to 0.8, 5 to 30 % of units without
yield: 95 % intervals of one arm cover 0.944 or more (before, 0.704), nearly all from 0.95,
and are 2 to 45 % wider in the median.

Leans on numpy and the linear estimates.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import Array, Estimate, IntArray, only_estimate, widest
from wickstats.models.linear.strata import finite_values

LEAVE_OUT = "leaving out one block at a time"
LEAVE_OUT_UNITS = "leaving out one unit at a time"
BEARING = "how many units bear, and what these give"


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
        (n,) arm codes. Units of other arms tell whether units of the trial can bear nothing.
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
    theta = _left_out(sums[:, 0], sums[:, 1])
    if theta is None:
        return only_estimate(estimate, say("ratio no water"))
    variance = _jackknife(theta[0] - (theta[1] if len(arms) == 2 else 0.0))
    if estimate is None or variance <= 1e-24:
        return only_estimate(estimate, say("ratio identical blocks"))
    parts = [(LEAVE_OUT, (variance, count - 1.0))]
    bearing = _bearing(y, w, codes, arms, groups)
    if bearing is not None:
        parts.append((BEARING, (bearing, count - 1.0)))
    return widest(estimate, parts, confidence)


def _bearing(
    y: Array, w: Array, codes: IntArray, arms: Sequence[int], groups: IntArray
) -> float | None:
    """Variance of one arm from its bearing units and their share; None where all bear.

    ``groups`` (n,): what is left out together, -1 where a unit does not count.
    """
    if len(arms) == 2 or (y > 0).all():
        return None
    mine = (codes == arms[0]) & (groups >= 0)
    bears = mine & (y > 0)
    place = np.unique(groups[bears], return_inverse=True)[1]
    sums = np.zeros((2, 1, int(place.max(initial=-1)) + 1))
    for k, amounts in enumerate((y, w)):
        np.add.at(sums[k, 0], place, amounts[bears])
    theta = _left_out(sums[0], sums[1])
    if theta is None:
        return None
    n = float(mine.sum())
    share = (float(bears.sum()) + 1.0) / (n + 2.0)
    return _jackknife(theta[0]) + (1.0 - share) / (n * share)


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
        theta = _left_out(own_y[None], own_w[None])
        if theta is None:
            return only_estimate(estimate, say("ratio no water"))
        variance += _jackknife(theta[0])
    if estimate is None or variance <= 1e-24:
        return only_estimate(estimate, say("ratio identical blocks"))
    parts = [(LEAVE_OUT_UNITS, (variance, smallest - 1.0))]
    bearing = _bearing(y, w, codes, arms, np.arange(y.size))
    if bearing is not None:
        parts.append((BEARING, (bearing, smallest - 1.0)))
    return widest(estimate, parts, confidence)


def _left_out(yields: Array, water: Array) -> Array | None:
    """(arms, k) log ratios without each of k groups; None where no water is left."""
    left_y = yields.sum(axis=1, keepdims=True) - yields
    left_w = water.sum(axis=1, keepdims=True) - water
    if (left_w <= 0).any():
        return None
    out: Array = np.log(left_y) - np.log(left_w)
    return out


def _jackknife(theta: Array) -> float:
    """Variance from (k,) estimates that each leave one group out."""
    return (theta.size - 1.0) / theta.size * float(np.sum((theta - theta.mean()) ** 2))


def _arm_sums(y: Array, w: Array, codes: IntArray, arms: Sequence[int]) -> Array:
    return np.array([[y[codes == arm].sum(), w[codes == arm].sum()] for arm in arms])


def _log_ratio(sums: Array) -> float | None:
    """From (arms, 2) sums of yield and water; None where a yield is zero."""
    if (sums <= 0).any():
        return None
    logs = np.log(sums[:, 0]) - np.log(sums[:, 1])
    return float(logs[0] - (logs[1] if logs.size == 2 else 0.0))
