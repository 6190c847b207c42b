"""Many comparisons at once: adjusted p and simultaneous intervals that agree.

Dunnett (comparisons with a reference), Tukey (all pairs) and single-step (any named
contrasts) are the same thing here: the multivariate t of the contrasts' own correlation
(Hothorn, Bretz & Westfall 2008, Biom. J. 50:346), each contrast with its own df:

    p_i = P(max_j |T_j| > |t_i|; df_i),    low/high_i = estimate -+ c(df_i) se_i.

Where a question has one side only (each treatment better than the reference), T_j and t_i
stand for their absolute values above and one limit is left:

    p_i = P(max_j T_j > t_i; df_i),    low_i = estimate - c(df_i) se_i    (Dunnett 1955).

Exact when all df are equal, otherwise called approximate. Holm (1979, Scand. J. Stat.
6:65) steps down and has no interval; Bonferroni has. Comparisons that are not estimable
stay out of the family. Leans on ``joint_t``, ``joint_one_sided`` and ``estimates``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    Part,
    t_quantile,
    t_tail,
    t_upper,
)
from wickstats.models.linear.joint_one_sided import one_sided_t
from wickstats.models.linear.joint_t import joint_t

Method = Literal["dunnett", "tukey", "single-step", "holm", "bonferroni", "none"]
JOINT = ("dunnett", "tukey", "single-step")


@dataclass(frozen=True, slots=True)
class Adjusted:
    """One family's adjusted results, in the order of its contrasts.

    Attributes
    ----------
    p, low, high, critical
        One entry a contrast; None where it is not estimable, and for Holm's intervals.
    approximate
        True when the contrasts' df differ.
    error
        Bound on the error of p (0 where closed, 1e-7 by quadrature, the point set's own
        otherwise).
    size
        Contrasts in the family.
    """

    method: str
    p: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    critical: tuple[float | None, ...]
    approximate: bool
    error: float
    size: int


def adjust(
    estimates: Sequence[Estimate],
    method: Method,
    *,
    covariance: ArrayLike | None = None,
    confidence: float = 0.95,
    side: int = 0,
) -> Adjusted:
    """Adjust one family.

    Parameters
    ----------
    estimates
        k estimates as the fits give them.
    covariance
        (m, m) covariance or correlation of the m estimable ones, in their order; needed
        by the joint methods.
    side
        1: only whether above zero, -1: only whether below; 0: either way. One-sided, the
        other limit is None.

    Raises
    ------
    ValueError
        For a covariance that is missing or does not fit.
    """
    kept = [i for i, e in enumerate(estimates) if e.se is not None]
    ses = [float(e.se) for e in estimates if e.se is not None]
    dfs = [float(e.df) for e in estimates if e.df is not None]
    values = [side * float(e.estimate or 0.0) for e in estimates if e.se is not None]
    raw = [float(e.p) for e in estimates if e.p is not None]
    level = confidence
    # of several intervals of a contrast the widest counts at the family's level too
    parts = [
        [(float(e.se), float(e.df)), *e.rivals]
        for e in estimates
        if e.se is not None and e.df is not None
    ]
    if side:
        level = 2.0 * confidence - 1.0  # its two-sided limit is the one-sided one
        raw = [
            max(t_upper(value / se, df) for se, df in own)
            for value, own in zip(values, parts, strict=True)
        ]
    error = 0.0
    p: list[float] = raw
    critical: list[float | None] = []
    if method in JOINT and kept:
        if covariance is None:
            raise ValueError(f"{method} needs the contrasts' covariance")
        if not side:
            values = [float(estimates[i].estimate or 0.0) for i in kept]
        correlation = _correlation(covariance, len(kept))
        p, joint_critical, error = _joint(
            values, parts, correlation, confidence, one_sided=side != 0
        )
        critical = list(joint_critical)
    elif method == "holm":
        p = holm(raw)
        critical = [None] * len(kept)
    elif method == "bonferroni":
        p = [min(1.0, len(kept) * one) for one in raw]
        level = 1.0 - (1.0 - level) / max(len(kept), 1)
        critical = [
            max(t_quantile(level, df) * se / own[0][0] for se, df in own) for own in parts
        ]
    else:
        critical = [
            max(t_quantile(level, df) * se / own[0][0] for se, df in own)
            if side
            else t_quantile(level, own[0][1])
            for own in parts
        ]
    size = len(estimates)
    out_p: list[float | None] = [None] * size
    low: list[float | None] = [None] * size
    high: list[float | None] = [None] * size
    out_critical: list[float | None] = [None] * size
    for place, i in enumerate(kept):
        out_p[i] = p[place]
        c, center = critical[place], estimates[i].estimate
        out_critical[i] = c
        if c is not None and center is not None:
            low[i] = None if side < 0 else center - c * ses[place]
            high[i] = None if side > 0 else center + c * ses[place]
    uneven = bool(dfs) and max(dfs) - min(dfs) > 1e-9 * max(dfs)
    return Adjusted(
        method=method,
        p=tuple(out_p),
        low=tuple(low),
        high=tuple(high),
        critical=tuple(out_critical),
        approximate=uneven and method in JOINT,
        error=error,
        size=len(kept),
    )


def own_p(estimates: Sequence[Estimate], side: int) -> list[Estimate]:
    """The estimates with p of one side (1: above zero, -1: below); as they are with 0."""
    if not side:
        return list(estimates)
    return [
        replace(e, p=p)
        for e, p in zip(estimates, adjust(estimates, "none", side=side).p, strict=True)
    ]


def holm(p: Sequence[float]) -> list[float]:
    """Holm's step-down p, in the given order."""
    k = len(p)
    out = [0.0] * k
    largest = 0.0
    for step, i in enumerate(sorted(range(k), key=lambda i: p[i])):
        largest = max(largest, min(1.0, (k - step) * p[i]))
        out[i] = largest
    return out


