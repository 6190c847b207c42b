"""Many seasons without interactions at once, held against the single-season code."""

import numpy as np
import pytest

from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.layout import lay_batch, left_over
from wickstats.models.batch.strata import judge_units
from wickstats.models.linear.contrasts import interaction_df, main_effects_space, term_rows
from wickstats.models.linear.geometry import lay_units
from wickstats.models.linear.strata import fit_units
from wickstats.models.ratios.counts import fit_counts

SHAPE = (3, 2)
SPACE = main_effects_space(SHAPE)
CELLS = np.tile(np.arange(6), 4)
BLOCKS = np.repeat(np.arange(4), 6)
ROWS = np.vstack([term_rows(SHAPE, (0,)), term_rows(SHAPE, (1,))])


@pytest.fixture(params=[False, True], ids=["complete", "gaps"])
def kept(request) -> np.ndarray:
    out = np.ones(CELLS.size, dtype=bool)
    if request.param:
        out[[2, 9]] = False
    return out


def laid(kept):
    whole = lay_batch(CELLS, 6, contrasts=ROWS, blocks=BLOCKS, space=SPACE)
    return left_over(whole, kept)


def single(fit, values, kept):
    own = lay_units(CELLS[kept], 6, blocks=BLOCKS[kept], space=SPACE)
    return fit(values, CELLS[kept], 6, geometry=own)


def agree(found, s, one):
    for k, weights in enumerate(ROWS):
        row = one.contrast(weights)
        for name in ("estimate", "se", "df", "low", "high", "p"):
            assert getattr(found.contrasts, name)[s, k] == pytest.approx(
                getattr(row, name), rel=1e-9, abs=1e-12
            )
    assert found.p_all[s] == pytest.approx(one.test(ROWS).p, rel=1e-9)


def test_the_joint_test_of_all_differences_is_that_of_the_main_effects(kept):
    layout = laid(kept)
    assert layout.rank == 3
    assert layout.geometry.df == kept.sum() - 1 - 3 - 3
    values = np.random.default_rng(1).normal(size=(5, int(kept.sum())))
    found = judge_units(layout, values)
    for s in range(5):
        agree(found, s, single(fit_units, values[s], kept))


def test_counts_of_many_seasons(kept):
    layout = laid(kept)
    counts = np.random.default_rng(2).poisson(9.0, size=(5, int(kept.sum())))
    counts[1] = 3 * counts[1]
    counts[2][CELLS[kept] == 3] = 0  # a combination without any
    found = judge_counts(layout, counts)
    for s in range(5):
        agree(found, s, single(fit_counts, counts[s], kept))


def test_a_level_without_any_count_leaves_the_others_their_ratios(kept):
    counts = np.random.default_rng(3).poisson(9.0, size=int(kept.sum()))
    lost = np.isin(CELLS[kept], (2, 3))
    counts[lost] = 0
    fit = single(fit_counts, counts, kept)
    first = np.repeat([-0.5, 0.5, 0.0], 2)
    assert fit.contrast(first).estimate is None
    assert fit.contrast(first).not_estimable
    there = np.flatnonzero(kept)[~lost]
    moved = np.where(CELLS[there] > 3, CELLS[there] - 2, CELLS[there])
    space = main_effects_space((2, 2))
    own = lay_units(moved, 4, blocks=BLOCKS[there], space=space)
    alone = fit_counts(counts[~lost], moved, 4, geometry=own)
    for ours, theirs in (
        (np.repeat([-0.5, 0.0, 0.5], 2), np.repeat([-0.5, 0.5], 2)),
        (np.tile([-1.0, 1.0], 3) / 3, np.tile([-0.5, 0.5], 2)),
    ):
        found = fit.contrast(ours).estimate
        assert found == pytest.approx(alone.contrast(theirs).estimate, rel=1e-9)


@pytest.mark.parametrize(("shape", "df"), [((3, 2), 2), ((2, 2, 2), 4), ((5,), 0)])
def test_degrees_of_freedom_of_interactions(shape, df):
    assert interaction_df(shape) == df
