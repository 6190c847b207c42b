"""Dispersion over each arm's own variance, counts, paired rule, zero yields, water."""

import numpy as np
import pytest
from scipy import stats

from wickstats.core.words import say
from wickstats.models.linear.dispersion import (
    COMMON,
    OWN,
    PLANTS,
    PLANTS_COMMON,
    fit_restricted_means,
    fit_shares,
    guarded_variances,
    restricted_scatter,
    share_scatter,
)
from wickstats.models.linear.multiplicity import adjust
from wickstats.models.linear.paired import (
    OWN_UNITS,
    WITHIN_BLOCKS,
    own_units_mean,
    paired_contrast,
)
from wickstats.models.ratios.counts import POISSON, POOLED, QUASI, fit_counts
from wickstats.models.ratios.equivalence import equal_water_one_arm, equal_water_two_arms
from wickstats.models.ratios.fieller import fieller_ratio_of_sums
from wickstats.models.ratios.sums import BEARING, LEAVE_OUT, log_ratio_of_sums

CELLS, BLOCKS = (part.ravel() for part in np.indices((3, 4)))
ALIVE = np.array([3, 5, 4, 6, 7, 8, 8, 7, 8, 8, 8, 8], dtype=float)
MANY = np.full(12, 8.0)


def test_shares_follow_their_formula() -> None:
    # complete blocks, by hand: phi = RSS/tr(MD), df as Box (1954), Var = phi (v_0 + v_1)/b
    fit = fit_shares(ALIVE, MANY, CELLS, 3, blocks=BLOCKS)
    p = np.array([18, 30, 32]) / 32
    assert share_scatter(ALIVE, MANY, CELLS, 3).variance == pytest.approx(p * (1 - p))
    v = p * (1 - p) / 8
    c = np.eye(3) - 1 / 3
    table = (ALIVE / 8).reshape(3, 4)
    left = table - table.mean(0) - table.mean(1)[:, None] + table.mean()
    phi = float(np.sum(left**2)) / (3 * float(np.diag(c) @ v))
    df = 3 * float(np.diag(c) @ v) ** 2 / float(v @ (c * c) @ v)
    scale = next(scale for scale in fit.scales if scale.basis == OWN)
    assert (scale.phi, scale.df) == pytest.approx((phi, df))
    found = fit.contrast([-1, 1, 0])
    assert fit.rule == "dispersion"
    assert found.estimate == pytest.approx(12 / 32)
    # the other interval: one more plant alive and one more dead in each arm
    more = np.array([19, 31]) / 34
    w = more * (1 - more) / 8
    own = (w[0] + w[1]) ** 2 / ((w[0] ** 2 + w[1] ** 2) / 31)
    by_units = (np.sqrt(phi * (v[0] + v[1]) / 4), df)
    by_plants = (np.sqrt((w[0] + w[1]) / 4), own)
    halves = [se * stats.t.ppf(0.975, one) for se, one in (by_units, by_plants)]
    wide, narrow = (by_units, by_plants) if halves[0] > halves[1] else (by_plants, by_units)
    assert (found.se, found.df) == pytest.approx(wide)
    assert found.rivals == (pytest.approx(narrow),)
    assert found.p == pytest.approx(
        max(2 * stats.t.sf(12 / 32 / se, one) for se, one in (wide, narrow))
    )


ALIKE = np.array([2, 5, 3, 7, 7, 8, 8, 4, 8, 8, 8, 7], dtype=float)


def test_units_that_differ_more_than_their_plants_set_the_interval() -> None:
    fit = fit_shares(ALIKE, MANY, CELLS, 3, blocks=BLOCKS)
    found = fit.contrast([-1, 1, 0])
    assert found.basis == OWN
    # the same df for every contrast
    assert fit.contrast([0, -1, 1]).df == pytest.approx(found.df)


