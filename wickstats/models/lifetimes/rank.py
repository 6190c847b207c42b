"""The composite rank: whether a plant of A ends above one of B, dead below all living.

Model: P = P(A above B) + P(tie)/2, in each block the share of pairs (Mann & Whitney 1947),
averaged over the blocks that hold both arms; dead plants score -inf and tie. Interval on
the logit of P~ = (n P + 0.5)/(n + 1), n the plants of the smaller arm. The half-width is
the larger of t(b - 1) times the standard error from leaving out one block, and the normal
quantile times the root of P~(1 - P~)(n_A + n_B + 1)/(3 n_A n_B) summed over blocks / b^2
(the variance under no difference, 1/12 scaled by 4 P~(1 - P~)), taken to the logit.

Without blocks all pairs count, units of either arm are left out one by one, and the df
are Satterthwaite's for the two arms' parts.

Measured in 48 settings of 2,000 simulated seasons (3 to 8 blocks, 4 to 12 plants a plot,
plot correlation 0 and 0.3, 60 and 90 % alive; ``reports/validation``): arms alike are called
different in at most 5.2 %, intervals cover 94.8 % or more. Leans on numpy, scipy.special and
core.words.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from wickstats.core.words import say

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RankComparison:
    """Probability that a plant of A ends above one of B, ties half.

    All but ``probability`` are None where ``not_estimable`` says why. ``se`` is on the
    logit scale. ``basis``: "blocks", "units" or "plants", whichever interval is wider
    ("plants": normal, ``df`` None), or "none". ``n_a, n_b`` are the plants used,
    ``n_groups`` the blocks (or units) left out in turn.
    """

    probability: float | None
    low: float | None
    high: float | None
    se: float | None
    df: float | None
    p: float | None
    basis: str
    n_a: int
    n_b: int
    n_groups: int
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Scatter:
    """Standard error (logit) and df from groups, and the plants' variance factor."""

    se: float
    df: float
    plants: float
    groups: int
    basis: str


def compare_ranks(
    scores_a: ArrayLike,
    scores_b: ArrayLike,
    *,
    blocks_a: ArrayLike | None = None,
    blocks_b: ArrayLike | None = None,
    units_a: ArrayLike | None = None,
    units_b: ArrayLike | None = None,
    confidence: float = 0.95,
) -> RankComparison:
    """Composite rank comparison of two arms.

    Parameters
    ----------
    scores_a, scores_b
        (n_a,), (n_b,) one score a plant, larger is above; ``-inf`` marks a dead plant.
    blocks_a, blocks_b
        Block of each plant; blocks that hold one of the arms only are left out.
    units_a, units_b
        Unit of each plant, needed where there are no blocks.

    Raises
    ------
    ValueError
        For a missing score, labels that do not fit, or neither blocks nor units.
    """
    a, b = _scores(scores_a), _scores(scores_b)
    if blocks_a is not None and blocks_b is not None:
        return _by_blocks(a, b, np.asarray(blocks_a), np.asarray(blocks_b), confidence)
    if units_a is not None and units_b is not None:
        return _by_units(a, b, np.asarray(units_a), np.asarray(units_b), confidence)
    raise ValueError("ranks are compared within blocks or between units: give one of them")


def share_above(a: Array, b: Array) -> float:
    """Share of pairs in which a is above b, ties half."""
    order = np.sort(b)
    below = np.searchsorted(order, a, side="left")
    at_most = np.searchsorted(order, a, side="right")
    return float(np.sum(below + at_most) / (2.0 * a.size * b.size))


def _scores(scores: ArrayLike) -> Array:
    out = np.asarray(scores, dtype=float)
    if out.ndim != 1 or np.isnan(out).any():
        raise ValueError("every plant needs a score; a dead one has -inf")
    return out


