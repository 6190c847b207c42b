"""Redraws of whole layouts: Latin squares, moves of blocks and arrays, F with fixed parts."""

from itertools import permutations, product

import numpy as np
import pytest

from wickstats.models.linear.contrasts import steps, term_rows
from wickstats.models.linear.strata import fit_units
from wickstats.models.redraw.fixed import f_statistics, lay_fixed
from wickstats.models.redraw.latin import (
    all_squares,
    count_squares,
    reduced_squares,
    sample_squares,
    turned_squares,
)
from wickstats.models.redraw.moves import (
    Relabel,
    all_outcomes,
    arrays_move,
    blocks_move,
    count_outcomes,
    relabelings,
    replicates_move,
    sample_outcomes,
    singles,
)
from wickstats.models.redraw.scheme import generator
from wickstats.models.redraw.whole import latin_scheme, moves_scheme, redraw_whole


def is_latin(squares):
    order = squares.shape[1]
    wanted = np.arange(order)
    rows = (np.sort(squares, axis=2) == wanted).all()
    return bool(rows and (np.sort(squares, axis=1) == wanted[:, None]).all())


def test_numbers_of_latin_squares():
    # reduced 1, 1, 4, 56, 9408; all 12, 576, 161 280 (from memory)
    assert [len(reduced_squares(k)) for k in (2, 3, 4, 5, 6)] == [1, 1, 4, 56, 9408]
    assert [count_squares(k) for k in (3, 4, 5)] == [12, 576, 161_280]
    for order in (3, 4):
        every = all_squares(order)
        assert is_latin(every)
        assert len(np.unique(every.reshape(len(every), -1), axis=0)) == count_squares(order)


def test_squares_of_order_four_are_drawn_evenly():
    drawn = sample_squares(4, 57_600, generator(3, "even")).reshape(-1, 16)
    assert is_latin(drawn.reshape(-1, 4, 4))
    counts = np.unique(drawn, axis=0, return_counts=True)[1]
    assert counts.size == 576
    # chi-square on 575 df: mean 575, standard deviation 33.9; five of them each side
    chi = float(np.sum((counts - 100.0) ** 2) / 100.0)
    assert abs(chi - 575) < 5 * np.sqrt(2 * 575)


@pytest.mark.parametrize("order", [5, 6])
def test_larger_squares_are_latin_and_places_even(order):
    drawn = sample_squares(order, 6_000, generator(1, "larger"))
    assert is_latin(drawn)
    share = (drawn == 0).mean(axis=0)
    assert np.abs(share - 1 / order).max() < 5 * np.sqrt((order - 1) / order**2 / 6_000)


def test_turned_squares_stay_latin():
    start = (np.arange(8)[:, None] + np.arange(8)) % 8
    assert is_latin(turned_squares(start, 200, generator(1, "turned")))


def test_blocks_and_what_stands_inside_move():
    # two blocks of two among two of three: 2! 2! ways for the blocks, then 2! 2! 3! 3! inside
    blocks = np.array([0, 0, 1, 1, 2, 2, 2, 3, 3, 3])
    cells = np.array([0, 1, 0, 2, 0, 1, 2, 1, 2, 3])
    steps_taken = [*blocks_move(blocks), *singles(blocks)]
    assert count_outcomes(steps_taken) == 2 * 2 * 2 * 2 * 6 * 6
    every = all_outcomes(cells, steps_taken)
    assert len(every) == count_outcomes(steps_taken)
    sets = {frozenset(cells[blocks == b]) for b in range(4)}
    for layout in every[::7]:
        assert {frozenset(layout[blocks == b]) for b in range(4)} == sets
        assert len(layout[blocks == 0]) == 2
    drawn = sample_outcomes(cells, steps_taken, 4_000, generator(2, "moves"))
    rows = {tuple(row) for row in every.tolist()}
    assert {tuple(row) for row in drawn.tolist()} <= rows
    assert abs((drawn[:, 0] == 0).mean() - 0.5) < 5 * 0.5 / np.sqrt(4_000)


def test_replicates_move_block_for_block():
    replicate = np.repeat([0, 1], 6)
    blocks = np.repeat([0, 1, 2, 3], 3)
    cells = np.array([0, 1, 2, 3, 4, 5, 0, 3, 4, 1, 2, 5])
    for layout in all_outcomes(cells, replicates_move(blocks, replicate)):
        assert {frozenset(layout[blocks == b]) for b in range(4)} == {
            frozenset(cells[blocks == b]) for b in range(4)
        }
        assert set(layout[:6]) == set(range(6))