def test_all_arms_at_once_do_not_weigh_by_estimated_variances() -> None:
    # Brunner, Dette & Munk (1997): Q = e'Te / tr(TS), df tr(TS)^2/tr(TSTS), by hand
    fit = fit_shares(ALIKE, MANY, CELLS, 3, blocks=BLOCKS)
    test = fit.test([[1, -1, 0], [0, 1, -1]])
    center = np.eye(3) - 1 / 3
    means = (ALIKE / 8).reshape(3, 4).mean(1)
    scale = next(scale for scale in fit.scales if scale.basis == test.basis)
    spread = np.diag(scale.phi * scale.d[[0, 4, 8]] / 4)
    trace = np.trace(center @ spread)
    assert test.f == pytest.approx(means @ center @ means / trace)
    inner = center @ spread @ center @ spread
    assert test.df_num == pytest.approx(trace**2 / np.trace(inner))
    # one contrast alone is the same as its t
    assert fit.test([[1, -1, 0]]).p == pytest.approx(fit.contrast([1, -1, 0]).p)


def test_plants_keep_an_interval_where_units_agree() -> None:
    fit = fit_shares(np.full(12, 4.0), MANY, CELLS, 3, blocks=BLOCKS)
    found = fit.contrast([1, -1, 0])
    assert found.basis == PLANTS
    assert found.se == pytest.approx(np.sqrt(2 * 0.25 / 8 / 4))
    assert found.df == pytest.approx(62)
    assert found.rivals == ()


def test_all_alive_everywhere_still_has_an_interval() -> None:
    fit = fit_shares(MANY, MANY, CELLS, 3, blocks=BLOCKS)
    found = fit.contrast([1, -1, 0])
    assert found.estimate == pytest.approx(0.0, abs=1e-12)
    # 32 plants that shared one fate count as 32/(1 + 0.1 x 7), two more are added
    n = 32 / 1.7
    p = (n + 1) / (n + 2)
    assert found.se == pytest.approx(np.sqrt(2 * p * (1 - p) / n))
    assert fit.test([[1, -1, 0], [0, 1, -1]]).p == pytest.approx(1.0)


def test_an_arm_without_deaths_beside_others() -> None:
    alive = np.concatenate([ALIKE[:8], np.full(4, 8.0)])
    fit = fit_shares(alive, MANY, CELLS, 3, blocks=BLOCKS)
    # its plants are taken to be as alike as those of the others
    phi = next(scale.phi for scale in fit.scales if scale.basis == OWN)
    n = 32 / (1 + 7 * (phi - 1) / 7)
    p = (n + 1) / (n + 2)
    scale = next(scale for scale in fit.scales if scale.basis == PLANTS)
    assert phi > 1.7
    assert scale.d[8] == pytest.approx(p * (1 - p) / n * 4)
    covariance = fit.covariance([[1, 0, -1], [0, 1, -1]])
    assert (np.linalg.eigvalsh(covariance) > 0).all()
    for row in ([1, 0, -1], [0, 1, -1], [1, -1, 0]):
        found = fit.contrast(row)
        assert found.low is not None
        assert found.high is not None
        assert found.low < found.high


def test_unequal_plants_take_the_widest_of_all() -> None:
    plants = np.array([2, 8, 8, 8, 2, 8, 8, 8, 8, 8, 8, 8.0])
    alive = np.minimum(ALIVE, plants)
    fit = fit_shares(alive, plants, CELLS, 3, blocks=BLOCKS)
    assert [scale.basis for scale in fit.scales] == [PLANTS, PLANTS_COMMON, OWN, COMMON]
    found = fit.contrast([-1, 1, 0])
    row, _ = fit.contrast_row([-1, 1, 0])
    assert row is not None
    halves = [
        stats.t.ppf(0.975, s.df_of(row * row)) * np.sqrt(s.phi * float(row * row @ s.d))
        for s in fit.scales
    ]
    assert found.high is not None
    assert found.low is not None
    assert (found.high - found.low) / 2 == pytest.approx(max(halves))


