"""Latin squares at random: uniform over all squares up to order 6.

A square is reduced when its first row and first column are in order. Every square comes
from exactly one reduced square by one order of the columns and one order of the rows below
the first: bring the first row into order by the columns, then the first column by the
other rows, and no choice was left. So a reduced square drawn evenly from all of its order
(1, 1, 1, 4, 56, 9408 for orders 1 to 6; Fisher & Yates 1934, from memory), an even order of
the columns and an even order of the rows below the first make every square equally likely:
n! (n - 1)! reduced squares' worth, 576 of order 4, 161,280 of order 5.

Above order 6 nobody lists the squares. There the Markov chain of Jacobson & Matthews (1996,
Journal of Combinatorial Designs 4, 405-437; from memory), whose long-run distribution is
uniform, runs order^3 steps from the cyclic square and on to the next proper square; then
rows, columns and treatments are each put into an even random order. Whatever square the
chain gave, all squares that arise from it by such orders are equally likely, which is all
that a test by re-randomization needs. Standard library and our own stream only.
"""

from functools import cache

from wickstats.layout.stream import Stream

Square = tuple[tuple[int, ...], ...]
LISTED = 6
MOST = 40


def draw_square(order: int, stream: Stream) -> Square:
    """A random square: (rows, columns) symbols 0..order - 1 (ValueError outside 2..40)."""
    if not 2 <= order <= MOST:
        raise ValueError(f"squares of orders 2 to {MOST} only")
    if order > LISTED:
        square = _chain(order, stream)
        symbols = stream.shuffled(range(order))
        rows, columns = stream.shuffled(range(order)), stream.shuffled(range(order))
        return tuple(tuple(symbols[square[i][j]] for j in columns) for i in rows)
    squares = reduced_squares(order)
    square = squares[stream.below(len(squares))]
    columns = stream.shuffled(range(order))
    rows = [0, *stream.shuffled(range(1, order))]
    return tuple(tuple(square[i][j] for j in columns) for i in rows)


@cache
def reduced_squares(order: int) -> tuple[Square, ...]:
    """All squares whose first row and column are in order, in order of their rows.

    Orders 1 to 6 (ValueError above).
    """
    if not 1 <= order <= LISTED:
        raise ValueError(f"squares are listed up to order {LISTED}")
    grid = [[-1] * order for _ in range(order)]
    grid[0] = list(range(order))
    in_columns = [1 << j for j in range(order)]
    found: list[Square] = []

    def fill(i: int, j: int, in_row: int) -> None:
        if i == order:
            found.append(tuple(tuple(row) for row in grid))
            return
        if j == order:
            fill(i + 1, 0, 0)
            return
        symbols = (i,) if j == 0 else range(order)
        for symbol in symbols:
            bit = 1 << symbol
            if (in_row | in_columns[j]) & bit:
                continue
            grid[i][j] = symbol
            in_columns[j] |= bit
            fill(i, j + 1, in_row | bit)
            in_columns[j] ^= bit

    fill(1, 0, 0)
    return tuple(found)


def _chain(order: int, stream: Stream) -> Square:
    """Run the chain from the cyclic square; return the proper square it ends at."""
    n = order
    cube = [[[0] * n for _ in range(n)] for _ in range(n)]
    for i in range(n):
        for j in range(n):
            cube[i][j][(i + j) % n] = 1
    wrong: tuple[int, int, int] | None = None
    steps = 0
    while steps < n**3 or wrong is not None:
        if wrong is None:
            cell = (stream.below(n), stream.below(n), stream.below(n))
            if cube[cell[0]][cell[1]][cell[2]]:
                continue
        else:
            cell = wrong
        wrong = _move(cube, cell, stream)
        steps += 1
    return tuple(tuple(line.index(1) for line in plane) for plane in cube)


def _move(
    cube: list[list[list[int]]], cell: tuple[int, int, int], stream: Stream
) -> tuple[int, int, int] | None:
    """One step through ``cell``; the cell that is -1 afterward, or None."""
    i, j, k = cell
    n = range(len(cube))
    # one choice each in a proper square, two at the cell that is -1
    rows = [a for a in n if cube[a][j][k] == 1]
    columns = [b for b in n if cube[i][b][k] == 1]
    symbols = [c for c in n if cube[i][j][c] == 1]
    a, b, c = (line[stream.below(len(line))] for line in (rows, columns, symbols))
    for x, y, z in ((i, j, k), (i, b, c), (a, j, c), (a, b, k)):
        cube[x][y][z] += 1
    for x, y, z in ((a, j, k), (i, b, k), (i, j, c), (a, b, c)):
        cube[x][y][z] -= 1
    return (a, b, c) if cube[a][b][c] < 0 else None
