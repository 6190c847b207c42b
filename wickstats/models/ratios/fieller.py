"""Fieller's limits for a ratio of two means.

a, b with standard errors s_a, s_b and covariance s_ab, t the two-sided quantile:
g = t^2 s_b^2/b^2; below 1 the limits are the roots r of
(a - r b)^2 = t^2 (s_a^2 - 2 r s_ab + r^2 s_b^2) (Fieller 1954, J. R. Stat. Soc. B 16:175).
At g of 1 or more no finite interval exists: said in words, never in numbers.
Leans on numpy and the linear estimates.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.models.linear.estimates import t_quantile
from wickstats.models.linear.strata import finite_values


@dataclass(frozen=True, slots=True)
class FiellerLimits:
    """A ratio with its limits; ``unbounded`` says in words why there are none."""

    ratio: float | None
    low: float | None
    high: float | None
    g: float | None
    df: float | None
    unbounded: str | None


def fieller_limits(
    a: float,
    b: float,
    se_a: float,
    se_b: float,
    *,
    df: float,
    covariance: float = 0.0,
    confidence: float = 0.95,
) -> FiellerLimits:
    """Limits of a/b.

    Raises
    ------
    ValueError
        For numbers that are not finite, negative standard errors, or a covariance larger
        than they allow.
    """
    if not np.isfinite([a, b, se_a, se_b, covariance, df]).all() or min(se_a, se_b) < 0:
        raise ValueError("means, standard errors and df must be finite, errors not negative")
    if df <= 0 or covariance**2 > (se_a * se_b) ** 2 * (1 + 1e-9):
        raise ValueError("df must be above zero and the covariance possible")
    if b == 0:
        return FiellerLimits(None, None, None, None, df, say("fieller zero"))
    t = t_quantile(confidence, df)
    ratio = a / b
    g = (t * se_b / b) ** 2
    if g >= 1.0:
        return FiellerLimits(ratio, None, None, g, df, say("fieller unbounded", g=number(g)))
    # relative to the ratio's own size: everything divided by b
    va, vab = (se_a / b) ** 2, covariance / b**2
    middle = ratio - t * t * vab
    inside = max(0.0, middle**2 - (1.0 - g) * (ratio**2 - t * t * va))
    half = float(np.sqrt(inside))
    return FiellerLimits(
        ratio, (middle - half) / (1.0 - g), (middle + half) / (1.0 - g), g, df, None
    )


def fieller_ratio_of_sums(
    numerator: ArrayLike, denominator: ArrayLike, *, confidence: float = 0.95
) -> FiellerLimits | str:
    """Ratio of two sums measured on the same units (n,), df units - 1.

    Returns a reason in words where there are fewer than two units.
    """
    y, w = finite_values(numerator), finite_values(denominator)
    if y.shape != w.shape:
        raise ValueError("numerator and denominator need the same units")
    n = y.size
    if n < 2:
        return say("ratio few blocks")
    spread = np.cov(y, w, ddof=1) / n
    return fieller_limits(
        float(y.mean()),
        float(w.mean()),
        float(np.sqrt(spread[0, 0])),
        float(np.sqrt(spread[1, 1])),
        covariance=float(spread[0, 1]),
        df=n - 1.0,
        confidence=confidence,
    )
