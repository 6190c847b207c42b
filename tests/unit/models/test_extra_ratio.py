"""Yield for each extra liter: by hand, by another routine, and whatever the units."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import t as student

from wickstats.models.ratios.extra import FEW, NOT_DEFINED, SAME_WATER, extra_ratio

BLOCKS = np.tile(np.arange(5), 2)
ARMS = np.repeat([0, 1], 5)
ARMS_AGAINST = np.array([1.0, -1.0])
YIELD = np.array([5.2, 4.8, 6.1, 5.5, 5.9, 4.1, 4.0, 4.9, 4.2, 5.3])
WATER = np.array([210.0, 205, 220, 199, 214, 120, 118, 131, 122, 115])


def test_the_ratio_and_its_limits_by_hand():
    found = extra_ratio(YIELD, WATER, ARMS, ARMS_AGAINST, blocks=BLOCKS)
    d_y, d_w = YIELD[:5] - YIELD[5:], WATER[:5] - WATER[5:]
    assert found.ratio == pytest.approx(d_y.mean() / d_w.mean(), rel=1e-12)
    assert (found.df, found.pairs, found.reason) == (4.0, 5, None)
    # limits are the values r at which the paired t test of d_y - r d_w just rejects
    # (Fieller 1954), computed by root finding
    critical = student.ppf(0.975, 4)

    def distance(r):
        rest = d_y - r * d_w
        return abs(rest.mean()) / (rest.std(ddof=1) / sqrt(5)) - critical

    low = brentq(distance, found.ratio - 1.0, found.ratio)
    high = brentq(distance, found.ratio, found.ratio + 1.0)
    assert found.low == pytest.approx(low, rel=1e-8)
    assert found.high == pytest.approx(high, rel=1e-8)
    half = critical * d_w.std(ddof=1) / sqrt(5)
    assert found.water.low == pytest.approx(d_w.mean() - half, rel=1e-12)


def test_planned_water_without_scatter_gives_the_yield_interval_over_the_liters():
    water = np.where(ARMS == 0, 300.0, 100.0)
    found = extra_ratio(YIELD, water, ARMS, ARMS_AGAINST, blocks=BLOCKS)
    assert found.ratio == pytest.approx(found.yields.estimate / 200.0, rel=1e-12)
    assert found.low == pytest.approx(found.yields.low / 200.0, rel=1e-12)


def test_it_is_not_defined_exactly_where_the_extra_water_may_be_none():
    stream = np.random.default_rng(5)
    seen = set()
    for _ in range(200):
        water = 100.0 + 10.0 * stream.normal(size=10) + np.where(ARMS == 0, 12.0, 0.0)
        found = extra_ratio(YIELD, water, ARMS, ARMS_AGAINST, blocks=BLOCKS)
        clear = found.water.low > 0 or found.water.high < 0
        seen.add(clear)
        assert (found.reason is None) == clear
        assert (found.low is not None) == clear
        assert found.reason in (None, NOT_DEFINED)
    assert seen == {True, False}


def test_the_same_water_and_one_block_are_told_apart():
    found = extra_ratio(YIELD, np.full(10, 150.0), ARMS, ARMS_AGAINST, blocks=BLOCKS)
    assert (found.ratio, found.reason) == (None, SAME_WATER)
    one = extra_ratio(
        YIELD[[0, 5]], WATER[[0, 5]], ARMS[[0, 5]], ARMS_AGAINST, blocks=BLOCKS[[0, 5]]
    )
    assert (one.low, one.high, one.reason) == (None, None, FEW)
    assert one.ratio == pytest.approx(1.1 / 90.0)


def test_without_blocks_each_arm_stands_on_its_own_units():
    found = extra_ratio(YIELD, WATER, ARMS, ARMS_AGAINST)
    shuffled = np.r_[np.arange(5)[::-1], np.arange(5, 10)]
    again = extra_ratio(YIELD[shuffled], WATER[shuffled], ARMS, ARMS_AGAINST)
    assert found.df == 4.0
    assert again.low == pytest.approx(found.low, rel=1e-12)
    spread = YIELD[:5].var(ddof=1) / 5 + YIELD[5:].var(ddof=1) / 5
    half = student.ppf(0.975, 4) * sqrt(spread)
    assert found.yields.high - found.yields.estimate == pytest.approx(half, rel=1e-10)


amounts = st.lists(st.floats(0.0, 50.0), min_size=10, max_size=10)


@given(amounts, st.lists(st.floats(1.0, 500.0), min_size=10, max_size=10), st.booleans())
def test_units_of_measure_and_the_order_of_arms_do_not_matter(yields, water, blocked):
    y, w = np.round(np.array(yields), 3), np.round(np.array(water), 2)
    blocks = BLOCKS if blocked else None
    found = extra_ratio(y, w, ARMS, ARMS_AGAINST, blocks=blocks)
    grams = extra_ratio(1000.0 * y, w / 1000.0, ARMS, ARMS_AGAINST, blocks=blocks)
    turned = extra_ratio(y, w, ARMS, -ARMS_AGAINST, blocks=blocks)
    edge = found.water.low is None or min(
        abs(found.water.low), abs(found.water.high)
    ) < 1e-6 * (1.0 + abs(found.water.estimate))
    if edge:
        return
    assert turned.reason == grams.reason == found.reason
    assert turned.water.low == pytest.approx(-found.water.high, rel=1e-9, abs=1e-9)
    if found.ratio is None:
        return
    assert turned.ratio == pytest.approx(found.ratio, rel=1e-6, abs=1e-12)
    assert turned.low == pytest.approx(found.low, rel=1e-6, abs=1e-9)
    assert turned.high == pytest.approx(found.high, rel=1e-6, abs=1e-9)
    assert grams.ratio == pytest.approx(1e6 * found.ratio, rel=1e-6, abs=1e-6)
    assert found.low <= found.ratio <= found.high


def test_bad_numbers_are_refused():
    with pytest.raises(ValueError, match="one number a unit"):
        extra_ratio(YIELD, WATER[:4], ARMS, ARMS_AGAINST)
