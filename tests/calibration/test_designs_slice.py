"""A slice of seasons without a difference, one design type after another.

Complete or in one stratum the tests are exact: 5 % within four standard errors. With gaps
in several strata the restricted likelihood may reject less, never more.
"""

from math import sqrt

import numpy as np
import pytest
from scipy.special import fdtrc

from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.error_strata import ErrorStratum, fit_error_strata
from wickstats.models.linear.geometry import Geometry, lay_units
from wickstats.models.redraw.latin import sample_squares

SEASONS = 20_000


def rejected(layout: Geometry, rows, values) -> float:
    """Share of seasons (n, s) in which F of contrasts is above its 5 % point."""
    stack = []
    for weights in np.linalg.svd(rows, full_matrices=False)[2][: np.linalg.matrix_rank(rows)]:
        row, _ = layout.cell_row(weights - weights.mean())
        assert row is not None
        stack.append(row)
    a = np.array(stack)
    effects = a @ values
    explained = np.einsum("qs,qs->s", effects, np.linalg.solve(a @ a.T, effects)) / len(a)
    left = values - layout.basis @ (layout.basis.T @ values)
    residual = (left**2).sum(axis=0) / layout.df
    return float((fdtrc(len(a), layout.df, explained / residual) < 0.05).mean())


def four(seasons: int) -> float:
    return 4.0 * sqrt(0.05 * 0.95 / seasons)


def seasons_of(rng, groups, spread):
    values = rng.normal(size=(len(groups[0]), SEASONS))
    for codes, sd in zip(groups, spread, strict=True):
        values += sd * rng.normal(size=(int(codes.max()) + 1, SEASONS))[codes]
    return values


@pytest.mark.parametrize(("order", "lost"), [(3, 0), (4, 0), (4, 3), (6, 5)])
def test_latin_squares_reject_at_five_percent(order, lost):
    rng = np.random.default_rng(order + lost)
    count = 3 if order == 3 else 1
    square, row, column = (part.ravel() for part in np.indices((count, order, order)))
    cells = sample_squares(order, count, rng).ravel()
    grounds = [square, square * order + row, square * order + column]
    values = seasons_of(rng, grounds, (2.0, 1.0, 1.0))
    keep = rng.permutation(cells.size) >= lost
    layout = lay_units(cells[keep], order, blocks=[g[keep] for g in grounds])
    rate = rejected(layout, term_rows((order,), (0,)), values[keep])
    assert rate == pytest.approx(0.05, abs=four(SEASONS))


@pytest.mark.parametrize("lost", [0, 4])
def test_balanced_incomplete_blocks_reject_at_five_percent(lost):
    rng = np.random.default_rng(lost)
    sets = [(k % 7, (k + 1) % 7, (k + 3) % 7) for k in range(7)]
    cells, block = np.array(sets).ravel(), np.repeat(np.arange(7), 3)
    keep = rng.permutation(21) >= lost
    layout = lay_units(cells[keep], 7, blocks=block[keep])
    values = seasons_of(rng, [block], (1.5,))[keep]
    rows = term_rows((7,), (0,))
    assert rejected(layout, rows, values) == pytest.approx(0.05, abs=four(SEASONS))


def test_every_stratum_of_a_strip_plot_rejects_at_five_percent():
    rng = np.random.default_rng(5)
    b, a, c = (part.ravel() for part in np.indices((4, 3, 3)))
    row, column = b * 3 + a, b * 3 + c
    strata = [
        ErrorStratum("row strip", row, (0,), (b,)),
        ErrorStratum("column strip", column, (1,), (b,)),
        ErrorStratum("plot", np.arange(36), (0, 1), (row, column)),
    ]
    values = seasons_of(rng, [b, row, column], (2.0, 1.0, 0.5))
    fit = fit_error_strata(values[:, 0], a * 3 + c, (3, 3), strata)
    assert not isinstance(fit, str)
    for k, factors in enumerate([(0,), (1,), (0, 1)]):
        units = strata[k].units
        means = np.zeros((int(units.max()) + 1, SEASONS))
        np.add.at(means, units, values)
        part = fit.fits[k]
        rows = term_rows((3, 3), factors) @ fit.splits[k].T
        rate = rejected(part.geometry, rows, means / fit.sizes[k])
        assert rate == pytest.approx(0.05, abs=four(SEASONS)), factors
