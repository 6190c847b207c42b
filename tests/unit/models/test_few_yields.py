"""Bounds of an arm that bears in fewer than two blocks: numbers, honesty, refusals."""

from math import exp, sqrt

import numpy as np
import pytest
from scipy.stats import beta

from wickstats.models.ratios.few import arm_bound, bearing_limit, pair_bound, totals_of
from wickstats.models.ratios.sums import log_ratio_of_sums

BLOCKS = np.tile(np.arange(6), 2)
ARMS = np.repeat([0, 1], 6)
MANY = [5.0, 6.0, 4.0, 5.0, 7.0, 5.0]


def test_limit_of_bearing_blocks_is_clopper_and_pearsons():
    # none of b: 1 - alpha^(1/b), closed form (Clopper & Pearson 1934), computed
    for blocks in range(1, 11):
        assert bearing_limit(0, blocks, 0.95) == pytest.approx(1 - 0.05 ** (1 / blocks), 1e-12)
    # one of b: quantile of the beta distribution (scipy.stats), computed
    for blocks in range(2, 11):
        wanted = beta.ppf(0.975, 2, blocks - 1)
        assert bearing_limit(1, blocks, 0.975) == pytest.approx(wanted, rel=1e-10)
    assert bearing_limit(3, 3, 0.95) == 1.0


def test_bounds_of_an_arm_without_any_yield_by_hand():
    totals = totals_of([0.0] * 6 + MANY, np.full(12, 20.0), ARMS, BLOCKS)
    arm = arm_bound(totals, 0, confidence=0.95)
    assert arm is not None
    assert (arm.estimate, arm.bearing, arm.blocks) == (0.0, 0, 6)
    assert arm.high == pytest.approx((1 - 0.05 ** (1 / 6)) * 7.0 / 20.0, rel=1e-12)
    pair = pair_bound(totals, (0, 1), confidence=0.95)
    other = log_ratio_of_sums(
        MANY, [1] * 6, arms=(1,), water=[20.0] * 6, blocks=range(6), confidence=0.95
    )
    assert pair is not None
    assert other.low is not None
    wanted = (1 - 0.025 ** (1 / 6)) * 7.0 / 20.0 / exp(other.low)
    assert pair.high == pytest.approx(wanted, rel=1e-12)
    assert pair.estimate == 0.0
    assert pair.low is None
    assert pair.first


def test_swapping_arms_turns_the_bound_and_units_of_measure_do_not_matter():
    yields = np.array([0.0, 0, 0, 0.4, 0, 0, *MANY])
    water = np.array([10.0, 12, 9, 11, 10, 10, 20, 21, 19, 22, 18, 20])
    there = pair_bound(totals_of(yields, water, ARMS, BLOCKS), (0, 1), confidence=0.9)
    turned = pair_bound(totals_of(yields, water, ARMS, BLOCKS), (1, 0), confidence=0.9)
    grams = pair_bound(
        totals_of(1000 * yields, water / 1000, ARMS, BLOCKS), (0, 1), confidence=0.9
    )
    assert there is not None
    assert turned is not None
    assert grams is not None
    assert there.high is not None
    assert turned.low is not None
    assert turned.low == pytest.approx(1 / there.high, rel=1e-12)
    assert turned.high is None
    assert not turned.first
    assert there.estimate is not None
    assert turned.estimate is not None
    assert turned.estimate == pytest.approx(1 / there.estimate, rel=1e-12)
    assert grams.high == pytest.approx(there.high, rel=1e-12)
    assert there.high > there.estimate


def test_no_bound_without_two_blocks_of_yield_somewhere_and_none_where_none_is_needed():
    both = totals_of([0.0] * 5 + [1.0] + [0.0] * 6, np.ones(12), ARMS, BLOCKS)
    found = pair_bound(both, (0, 1), confidence=0.95)
    assert found is not None
    assert found.low is None
    assert found.high is None
    assert found.reason is not None
    assert "fewer than two blocks" in found.reason
    arm = arm_bound(both, 0, confidence=0.95)
    assert arm is not None
    assert arm.high is None
    assert "fewer than three units" in str(arm.reason)
    full = totals_of([*MANY, *MANY], np.ones(12), ARMS, BLOCKS)
    assert pair_bound(full, (0, 1), confidence=0.95) is None
    assert arm_bound(full, 1, confidence=0.95) is None
    dry = totals_of([0.0] * 6 + MANY, [0.0] * 6 + [9.0] * 6, ARMS, BLOCKS)
    found = pair_bound(dry, (0, 1), confidence=0.95)
    assert found is not None
    assert found.high is None
    assert "water" in str(found.reason)
    with pytest.raises(ValueError, match="not negative"):
        totals_of([-1.0], [1.0], [0], None)
    with pytest.raises(ValueError, match="bearing"):
        bearing_limit(4, 3, 0.95)


# blocks, chance that a unit bears in each arm, coefficient of variation where it bears
SEASONS = [(3, 0.6, 1.0, 0.8), (4, 0.5, 0.5, 0.8), (6, 0.4, 0.7, 0.8), (8, 0.2, 1.0, 0.3)]


@pytest.mark.parametrize(("blocks", "one", "other", "cv"), SEASONS)
def test_bounds_are_conservative_in_simulated_seasons(blocks, one, other, cv):
    """Bounds miss the true value in at most 5 % of seasons, plus four standard errors.

    Units bear or not; where they bear, lognormal with blocks of SD 0.3 on the log scale.
    Without a true difference the verdict is wrong at most as often.
    """
    stream = np.random.default_rng(20250317 + blocks)
    seasons, sd = 1000, sqrt(np.log(1 + cv * cv))
    arms, block = np.repeat([0, 1], blocks), np.tile(np.arange(blocks), 2)
    missed_pair = missed_arm = told = 0
    for _ in range(seasons):
        bears = stream.random(2 * blocks) < np.where(arms == 0, one, other)
        if bears[arms == 0].sum() >= 2:
            continue
        site = stream.normal(0.0, 0.3, blocks)[block]
        size = np.exp(site + stream.normal(-sd * sd / 2, sd, 2 * blocks))
        totals = totals_of(bears * size, np.ones(2 * blocks), arms, block)
        arm = arm_bound(totals, 0, confidence=0.95)
        pair = pair_bound(totals, (0, 1), confidence=0.95)
        if arm is not None and arm.high is not None:
            missed_arm += arm.high < one * exp(0.045)
        if pair is not None and pair.high is not None:
            missed_pair += pair.high < one / other
            told += pair.high < 1.0
    most = 0.05 + 4 * sqrt(0.05 * 0.95 / seasons)
    assert missed_pair / seasons <= most
    assert missed_arm / seasons <= most
    assert told / seasons <= most or one < other
