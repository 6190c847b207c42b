"""Which stratum holds which part of a contrast of cells.

A treatment term belongs to the first stratum that holds all its factors; a contrast of cells
is the sum of its terms' parts (Nelder 1965, Proc. R. Soc. A 283:147, 163). Leans on numpy.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from wickstats.models.linear.estimates import Array

Term = tuple[int, ...]


def first_holding(factors: Sequence[tuple[int, ...]], term: Term) -> int:
    """Position of the first stratum whose factors hold the whole term."""
    return next(k for k, held in enumerate(factors) if set(term) <= set(held))


def split_matrices(
    shape: Sequence[int], factors: Sequence[tuple[int, ...]], *, main_effects: bool = False
) -> tuple[Array, ...]:
    """(t_k, t) of each stratum: weights of all cells to weights of its own cells.

    The projection on the stratum's terms, summed over the factors it does not see; with
    ``main_effects`` no interaction is a term.
    """
    count = len(shape)
    out = [np.zeros((int(np.prod(shape)), int(np.prod(shape)))) for _ in factors]
    for order in range((1 if main_effects else count) + 1):
        for term in combinations(range(count), order):
            part: Array = np.ones((1, 1))
            for k, levels in enumerate(shape):
                level = np.full((levels, levels), 1.0 / levels)
                factor = np.eye(levels) - level if k in term else level
                part = np.asarray(np.kron(part, factor), dtype=float)
            out[first_holding(factors, term)] += part
    summed = []
    for held, projector in zip(factors, out, strict=True):
        reduce: Array = np.ones((1, 1))
        for k, levels in enumerate(shape):
            factor = np.eye(levels) if k in held else np.ones((1, levels))
            reduce = np.asarray(np.kron(reduce, factor), dtype=float)
        summed.append(reduce @ projector)
    return tuple(summed)
