"""Layouts of a scheme, statistics of many layouts, and what is said when there is none."""

import numpy as np
import pytest

from wickstats.models.linear.strata import fit_units
from wickstats.models.redraw.pairs import redraw_pair, sign_flip
from wickstats.models.redraw.scheme import (
    all_layouts,
    count_layouts,
    generator,
    sample_layouts,
)
from wickstats.models.redraw.statistic import estimates, f_statistics, lay_stratum
from wickstats.models.redraw.terms import (
    redraw_term,
    whole_plot_values,
)

ARGS = {"seed": 7, "stream": "test"}


def test_all_layouts_of_three_treatments_in_two_blocks():
    labels, blocks = np.tile([0, 1, 2], 2), np.repeat([0, 1], 3)
    found = all_layouts(labels, blocks)
    assert len(found) == count_layouts(labels, blocks) == 36
    assert len(np.unique(found, axis=0)) == 36
    assert (np.sort(found.reshape(36, 2, 3), axis=2) == [0, 1, 2]).all()


def test_repeated_labels_count_once():
    assert count_layouts([0, 0, 1, 1]) == 6
    assert len(all_layouts([0, 0, 1, 1])) == 6
    assert count_layouts(np.repeat([0, 1, 2], 4)) == 34650


def test_samples_keep_the_labels_of_each_block_and_reach_every_layout_evenly():
    labels, blocks = np.array([0, 1, 2, 0, 1, 2]), np.array([0, 1, 0, 1, 0, 1])
    found = sample_layouts(labels, blocks, 36_000, generator(5, "even"))
    rows, counts = np.unique(found, axis=0, return_counts=True)
    assert len(rows) == count_layouts(labels, blocks) == 36
    # chi-square on 35 df, upper 0.001 point 66.6
    assert np.sum((counts - 1000) ** 2 / 1000) < 66.6
    assert (np.sort(rows[:, blocks == 0], axis=1) == [0, 1, 2]).all()


def test_streams_are_told_apart_and_repeat():
    first = generator(1, "a").random(3)
    assert (first == generator(1, "a").random(3)).all()
    assert (first != generator(1, "b").random(3)).all()


def _slow_f(y, cells, blocks, rows):
    """F of the contrasts from two least-squares fits."""
    x = np.column_stack([cells == c for c in range(rows.shape[1])]).astype(float)
    x = np.hstack([x, np.column_stack([blocks == b for b in np.unique(blocks)])])
    coefficients, *_ = np.linalg.lstsq(x, y, rcond=None)
    rss = np.sum((y - x @ coefficients) ** 2)
    full = np.hstack([rows, np.zeros((len(rows), x.shape[1] - rows.shape[1]))])
    effect = full @ coefficients
    middle = full @ np.linalg.pinv(x.T @ x) @ full.T
    q = np.linalg.matrix_rank(middle)
    df = len(y) - np.linalg.matrix_rank(x)
    return effect @ np.linalg.pinv(middle) @ effect / q / (rss / df)


@pytest.mark.parametrize("lost", [[], [4], [0, 7, 13]])
def test_f_of_each_layout_is_that_of_least_squares(lost):
    rng = np.random.default_rng(3)
    cells, blocks = np.tile(np.arange(4), 5), np.repeat(np.arange(5), 4)
    y, gone = rng.normal(size=20), np.isin(np.arange(20), lost)
    # main effect of the first factor of a 2 x 2 factorial
    rows = np.array([[0.5, 0.5, -0.5, -0.5]])
    stratum = lay_stratum(y, cells, rows, blocks, gone)
    layouts = sample_layouts(cells, blocks, 30, generator(1, "f"))
    found = f_statistics(stratum, layouts)
    slow = [_slow_f(y[~gone], lay[~gone], blocks[~gone], rows) for lay in layouts]
    np.testing.assert_allclose(found, slow, rtol=1e-9)
    pair = lay_stratum(y, cells, [[1, 0, -1, 0]], blocks, gone)
    fits = [
        fit_units(y[~gone], lay[~gone], 4, blocks=blocks[~gone])
        .contrast([1, 0, -1, 0])
        .estimate
        for lay in layouts
    ]
    np.testing.assert_allclose(estimates(pair, layouts), np.abs(fits), rtol=1e-9)


def test_exact_p_counts_the_layouts():
    y, cells = np.array([5.1, 6.2, 9.9, 4.0, 8.8, 12.1]), np.tile([0, 1, 2], 2)
    blocks = np.repeat([0, 1], 3)
    found = redraw_term(y, cells, blocks=blocks, **ARGS)
    slow = [
        _slow_f(y, lay, blocks, np.array([[-1, 1, 0], [-1, 0, 1.0]]))
        for lay in all_layouts(cells, blocks)
    ]
    observed = _slow_f(y, cells, blocks, np.array([[-1, 1, 0], [-1, 0, 1.0]]))
    assert found.p == np.mean(np.array(slow) >= observed * (1 - 1e-9))
    assert (found.total, found.kind) == (36, "exact")
    assert found.smallest_possible_p == pytest.approx(6 / 36)


