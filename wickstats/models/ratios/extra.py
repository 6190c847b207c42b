"""Yield for each extra liter: a ratio of two differences measured on the same units.

    d_y, d_w      differences in yield and in water of two arms, one pair a block
    ratio         mean d_y / mean d_w, limits by Fieller (``fieller``), t with blocks - 1

Without blocks each arm's own units give means, variances and covariances; they add, and df
is the smaller arm's. The limits are finite exactly where the interval of the extra water
leaves zero out; elsewhere the ratio is not defined. Leans on numpy, ``fieller`` and the
linear estimates.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array, t_quantile
from wickstats.models.linear.paired import block_differences
from wickstats.models.linear.strata import finite_values
from wickstats.models.ratios.fieller import fieller_limits

FEW = "few"
NONE = "none"
SAME_WATER = "same water"
NOT_DEFINED = "not defined"


@dataclass(frozen=True, slots=True)
class Difference:
    """A mean difference with its limits (None where there are too few pairs)."""

    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class ExtraRatio:
    """The ratio, the two differences behind it, and why it is not given.

    ``reason``: None, or one of FEW, NONE, SAME_WATER, NOT_DEFINED.
    """

    ratio: float | None
    low: float | None
    high: float | None
    df: float | None
    yields: Difference
    water: Difference
    pairs: int | None
    reason: str | None


_NOTHING = Difference(None, None, None)


def extra_ratio(
    yields: ArrayLike,
    water: ArrayLike,
    cells: ArrayLike,
    weights: ArrayLike,
    *,
    blocks: ArrayLike | None = None,
    confidence: float = 0.95,
) -> ExtraRatio:
    """Difference in yield over difference in water for a contrast of cells.

    Parameters
    ----------
    yields, water
        (n,) totals of the same units.
    cells
        (n,) codes.
    weights
        (t,) that sum to zero.
    blocks
        (n,) codes, or None: then every arm's own units.

    Raises
    ------
    ValueError
        For numbers that are not finite or shapes that do not fit.
    """
    y, w = finite_values(yields), finite_values(water)
    codes = np.asarray(cells, dtype=np.int64)
    given = np.asarray(weights, dtype=float)
    if y.shape != w.shape or codes.shape != y.shape:
        raise ValueError("yield, water and cells need one number a unit")
    size = float(np.abs(w).max(initial=0.0))
    if blocks is None:
        return _by_units(y, w, codes, given, size, confidence)
    block = np.asarray(blocks, dtype=np.int64)
    d_y = block_differences(y, codes, given, block)
    d_w = block_differences(w, codes, given, block)
    n = int(d_y.size)
    if n == 0:
        return ExtraRatio(None, None, None, None, _NOTHING, _NOTHING, 0, NONE)
    center = (float(d_y.mean()), float(d_w.mean()))
    if n == 1:
        return _single(center, size, 1)
    spread = np.cov(d_y, d_w, ddof=1) / n
    return _judge(center, spread, n - 1.0, size, n, confidence)


def _by_units(
    y: Array,
    w: Array,
    codes: "np.typing.NDArray[np.int64]",
    weights: Array,
    size: float,
    confidence: float,
) -> ExtraRatio:
    used = np.flatnonzero(weights)
    counts = [int((codes == cell).sum()) for cell in used]
    if min(counts, default=0) == 0:
        return ExtraRatio(None, None, None, None, _NOTHING, _NOTHING, None, NONE)
    center = (
        float(sum(weights[c] * y[codes == c].mean() for c in used)),
        float(sum(weights[c] * w[codes == c].mean() for c in used)),
    )
    if min(counts) < 2:
        return _single(center, size, None)
    spread = np.zeros((2, 2))
    for cell, count in zip(used, counts, strict=True):
        mine = codes == cell
        spread += weights[cell] ** 2 * np.cov(y[mine], w[mine], ddof=1) / count
    return _judge(center, spread, min(counts) - 1.0, size, None, confidence)


def _single(center: tuple[float, float], size: float, pairs: int | None) -> ExtraRatio:
    """One pair only: no intervals."""
    d_y, d_w = center
    ratio = None if abs(d_w) <= 1e-9 * size else d_y / d_w
    yields, water = Difference(d_y, None, None), Difference(d_w, None, None)
    return ExtraRatio(ratio, None, None, None, yields, water, pairs, FEW)


def _judge(
    center: tuple[float, float],
    spread: Array,
    df: float,
    size: float,
    pairs: int | None,
    confidence: float,
) -> ExtraRatio:
    d_y, d_w = center
    se_y, se_w = (float(np.sqrt(max(spread[k, k], 0.0))) for k in (0, 1))
    t = t_quantile(confidence, df)
    yields = Difference(d_y, d_y - t * se_y, d_y + t * se_y)
    water = Difference(d_w, d_w - t * se_w, d_w + t * se_w)
    if abs(d_w) <= 1e-9 * size and se_w <= 1e-9 * size:
        return ExtraRatio(None, None, None, df, yields, water, pairs, SAME_WATER)
    together = float(np.clip(spread[0, 1], -se_y * se_w, se_y * se_w))
    found = fieller_limits(
        d_y, d_w, se_y, se_w, df=df, covariance=together, confidence=confidence
    )
    if found.low is None or found.high is None:
        return ExtraRatio(None, None, None, df, yields, water, pairs, NOT_DEFINED)
    return ExtraRatio(found.ratio, found.low, found.high, df, yields, water, pairs, None)
