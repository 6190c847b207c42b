"""Integer codes of groups: numbered densely, combined, and told apart by what they hold.

Everything is counting (``bincount`` and look-ups), so that a file of many rows costs a few
passes over it; sorting is left to codes that are far from dense. Leans on numpy.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Codes = NDArray[np.intp]

# A look-up table may be this many times longer than the rows it serves.
LOOSE = 4
# Below this many entries a look-up table is always taken.
SHORT = 4096
# Whole numbers up to here are exact in floating point.
EXACT_BITS = 52
# Seed of the fixed numbers by which contents and rows are told apart.
DRAW = 2**31 - 1


def number_codes(code: NDArray[np.int_]) -> tuple[Codes, int]:
    """Number the distinct values of ``code`` (n,) from 0 in their order: (n,), how many."""
    plain = np.asarray(code)
    low = int(plain.min())
    span = int(plain.max()) - low + 1
    if span > LOOSE * len(plain) + SHORT:
        _, inverse = np.unique(plain, return_inverse=True)
        return np.asarray(inverse, dtype=np.intp), int(inverse.max()) + 1
    moved = (
        plain.astype(np.intp, copy=False) - low if low else plain.astype(np.intp, copy=False)
    )
    present = np.bincount(moved, minlength=span) > 0
    if present.all():
        return moved, span
    place = np.cumsum(present) - 1
    return place[moved], int(place[-1]) + 1


def combine_codes(one: Codes, n_one: int, other: Codes, n_other: int) -> tuple[Codes, int]:
    """Number the distinct pairs of two dense codings: (n,) and how many.

    Where one coding is nested in the other it is the answer as it stands.
    """
    if n_one == 1:
        return other, n_other
    if n_other == 1:
        return one, n_one
    if n_one >= n_other and is_nested(one, n_one, other):
        return one, n_one
    if n_other > n_one and is_nested(other, n_other, one):
        return other, n_other
    return number_codes(one * n_other + other)


def is_nested(inner: Codes, n_inner: int, outer: Codes) -> bool:
    """Whether each group of ``inner`` lies within one group of ``outer``."""
    parent = np.empty(n_inner, dtype=np.intp)
    parent[inner] = outer
    return bool(np.array_equal(parent[inner], outer))


def level_codes(codes: Sequence[NDArray[np.int_]], n: int) -> tuple[Codes, int]:
    """Number the distinct combinations of several codings: (n,) from 0, and how many."""
    combined, count = np.zeros(n, dtype=np.intp), 1
    for column in codes:
        combined, count = combine_codes(combined, count, *number_codes(column))
    return combined, count


def first_rows(label: Codes, groups: int) -> Codes:
    """Index of the first row of each group."""
    first = np.empty(groups, dtype=np.intp)
    first[label[::-1]] = np.arange(len(label) - 1, -1, -1, dtype=np.intp)
    return first


def components(terms: Sequence[Codes], counts: Sequence[int], n: int) -> tuple[Codes, int]:
    """Number the sets of rows (n,) that no term links with one another."""
    comp = np.arange(n, dtype=np.intp)
    while True:
        before = comp
        for code, levels in zip(terms, counts, strict=True):
            least = np.full(levels, n, dtype=np.intp)
            np.minimum.at(least, code, comp)
            comp = least[code]
        if np.array_equal(before, comp):
            return number_codes(comp)


def contents(
    label: Codes, groups: int, held: Codes, n_held: int, kind: Codes
) -> tuple[Codes, int]:
    """Number the groups (groups,) by what they hold: equal number, equal multiset.

    Parameters
    ----------
    label
        (n,) group of each row.
    held, n_held
        (n,) dense codes of what a row holds.
    kind
        (groups,) further code that must agree.

    Notes
    -----
    Multisets are told apart by a sum of fixed pseudo-random whole numbers, one for each
    code (exact in floating point), so that the rows need not be sorted. Two different ones
    may in principle have the same sum; the caller compares what the groups hold.
    """
    size = np.bincount(label, minlength=groups)
    bits = EXACT_BITS - int(size.max()).bit_length()
    drawn = np.random.default_rng(DRAW).integers(1, 2**bits, size=n_held).astype(float)
    sums = np.bincount(label, weights=drawn[held], minlength=groups)
    _, number = np.unique(sums, return_inverse=True)
    number = np.asarray(number, dtype=np.intp)
    found = int(number.max()) + 1
    for code in (kind, size):
        number, found = combine_codes(number, found, *number_codes(code))
    return number, found


def distinct_rows(X: Array) -> tuple[Codes, Array]:
    """Codes (n,) and the distinct rows of X (n, p), so that X = rows[codes].

    Rows are matched by a fixed pseudo-random projection and then compared in full; where
    the projection misleads, every row stands for itself.
    """
    n, p = X.shape
    if p == 0:
        return np.zeros(n, dtype=np.intp), np.zeros((1, 0))
    weights = np.random.default_rng(DRAW).uniform(1.0, 2.0, p)
    _, codes = np.unique(X @ weights, return_inverse=True)
    codes = np.asarray(codes, dtype=np.intp)
    rows = X[first_rows(codes, int(codes.max()) + 1)]
    if 2 * len(rows) > n or not np.array_equal(rows[codes], X):
        return np.arange(n, dtype=np.intp), X
    return codes, rows