def _joint(
    values: Sequence[float],
    parts: Sequence[Sequence[Part]],
    correlation: Array,
    confidence: float,
    *,
    one_sided: bool,
) -> tuple[list[float], list[float], float]:
    """Of each contrast p and critical value (in its first standard error), and p's error."""
    joint = one_sided_t(correlation) if one_sided else joint_t(correlation)
    found: dict[float, float] = {}
    p: list[float] = []
    critical: list[float] = []
    error = 0.0
    spare = (2.0 if one_sided else 1.0) * (1.0 - confidence)
    sided = 1.0 - spare / len(values)
    for value, own in zip(values, parts, strict=True):
        # Bonferroni's bound tells which intervals need not be worked out
        bounds = [t_quantile(sided, df) * se for se, df in own]
        half = 0.0
        for k in np.argsort(bounds)[::-1]:
            se, df = own[int(k)]
            if bounds[int(k)] <= half:
                break
            if df not in found:
                found[df] = joint.critical(confidence, df)
            half = max(half, found[df] * se)
        critical.append(half / own[0][0])
        single = t_upper if one_sided else t_tail
        raw = [len(values) * single(value / se, df) for se, df in own]
        largest = 0.0
        for k in np.argsort(raw)[::-1]:
            se, df = own[int(k)]
            if raw[int(k)] <= largest:
                break
            t = value / se if one_sided else abs(value) / se
            share, bound = joint.tail(t, df)
            largest, error = max(largest, share), max(error, bound)
        p.append(largest)
    return p, critical, error


def _correlation(covariance: ArrayLike, k: int) -> Array:
    given = np.asarray(covariance, dtype=float)
    if given.shape != (k, k):
        raise ValueError(f"expected a covariance of {k} contrasts, found {given.shape}")
    scale = np.sqrt(np.diag(given))
    if not np.isfinite(scale).all() or (scale <= 0).any():
        raise ValueError("a contrast's variance is not above zero")
    product: Array = given / np.outer(scale, scale)
    np.fill_diagonal(product, 1.0)
    return product
