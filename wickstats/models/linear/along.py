"""The fall along lines: one slope a line, then Student's t over units.

    y_lk = a_l + b_l x_lk + e_lk      logarithm of a plant's value at place x on line l
    b_l  = sum (x - mean x)(y - mean y) / sum (x - mean x)^2     least squares within the line

A unit's slope is the mean of its lines'; an arm's is the mean of its units', with standard
error from their scatter and units - 1 degrees of freedom (one number a unit; Student 1908,
Biometrika 6:1). Differences between lines, and between the plots they lie in, cancel in b.
Leans on numpy.
"""

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array, IntArray


def line_slopes(
    values: ArrayLike, places: ArrayLike, lines: ArrayLike, n_lines: int
) -> tuple[Array, IntArray]:
    """Slope of each line and how many plants it rests on.

    Parameters
    ----------
    values, places
        (n,) finite numbers: logarithms and positions.
    lines
        (n,) codes 0 .. n_lines - 1.

    Returns
    -------
    slopes, counts
        (n_lines,) each; NaN where a line has fewer than two different places.

    Raises
    ------
    ValueError
        For numbers that are not finite or shapes that do not fit.
    """
    y, x = np.asarray(values, dtype=float), np.asarray(places, dtype=float)
    code = np.asarray(lines, dtype=np.int64)
    if y.shape != x.shape or code.shape != y.shape:
        raise ValueError("one place and one line a value are needed")
    if not (np.isfinite(y).all() and np.isfinite(x).all()):
        raise ValueError("values and places must be finite")
    count = np.bincount(code, minlength=n_lines)
    n = np.maximum(count, 1)
    off_x = x - (np.bincount(code, weights=x, minlength=n_lines) / n)[code]
    off_y = y - (np.bincount(code, weights=y, minlength=n_lines) / n)[code]
    spread = np.bincount(code, weights=off_x**2, minlength=n_lines)
    product = np.bincount(code, weights=off_x * off_y, minlength=n_lines)
    size = np.zeros(n_lines)
    np.maximum.at(size, code, np.abs(x))
    sloped = spread > (1e-9 * np.maximum(size, 1e-300)) ** 2
    slopes: Array = np.where(sloped, product / np.where(sloped, spread, 1.0), np.nan)
    return slopes, count.astype(np.int64)