def test_sampled_p_is_close_to_the_exact_one():
    rng = np.random.default_rng(0)
    y = rng.normal(size=12) + np.tile([0, 0, 1.5], 4)
    cells, blocks = np.tile([0, 1, 2], 4), np.repeat(np.arange(4), 3)
    exact = redraw_term(y, cells, blocks=blocks, **ARGS)
    stratum_sizes = exact.total
    assert stratum_sizes == 1296
    draws = sample_layouts(cells, blocks, 10_000, generator(1, "x"))
    stratum = lay_stratum(y, cells, None, blocks, None)
    observed = f_statistics(stratum, cells[None, :])[0]
    sampled = np.mean(f_statistics(stratum, draws) >= observed * (1 - 1e-9))
    assert abs(sampled - exact.p) < 4 * np.sqrt(exact.p * (1 - exact.p) / 10_000)


def test_many_layouts_are_sampled_with_the_observed_one_counted():
    rng = np.random.default_rng(0)
    y, cells = rng.normal(size=24), np.tile(np.arange(4), 6)
    found = redraw_term(y + 100 * cells, cells, blocks=np.repeat(np.arange(6), 4), **ARGS)
    assert (found.kind, found.total, found.p) == ("sampled", 10_000, 1 / 10_001)
    again = redraw_term(y + 100 * cells, cells, blocks=np.repeat(np.arange(6), 4), **ARGS)
    assert found == again


def test_pair_leaves_other_arms_and_lost_units_in_place():
    y = np.array([1.0, 5, 9, 2, 6, np.nan, 3, 4, 8])
    cells, blocks = np.tile([0, 1, 2], 3), np.repeat([0, 1, 2], 3)
    lost = np.isnan(y)
    seen = []

    def statistic(layouts):
        seen.append(layouts.copy())
        return np.abs(layouts[:, 0] - 0.5)

    redraw_pair(y, cells, (0, 1), blocks=blocks, lost=lost, statistic=statistic, **ARGS)
    layouts = seen[-1]
    assert layouts.shape == (8, 9)
    assert (layouts[:, cells == 2] == 2).all()


def test_unequal_numbers_of_a_pair():
    # 2 of 3 positions in each of two blocks: 3^2 arrangements
    found = redraw_pair(
        [1, 2, 9, 1.5, 2.5, 8], [0, 0, 1, 0, 0, 1], (0, 1), blocks=[0, 0, 0, 1, 1, 1], **ARGS
    )
    assert (found.total, found.p) == (9, 1 / 9)


def test_restrictions_keep_the_completed_layout_allowed():
    y, cells, blocks = np.arange(6.0), np.tile([0, 1, 2], 2), np.repeat([0, 1], 3)

    def allowed(layouts):
        return layouts[:, 0] != layouts[:, 3] + 1  # an arbitrary rule

    found = redraw_term(y, cells, blocks=blocks, allowed=allowed, **ARGS)
    assert found.total == int(np.sum(allowed(all_layouts(cells, blocks))))
    with pytest.raises(ValueError, match="not among the allowed"):
        redraw_term(
            y, cells, blocks=blocks, allowed=lambda x: np.zeros(len(x), dtype=bool), **ARGS
        )


def test_what_cannot_be_redrawn_is_said_in_words():
    none = redraw_term(
        [1.0, 2, 3, 4], [0, 1, 0, 1], blocks=[0, 0, 1, 1], lost=[1, 1, 1, 0], **ARGS
    )
    assert (none.kind, none.p) == ("none", None)
    assert "cannot be estimated" in none.reason
    error = redraw_term([1.0, 2], [0, 1], **ARGS)
    assert "no degrees of freedom" in error.reason
    single = redraw_pair([1.0, 2, 3, 4], [0, 1, 2, 2], (0, 1), blocks=[0, 1, 0, 1], **ARGS)
    assert single.kind == "none"
    assert "no other layout" in single.reason


def test_layouts_without_an_estimate_are_left_out_and_told():
    # three of six are lost: 2 of the 20 layouts would have put one arm on just these
    y, cells, lost = [0.0, 2, 0, 0, 5, 6], [0, 1, 0, 1, 0, 1], [1, 0, 1, 1, 0, 0]
    found = redraw_pair(y, cells, (0, 1), lost=lost, **ARGS)
    assert (found.kind, found.total) == ("exact", 18)
    # |5 - 4| at most: kept 2, 5, 6 as 2|5 6 (3.5), 2 5|6 (2.5), 2 6|5 (1), each 3 times a side
    assert found.p == 1.0
    assert found.smallest_possible_p == pytest.approx(6 / 18)
    assert found.reason.startswith("10.0")


