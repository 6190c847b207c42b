"""Curves, intervals, scores, restricted means and ranks on small cases done by hand."""

import numpy as np
import pytest
from scipy import stats

from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.intervals import (
    clopper_pearson,
    curve_intervals,
    difference_bound,
    plot_correlation,
    share_bound,
    share_interval,
)
from wickstats.models.lifetimes.rank import compare_ranks
from wickstats.models.lifetimes.restricted import alive_at, common_horizon, restricted_means
from wickstats.models.lifetimes.scores import log_rank, plant_scores, unit_scores
from wickstats.models.lifetimes.turnbull import interval_curve

INF = np.inf


def test_no_deaths_give_a_limit_and_not_a_width_of_zero():
    curve = kaplan_meier([30.0] * 8, [False] * 8)
    low, high = curve.interval([30.0])
    assert (low[0], high[0]) == (pytest.approx(0.025 ** (1 / 8)), 1.0)
    assert curve.median() is None
    assert curve.restricted_mean(30.0) == (30.0, 0.0)


def test_all_dead_gives_an_upper_limit():
    curve = kaplan_meier([10.0, 20.0], [True, True])
    low, high = curve.interval([25.0])
    assert low[0] == 0.0
    assert high[0] == pytest.approx(1 - 0.025)


def test_late_entry_leaves_the_plant_out_of_earlier_risk_sets():
    # at 5 only two of three are under observation: 1 - 1/2, then 1 - 1/2 at 8
    curve = kaplan_meier([5, 8, 9], [True, True, False], entered=[0, 0, 6])
    np.testing.assert_allclose(curve.survival, [0.5, 0.25])
    assert curve.at_risk.tolist() == [2, 2]


def test_a_share_beyond_the_last_observation_is_refused():
    curve = kaplan_meier([5, 8], [True, False])
    with pytest.raises(ValueError, match="nobody was under observation after 8"):
        curve.share([9.0])
    with pytest.raises(ValueError, match="nobody"):
        curve.restricted_mean(9.0)


@pytest.mark.parametrize(
    ("times", "died", "entered", "says"),
    [
        ([], [], None, "not empty"),
        ([1.0, np.nan], [True, True], None, "not finite"),
        ([1.0], [True, False], None, "same length"),
        ([4.0], [True], [4.0], "before it comes"),
    ],
)
def test_bad_lives_are_refused(times, died, entered, says):
    with pytest.raises(ValueError, match=says):
        kaplan_meier(times, died, entered)


@pytest.mark.parametrize(
    ("lows", "highs", "says"),
    [
        ([], [], "not empty"),
        ([3.0], [2.0], "ends before"),
        ([np.nan], [2.0], "missing"),
        ([0.0], [np.nan], "missing"),
        ([0.0, 1.0], [2.0], "same length"),
    ],
)
def test_bad_intervals_are_refused(lows, highs, says):
    with pytest.raises(ValueError, match=says):
        interval_curve(lows, highs)


def test_share_inside_a_region_is_a_range():
    curve = interval_curve([0, 0, 10, 20], [10, 10, 20, INF])
    low, high = curve.share([5.0, 10.0, 15.0])
    np.testing.assert_allclose(low, [0.5, 0.5, 0.25])
    np.testing.assert_allclose(high, [1.0, 0.5, 0.5])
    np.testing.assert_allclose(curve.between([0.0, 5.0, 15.0]), [1.0, 0.75, 0.375])
    assert curve.iterations == 0


def test_overlapping_intervals_share_the_mass_where_they_meet():
    # (0, 10] and (5, 15] meet in (5, 10]; all mass there
    curve = interval_curve([0, 5], [10, 15])
    assert (curve.lows.tolist(), curve.highs.tolist()) == ([5.0], [10.0])
    assert curve.mass.tolist() == [1.0]


def test_half_open_ends_do_not_meet():
    # (0, 10] and (10, 20] have no day in common
    curve = interval_curve([0, 10], [10, 20])
    np.testing.assert_allclose(curve.mass, [0.5, 0.5])


def test_restricted_mean_spreads_deaths_evenly():
    curve = interval_curve([0, 10, 20], [10, 20, INF])
    assert curve.restricted_mean(20.0) == pytest.approx((5 + 15 + 20) / 3)
    assert curve.restricted_mean(15.0) == pytest.approx((5 + (0.5 * 12.5 + 0.5 * 15) + 15) / 3)


