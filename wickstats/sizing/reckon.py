"""Power of one family of contrasts under assumed means and unit variances.

Each contrast is a t statistic with noncentrality difference/se in its stratum; the
critical value is the family's own (Dunnett, Tukey, single-step; Bonferroni for Holm and
the paired rule, which makes Holm's power a lower bound). Leans on models.power,
models.linear and numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.models.linear.estimates import t_quantile, t_tail
from wickstats.models.linear.geometry import Geometry
from wickstats.models.linear.joint_t import joint_t
from wickstats.models.power import t_detectable, t_power
from wickstats.sizing.assumed import Expected
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


def precision(
    geometry: Geometry,
    what: Expected,
    weights: list[Array],
    adjustment: str,
    confidence: float,
    *,
    spread_factor: float = 1.0,
) -> list[Precision | None]:
    """Standard errors, df and error rates of a family; None where df are 0."""
    if what.rule == "paired":
        return _paired(geometry, what, weights, confidence, spread_factor)
    variances = what.variances
    if what.rule == "strata":
        variances = np.full(variances.size, float(np.nanmean(variances)))
    d = variances[geometry.cells] * spread_factor**2
    first, second = geometry.traces(d)
    if geometry.df < 1 or first <= 0 or second <= 0:
        return [None for _ in weights]
    df = float(geometry.df) if what.rule == "strata" else first * first / second
    rows = []
    for weight in weights:
        row, why = geometry.cell_row(weight)
        if row is None:
            raise ValueError(why)
        rows.append(row)
    stacked = np.array(rows)
    covariance = (stacked * d) @ stacked.T
    ses = np.sqrt(np.diag(covariance))
    alpha = _alpha(covariance / np.outer(ses, ses), df, adjustment, confidence)
    return [Precision(float(se), df, alpha) for se in ses]


def _paired(
    geometry: Geometry, what: Expected, weights: list[Array], confidence: float, factor: float
) -> list[Precision | None]:
    counts = geometry.counts
    alpha = (1.0 - confidence) / len(weights)
    out: list[Precision | None] = []
    for weight in weights:
        used = weight != 0
        per_arm = np.square(weight[used]) * what.variances[used] / counts[used]
        df = float(counts[used].min() - 1)
        if df < 1:
            out.append(None)
        else:
            out.append(Precision(float(np.sqrt(per_arm.sum())) * factor, df, alpha))
    return out


def _alpha(correlation: Array, df: float, adjustment: str, confidence: float) -> float:
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


def half_width(at: Precision | None) -> float | None:
    """Half-width of the adjusted interval that is expected."""
    return None if at is None else t_quantile(1.0 - at.alpha, at.df) * at.se


def blocks_for(
    sizes: Sizes,
    what: Expected,
    weights: list[Array],
    which: int,
    difference: float,
    *,
    adjustment: str,
    confidence: float,
    target: float,
) -> int | None:
    """Fewest blocks (or replicates) that reach the target; None beyond ``MOST_BLOCKS``."""

    def reached(count: int) -> bool:
        at = precision(sizes.geometry(count), what, weights, adjustment, confidence)[which]
        power = power_of(difference, at)
        return power is not None and power >= target

    if difference == 0.0:
        return None
    low, high = 1, 4
    while not reached(high):
        low, high = high, high * 2
        if high > MOST_BLOCKS:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high
