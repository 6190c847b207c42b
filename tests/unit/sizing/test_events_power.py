"""Power of shares and counts in closed form beside simulated seasons judged by the rules."""

import math

import numpy as np
import pytest

from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.power import t_detectable, t_power
from wickstats.models.power_events import widest_detectable, widest_power
from wickstats.sizing.assumed import Expected
from wickstats.sizing.events import Events
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import Judged, Precision, detectable, power_of, precision

SEASONS, ROOM = 1500, 0.1
PLAN = Judged("none", 0.95, 0.8)


def _laid(blocks: int, t: int) -> tuple[BatchLayout, np.ndarray, list[np.ndarray], Sizes]:
    cells = np.tile(np.arange(t), blocks)
    rows = np.eye(t)[1:] - np.eye(t)[0]
    layout = lay_batch(cells, t, blocks=np.repeat(np.arange(blocks), t), contrasts=rows)
    names = tuple(f"arm {k}" for k in range(t))
    units, one = np.full(t, blocks), np.ones(t, dtype=np.int64)
    return layout, cells, list(rows), Sizes(names, units, True, None, "blocks", one)


def _near(expected: list[Precision | None], differences: np.ndarray, p: np.ndarray) -> None:
    for k, at in enumerate(expected):
        closed = power_of(float(differences[k]), at)
        achieved = float((np.nan_to_num(p[:, k], nan=1.0) < 0.05).mean())
        room = ROOM + 4.0 * math.sqrt(achieved * (1.0 - achieved) / SEASONS)
        assert closed == pytest.approx(achieved, abs=room)


@pytest.mark.parametrize("correlation", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("shares", [(0.6, 0.9), (0.6, 0.97), (0.5, 0.7, 0.97, 0.3)])
@pytest.mark.parametrize("blocks", [3, 4, 6, 8])
def test_shares(blocks: int, shares: tuple[float, ...], correlation: float) -> None:
    m, p = 8.0, np.array(shares)
    layout, cells, rows, sizes = _laid(blocks, p.size)
    rng = np.random.default_rng(blocks)
    chance = np.broadcast_to(p[cells], (SEASONS, cells.size))
    if correlation:
        size = (1.0 - correlation) / correlation
        chance = rng.beta(chance * size, (1.0 - chance) * size)
    judged = judge_shares(layout, rng.binomial(int(m), chance), np.full(cells.size, m))
    variances = p * (1.0 - p) / m * (1.0 + (m - 1.0) * correlation)
    events = Events(p, np.full(p.size, m))
    what = Expected(p, variances, ratio=False, rule="dispersion", note="", events=events)
    expected = precision(sizes, blocks, what, rows, PLAN)
    _near(expected, np.array(rows) @ p, judged.contrasts.p)


@pytest.mark.parametrize("cv", [0.0, 0.2, 0.4])
@pytest.mark.parametrize("means", [(6.0, 12.0), (30.0, 60.0), (30.0, 40.0, 60.0, 20.0)])
@pytest.mark.parametrize("blocks", [3, 4, 6, 8])
def test_counts(blocks: int, means: tuple[float, ...], cv: float) -> None:
    mu = np.array(means)
    layout, cells, rows, sizes = _laid(blocks, mu.size)
    rng = np.random.default_rng(blocks)
    tau = math.log1p(cv * cv)
    plots = np.exp(rng.normal(-0.5 * tau, math.sqrt(tau), (SEASONS, cells.size)))
    judged = judge_counts(layout, rng.poisson(mu[cells] * plots))
    what = Expected(
        np.log(mu), tau + 1.0 / mu, ratio=True, rule="counts", note="", events=Events(mu)
    )
    expected = precision(sizes, blocks, what, rows, PLAN)
    _near(expected, np.array(rows) @ np.log(mu), judged.contrasts.p)


@pytest.mark.parametrize("df", [2.0, 9.0, 60.0])
def test_without_a_least_half_width_it_is_the_noncentral_t(df: float) -> None:
    for shift in (0.0, 1.0, 3.5):
        plain = t_power(shift, 1.0, df)
        assert widest_power(shift, 1.0, df) == pytest.approx(plain, abs=1e-9)
    assert widest_detectable(1.0, df) == pytest.approx(t_detectable(1.0, df), rel=1e-7)


def test_a_half_width_that_always_wins_is_a_normal_test() -> None:
    # P(|N(3, 1)| > 1.96) with a half-width far above the units' (computed)
    from scipy.stats import norm

    expected = norm.sf(1.96 - 3.0) + norm.cdf(-1.96 - 3.0)
    found = widest_power(3.0, 1.0, 5.0, spread=1e-6, least=1.96)
    assert found == pytest.approx(expected, abs=1e-10)


def test_the_smallest_difference_is_shown_with_the_target() -> None:
    at = Precision(0.1, 4.0, 0.05, spread=0.12, least=0.2)
    smallest = detectable(at, 0.8)
    assert power_of(smallest or 0.0, at) == pytest.approx(0.8, abs=1e-9)
    wider = Precision(0.1, 4.0, 0.05, spread=0.12, least=0.4)
    assert (detectable(wider, 0.8) or 0.0) > (smallest or 1.0)
