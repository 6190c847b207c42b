"""Power where arms of one fate are common, beside a simulation written out apart.

Three blocks, one arm near all alive: in one season of six to two of three an arm loses no
plant, and there the one-sided bound gives the verdict. The rule is written out from its
description in plain numpy and scipy: dispersion of units beside the plants' own scatter
(Agresti & Caffo 2000), and for arms of one fate the exact one-sided limit at
n / (1 + (m - 1) rho) plants beside the logit limit of the other arm, their distances added
as squares (Newcombe 1998; Zou & Donner 2008). A simulation without the bound's verdict
comes out lower: 0.27 instead of 0.47 in the first setting, 0.26 instead of 0.30 in the last.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

import wickstats as ws
from wickstats.design.read import parse_trial

SEASONS = 20_000
TRIAL = """\
format: 1
trial: {id: near-all, season: {start: 2027-04-01, end: 2027-09-30}}
factors: {way: [{name: can, reference: true}, {name: pot}]}
design:
  {type: randomized complete block, blocks: BLOCKS, plants_per_plot: PLANTS, layout: l.csv}
responses: [{name: lives, kind: survival, at: 2027-09-30, better: more}]
plan: {primary: lives, comparisons: [{factor: way, compare: each with the reference}]}
power:
  assume:
    lives: {alive_at_end: {can: LOW, pot: HIGH}, plot_correlation: RHO, block_correlation: 0}
"""
Flags = np.ndarray


def alive_of(p: tuple[float, float], b: int, m: int, rho: float) -> np.ndarray:
    """(S, b, 2) plants alive: plots' chances are beta."""
    rng = np.random.default_rng(20270904)
    a, share = (1 - rho) / rho, np.array(p)
    return rng.binomial(m, rng.beta(share * a, (1 - share) * a, size=(SEASONS, b, 2)))


def dispersion(alive: np.ndarray, m: int) -> tuple[np.ndarray, np.ndarray]:
    """phi of the units (0 where shares cannot tell), and its df."""
    b, share = alive.shape[1], alive.mean(axis=1) / m
    gap = (alive[..., 1] - alive[..., 0]) / m
    rss = 0.5 * np.sum((gap - gap.mean(axis=1, keepdims=True)) ** 2, axis=1)
    d = share * (1 - share) / m
    first, some = 0.5 * (b - 1) * d.sum(axis=1), d.sum(axis=1) > 0
    # M = (I - J/b) x (I - J/2): tr(MDMD) = (b - 1)(d1 + d2)^2/4, whatever the two are
    df = np.full(len(alive), float(b - 1))
    return np.where(some, rss / np.where(some, first, 1.0), 0.0), df


def shown_by_interval(alive: np.ndarray, m: int) -> Flags:
    n = alive.shape[1] * m
    share = alive.mean(axis=1) / m
    phi, df = dispersion(alive, m)
    v = share * (1 - share)
    of_units = stats.t.ppf(0.975, df) * np.sqrt(phi * v.sum(axis=1) / n)
    # plants that shared one fate count for fewer
    like = np.clip((phi - 1) / (m - 1), 0.1, 1.0)[:, None]
    part = np.where(v > 0, 1.0, 1 / (1 + like * (m - 1)))
    center = (part * n * share + 1) / (part * n + 2)
    own = center * (1 - center) / part / n
    own_df = (n - 1) * own.sum(axis=1) ** 2 / np.sum(own**2, axis=1)
    of_plants = stats.t.ppf(0.975, own_df) * np.sqrt(own.sum(axis=1))
    return np.abs(share[:, 1] - share[:, 0]) > np.maximum(of_units, of_plants)


def side(x: np.ndarray, m: int, rho: np.ndarray) -> tuple[np.ndarray, ...]:
    """One-sided limits at 95 % of an arm: (S, b) plants alive."""
    b = x.shape[1]
    n, total = b * m, x.sum(axis=1)
    left = total[:, None] - x
    others = np.log((left + 0.5) / (n - m - left + 0.5))
    apart = np.sum((others - others.mean(axis=1, keepdims=True)) ** 2, axis=1)
    half = np.maximum(
        stats.t.ppf(0.95, b - 1) * np.sqrt((b - 1) / b * apart),
        stats.norm.ppf(0.95) * np.sqrt(1 / (total + 0.5) + 1 / (n - total + 0.5)),
    )
    middle = np.log((total + 0.5) / (n - total + 0.5))
    low, high = 1 / (1 + np.exp(half - middle)), 1 / (1 + np.exp(-half - middle))
    limit = 0.05 ** ((1 + (m - 1) * rho) / n)
    low = np.where(total == n, limit, np.where(total == 0, 0.0, low))
    high = np.where(total == 0, 1 - limit, np.where(total == n, 1.0, high))
    return total / n, low, high


def shown_by_bound(alive: np.ndarray, m: int, planned: float) -> Flags:
    phi, _ = dispersion(alive, m)
    rho = np.clip((phi - 1) / (m - 1), max(0.1, planned), 1.0)
    (p, p_low, p_high), (q, q_low, q_high) = (side(alive[..., k], m, rho) for k in (1, 0))
    low = p - q - np.hypot(p - p_low, q_high - q)
    high = p - q + np.hypot(p_high - p, q - q_low)
    return (low > 0) | (high < 0)


@pytest.mark.parametrize(
    ("p", "blocks", "plants", "rho", "lower_by"),
    [
        ((0.60, 0.97), 3, 8, 0.1, 0.18),
        ((0.80, 0.97), 3, 6, 0.1, 0.03),
        ((0.50, 0.90), 3, 12, 0.2, 0.03),
    ],
)
def test_power_holds_the_verdict_of_the_bound(
    p: tuple[float, float], blocks: int, plants: int, rho: float, lower_by: float
) -> None:
    alive = alive_of(p, blocks, plants, rho)
    total = alive.sum(axis=1)
    one = ((total == 0) | (total == blocks * plants)).any(axis=1)
    alone = shown_by_interval(alive, plants)
    both = np.where(one, shown_by_bound(alive, plants, rho), alone)
    text = TRIAL.replace("BLOCKS", str(blocks)).replace("PLANTS", str(plants))
    text = text.replace("LOW", str(p[0])).replace("HIGH", str(p[1])).replace("RHO", str(rho))
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    asked = ws.power(trial, seasons=SEASONS).questions
    assert asked is not None
    claim = asked.chances[0]
    for told, reached in ((claim.shown, both.mean()), (claim.one_fate, one.mean())):
        assert told is not None
        error = np.sqrt(2 * reached * (1 - reached) / SEASONS)
        assert abs(told - reached) < 4 * error, (told, reached)
    # without the bound the chance would be another
    assert claim.shown - alone.mean() > lower_by, (claim.shown, alone.mean())