def test_a_family_takes_the_widest_at_its_own_level() -> None:
    # at 95 % the plants' interval counts; with few df the units' is wider at 99.5 %
    fit = fit_shares(
        [3, 5, 4, 7, 8, 7], np.full(6, 8.0), [0, 0, 0, 1, 1, 1], 2, blocks=[0, 1, 2] * 2
    )
    found = fit.contrast([-1, 1])
    assert found.basis == PLANTS
    (rival,) = found.rivals
    assert found.se is not None
    assert found.df is not None
    for method, level, times in (("bonferroni", 0.995, 1), ("single-step", 0.995, 1)):
        family = adjust([found], method, covariance=[[1.0]], confidence=level)
        halves = [
            se * stats.t.ppf(0.5 + level / 2, df) for se, df in ((found.se, found.df), rival)
        ]
        assert halves[1] > halves[0]
        assert family.high[0] is not None
        assert found.estimate is not None
        assert family.high[0] - found.estimate == pytest.approx(max(halves), rel=1e-6)
        assert family.p[0] == pytest.approx(times * (found.p or 0.0), rel=1e-6)


def test_restricted_means_count_a_plant_more_at_both_ends() -> None:
    times = np.array([10.0, 30.0, 30.0, 20.0, 30.0, 30.0])
    cells = np.array([0, 0, 0, 1, 1, 1])
    scatter = restricted_scatter(times, cells, 2, 30.0)
    found = guarded_variances(scatter, [1, 1], 0.1)
    for cell in (0, 1):
        own = times[cells == cell]
        assert scatter.variance[cell] == pytest.approx(own.var())
        assert found[cell] == pytest.approx(np.append(own, [0.0, 30.0]).var())


def test_restricted_means_with_times_of_zero_or_full_are_shares() -> None:
    # a plant that lives for all of the time or none of it is a share
    plants = np.repeat(np.arange(12), 8)
    alive = np.concatenate([[1.0] * int(x) + [0.0] * int(8 - x) for x in ALIVE])
    fit = fit_restricted_means(
        ALIVE / 8 * 50,
        MANY,
        CELLS,
        3,
        plant_times=alive * 50,
        plant_cells=CELLS[plants],
        full_time=50.0,
        blocks=BLOCKS,
    )
    share = fit_shares(ALIVE, MANY, CELLS, 3, blocks=BLOCKS).contrast([-1, 1, 0])
    found = fit.contrast([-1, 1, 0])
    assert share.estimate is not None
    assert share.se is not None
    assert found.estimate == pytest.approx(50 * share.estimate)
    assert found.se == pytest.approx(50 * share.se)
    assert found.df == pytest.approx(share.df)


@pytest.mark.parametrize(
    ("alive", "plants"), [([9, 1], [8, 8]), ([-1, 1], [8, 8]), ([0, 0], [0, 8])]
)
def test_impossible_shares_are_refused(alive: list[float], plants: list[float]) -> None:
    with pytest.raises(ValueError, match=r"^alive must lie between 0 and plants"):
        fit_shares(alive, plants, [0, 1], 2)


def test_count_ratio_is_the_ratio_of_totals() -> None:
    counts = np.array([12, 8, 15, 9, 20, 25, 18, 31, 14, 14, 17, 11], dtype=float)
    fit = fit_counts(counts, CELLS, 3, blocks=BLOCKS)
    totals = counts.reshape(3, 4).sum(1)
    found = fit.contrast([-1, 1, 0])
    assert found.estimate == pytest.approx(np.log(totals[1] / totals[0]), rel=1e-9)
    assert fit.mean([0, 1, 0]).estimate == pytest.approx(np.log(totals[1] / 4), rel=1e-9)
    # the largest of three half-widths, recomputed
    expected = np.outer(totals, counts.reshape(3, 4).sum(0)) / counts.sum()
    pearson = float(np.sum((counts.reshape(3, 4) - expected) ** 2 / expected))
    poisson = np.sqrt(1 / totals[0] + 1 / totals[1])
    logs = fit.logs.contrast([-1, 1, 0])
    assert logs.se is not None
    candidates = {
        QUASI: (np.sqrt(pearson / 6) * poisson, 6.0),
        POOLED: (logs.se, 6.0),
        POISSON: (poisson, counts.sum() - 12),
    }
    basis = max(
        candidates, key=lambda k: candidates[k][0] * stats.t.ppf(0.975, candidates[k][1])
    )
    assert (found.se, found.df) == pytest.approx(candidates[basis], rel=1e-8)
    assert found.basis == basis
    assert found.p == pytest.approx(
        max(
            2 * stats.t.sf(np.log(totals[1] / totals[0]) / se, df)
            for se, df in candidates.values()
        )
    )
    assert fit.approximate == (False, False, False)


