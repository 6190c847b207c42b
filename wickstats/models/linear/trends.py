"""Trends over unequally spaced amounts, as contrasts of levels in the response's own unit.

Orthogonal polynomials (Fisher & Yates 1938, Statistical Tables; for unequal spacing Robson
1959, Biometrics 15:187): x_1 = x - mean, q = x_1^2 less its regression on 1 and x_1, each
level weighed alike. F and t do not depend on a contrast's scale; here it is chosen to read:

    straight line   change of the fitted line from the smallest to the largest amount
    bend            middle of the range above the average of its two ends, by q alone

Leans on numpy.
"""

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array


def straight_line(amounts: ArrayLike) -> Array:
    """(k,) weights: change along the least-squares line over the whole range.

    Raises
    ------
    ValueError
        For fewer than two different amounts, or one that is not finite.
    """
    x = _amounts(amounts, least=2)
    centered = x - x.mean()
    product: Array = centered * (x.max() - x.min()) / float(centered @ centered)
    return product


def bend(amounts: ArrayLike) -> Array:
    """(k,) weights: how far the middle of the range lies above the line between its ends.

    Raises
    ------
    ValueError
        For fewer than three different amounts, or one that is not finite.
    """
    x = _amounts(amounts, least=3)
    centered = x - x.mean()
    lower = np.column_stack([np.ones(x.size), centered])
    square = centered**2
    q = square - lower @ np.linalg.lstsq(lower, square, rcond=None)[0]
    half = 0.5 * (x.max() - x.min())
    product: Array = -(half**2) * q / float(q @ q)
    return product


def _amounts(amounts: ArrayLike, least: int) -> Array:
    x = np.asarray(amounts, dtype=float)
    if x.ndim != 1 or not np.isfinite(x).all() or np.unique(x).size < least:
        raise ValueError(f"a trend needs at least {least} different amounts")
    return x
