"""Contrasts of cells in a factorial, as plain weight arrays.

Cells are the combinations of all factors' levels in row-major order (the last factor
runs fastest); ``shape`` is the tuple of their numbers of levels. Margins give equal
weight to the cells they average (Yates 1934, J. Am. Stat. Assoc. 29:51: weighted
squares of means). Leans on numpy.
"""

from collections.abc import Collection, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array, IntArray


def mean_weights(shape: Sequence[int], fixed: Mapping[int, int]) -> Array:
    """(t,) weights of the mean of the cells at the ``fixed`` levels {factor: level}.

    Factors that are not named are averaged with equal weights.
    """
    out: Array = np.ones(1)
    for factor, levels in enumerate(shape):
        if factor in fixed:
            part = np.zeros(levels)
            part[_level(fixed[factor], levels)] = 1.0
        else:
            part = np.full(levels, 1.0 / levels)
        out = np.asarray(np.kron(out, part), dtype=float)
    return out


def level_contrast(
    shape: Sequence[int],
    factor: int,
    weights: ArrayLike,
    within: Mapping[int, int] | None = None,
) -> Array:
    """(t,) weights of a contrast of one factor's levels.

    Over all other factors with equal weights, or ``within`` fixed levels of some.
    """
    given = np.asarray(weights, dtype=float)
    if given.shape != (shape[factor],):
        raise ValueError(f"expected {shape[factor]} weights, found {given.shape}")
    fixed = dict(within or {})
    out = np.zeros(int(np.prod(shape)))
    for level in np.flatnonzero(given):
        out += given[level] * mean_weights(shape, {**fixed, factor: int(level)})
    return out


def term_rows(shape: Sequence[int], factors: Collection[int]) -> Array:
    """(q, t) contrasts that a term tests: a main effect, or an interaction.

    ``factors`` are those in the term; the others are averaged with equal weights.
    """
    if not factors:
        raise ValueError("a term holds at least one factor")
    out: Array = np.ones((1, 1))
    for factor, levels in enumerate(shape):
        part = steps(levels) if factor in factors else np.full((1, levels), 1.0 / levels)
        out = np.kron(out, part)
    return out


def main_effects_basis(shape: Sequence[int]) -> Array:
    """(t, p) columns of cells without interactions: one, then each level but the first."""
    cells = np.unravel_index(np.arange(int(np.prod(shape))), tuple(shape))
    parts = [np.ones((cells[0].size, 1))]
    for own, levels in zip(cells, shape, strict=True):
        parts.append((own[:, None] == np.arange(1, levels)).astype(float))
    return np.hstack(parts)


def main_effects_space(shape: Sequence[int]) -> Array:
    """(t, t) projector on the mean and the main effects: cells without interactions."""
    q, _ = np.linalg.qr(main_effects_basis(shape))
    product: Array = q @ q.T
    return product


def interaction_df(shape: Sequence[int]) -> int:
    """Degrees of freedom of all interactions: what is left of the cells by main effects."""
    return int(np.prod(shape)) - 1 - sum(levels - 1 for levels in shape)


def cell_codes(cells: IntArray, shape: Sequence[int], factors: Sequence[int]) -> IntArray:
    """(n,) codes of the combinations of some factors' levels, the last one fastest."""
    levels = np.unravel_index(cells, tuple(shape))
    out = np.zeros(cells.size, dtype=np.int64)
    for k in factors:
        out = out * shape[k] + levels[k]
    return out


def steps(levels: int) -> Array:
    """(k - 1, k): each level against the next."""
    return np.eye(levels)[:-1] - np.eye(levels)[1:]


def against_reference(levels: int, reference: int) -> Array:
    """(k - 1, k): each other level minus the reference, in the levels' order."""
    eye = np.eye(levels)
    where = _level(reference, levels)
    others = [level for level in range(levels) if level != where]
    product: Array = eye[others] - eye[where]
    return product


def all_pairs(levels: int) -> Array:
    """(k (k - 1)/2, k): level j minus level i for all i < j."""
    eye = np.eye(levels)
    rows = [eye[j] - eye[i] for i in range(levels) for j in range(i + 1, levels)]
    return np.array(rows)


def _level(level: int, levels: int) -> int:
    if not 0 <= level < levels:
        raise ValueError(f"level {level} of {levels}")
    return level
