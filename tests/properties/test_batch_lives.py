"""Scores and re-randomizations of many seasons at once are those of single seasons."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.batch.dispersion import judge_scores
from wickstats.models.batch.layout import lay_batch
from wickstats.models.batch.lives import lay_redraws, redraw_seasons, score_seasons
from wickstats.models.lifetimes.scores import (
    aligned_scores,
    plant_scores,
    unit_score_variances,
    unit_scores,
)
from wickstats.models.linear.contrasts import all_pairs, steps
from wickstats.models.linear.scores import fit_scores_twice
from wickstats.models.redraw.terms import redraw_term

CLOSE = {"rtol": 1e-10, "atol": 1e-10}


def draw_counts(rng, seasons, m, visits, risk):
    """Plants (S, n) that die, get lost or live on at each of the visits."""
    left = np.broadcast_to(m, (seasons, m.size)).copy()
    deaths = np.zeros((seasons, m.size, visits))
    lost = np.zeros_like(deaths)
    for k in range(visits):
        deaths[:, :, k] = rng.binomial(left, risk)
        left = left - deaths[:, :, k].astype(int)
        if k < visits - 1:
            lost[:, :, k] = rng.binomial(left, 0.1)
            left = left - lost[:, :, k].astype(int)
    return deaths, lost


def plants_of(deaths, lost, m):
    """Lows, highs and units of single plants; visits on days 1, 2, ..."""
    visits = deaths.shape[1]
    low, high, unit = [], [], []
    for j in range(m.size):
        ends = [(k, k + 1.0) for k in range(visits) for _ in range(int(deaths[j, k]))]
        ends += [(k + 1, np.inf) for k in range(visits) for _ in range(int(lost[j, k]))]
        ends += [(visits, np.inf)] * (int(m[j]) - len(ends))
        low += [float(e[0]) for e in ends]
        high += [float(e[1]) for e in ends]
        unit += [j] * len(ends)
    return np.array(low), np.array(high), np.array(unit)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    blocks=st.integers(1, 4),
    arms=st.integers(2, 4),
    visits=st.integers(1, 6),
    risk=st.sampled_from([0.0, 0.05, 0.3, 1.0]),
    losing=st.booleans(),
)
def test_scores_of_many_seasons_are_single_ones(seed, blocks, arms, visits, risk, losing):
    rng = np.random.default_rng(seed)
    block = np.repeat(np.arange(blocks), arms)
    m = rng.integers(1, 7, size=block.size)
    deaths, lost = draw_counts(rng, 3, m, visits, risk)
    if not losing:
        lost[:] = 0.0
    found = score_seasons(deaths, m, block, lost=lost if losing else None)
    for s in range(3):
        low, high, unit = plants_of(deaths[s], lost[s], m)
        scores = plant_scores(low, high, block[unit])
        sums = -unit_scores(scores, unit, m.size)
        np.testing.assert_allclose(found.scores[s], sums, **CLOSE)
        spread = unit_score_variances(scores, unit, m.size, block[unit])
        np.testing.assert_allclose(found.plant_variance[s], spread, **CLOSE)
        beside = aligned_scores(low, high, block[unit])
        sums = -unit_scores(beside, unit, m.size)
        np.testing.assert_allclose(found.aligned[s], sums, **CLOSE)
        spread = unit_score_variances(beside, unit, m.size, block[unit])
        np.testing.assert_allclose(found.aligned_variance[s], spread, **CLOSE)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    blocks=st.integers(2, 5),
    arms=st.integers(2, 4),
    gap=st.booleans(),
    blocked=st.booleans(),
)
def test_redraws_of_many_seasons_are_single_ones(seed, blocks, arms, gap, blocked):
    rng = np.random.default_rng(seed)
    cells, block = np.tile(np.arange(arms), blocks), np.repeat(np.arange(blocks), arms)
    if gap and blocks > 2:  # a plot that was never laid out
        cells, block = cells[1:], block[1:]
    group = block if blocked else None
    # few values, so that layouts tie
    values = rng.integers(-2, 3, size=(4, cells.size)).astype(float)
    redraws = lay_redraws(cells, group, seed=seed, stream="term", draws=300)
    found = redraw_seasons(redraws, values)
    for s in range(4):
        one = redraw_term(values[s], cells, blocks=group, seed=seed, stream="term", draws=300)
        assert one.total == redraws.total
        assert found[s] == pytest.approx(one.p, rel=1e-10)


def test_strata_of_scores_are_single_ones():
    rng = np.random.default_rng(5)
    cells, block = np.tile(np.arange(4), 6), np.repeat(np.arange(6), 4)
    m = np.full(24, 8)
    deaths, _ = draw_counts(rng, 5, m, 6, 0.08)
    found = score_seasons(deaths, m, block)
    layout = lay_batch(cells, 4, contrasts=all_pairs(4), blocks=block)
    aligned = (found.aligned, found.aligned_variance)
    once = judge_scores(layout, found.scores, found.plants, found.plant_variance)
    judged = judge_scores(
        layout, found.scores, found.plants, found.plant_variance, aligned=aligned
    )
    for s in range(5):
        fit = fit_scores_twice(
            (found.scores[s], found.plant_variance[s]),
            (found.aligned[s], found.aligned_variance[s]),
            cells,
            4,
            plants=m,
            blocks=block,
        )
        assert judged.p_all[s] == pytest.approx(fit.test(steps(4)).p, rel=1e-10)
    assert (judged.p_all >= once.p_all).all()
    assert (judged.p_all > once.p_all).any()


@pytest.mark.parametrize(
    ("deaths", "plants", "message"),
    [
        (np.zeros((2, 3)), [4, 4, 4], "seasons x units x visits"),
        (np.full((1, 2, 2), 3.0), [4, 4], "no more than the plants"),
        (np.full((1, 2, 2), -1.0), [4, 4], "at least 0"),
        (np.zeros((1, 2, 2)), [4, 0], "every unit needs plants"),
    ],
)
def test_counts_that_cannot_be_are_refused(deaths, plants, message):
    with pytest.raises(ValueError, match=message):
        score_seasons(deaths, plants)


def test_a_design_without_another_layout_or_error_is_refused():
    with pytest.raises(ValueError, match="no other layout"):
        lay_redraws([0, 0, 0], seed=1, stream="a")
    with pytest.raises(ValueError, match="no degrees of freedom"):
        lay_redraws([0, 1], [0, 0], seed=1, stream="a")
