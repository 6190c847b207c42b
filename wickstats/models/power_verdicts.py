"""Chance of each verdict of one contrast, exact under normal errors.

The estimate E is normal about the true difference with standard error sigma, independent of
s, df s^2 chi-square(df); the interval is E -+ h, h = max(least, c sigma' s), c Student's or a
family's critical value. With M the smallest difference considered important a verdict is a
stretch of E given h:

    same        h - M <= E <= M - h                                     (Schuirmann 1987)
    better      E > h beyond that; worse  E < -h beyond that
    no worse    what is left of E >= h - M; no better  what is left of E <= M - h
    cannot tell the rest

so that each chance is one integral over s, cut where h passes M/2, M and ``least``. Limits
that were simulated are classed by the same rule. Leans on models.power, numpy and scipy.
"""

import math
from dataclasses import astuple, dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy import special

from wickstats.models.power import scatter_density, scatter_range, t_critical

Array = NDArray[np.float64]
NODES = 64  # a stretch; doubling them changes nothing above 1e-12
CLASSES = ("same", "better", "worse", "no worse", "no better", "cannot tell")


@dataclass(frozen=True, slots=True)
class VerdictChances:
    """Chances that sum to 1; without M only better, worse and cannot tell are above 0."""

    same: float
    better: float
    worse: float
    no_worse: float
    no_better: float
    cannot_tell: float

    @property
    def as_tuple(self) -> tuple[float, ...]:
        """In the order of ``CLASSES``."""
        return astuple(self)


def verdict_chances(
    difference: float,
    se: float,
    df: float,
    *,
    matters: float | None = None,
    alpha: float = 0.05,
    critical: float | None = None,
    spread: float | None = None,
    least: float = 0.0,
    one_sided: bool = False,
) -> VerdictChances:
    """Chance of each verdict where more is better.

    Parameters
    ----------
    difference, se, df
        True value of the contrast, its true standard error, degrees of freedom.
    matters
        M on the same scale, or None.
    alpha, critical
        Two-sided error rate of the interval, or its critical value.
    spread, least
        As in ``power_events.widest_power``.
    one_sided
        Only better is asked for: better, no worse and cannot tell are all there is.

    Raises
    ------
    ValueError
        For a standard error, df or M that are not positive.
    """
    if not (0.0 < se < math.inf and 0.0 < df < math.inf):
        raise ValueError(f"se and df must be above zero, found {se!r} and {df!r}")
    if matters is not None and not 0.0 < matters < math.inf:
        raise ValueError(f"matters must be above zero, found {matters!r}")
    c = t_critical(df, alpha=alpha) if critical is None else critical
    slope = c * (se if spread is None else spread)
    low, high = scatter_range(df)
    ends = [least, *(() if matters is None else (matters / 2.0, matters))]
    cuts = sorted({low, high, *(e / slope for e in ends if low < e / slope < high)})
    total = np.zeros(len(CLASSES))
    x, w = leggauss(NODES)
    # a density of few df is steep at its left end, of many narrow: pieces of the range
    fine = np.unique(np.concatenate([cuts, _quantiles(df)]))
    for a, b in pairwise(fine.tolist()):
        s = a + (b - a) * (x + 1.0) / 2.0
        h = np.maximum(least, slope * s)
        total += (
            (
                _stretches(difference, se, h, matters, one_sided=one_sided)
                * scatter_density(s, df)
            )
            @ w
            * (b - a)
            / 2.0
        )
    total = np.maximum(total, 0.0)
    return VerdictChances(*(total / total.sum()).tolist())


def _quantiles(df: float) -> Array:
    shares = np.array([0.001, 0.1, 0.5, 0.9, 0.999])
    return np.asarray(np.sqrt(2.0 * special.gammaincinv(df / 2.0, shares) / df))


def _stretches(
    difference: float, se: float, h: Array, matters: float | None, *, one_sided: bool
) -> Array:
    """(6, nodes) chances of the classes given the half-width."""

    def between(a: Array, b: Array) -> Array:
        inside = special.ndtr((b - difference) / se) - special.ndtr((a - difference) / se)
        return np.asarray(np.maximum(inside, 0.0))

    out = np.zeros((len(CLASSES), h.size))
    far = np.full(h.size, math.inf)
    if one_sided:
        start = h if matters is None else h - matters
        out[1], out[3], out[5] = between(h, far), between(start, h), between(-far, start)
        return out
    if matters is None:
        out[1], out[2], out[5] = between(h, far), between(-far, -h), between(-h, h)
        return out
    sure = h <= matters  # the same can be shown, and something always is
    edge = matters - h
    out[0] = np.where(sure, between(-edge, edge), 0.0)
    start = np.where(sure, np.maximum(h, edge), h)
    out[1], out[2] = between(start, far), between(-far, -start)
    inner = np.abs(edge)
    out[3], out[4] = between(np.minimum(inner, h), h), between(-h, -np.minimum(inner, h))
    out[5] = np.where(sure, 0.0, between(-inner, inner))
    return out


def classes_of(low: Array, high: Array, matters: float | None) -> NDArray[np.int8]:
    """Class of intervals, as positions in ``CLASSES``; limits turned so that more is better."""
    out = np.full(low.shape, 5, dtype=np.int8)
    if matters is not None:
        out[high <= matters] = 4
        out[low >= -matters] = 3
    out[high < 0.0] = 2
    out[low > 0.0] = 1
    if matters is not None:
        out[(low >= -matters) & (high <= matters)] = 0
    return out
