"""Power of one family of contrasts under assumed means and unit variances.

Each contrast is a t statistic with noncentrality difference/se in its stratum; the
critical value is the family's own (Dunnett, Tukey, single-step; Bonferroni for Holm and
the paired rule, which makes Holm's power a lower bound). Leans on models.power,
models.linear and numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.models.linear.estimates import t_tail
from wickstats.models.linear.joint_t import joint_t
from wickstats.models.power import t_detectable, t_power
from wickstats.sizing.assumed import Expected
from wickstats.sizing.grounds import Ground
from wickstats.sizing.plots import Sizes

Array = NDArray[np.float64]
MOST_BLOCKS = 400
JOINT = ("dunnett", "tukey", "single-step")


@dataclass(frozen=True, slots=True)
class Precision:
    """One contrast's standard error, df and per-comparison error rate."""

    se: float
    df: float
    alpha: float


@dataclass(frozen=True, slots=True)
class Judged:
    """How a family is judged."""

    adjustment: str
    confidence: float
    target: float


def precision(
    sizes: Sizes, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    """Standard errors, df and error rates of a family; None where df are 0."""
    if sizes.ground is not None:
        return _on_ground(sizes.ground, count, what, weights, plan)
    units = sizes.units_at(count)
    if what.rule == "paired":
        return _paired(units, what, weights, plan.confidence)
    variances = what.variances
    if what.rule == "strata":
        variances = np.full(variances.size, float(np.nanmean(variances)))
    first, second = sizes.traces(units, variances)
    if first <= 0 or second <= 0:
        return [None for _ in weights]
    df = first * first / second
    rows = np.array(weights)
    covariance = (rows * (variances / units)) @ rows.T
    ses = np.sqrt(np.diag(covariance))
    alpha = _alpha(covariance / np.outer(ses, ses), df, plan)
    return [Precision(float(se), df, alpha) for se in ses]


def _on_ground(
    ground: Ground, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    """One variance for all units: the mean of what is assumed."""
    df = ground.error_at(count)
    if df <= 0:
        return [None for _ in weights]
    rows = np.array(weights)
    covariance = rows @ ground.inverse_at(count) @ rows.T * float(np.nanmean(what.variances))
    ses = np.sqrt(np.diag(covariance))
    alpha = _alpha(covariance / np.outer(ses, ses), df, plan)
    return [Precision(float(se), df, alpha) for se in ses]


def _paired(
    units: NDArray[np.int64], what: Expected, weights: list[Array], confidence: float
) -> list[Precision | None]:
    alpha = (1.0 - confidence) / len(weights)
    out: list[Precision | None] = []
    for weight in weights:
        used = weight != 0
        per_arm = np.square(weight[used]) * what.variances[used] / units[used]
        df = float(units[used].min() - 1)
        out.append(Precision(float(np.sqrt(per_arm.sum())), df, alpha) if df >= 1 else None)
    return out


def _alpha(correlation: Array, df: float, plan: Judged) -> float:
    adjustment, confidence = plan.adjustment, plan.confidence
    k = correlation.shape[0]
    if k == 1 or adjustment == "none":
        return 1.0 - confidence
    if adjustment in JOINT:
        return float(t_tail(joint_t(correlation).critical(confidence, df), df))
    return (1.0 - confidence) / float(k)


def power_of(difference: float, at: Precision | None) -> float | None:
    """Chance that the contrast's interval leaves zero out."""
    if at is None:
        return None
    chance: float = t_power(abs(difference), at.se, at.df, alpha=at.alpha)
    return chance


def detectable(at: Precision | None, target: float) -> float | None:
    """Return the smallest difference shown with that chance."""
    return None if at is None else t_detectable(at.se, at.df, power=target, alpha=at.alpha)


def blocks_for(
    sizes: Sizes,
    what: Expected,
    weights: list[Array],
    which: int,
    difference: float,
    plan: Judged,
) -> int | None:
    """Fewest blocks (or replicates) that reach the target; None beyond ``MOST_BLOCKS``."""

    def reached(count: int) -> bool:
        at = precision(sizes, count, what, weights, plan)[which]
        power = power_of(difference, at)
        return power is not None and power >= plan.target

    if difference == 0.0 or not reached(MOST_BLOCKS):
        return None
    low, high = 1, MOST_BLOCKS
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high if sizes.ground is None else sizes.ground.rounded(high)
