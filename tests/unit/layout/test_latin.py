"""Latin squares: counted, equally likely up to order 6, squares above it."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import letters, trial_of

from wickstats.layout.latin import LISTED, Square, draw_square, reduced_squares
from wickstats.layout.randomize import randomize
from wickstats.layout.stream import Stream

# reduced squares of orders 1 to 6 (Fisher & Yates 1934; from memory)
REDUCED = {1: 1, 2: 1, 3: 1, 4: 4, 5: 56, 6: 9408}


def is_latin(square: Square) -> bool:
    every = set(range(len(square)))
    return all(set(line) == every for line in (*square, *zip(*square, strict=True)))


@pytest.mark.parametrize("order", REDUCED)
def test_reduced_squares_are_all_there(order: int) -> None:
    squares = reduced_squares(order)
    assert len(squares) == len(set(squares)) == REDUCED[order]
    first = tuple(range(order))
    assert all(s[0] == first and tuple(r[0] for r in s) == first for s in squares)
    assert all(is_latin(square) for square in squares[::17])


def test_all_576_squares_of_order_4_are_equally_likely() -> None:
    stream = Stream(4, "squares")
    draws = 576 * 40
    counts = Counter(draw_square(4, stream) for _ in range(draws))
    assert len(counts) == 576  # all of order 4: 4! 3! 4 (from memory)
    chi2 = sum((n - 40) ** 2 / 40 for n in counts.values())
    assert 451.2 < chi2 < 688.3  # chi-square, 575 df, lower and upper 0.05 % (with scipy)


def test_reduced_squares_of_order_5_and_cells_of_order_6_are_equally_likely() -> None:
    stream = Stream(5, "squares")
    counts: Counter[Square] = Counter()
    for _ in range(5600):
        square = draw_square(5, stream)
        columns = sorted(range(5), key=lambda j: square[0][j])
        rows = sorted(square, key=lambda row: row[columns[0]])
        counts[tuple(tuple(row[j] for j in columns) for row in rows)] += 1
    assert len(counts) == 56
    assert sum((n - 100) ** 2 / 100 for n in counts.values()) < 93.2  # 55 df, upper 0.1 %
    cells: Counter[tuple[int, int, int]] = Counter()
    for _ in range(1200):
        for i, row in enumerate(draw_square(6, stream)):
            cells.update((i, j, symbol) for j, symbol in enumerate(row))
    # every symbol in every place about 200 of 1200 times; binomial SD 12.9, 216 places
    assert all(
        abs(cells[i, j, s] - 200) < 60 for i in range(6) for j in range(6) for s in range(6)
    )


@given(st.integers(2, 11), st.integers(0, 2**40))
def test_every_draw_is_a_square(order: int, seed: int) -> None:
    assert is_latin(draw_square(order, Stream(seed, "layout")))


def test_the_chain_above_order_6_leaves_the_cyclic_class() -> None:
    """The cyclic square of order 7, where the walk begins, holds no 2 x 2 subsquare.

    (i + j = k + m and i + m = k + j mod 7 give 2(i - k) = 0, so i = k.)
    """
    assert LISTED == 6
    stream = Stream(7, "squares")
    assert sum(subsquares(draw_square(7, stream)) > 0 for _ in range(20)) >= 18


def subsquares(square: Square) -> int:
    n = range(len(square))
    return sum(
        square[i][j] == square[k][m] and square[i][m] == square[k][j]
        for i in n
        for k in range(i)
        for j in n
        for m in range(j)
    )


@pytest.mark.parametrize("order", [1, 41])
def test_orders_outside_are_refused(order: int) -> None:
    with pytest.raises(ValueError, match="orders 2 to 40"):
        draw_square(order, Stream(1, "layout"))


def test_each_square_of_a_layout_is_latin_and_its_own() -> None:
    trial = trial_of("type: Latin square, squares: 3", factors=letters(5))
    layout = randomize(trial, seed=8)
    assert len(layout.plots) == 75
    drawn = []
    for square in "123":
        held = [p for p in layout.plots if p.square == square]
        for line in ("row", "column"):
            seen = Counter((getattr(p, line), p.treatment) for p in held)
            assert len(seen) == 25
        drawn.append("".join(p.treatment for p in held))
    assert len(set(drawn)) == 3


def test_a_factorial_in_a_square_with_reservoirs() -> None:
    factors = "water: [a, b], shelter: [c, d]"
    trial = trial_of("type: Latin square, plots_per_reservoir: {a: 2}", factors=factors)
    layout = randomize(trial, seed=1)
    assert len(layout.plots) == 8 * 2 + 8
    assert len(set(layout.unit_of.values())) == 16
    for unit in layout.shared_reservoirs:
        fed = [p for p in layout.plots if p.reservoir == unit]
        assert len({(p.row, p.column, p.treatment) for p in fed}) == 1