def _by_blocks(
    a: Array, b: Array, in_a: NDArray[np.generic], in_b: NDArray[np.generic], confidence: float
) -> RankComparison:
    if in_a.shape != a.shape or in_b.shape != b.shape:
        raise ValueError("blocks must be one label a plant")
    both = np.intersect1d(in_a, in_b)
    shares = np.array([share_above(a[in_a == k], b[in_b == k]) for k in both])
    n_a = np.array([np.sum(in_a == k) for k in both], dtype=float)
    n_b = np.array([np.sum(in_b == k) for k in both], dtype=float)
    k = both.size
    if k == 0:
        return _nothing(None, 0, 0, 0, "rank no pair")
    total_a, total_b = int(n_a.sum()), int(n_b.sum())
    share = float(shares.mean())
    if k == 1:
        return _nothing(share, total_a, total_b, 1, "rank one block")
    smaller = np.minimum(total_a - n_a, total_b - n_b)
    others = _logit((shares.sum() - shares) / (k - 1), smaller)
    scatter = _Scatter(
        se=float(np.sqrt(_left_out(others))),
        df=float(k - 1),
        plants=float(np.sum((n_a + n_b + 1.0) / (3.0 * n_a * n_b))) / k**2,
        groups=k,
        basis="blocks",
    )
    return _compare(share, total_a, total_b, scatter, confidence)


def _by_units(
    a: Array, b: Array, in_a: NDArray[np.generic], in_b: NDArray[np.generic], confidence: float
) -> RankComparison:
    if in_a.shape != a.shape or in_b.shape != b.shape:
        raise ValueError("units must be one label a plant")
    if a.size == 0 or b.size == 0:
        return _nothing(None, a.size, b.size, 0, "rank no pair")
    share = share_above(a, b)
    units_a, units_b = np.unique(in_a), np.unique(in_b)
    groups = units_a.size + units_b.size
    if min(units_a.size, units_b.size) < 2:
        return _nothing(share, a.size, b.size, groups, "rank one unit")
    parts = []
    for units, mine, other, inside, sign in (
        (units_a, a, b, in_a, 1.0),
        (units_b, b, a, in_b, -1.0),
    ):
        left = [mine[inside != u] for u in units]
        shares = np.array([share_above(rest, other) for rest in left])
        smaller = np.array([min(rest.size, other.size) for rest in left], dtype=float)
        parts.append((_left_out(sign * _logit(shares, smaller)), units.size - 1.0))
    variance = sum(v for v, _ in parts)
    df = variance**2 / sum(v * v / f for v, f in parts) if variance > 0.0 else 1.0
    scatter = _Scatter(
        se=float(np.sqrt(variance)),
        df=float(df),
        plants=(a.size + b.size + 1.0) / (3.0 * a.size * b.size),
        groups=groups,
        basis="units",
    )
    return _compare(share, a.size, b.size, scatter, confidence)


def _logit(share: Array, n: Array) -> Array:
    return np.asarray(np.log(n * share + 0.5) - np.log(n * (1.0 - share) + 0.5))


def _left_out(others: Array) -> float:
    u = others.size
    return float((u - 1) / u * np.sum((others - others.mean()) ** 2))


def _compare(
    share: float, n_a: int, n_b: int, scatter: _Scatter, confidence: float
) -> RankComparison:
    n = float(min(n_a, n_b))
    center = float(_logit(np.array(share), np.array(n)))
    smoothed = (n * share + 0.5) / (n + 1.0)
    by_plants = float(np.sqrt(scatter.plants / (smoothed * (1.0 - smoothed))))
    upper = 0.5 * (1.0 + confidence)
    wide = float(stdtrit(scatter.df, upper)) * scatter.se
    narrow = float(ndtri(upper)) * by_plants
    p_plants = 2.0 * float(ndtr(-abs(center) / by_plants))
    p_groups = (
        2.0 * float(stdtr(scatter.df, -abs(center) / scatter.se)) if scatter.se > 0.0 else 0.0
    )
    grouped = wide >= narrow
    half = max(wide, narrow)
    return RankComparison(
        probability=share,
        low=float(1.0 / (1.0 + np.exp(half - center))),
        high=float(1.0 / (1.0 + np.exp(-half - center))),
        se=scatter.se if grouped else by_plants,
        df=scatter.df if grouped else None,
        # the interval is the wider of two, so p is the larger of two
        p=max(p_plants, p_groups),
        basis=scatter.basis if grouped else "plants",
        n_a=n_a,
        n_b=n_b,
        n_groups=scatter.groups,
    )


def _nothing(share: float | None, n_a: int, n_b: int, groups: int, key: str) -> RankComparison:
    return RankComparison(
        share, None, None, None, None, None, "none", n_a, n_b, groups, say(key)
    )