def test_ragged_counts_against_statsmodels() -> None:
    import statsmodels.api as sm

    rng = np.random.default_rng(3)
    keep = np.ones(12, dtype=bool)
    keep[[1, 6]] = False
    counts = rng.poisson(15, 12)[keep].astype(float)
    fit = fit_counts(counts, CELLS[keep], 3, blocks=BLOCKS[keep])
    x = np.column_stack([np.eye(3)[CELLS], np.eye(4)[BLOCKS][:, 1:]])[keep]
    theirs = sm.GLM(counts, x, family=sm.families.Poisson()).fit(tol=1e-13)
    found = fit.contrast([-1, 1, 0])
    assert found.estimate == pytest.approx(theirs.params[1] - theirs.params[0], abs=1e-9)
    assert fit.fit is not None
    assert fit.fit.pearson == pytest.approx(theirs.pearson_chi2, rel=1e-8)
    covariance = theirs.cov_params()  # scale 1
    quasi = covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]
    assert fit.covariance([[-1, 1, 0]])[0, 0] == pytest.approx(quasi, rel=1e-7)


def test_counts_with_an_empty_arm_or_block() -> None:
    counts = np.array([12, 8, 15, 0, 0, 0, 0, 0, 14, 14, 17, 0], dtype=float)
    fit = fit_counts(counts, CELLS, 3, blocks=BLOCKS)
    assert fit.contrast([-1, 1, 0]).not_estimable == say("ratio empty arm")
    assert fit.mean([0, 1, 0]).not_estimable == say("ratio empty arm")
    assert fit.test(np.array([[-1, 1, 0], [0, -1, 1]])).not_estimable == say("ratio empty arm")
    other = fit.contrast([-1, 0, 1])
    assert other.estimate == pytest.approx(np.log(45 / 35))
    # the block without any count stays in the average
    assert fit.mean([0, 0, 1]).estimate == pytest.approx(np.log(45 / 4))
    nothing = fit_counts(np.zeros(12), CELLS, 3, blocks=BLOCKS)
    assert nothing.contrast([-1, 0, 1]).not_estimable == say("ratio empty arm")
    with pytest.raises(ValueError, match=r"^a count cannot be negative$"):
        fit_counts([-1.0, 2.0], [0, 1], 2)


def test_counts_without_a_finite_estimate_are_said_in_words() -> None:
    # arm 1 stands beside arm 0 only where it bore nothing
    found = fit_counts([5, 0, 7, 3], [0, 1, 2, 1], 3, blocks=[0, 0, 1, 1]).contrast([1, -1, 0])
    assert found.estimate is None
    assert found.not_estimable == say("ratio counts do not settle")


def test_paired_rule_is_the_one_sample_t_of_differences() -> None:
    values = np.random.default_rng(9).normal(size=12)
    table = values.reshape(3, 4)
    found = paired_contrast(values, CELLS, [1, -1, 0], blocks=BLOCKS)
    theirs = stats.ttest_rel(table[0], table[1])
    assert found.basis == WITHIN_BLOCKS
    assert (found.t, found.p, found.df) == pytest.approx(
        (theirs.statistic, theirs.pvalue, theirs.df)
    )
    # a lost unit takes its block out
    keep = np.arange(12) != 2
    less = paired_contrast(values[keep], CELLS[keep], [1, -1, 0], blocks=BLOCKS[keep])
    again = stats.ttest_rel(np.delete(table[0], 2), np.delete(table[1], 2))
    assert (less.t, less.df) == pytest.approx((again.statistic, 2))