def test_share_interval_by_hand():
    x, n = np.array([4.0, 6, 5, 7]), np.array([8.0, 8, 8, 8])
    found = share_interval(x, n)
    others = np.log((22 - x + 0.5) / (24 - (22 - x) + 0.5))
    se = np.sqrt(3 / 4 * np.sum((others - others.mean()) ** 2))
    binomial = np.sqrt(1 / 22.5 + 1 / 10.5)
    half = max(stats.t.ppf(0.975, 3) * se, stats.norm.ppf(0.975) * binomial)
    center = np.log(22.5 / 10.5)
    assert found.share == 22 / 32
    assert found.low == pytest.approx(1 / (1 + np.exp(half - center)), rel=1e-12)
    assert found.high == pytest.approx(1 / (1 + np.exp(-half - center)), rel=1e-12)
    assert found.basis == "units"


def test_equal_units_fall_back_on_the_binomial_width():
    found = share_interval([6, 6, 6], [8, 8, 8])
    assert (found.basis, found.df) == ("binomial", None)
    assert found.se == pytest.approx(np.sqrt(1 / 18.5 + 1 / 6.5))


def test_one_unit_gets_a_share_and_the_reason():
    found = share_interval([6], [8])
    assert (found.share, found.low, found.high) == (0.75, None, None)
    assert "one unit only" in found.not_estimable
    assert share_interval([], []).share is None


def test_curve_interval_with_common_visits_is_the_share_interval():
    low = np.array([0, 10, 10, 10, 0, 10, 10, 0.0])
    high = np.array([10, INF, INF, INF, 10, INF, INF, 10])
    found = curve_intervals(low, high, np.repeat([0, 1, 2, 3], 2), [10.0])[0]
    direct = share_interval([1, 2, 1, 1], [2, 2, 2, 2])
    assert found.low == pytest.approx(direct.low, rel=1e-12)
    assert found.high == pytest.approx(direct.high, rel=1e-12)


def test_bound_of_an_arm_in_which_all_live():
    bound = share_bound([8, 8, 8], [8, 8, 8], rho=0.1)
    n_eff = 24 / 1.7
    assert bound.n_eff == pytest.approx(n_eff)
    assert bound.limit == pytest.approx(0.05 ** (1 / n_eff))
    assert bound.by_plots == pytest.approx(0.05 ** (1 / 3))
    assert bound.side == "lower"
    none = share_bound([0, 0, 0], [8, 8, 8], rho=0.1)
    assert none.side == "upper"
    assert none.limit == pytest.approx(1 - bound.limit)
    assert none.by_plots == pytest.approx(1 - 0.05 ** (1 / 3))


def test_bound_refuses_an_arm_with_some_dead():
    with pytest.raises(ValueError, match="some but not all"):
        share_bound([8, 7], [8, 8], rho=0.1)


def test_correlation_is_the_largest_of_three():
    assert plot_correlation(None, None, 8) == 0.1
    assert plot_correlation(0.3, 1.5, 8) == 0.3
    assert plot_correlation(0.05, 3.1, 8) == pytest.approx(0.3)
    assert plot_correlation(None, 50.0, 8) == 1.0


def test_exact_limits_with_a_number_that_is_not_whole():
    low, high = clopper_pearson(4.5, 9.0)
    assert low == pytest.approx(stats.beta.ppf(0.025, 4.5, 5.5))
    assert high == pytest.approx(stats.beta.ppf(0.975, 5.5, 4.5))


def test_difference_bound_is_newcombes_hybrid():
    # Newcombe (1998) Statistics in Medicine 17:873-890, 56/70 - 48/80: .0524 to .3339,
    # from Wilson limits of each, from memory
    from statsmodels.stats.proportion import proportion_confint

    la, ua = proportion_confint(56, 70, method="wilson")
    lb, ub = proportion_confint(48, 80, method="wilson")
    assert difference_bound(0.8, la, 0.6, ub) == pytest.approx(0.0524, abs=5e-5)
    assert difference_bound(0.8, ua, 0.6, lb) == pytest.approx(0.3339, abs=5e-5)


def test_scores_of_common_visits_by_hand():
    # deaths 2 of 4 in the first interval, 1 of 2 in the second: hazards 1/2, 1/2
    scores = plant_scores([0, 0, 10, 20], [10, 10, 20, INF])
    np.testing.assert_allclose(scores, [0.5, 0.5, 0.0, -1.0])
    np.testing.assert_allclose(unit_scores(scores, [0, 1, 0, 1], 3), [0.5, -0.5, 0.0])


def test_nobody_dying_scores_zero():
    np.testing.assert_array_equal(plant_scores([10, 20, 5], [INF, INF, INF]), [0, 0, 0])


