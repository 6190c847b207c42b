"""Several classifications and several error strata, against textbook loops and statsmodels."""

import numpy as np
import pytest

from wickstats.core.words import say
from wickstats.models.linear.anova import error_strata_table, strata_table
from wickstats.models.linear.contrasts import level_contrast, mean_weights, term_rows
from wickstats.models.linear.error_strata import (
    ErrorStrataFit,
    ErrorStratum,
    fit_error_strata,
)
from wickstats.models.linear.strata import fit_units
from wickstats.second.classical import (
    balanced_incomplete,
    latin_squares,
    split_plots,
    strip_plot,
)


def squares(order, count, seed):
    """Cells, squares, nested rows and columns, values."""
    rng = np.random.default_rng(seed)
    square, row, column = (part.ravel() for part in np.indices((count, order, order)))
    cells = np.concatenate(
        [
            rng.permutation(order)[
                (np.arange(order)[:, None] + rng.permutation(order)) % order
            ].ravel()
            for _ in range(count)
        ]
    )
    values = rng.normal(size=square.size) + 2 * row + square - column + cells
    return cells, square, square * order + row, square * order + column, values


@pytest.mark.parametrize(("order", "count"), [(3, 3), (4, 1), (5, 2)])
def test_latin_squares_against_loops_over_means(order, count):
    cells, square, row, column, values = squares(order, count, order)
    fit = fit_units(values, cells, order, blocks=[square, row, column])
    ours = strata_table(fit, [("treatment", order)], blocks=("square", "row", "column"))
    theirs = latin_squares(
        values, cells.tolist(), row.tolist(), column.tolist(), square.tolist()
    )
    assert [(r.source, r.df) for r in ours] == [(r.source, r.df) for r in theirs]
    for a, b in zip(ours, theirs, strict=True):
        assert a.sum_of_squares == pytest.approx(b.sum_of_squares, rel=1e-9)
        assert (a.f is None) == (b.f is None)
        if b.f is not None:
            assert (a.f, a.p) == pytest.approx((b.f, b.p), rel=1e-8)


def test_mean_in_a_latin_square_holds_rows_and_columns():
    # variance components of rows and columns from their mean squares (Henderson 1953):
    # Var(mean) = (MS_row + MS_column + (p - 2) MS_error)/p^2
    cells, _, row, column, values = squares(5, 1, 3)
    fit = fit_units(values, cells, 5, blocks=[row, column])
    rows = {r.source: r for r in strata_table(fit, [("t", 5)], blocks=("row", "column"))}
    parts = [
        (rows["row"].mean_square, 4),
        (rows["column"].mean_square, 4),
        (3 * rows["residual"].mean_square, 12),
    ]
    found = fit.mean(mean_weights((5,), {0: 2}))
    total = sum(v for v, _ in parts)
    assert found.se == pytest.approx(np.sqrt(total) / 5)
    assert found.df == pytest.approx(total**2 / sum(v**2 / df for v, df in parts))
    assert found.estimate == pytest.approx(values[cells == 2].mean())


@pytest.mark.parametrize("seed", range(4))
def test_rows_and_columns_with_gaps_are_least_squares(seed):
    import statsmodels.api as sm

    cells, _, row, column, values = squares(5, 1, seed)
    keep = np.random.default_rng(seed).permutation(25) >= 4
    fit = fit_units(values[keep], cells[keep], 5, blocks=[row[keep], column[keep]])
    x = np.column_stack([np.eye(5)[cells], np.eye(5)[row][:, 1:], np.eye(5)[column][:, 1:]])
    theirs = sm.OLS(values[keep], x[keep]).fit()
    found = fit.contrast([1, 0, 0, -1, 0])
    t = theirs.t_test([1, 0, 0, -1, 0] + [0] * 8)
    assert (found.estimate, found.se) == pytest.approx((t.effect[0], t.sd[0][0]), rel=1e-9)
    assert found.df == theirs.df_resid
    assert strata_table(fit, [("treatment", 5)], blocks=("row", "column")) is None


def test_balanced_incomplete_blocks_by_totals():
    # t = 7, b = 7, k = 3, lambda = 1 (ASTM E1325-16 names the identities)
    sets = [(k % 7, (k + 1) % 7, (k + 3) % 7) for k in range(7)]
    block = np.repeat(np.arange(7), 3)
    cells = np.array(sets).ravel()
    values = np.random.default_rng(2).normal(size=21) + block
    fit = fit_units(values, cells, 7, blocks=block)
    ours = strata_table(fit, [("treatment", 7)], all_there=True)
    theirs = balanced_incomplete(values, cells.tolist(), block.tolist())
    for a, b in zip(ours, theirs, strict=True):
        assert (a.df, a.sum_of_squares) == pytest.approx((b.df, b.sum_of_squares), rel=1e-9)
    # a pair: 2 k/(lambda t) times the error (Yates 1936)
    pair = fit.contrast([1, -1, 0, 0, 0, 0, 0])
    assert pair.se**2 == pytest.approx(2 * 3 / (1 * 7) * fit.residual_ms)


def split_split(seed, shape=(2, 2, 3), blocks=4):
    rng = np.random.default_rng(seed)
    b, a, c, d = (part.ravel() for part in np.indices((blocks, *shape)))
    whole = b * shape[0] + a
    plot = whole * shape[1] + c
    values = rng.normal(size=b.size) + 3 * rng.normal(size=99)[whole]
    values += 2 * rng.normal(size=99)[plot] + b
    strata = [
        ErrorStratum("whole plot", whole, (0,), (b,)),
        ErrorStratum("plot", plot, (0, 1), (whole,)),
        ErrorStratum("subplot", np.arange(b.size), (0, 1, 2), (plot,)),
    ]
    cells = (a * shape[1] + c) * shape[2] + d
    return values, cells, strata, {"block": b, "A": a, "B": c, "C": d}