def test_without_pairs_each_arm_has_its_own_variance() -> None:
    values = np.random.default_rng(10).normal(size=9)
    cells = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1])
    found = paired_contrast(values, cells, [1, -1])
    theirs = stats.ttest_ind(values[:4], values[4:], equal_var=False)
    assert found.basis == OWN_UNITS
    assert (found.t, found.p, found.df) == pytest.approx(
        (theirs.statistic, theirs.pvalue, theirs.df)
    )
    mean = own_units_mean(values, cells, 0)
    assert mean.se == pytest.approx(stats.sem(values[:4]))
    assert mean.df == 3


def test_paired_rule_says_why_not() -> None:
    one = paired_contrast([1.0, 2.0], [0, 1], [1, -1], blocks=[0, 0])
    assert (one.estimate, one.not_estimable) == (-1.0, say("linear one pair"))
    none = paired_contrast([1.0, 2.0], [0, 1], [1, -1], blocks=[0, 1])
    assert (none.estimate, none.not_estimable) == (-1.0, say("linear no pair"))
    same = paired_contrast([1.0, 2.0, 2.0, 3.0], [0, 1, 0, 1], [1, -1], blocks=[0, 0, 1, 1])
    assert same.not_estimable == say("linear no scatter")
    assert paired_contrast([1.0, 2.0], [0, 0], [1, -1]).not_estimable == say("linear no unit")


def test_ratio_of_sums_leaves_out_one_block() -> None:
    yields = np.array([4.0, 0.0, 3.0, 5.0, 2.0, 6.0, 0.0, 7.0])
    water = np.array([50, 55, 48, 52, 90, 95, 101, 99.0])
    cells, blocks = np.repeat([0, 1], 4), np.tile(np.arange(4), 2)
    found = log_ratio_of_sums(yields, cells, arms=(0, 1), water=water, blocks=blocks)

    def theta(keep: np.ndarray) -> float:
        a, b = keep & (cells == 0), keep & (cells == 1)
        return float(
            np.log(yields[a].sum() / water[a].sum() / (yields[b].sum() / water[b].sum()))
        )

    left = np.array([theta(blocks != b) for b in range(4)])
    se = np.sqrt(3 / 4 * np.sum((left - left.mean()) ** 2))
    assert found.estimate == pytest.approx(theta(blocks >= 0))
    assert (found.se, found.df, found.basis) == (pytest.approx(se), 3, LEAVE_OUT)


def test_ratio_of_sums_needs_yield_in_two_blocks() -> None:
    cells, blocks = np.repeat([0, 1], 3), np.tile(np.arange(3), 2)
    yields = [4.0, 0.0, 0.0, 2.0, 6.0, 1.0]
    found = log_ratio_of_sums(yields, cells, arms=(0, 1), blocks=blocks)
    assert found.se is None
    assert found.not_estimable == say("ratio few blocks with yield")
    nothing = log_ratio_of_sums([0, 0, 0, 2.0, 6.0, 1.0], cells, arms=(0, 1), blocks=blocks)
    assert nothing.estimate is None
    few = log_ratio_of_sums([4.0, 2.0], [0, 1], arms=(0, 1), blocks=[0, 0])
    assert few.not_estimable == say("ratio few blocks")
    dry = log_ratio_of_sums([4.0, 2.0], [0, 0], arms=(0,), water=[0, 0], blocks=[0, 1])
    assert dry.not_estimable == say("ratio no water")