def test_log_rank_needs_deaths_and_groups():
    with pytest.raises(ValueError, match="two groups and at least one death"):
        log_rank([1, 2], [False, False], [0, 1])
    with pytest.raises(ValueError, match="two groups"):
        log_rank([1, 2], [True, False], [0, 0])


def test_status_at_a_date():
    low = np.array([0, 30, 40, 10, 10, 25])
    high = np.array([20, INF, INF, INF, 60, 60])
    found = alive_at(low, high, [0, 0, 0, 1, 1, 1], 2, 30.0)
    assert found.plants.tolist() == [3, 3]
    assert found.dead.tolist() == [1, 0]
    assert found.alive.tolist() == [2, 1]  # seen within 14 days before counts
    assert found.open.tolist() == [0, 2]


def test_common_horizon_is_the_last_visit_of_the_unit_seen_least():
    assert common_horizon([30, 0, 20], [INF, 10, INF], ["a", "b", "b"]) == 20.0


def test_restricted_means_without_loss_are_plain_means():
    low, high = np.array([0, 20, 10, 20.0]), np.array([10, INF, 20, INF])
    found = restricted_means(low, high, [0, 0, 1, 1], [0, 1], 20.0)
    np.testing.assert_allclose(found.values, [12.5, 17.5])
    assert found.censored == 0


def test_pseudo_values_average_to_the_product_limit_mean():
    rng = np.random.default_rng(4)
    day = rng.integers(5, 60, 40).astype(float)
    died = rng.random(40) < 0.6
    found = restricted_means(day, np.where(died, day, INF), np.arange(40), np.zeros(40), 50.0)
    curve = kaplan_meier(day, died)
    # the jackknife of a product-limit area is close to unbiased, not exactly the area
    assert found.plant_values.mean() == pytest.approx(curve.restricted_mean(50.0)[0], abs=0.2)
    one_out = [
        kaplan_meier(np.delete(day, i), np.delete(died, i)).restricted_mean(50.0)[0]
        for i in (0, 7, 23)
    ]
    whole = curve.restricted_mean(50.0)[0]
    np.testing.assert_allclose(
        found.plant_values[[0, 7, 23]], [40 * whole - 39 * w for w in one_out], rtol=1e-10
    )
    assert found.censored == int(np.sum(~died & (day < 50)))


def test_restricted_means_refuse_an_empty_unit():
    with pytest.raises(ValueError, match="unit without plants"):
        restricted_means([0.0], [5.0], [0], [0, 1], 10.0)
    with pytest.raises(ValueError, match="above zero"):
        restricted_means([0.0], [5.0], [0], [0], 0.0)


def test_rank_by_hand():
    # block 1: pairs (3,2) (3,dead) (dead,2) (dead,dead) = 1 + 1 + 0 + 1/2; block 2: all above
    found = compare_ranks(
        [3, -INF, 9, 8], [2, -INF, 1, 1], blocks_a=[1, 1, 2, 2], blocks_b=[1, 1, 2, 2]
    )
    assert found.probability == pytest.approx((2.5 / 4 + 1) / 2)
    others = np.log([(2 * 1 + 0.5) / 0.5, (2 * 0.625 + 0.5) / (2 * 0.375 + 0.5)])
    wide = stats.t.ppf(0.975, 1) * np.sqrt(0.5 * np.sum((others - others.mean()) ** 2))
    p = (4 * 0.8125 + 0.5) / 5
    narrow = stats.norm.ppf(0.975) * np.sqrt(2 * 5 / 12 / 4 / (p * (1 - p)))
    center = np.log(p / (1 - p))
    assert found.low == pytest.approx(1 / (1 + np.exp(max(wide, narrow) - center)))


def test_rank_says_why_there_is_no_interval():
    one = compare_ranks([1, 2], [3], blocks_a=[1, 1], blocks_b=[1])
    assert (one.probability, one.low) == (0.0, None)
    assert "one block only" in one.not_estimable
    none = compare_ranks([1], [3], blocks_a=[1], blocks_b=[2])
    assert none.probability is None
    assert "no block holds plants of both" in none.not_estimable
    unit = compare_ranks([1, 2], [3, 4], units_a=[1, 1], units_b=[2, 3])
    assert "one unit" in unit.not_estimable
    with pytest.raises(ValueError, match="every plant needs a score"):
        compare_ranks([np.nan], [1.0], blocks_a=[1], blocks_b=[1])
    with pytest.raises(ValueError, match="give one of them"):
        compare_ranks([1.0], [1.0])
