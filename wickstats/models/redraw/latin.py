"""Latin squares, each equally likely: all of them up to order 4, sampled up to order 6.

Every Latin square comes from exactly one reduced square (first row and column in order)
by permuting all columns and all rows but the first, so a uniform reduced square and
uniform permutations give a uniform square (Fisher & Yates 1934, Proc. Camb. Phil. Soc.
30:492: reduced squares 1, 4, 56, 9408 of orders 3 to 6). Above order 6 the observed
square's rows, columns and names are permuted: uniform over the squares that this one can
be turned into. Leans on numpy.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import permutations

import numpy as np

from wickstats.models.redraw.scheme import IntArray

MOST_UNIFORM = 6


@lru_cache(maxsize=8)
def reduced_squares(order: int) -> IntArray:
    """(count, order, order) all squares with first row and first column 0, 1, 2, ...

    Raises
    ------
    ValueError
        Above order 6.
    """
    if not 1 <= order <= MOST_UNIFORM:
        raise ValueError(f"reduced squares of order {order} are not listed")
    first = tuple(range(order))
    found = np.array(list(_complete([first], order)), dtype=np.int64)
    found.flags.writeable = False
    return found


def _complete(rows: list[tuple[int, ...]], order: int) -> Iterator[list[tuple[int, ...]]]:
    """Depth first, row by row."""
    if len(rows) == order:
        yield list(rows)
        return
    used = [{row[c] for row in rows} for c in range(order)]
    for row in _rows(len(rows), used, order):
        yield from _complete([*rows, row], order)


def _rows(first: int, used: list[set[int]], order: int) -> Iterator[tuple[int, ...]]:
    def extend(row: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        c = len(row)
        if c == order:
            yield row
            return
        for symbol in range(order):
            if symbol not in used[c] and symbol not in row:
                yield from extend((*row, symbol))

    return extend((first,))


def count_squares(order: int) -> int:
    """Latin squares of that order (up to 6)."""
    return len(reduced_squares(order)) * math.factorial(order) * math.factorial(order - 1)


def all_squares(order: int) -> IntArray:
    """(count, order, order) every Latin square; meant for orders up to 4."""
    reduced = reduced_squares(order)
    return np.concatenate(
        [
            reduced[:, [0, *rest]][:, :, list(columns)]
            for columns in permutations(range(order))
            for rest in permutations(range(1, order))
        ]
    )


def sample_squares(order: int, draws: int, rng: np.random.Generator) -> IntArray:
    """(draws, order, order) Latin squares, each equally likely (up to order 6)."""
    reduced = reduced_squares(order)
    chosen = reduced[rng.integers(0, len(reduced), size=draws)]
    rest = 1 + np.argsort(rng.random((draws, order - 1)), axis=1)
    rows = np.concatenate([np.zeros((draws, 1), dtype=np.int64), rest], axis=1)
    columns = np.argsort(rng.random((draws, order)), axis=1)
    d = np.arange(draws)[:, None, None]
    product: IntArray = chosen[d, rows[:, :, None], columns[:, None, :]]
    return product


def turned_squares(square: IntArray, draws: int, rng: np.random.Generator) -> IntArray:
    """(draws, p, p) the square with rows, columns and names permuted at random."""
    order = len(square)
    rows, columns, names = (np.argsort(rng.random((draws, order)), axis=1) for _ in range(3))
    placed = square[rows[:, :, None], columns[:, None, :]]
    d = np.arange(draws)[:, None, None]
    product: IntArray = names[d, placed].astype(np.int64)
    return product
