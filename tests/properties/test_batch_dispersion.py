"""Shares and restricted means of many seasons at once are those of single seasons."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.batch.dispersion import (
    judge_restricted_means,
    judge_scores,
    judge_shares,
)
from wickstats.models.batch.layout import lay_batch
from wickstats.models.batch.results import Answers, Judged
from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.dispersion import fit_restricted_means, fit_shares
from wickstats.models.linear.estimates import Estimate
from wickstats.models.linear.scores import fit_scores
from wickstats.models.linear.strata import UnitFit

SEASONS = 6
TIMES = np.array([5.0, 15.0, 25.0, 30.0])
CLOSE = {"rtol": 1e-10, "atol": 1e-10}


def same(many: Answers, s: int, k: int, one: Estimate) -> None:
    for name in ("estimate", "se", "df", "low", "high", "p"):
        value = getattr(one, name)
        expected = np.nan if value is None else value
        np.testing.assert_allclose(getattr(many, name)[s, k], expected, err_msg=name, **CLOSE)
    assert many.judged[s, k] == (one.p is not None)


def all_same(many: Judged, s: int, fit: UnitFit, contrasts: np.ndarray) -> None:
    t = fit.geometry.n_cells
    for k, weights in enumerate(contrasts):
        same(many.contrasts, s, k, fit.contrast(weights))
    for k, weights in enumerate(np.eye(t)):
        same(many.means, s, k, fit.mean(weights))
    p = fit.test(steps(t)).p
    np.testing.assert_allclose(many.p_all[s], np.nan if p is None else p, **CLOSE)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    blocks=st.integers(2, 4),
    arms=st.integers(2, 4),
    level=st.sampled_from([0.1, 0.5, 0.9, 0.99]),
    uneven=st.booleans(),
    lost=st.booleans(),
)
def test_many_seasons_are_single_ones(
    seed: int, blocks: int, arms: int, level: float, uneven: bool, lost: bool
) -> None:
    rng = np.random.default_rng(seed)
    cells, block = np.tile(np.arange(arms), blocks), np.repeat(np.arange(blocks), arms)
    if lost and blocks > 2:
        cells, block = cells[1:], block[1:]
    n = cells.size
    plants = rng.integers(1, 7, size=n) if uneven else np.full(n, 4)
    shares = np.array([(1.0 - level) / 3.0] * 3 + [level])
    counts = np.array([[rng.multinomial(m, shares) for m in plants] for _ in range(SEASONS)])
    if seed % 3 == 0:  # an arm in which all lived
        counts[:, cells == 0] = plants[cells == 0][:, None] * np.array([0, 0, 0, 1])
    contrasts = np.array([np.eye(arms)[0] - np.eye(arms)[k] for k in (1, arms - 1)])
    layout = lay_batch(cells, arms, contrasts=contrasts, means=np.eye(arms), blocks=block)
    alive = counts[:, :, 3].astype(float)
    by_share = judge_shares(layout, alive, plants.astype(float))
    by_time = judge_restricted_means(layout, counts, TIMES, 30.0)
    for s in range(SEASONS):
        all_same(
            by_share, s, fit_shares(alive[s], plants, cells, arms, blocks=block), contrasts
        )
        times = np.concatenate([np.repeat(TIMES, row) for row in counts[s]])
        one = fit_restricted_means(
            counts[s] @ TIMES / plants,
            plants,
            cells,
            arms,
            plant_times=times,
            plant_cells=np.repeat(cells, plants),
            full_time=30.0,
            blocks=block,
        )
        all_same(by_time, s, one, contrasts)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    blocks=st.integers(2, 4),
    arms=st.integers(2, 4),
    uneven=st.booleans(),
)
def test_scores_of_many_seasons_are_single_ones(
    seed: int, blocks: int, arms: int, uneven: bool
) -> None:
    rng = np.random.default_rng(seed)
    cells, block = np.tile(np.arange(arms), blocks), np.repeat(np.arange(blocks), arms)
    n = cells.size
    plants = rng.integers(1, 7, size=n).astype(float) if uneven else np.full(n, 4.0)
    values = rng.integers(-2, 3, size=(SEASONS, n)).astype(float)
    variance = rng.random((SEASONS, 1)) * plants
    values[:2] = 0.0  # units agree
    variance[1] = 0.0  # no deaths
    contrasts = np.array([np.eye(arms)[0] - np.eye(arms)[1]])
    layout = lay_batch(cells, arms, contrasts=contrasts, blocks=block)
    many = judge_scores(layout, values, plants, variance)
    for s in range(SEASONS):
        one = fit_scores(
            values[s], cells, arms, plants=plants, plant_variance=variance[s], blocks=block
        )
        same(many.contrasts, s, 0, one.contrast(contrasts[0]))
        p = one.test(steps(arms)).p
        np.testing.assert_allclose(many.p_all[s], np.nan if p is None else p, **CLOSE)