def same_lines(ours, theirs):
    assert [(r.stratum, r.source, r.df) for r in ours] == [
        (r.stratum, r.source, r.df) for r in theirs
    ]
    for a, b in zip(ours, theirs, strict=True):
        assert a.sum_of_squares == pytest.approx(b.sum_of_squares, rel=1e-9, abs=1e-9)
        if b.f is not None:
            assert a.f == pytest.approx(b.f, rel=1e-8)


@pytest.mark.parametrize("seed", range(3))
def test_split_split_plots_against_loops_over_means(seed):
    values, cells, strata, by = split_split(seed)
    fit = fit_error_strata(values, cells, (2, 2, 3), strata)
    assert isinstance(fit, ErrorStrataFit)
    factors = {name: by[name].tolist() for name in "ABC"}
    tiers = [("whole plot", ("A",)), ("plot", ("B",)), ("subplot", ("C",))]
    theirs = split_plots(values, by["block"].tolist(), factors, tiers)
    same_lines(error_strata_table(fit, ["A", "B", "C"]), theirs)
    assert fit.residuals.sum() == pytest.approx(0, abs=1e-9)


def strips(seed, shape=(3, 2), blocks=4):
    rng = np.random.default_rng(seed)
    b, a, c = (part.ravel() for part in np.indices((blocks, *shape)))
    row, column = b * shape[0] + a, b * shape[1] + c
    values = rng.normal(size=b.size) + 2 * rng.normal(size=99)[row]
    values += 2 * rng.normal(size=99)[column] + 3 * b
    strata = [
        ErrorStratum("row strip", row, (0,), (b,)),
        ErrorStratum("column strip", column, (1,), (b,)),
        ErrorStratum("plot", np.arange(b.size), (0, 1), (row, column)),
    ]
    return values, a * shape[1] + c, strata, (b, a, c)


@pytest.mark.parametrize("seed", range(3))
def test_strip_plots_against_loops_over_means(seed):
    values, cells, strata, (b, a, c) = strips(seed)
    fit = fit_error_strata(values, cells, (3, 2), strata)
    theirs = strip_plot(values, b.tolist(), a.tolist(), c.tolist(), ("A", "B"))
    same_lines(error_strata_table(fit, ["A", "B"]), theirs)


def test_strip_plot_contrasts_across_strata():
    # Cochran & Cox (1957), section 7.3: two rows at one column level, variance
    # 2 [(b - 1) E_c + E_a]/(b r), E_a of row strips and E_c of plots
    values, cells, strata, _ = strips(7)
    fit = fit_error_strata(values, cells, (3, 2), strata)
    found = fit.contrast(level_contrast((3, 2), 0, [1, -1, 0], {1: 1}))
    e_a, e_c = fit.mean_square(0), fit.mean_square(2)
    assert found.se**2 == pytest.approx(2 * (e_c + e_a) / (2 * 4))
    assert found.df == pytest.approx((e_c + e_a) ** 2 / (e_c**2 / 6 + e_a**2 / 6))
    mean = fit.mean(mean_weights((3, 2), {1: 0}))
    e_b = fit.mean_square(1)
    blocks = error_strata_table(fit, ["A", "B"])[0].mean_square
    assert mean.se**2 == pytest.approx((blocks + e_b) / (4 * 3 * 2))


def test_a_lost_plot_is_refused_in_words_and_a_lost_block_is_not():
    values, cells, strata, (b, _, _) = strips(1)
    for keep, refused in ((np.arange(24) != 5, True), (b != 2, False)):
        left = [
            ErrorStratum(s.name, s.units[keep], s.factors, tuple(w[keep] for w in s.within))
            for s in strata
        ]
        made = fit_error_strata(values[keep], cells[keep], (3, 2), left)
        assert (made == say("linear split-plot gaps")) == refused


def test_terms_that_mix_strata_have_no_exact_test():
    values, cells, strata, _ = strips(1)
    fit = fit_error_strata(values, cells, (3, 2), strata)
    with pytest.raises(ValueError, match="mix the strata"):
        fit.test(np.vstack([term_rows((3, 2), (0,)), term_rows((3, 2), (1,))]))


def test_the_guard_by_plants_works_in_every_stratum():
    values, cells, strata, _ = split_split(5)
    plants = np.random.default_rng(5).integers(1, 9, values.size).astype(float)
    plain = fit_error_strata(values, cells, (2, 2, 3), strata)
    guarded = fit_error_strata(values, cells, (2, 2, 3), strata, plants=plants)
    for factor in range(3):
        levels = (2, 2, 3)[factor]
        weights = level_contrast((2, 2, 3), factor, [1, -1] + [0] * (levels - 2))
        a, b = plain.contrast(weights), guarded.contrast(weights)
        assert a.estimate == pytest.approx(b.estimate)
        assert b.high - b.low >= (a.high - a.low) * (1 - 1e-12)
    # the same number everywhere changes nothing
    same = fit_error_strata(values, cells, (2, 2, 3), strata, plants=np.full(values.size, 4.0))
    weights = level_contrast((2, 2, 3), 1, [1, -1])
    assert same.contrast(weights) == plain.contrast(weights)