def test_fieller_on_the_same_units_contains_the_ratio_of_sums() -> None:
    found = fieller_ratio_of_sums([4.0, 0.0, 3.0, 5.0], [50, 55, 48, 52])
    assert not isinstance(found, str)
    assert found.ratio == pytest.approx(12 / 205)
    assert found.low is not None
    assert found.high is not None
    # the limits are where the t of y - r w is exactly the quantile (Fieller 1954)
    for limit in (found.low, found.high):
        d = np.array([4.0, 0.0, 3.0, 5.0]) - limit * np.array([50, 55, 48, 52])
        t = d.mean() / stats.sem(d)
        assert abs(t) == pytest.approx(stats.t.ppf(0.975, 3), rel=1e-8)
    assert fieller_ratio_of_sums([4.0], [50.0]) == say("ratio few blocks")


def test_equal_water_is_shown_not_assumed() -> None:
    found = equal_water_one_arm([98, 103, 101, 95], [100] * 4, ratio=1.10)
    assert found.equal is True
    assert found.ratio is not None
    assert found.p is not None
    assert found.p < 0.05
    wide = equal_water_one_arm([60, 140, 101, 95], [100] * 4, ratio=1.10)
    assert wide.equal is False
    assert wide.attainable is not None
    assert wide.attainable > 1.10
    exact = equal_water_one_arm([100.0] * 4, [100] * 4, ratio=1.10)
    assert (exact.ratio, exact.equal) == (pytest.approx(1.0), None)
    assert exact.not_estimable == say("equal water no scatter")
    dry = equal_water_one_arm([0.0, 100.0], [100] * 2, ratio=1.10)
    assert dry.not_estimable == say("equal water no liters")
    single = equal_water_one_arm([100.0], [100], ratio=1.10)
    assert single.not_estimable == say("equal water few units")


def test_equal_water_of_two_arms_is_paired() -> None:
    liters = np.array([100, 110, 95, 102, 108, 97.0])
    cells, blocks = np.repeat([0, 1], 3), np.tile(np.arange(3), 2)
    found = equal_water_two_arms(liters, cells, [1, -1], ratio=1.10, blocks=blocks)
    d = np.log(liters[:3] / liters[3:])
    half = stats.t.ppf(0.95, 2) * stats.sem(d)
    assert found.ratio == pytest.approx(np.exp(d.mean()))
    assert (found.low, found.high) == pytest.approx(
        (np.exp(d.mean() - half), np.exp(d.mean() + half))
    )
    assert found.equal is True


def test_one_arm_takes_the_wider_of_two_where_a_unit_of_the_trial_bore_nothing() -> None:
    # by hand: all six of the arm's units bear, one of the other arm's does not
    own, water = np.array([4.0, 5.0, 3.0, 5.0, 4.5, 6.0]), np.array([50.0, 55, 48, 52, 51, 60])
    yields, liters = np.r_[own, 4.0, 0.0, 3.0, 5.0, 2.0, 6.0], np.r_[water, np.full(6, 90.0)]
    cells, blocks = np.repeat([0, 1], 6), np.tile(np.arange(6), 2)
    theta = np.array(
        [np.log(np.delete(own, b).sum() / np.delete(water, b).sum()) for b in range(6)]
    )
    apart = 5 / 6 * np.sum((theta - theta.mean()) ** 2)
    share = 7 / 8  # six of six: (6 + 1)/(6 + 2)
    with_zeros = log_ratio_of_sums(yields, cells, arms=(0,), water=liters, blocks=blocks)
    assert with_zeros.se == pytest.approx(np.sqrt(apart + (1 - share) / (6 * share)), rel=1e-12)
    assert (with_zeros.basis, with_zeros.df) == (BEARING, 5)
    yields[7] = 3.5  # all bear: leaving out blocks alone
    without = log_ratio_of_sums(yields, cells, arms=(0,), water=liters, blocks=blocks)
    assert (without.se, without.basis) == (pytest.approx(np.sqrt(apart), rel=1e-12), LEAVE_OUT)
    yields[7] = 0.0  # by units, the same where every block holds one unit an arm
    units = log_ratio_of_sums(yields, cells, arms=(0,), water=liters)
    assert units.se == pytest.approx(with_zeros.se, rel=1e-12)