def test_rows_and_columns_move_as_wholes():
    row, column = (part.ravel() for part in np.indices((2, 3)))
    cells = np.array([0, 1, 2, 2, 0, 1])
    every = all_outcomes(cells, arrays_move(row, column, np.zeros(6, dtype=int)))
    assert len(every) == 2 * 6
    table = cells.reshape(2, 3)
    wanted = {
        tuple(table[list(r)][:, list(c)].ravel().tolist())
        for r, c in product(permutations(range(2)), permutations(range(3)))
    }
    assert {tuple(layout) for layout in every.tolist()} == wanted
    assert arrays_move(row[:5], column[:5], np.zeros(5, dtype=int)) is None


def test_only_treatments_of_one_number_change_names():
    cells = np.array([0, 0, 0, 1, 2, 3])
    (names,) = relabelings(cells, 4)
    assert isinstance(names, Relabel)
    assert names.codes.tolist() == [1, 2, 3]
    every = all_outcomes(cells, [names])
    assert len(every) == 6
    assert (every[:, :3] == 0).all()


@pytest.mark.parametrize("lost", [(), (3, 11)])
def test_statistic_is_the_f_of_the_first_line(lost):
    rng = np.random.default_rng(len(lost))
    row, column = (part.ravel() for part in np.indices((4, 4)))
    values, layouts = rng.normal(size=16), sample_squares(4, 40, rng).reshape(40, 16)
    gone = np.isin(np.arange(16), lost)
    marks = np.hstack([np.eye(4)[row], np.eye(4)[column]])
    part = lay_fixed(values, layouts[0], steps(4), marks, gone, 4)
    found = f_statistics(part, layouts)
    for layout, f in zip(layouts, found, strict=True):
        fit = fit_units(
            values[~gone], layout[~gone], 4, blocks=[row[~gone], column[~gone]]
        )  # fmt: skip
        assert f == pytest.approx(fit.test(steps(4)).f, rel=1e-8)


def test_interaction_where_strips_cross_is_that_of_the_first_line():
    rng = np.random.default_rng(4)
    block, a, b = (part.ravel() for part in np.indices((3, 3, 2)))
    row, column = block * 3 + a, block * 2 + b
    cells, values = a * 2 + b, rng.normal(size=18)
    rows = term_rows((3, 2), (0, 1))
    marks = np.hstack([np.eye(9)[row], np.eye(6)[column]])
    part = lay_fixed(values, cells, rows, marks, None, 6)
    fit = fit_units(values, cells, 6, blocks=[row, column])
    assert f_statistics(part, cells[None])[0] == pytest.approx(fit.test(rows).f, rel=1e-9)


def test_exact_p_of_a_latin_square_counts_all_of_them():
    # brute force over the 12 squares of order 3, twice, by ordinary fits
    rng = np.random.default_rng(9)
    row, column = (part.ravel() for part in np.indices((6, 3)))
    square = row // 3
    col = square * 3 + column
    one = all_squares(3).reshape(12, 9)
    layouts = np.array([np.concatenate([p, q]) for p in one for q in one])
    cells, values = layouts[17], rng.normal(size=18)
    fs = np.array(
        [fit_units(values, c, 3, blocks=[row, col]).test(steps(3)).f for c in layouts]
    )
    spots = [np.arange(9).reshape(3, 3), 9 + np.arange(9).reshape(3, 3)]
    found = redraw_whole(
        values, cells, None, latin_scheme(cells, spots),
        fixed=np.hstack([np.eye(6)[row], np.eye(6)[col]]), n_cells=3, seed=1, stream="s",
    )  # fmt: skip
    assert (found.kind, found.total) == ("exact", 144)
    assert found.p == pytest.approx((fs >= fs[17] * (1 - 1e-9)).mean())


def test_restrictions_are_kept():
    blocks = np.repeat(np.arange(4), 3)
    cells = np.array([0, 1, 2, 0, 1, 3, 0, 2, 3, 1, 2, 3])

    def first_is_low(layouts):
        return layouts[:, 0] <= 1

    steps_taken = [*blocks_move(blocks), *singles(blocks)]
    every = all_outcomes(cells, steps_taken)
    found = redraw_whole(
        np.arange(12.0) ** 1.5, cells, None, moves_scheme(cells, steps_taken),
        fixed=np.eye(4)[blocks], n_cells=4, seed=1, stream="s", allowed=first_is_low,
    )  # fmt: skip
    assert found.kind == "exact"
    assert found.total == int(first_is_low(every).sum())


def test_null_p_values_of_squares_are_even():
    # under the null hypothesis the exact p is at most 5 % in at most 5 % of layouts
    rng = np.random.default_rng(0)
    row, column = (part.ravel() for part in np.indices((4, 4)))
    values = rng.normal(size=16)
    layouts = all_squares(4).reshape(576, 16)
    marks = np.hstack([np.eye(4)[row], np.eye(4)[column]])
    f = f_statistics(lay_fixed(values, layouts[0], None, marks, None, 4), layouts)
    p = np.array([(f >= one * (1 - 1e-9)).mean() for one in f])
    for level in (0.05, 0.1, 0.25, 0.5):
        assert (p <= level).mean() <= level
