"""Variance by arm: differences within blocks, or Welch on the arms' own units.

A contrast's cells are compared inside every block that holds all of them: d_b = sum of
weight times the block's mean of that cell; mean and standard error over blocks, df
blocks - 1 (exact under normality whatever the arms' variances; Student 1908). Where fewer
than two blocks pair them: each arm's own units, df by Welch (1938, Biometrika 29:350;
1947, 34:28). Leans on ``estimates``.
"""

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    IntArray,
    combine_parts,
    only_estimate,
    widest,
)
from wickstats.models.linear.strata import finite_values

WITHIN_BLOCKS = "differences within blocks"
OWN_UNITS = "own units of each arm"


def paired_contrast(
    values: ArrayLike,
    cells: ArrayLike,
    weights: ArrayLike,
    *,
    blocks: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Estimate:
    """Contrast of cells from differences within blocks, else by Welch.

    Parameters
    ----------
    values, cells
        (n,) unit values and cell codes.
    weights
        (t,) that sum to zero.
    blocks
        (n,) integer codes, or None. Units that span blocks do not pair: pass None.

    Raises
    ------
    ValueError
        For shapes that do not fit, or weights that do not sum to zero.
    """
    y = finite_values(values)
    codes = np.asarray(cells, dtype=np.int64)
    given = np.asarray(weights, dtype=float)
    if codes.shape != y.shape:
        raise ValueError("one cell a unit is needed")
    if abs(float(given.sum())) > 1e-9 * float(np.abs(given).max()):
        raise ValueError("the weights of a contrast must sum to zero")
    used = np.flatnonzero(given)
    if used.size == 0:
        raise ValueError("all weights are zero")
    if blocks is not None:
        differences = block_differences(y, codes, given, np.asarray(blocks, dtype=np.int64))
        if differences.size >= 2:
            return _from_differences(differences, confidence)
    else:
        differences = np.zeros(0)
    result = welch_contrast(y, codes, given, confidence=confidence)
    if result.not_estimable == say("linear one unit an arm") and blocks is not None:
        if differences.size == 1:
            return only_estimate(float(differences[0]), say("linear one pair"))
        return only_estimate(result.estimate, say("linear no pair"))
    return result


def block_differences(
    values: Array, cells: IntArray, weights: Array, blocks: IntArray
) -> Array:
    """The contrast in every block that holds all its cells, in the order of the codes."""
    _, block = np.unique(blocks, return_inverse=True)
    if blocks.shape != values.shape:
        raise ValueError("one block a unit is needed")
    size = int(block.max(initial=-1)) + 1
    shape = (size, weights.size)
    flat = block * weights.size + cells
    count = np.bincount(flat, minlength=size * weights.size).reshape(shape)
    total = np.bincount(flat, weights=values, minlength=size * weights.size).reshape(shape)
    used = weights != 0.0
    complete = (count[:, used] > 0).all(axis=1)
    means = total[complete][:, used] / count[complete][:, used]
    product: Array = means @ weights[used]
    return product


def _from_differences(differences: Array, confidence: float) -> Estimate:
    mean = float(differences.mean())
    variance = float(differences.var(ddof=1)) / differences.size
    if variance <= (64 * np.finfo(float).eps * float(np.abs(differences).max())) ** 2:
        return only_estimate(mean, say("linear no scatter"))
    part = (variance, float(differences.size - 1))
    return widest(mean, [(WITHIN_BLOCKS, part)], confidence)


def welch_contrast(
    values: ArrayLike, cells: ArrayLike, weights: ArrayLike, *, confidence: float = 0.95
) -> Estimate:
    """Contrast (or mean) of cells from each cell's own units, Welch's df.

    ``weights`` may sum to anything: a single one gives an arm's mean on its own units.
    """
    y = finite_values(values)
    codes = np.asarray(cells, dtype=np.int64)
    given = np.asarray(weights, dtype=float)
    used = np.flatnonzero(given)
    own = [y[codes == cell] for cell in used]
    if any(units.size == 0 for units in own):
        return only_estimate(None, say("linear no unit"))
    estimate = float(sum(given[c] * units.mean() for c, units in zip(used, own, strict=True)))
    if any(units.size < 2 for units in own):
        return only_estimate(estimate, say("linear one unit an arm"))
    parts = [
        (float(given[c] ** 2 * units.var(ddof=1)) / units.size, units.size - 1.0)
        for c, units in zip(used, own, strict=True)
    ]
    total = combine_parts(parts)
    size = float(np.abs(y).max(initial=0.0))
    if total[0] <= (64 * np.finfo(float).eps * size) ** 2:
        return only_estimate(estimate, say("linear no scatter"))
    return widest(estimate, [(OWN_UNITS, total)], confidence)


def own_units_mean(
    values: ArrayLike, cells: ArrayLike, cell: int, *, confidence: float = 0.95
) -> Estimate:
    """Mean of one cell on its own units: t with units - 1 df."""
    weights = np.zeros(cell + 1)
    weights[cell] = 1.0
    return welch_contrast(values, cells, weights, confidence=confidence)
