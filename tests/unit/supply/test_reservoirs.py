"""Volumes and visits: a worked example, and the simulation against its closed form."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.demand.reservoirs import (
    chance_dry,
    needed,
    sizes_around,
    thirstiest,
    upper_factor,
    volume,
)


def test_volume_by_hand() -> None:
    # common practice, no source: 6 mm/d, coefficient 0.8, 0.25 m2 give 1.2 L/d
    rate = 6.0 * 0.8 * 0.25
    assert rate == pytest.approx(1.2, rel=1e-12)
    assert volume(rate, 14) == pytest.approx(16.8, rel=1e-12)
    assert volume(rate, 14, missed=1) == pytest.approx(33.6, rel=1e-12)
    found = needed(np.full(100, rate), 14, cv=0.0, unusable_l=1.5)
    assert found.volume_l == pytest.approx(18.3, rel=1e-12)
    assert found.with_reserve_l == pytest.approx(35.1, rel=1e-12)


def test_the_upper_wick_is_a_lognormal_quantile() -> None:
    # s = sqrt(log(1.09)) = 0.29356, z = 1.64485: exp(0.48286 - 0.04309)
    assert upper_factor(0.3) == pytest.approx(1.5523, abs=5e-4)
    assert upper_factor(0.0) == 1.0


def test_the_thirstiest_days_count_not_the_mean() -> None:
    losses = np.array([1.0, 1.0, 4.0, 6.0, 1.0])
    assert thirstiest(losses, 2) == 5.0
    assert thirstiest(losses, 9) == pytest.approx(2.6, rel=1e-12)  # fewer days than asked


def test_chance_of_running_dry_agrees_with_its_closed_form() -> None:
    losses, cv, usable = np.full(60, 1.2), 0.3, 20.0
    spread = math.sqrt(math.log1p(cv**2))
    exact = 1.0 - NormalDist().cdf((math.log(usable / (1.2 * 14)) + spread**2 / 2) / spread)
    found = chance_dry(losses, 14, usable, cv, seed=7)
    assert abs(found - exact) < 4 * math.sqrt(exact * (1 - exact) / 10_000)
    assert found == chance_dry(losses, 14, usable, cv, seed=7)


def test_the_volume_needed_runs_dry_in_one_wick_of_twenty() -> None:
    losses, cv = np.full(60, 1.2), 0.5
    enough = needed(losses, 14, cv, unusable_l=0.0).volume_l
    found = chance_dry(losses, 14, enough, cv, seed=1)
    assert abs(found - 0.05) < 4 * math.sqrt(0.05 * 0.95 / 10_000)


@given(st.floats(0, 1), st.floats(0.1, 200), st.floats(1, 3), st.integers(1, 30))
def test_a_larger_reservoir_never_runs_dry_more_often(
    cv: float, usable: float, times: float, days: int
) -> None:
    losses = 1.0 + np.sin(np.arange(90) / 20.0) ** 2
    small = chance_dry(losses, days, usable, cv, seed=3, draws=200)
    assert chance_dry(losses, days, usable * times, cv, seed=3, draws=200) <= small


def test_without_scatter_it_is_certain_either_way() -> None:
    losses = np.full(60, 1.2)
    assert chance_dry(losses, 14, 16.8, 0.0, seed=1) == 0.0
    assert chance_dry(losses, 14, 16.7, 0.0, seed=1) == 1.0


def test_sizes_hold_the_trial_s_own_and_reach_around_what_is_needed() -> None:
    assert sizes_around(16.8, 33.6, 25.0) == (10.0, 20.0, 25.0, 30.0, 50.0)
