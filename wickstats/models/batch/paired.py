"""Variance by arm in many seasons: differences within blocks, or Welch.

The rule of ``models.linear.paired``: a contrast is taken inside every block that holds all
its cells, df blocks - 1 (Student 1908); where fewer than two blocks pair them, each arm's
own units with Welch's df (1938, 1947). Leans on ``layout`` and ``strata``.
"""

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.batch.layout import BatchLayout, season_values
from wickstats.models.batch.results import FIELDS, Answers
from wickstats.models.batch.strata import t_quantiles, t_tails
from wickstats.models.linear.estimates import Array

Found = tuple[Array, Array, Array]  # estimate, variance (0 without scatter), df
ROUNDING = 64.0 * np.finfo(float).eps


def judge_pairs(
    layout: BatchLayout,
    values: ArrayLike,
    *,
    blocks: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Answers:
    """Judge the layout's contrasts of unit values (S, n) by differences within blocks.

    Parameters
    ----------
    blocks
        (n,) integer codes of the blocks that pair; None for Welch's rule.

    Raises
    ------
    ValueError
        For shapes that do not fit or numbers that are not finite.
    """
    y = season_values(values, layout.n)
    weights = layout.contrasts.weights
    out = Answers.empty(y.shape[0], len(weights))
    codes = None if blocks is None else np.asarray(blocks, dtype=np.int64)
    if codes is not None and codes.shape != (layout.n,):
        raise ValueError("one block a unit is needed")
    for k, one in enumerate(weights):
        rows = None if codes is None else _block_rows(layout, one, codes)
        if rows is not None and len(rows) >= 2:
            found: Found | None = _differences(y @ rows.T)
        else:
            found = _welch(layout, y, one)
            if rows is not None and len(rows) == 1 and found is not None and not found[1].any():
                found = (y @ rows[0], *found[1:])  # the one pair there is
        if found is not None:
            _write(out, k, *found, confidence)
    return out


def _block_rows(layout: BatchLayout, weights: Array, blocks: np.ndarray) -> Array:
    """(pairs, n) unit weights of the contrast in every block that holds all its cells."""
    cells = layout.geometry.cells
    used = np.flatnonzero(weights)
    rows = []
    for block in np.unique(blocks):
        row = np.zeros(layout.n)
        for cell in used:
            here = (blocks == block) & (cells == cell)
            if not here.any():
                break
            row[here] = weights[cell] / here.sum()
        else:
            rows.append(row)
    return np.array(rows).reshape(len(rows), layout.n)


def _differences(d: Array) -> Found:
    """Mean, its variance (0 without scatter) and df from differences (S, pairs)."""
    pairs = d.shape[1]
    variance = d.var(axis=1, ddof=1) / pairs
    small = (ROUNDING * np.abs(d).max(axis=1)) ** 2
    variance = np.where(variance <= small, 0.0, variance)
    return d.mean(axis=1), variance, np.full(len(d), pairs - 1.0)


def _welch(layout: BatchLayout, y: Array, weights: Array) -> Found | None:
    """The same from each cell's own units; None where a cell has none."""
    cells = layout.geometry.cells
    estimate, total, squares = (np.zeros(len(y)) for _ in range(3))
    alone = False
    for cell in np.flatnonzero(weights):
        own = y[:, cells == cell]
        size = own.shape[1]
        if size == 0:
            return None
        estimate += weights[cell] * own.mean(axis=1)
        if size == 1:
            alone = True
            continue
        part = weights[cell] ** 2 * own.var(axis=1, ddof=1) / size
        total += part
        squares += part**2 / (size - 1.0)
    if alone:
        return estimate, np.zeros(len(y)), np.ones(len(y))
    small = (ROUNDING * np.abs(y).max(axis=1)) ** 2
    total = np.where(total <= small, 0.0, total)
    with np.errstate(invalid="ignore", divide="ignore"):
        df = np.where(squares > 0.0, total**2 / squares, 1.0)
    return estimate, total, df


def _write(
    out: Answers, k: int, estimate: Array, variance: Array, df: Array, confidence: float
) -> None:
    there = variance > 0.0
    se = np.sqrt(np.where(there, variance, np.nan))
    df = np.where(there, df, np.nan)
    half = t_quantiles(confidence, df) * se
    found = (estimate, se, df, estimate - half, estimate + half, t_tails(estimate / se, df))
    for name, values in zip(FIELDS, found, strict=True):
        getattr(out, name)[:, k] = values
    out.judged[:, k] = there