def test_no_other_layout_with_an_estimate_leaves_nothing_to_say():
    # two blocks of two, one whole block lost but for one unit each way round
    found = redraw_pair(
        [1.0, 2, 0, 0], [0, 1, 0, 1], (0, 1), blocks=[0, 0, 1, 1], lost=[0, 0, 1, 1], **ARGS
    )
    assert found.p == 1.0  # both orders can be estimated and are alike
    alone = redraw_pair([1.0, 2, 0], [0, 1, 0], (0, 1), lost=[0, 0, 1], **ARGS)
    # 1 0 0 and 0 1 0 can be estimated, 0 0 1 cannot
    assert (alone.total, alone.p) == (2, 1.0)


def test_a_term_that_most_layouts_confound_is_judged_among_those_that_do_not():
    """Uniform p over the layouts with an estimate: the test keeps its size."""
    rng = np.random.default_rng(11)
    blocks = [0, 0, 1, 1, 2, 2, 3, 3]
    cells = [0, 1, 0, 1, 2, 3, 2, 3]  # half of the differences lie between blocks
    rows = np.array([[1.0, -1.0, 0.0, 0.0]])
    small = 0
    for _ in range(400):
        y = rng.normal(size=8)
        found = redraw_term(y, cells, rows, blocks=blocks, **ARGS)
        small += found.p is not None and found.p <= 0.25
    assert small / 400 < 0.25 + 4 * np.sqrt(0.25 * 0.75 / 400)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"values": [1.0, np.nan, 2, 3]}, "no finite value"),
        ({"values": [1.0, 2]}, "same length"),
        ({"cells": [0, -1, 0, 1]}, "negative"),
        ({"contrasts": [[1.0, 1.0]]}, "sum to zero"),
        ({"contrasts": [[1.0]]}, "one finite weight a cell"),
        ({"lost": [True]}, "one flag a unit"),
        ({"blocks": [0, 1]}, "group codes"),
    ],
)
def test_bad_input(change, says):
    given = {"values": [1.0, 2, 3, 4], "cells": [0, 1, 0, 1]} | change
    with pytest.raises(ValueError, match=says):
        redraw_term(**given, **ARGS)


def test_pair_and_signs_refuse_nonsense():
    with pytest.raises(ValueError, match="two different arms"):
        redraw_pair([1.0, 2], [0, 1], (0, 0), **ARGS)
    with pytest.raises(ValueError, match="finite numbers"):
        sign_flip([1.0, np.nan], **ARGS)


def _split_plot():
    rng = np.random.default_rng(11)
    blocks = np.repeat(np.arange(4), 6)
    whole = np.tile(np.repeat([0, 1], 3), 4)
    plots = blocks * 2 + whole
    sub = np.tile(np.arange(3), 8)
    y = rng.normal(size=24) + rng.normal(size=8)[plots] + 0.5 * sub
    return y, plots, whole, sub, blocks


def test_whole_plots_are_redrawn_with_their_sub_plots():
    y, plots, whole, sub, blocks = _split_plot()
    values, _ = whole_plot_values(y, plots, sub)
    found = redraw_term(values, whole[::3], blocks=blocks[::3], **ARGS)
    means = np.array([y[plots == p].mean() for p in range(8)])
    direct = redraw_pair(
        means, np.tile([0, 1], 4), (0, 1), blocks=np.repeat(range(4), 2), **ARGS
    )
    assert found.total == 16
    assert found.p == direct.p


def test_whole_plot_values_are_adjusted_for_lost_sub_plots():
    _, plots, _, sub, _ = _split_plot()
    additive = plots * 10.0 + sub
    lost = np.zeros(24, dtype=bool)
    lost[[0, 4]] = True
    values, empty = whole_plot_values(additive, plots, sub, lost)
    np.testing.assert_allclose(values, np.arange(8) * 10.0 + 1.0, atol=1e-9)
    assert not empty.any()


def test_sub_plot_labels_move_inside_whole_plots():
    y, plots, whole, sub, _ = _split_plot()
    rows = np.array([[1, -1, 0, 1, -1, 0], [1, 0, -1, 1, 0, -1.0]]) / 2
    cells = 3 * whole + sub
    found = redraw_term(y, cells, rows, blocks=plots, **ARGS)
    assert (found.kind, found.total) == ("sampled", 10_000)
    few = plots < 4
    small = redraw_term(y[few], cells[few], rows, blocks=plots[few], **ARGS)
    assert (small.kind, small.total) == ("exact", 6**4)
