"""Closed-form power against published tables, R's help pages and other code.

"R help page" values were computed with base R 4.2.2 from the calls on the help pages of
power.t.test, power.prop.test and power.anova.test.
"""

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from wickstats.models.power import (
    anova_sample_size,
    assurance,
    blocks_needed,
    equivalence_power,
    f_power,
    fewest,
    sd_upper_limit,
    t_critical,
    t_detectable,
    t_power,
    t_sample_size,
)
from wickstats.models.power_events import (
    design_effect,
    logrank_events,
    logrank_power,
    proportions_power,
    proportions_sample_size,
)


def test_t_test_of_the_r_help_page():
    # delta 1, sd 1, n 20, and power .90; R leaves the far tail out unless told "strict"
    near = t_power(1, math.sqrt(2 / 20), 38, alpha=0.025, two_sided=False)
    assert near == pytest.approx(0.8689528, abs=5e-8)
    assert t_power(1, math.sqrt(2 / 20), 38) == pytest.approx(0.868953027724586, rel=1e-10)
    assert t_sample_size(1, 1, power=0.90) == pytest.approx(22.02110, abs=1e-4)  # as R solves


def test_proportions_of_the_r_help_page():
    # shares .50 and .75, n 50, and power .90
    assert proportions_power(0.5, 0.75, 50) == pytest.approx(0.7401659, abs=5e-8)
    assert proportions_sample_size(0.5, 0.75, power=0.9) == pytest.approx(
        76.7069301141077, abs=1e-3
    )


def test_anova_of_the_r_help_page():
    # 4 groups, n 5, between 1, within 3, and power .80 (R solves to 1e-4 unless told)
    assert f_power(5 * 3 * 1 / 3, 3, 16) == pytest.approx(0.3535594, abs=5e-8)
    f_effect = math.sqrt(3 / 4 * 1 / 3)  # R's between variance has divisor groups - 1
    assert anova_sample_size(f_effect, 4) == pytest.approx(11.92613, abs=1e-4)
    # R's own functions solved to 1e-13
    assert anova_sample_size(f_effect, 4) == pytest.approx(11.9261111657036, abs=1e-8)


def test_t_test_sizes_of_cohen_1988():
    assert t_power(0.5, math.sqrt(2 / 64), 126) == pytest.approx(0.8015, abs=5e-5)
    assert t_sample_size(0.5, 1) == pytest.approx(63.77, abs=0.005)
    assert math.ceil(t_sample_size(0.2, 1)) == 394  # the printed table: 393
    assert math.ceil(t_sample_size(0.8, 1)) == 26


# Cohen (1988): n a group at power .80, computed with the noncentral F; k = 2 to 7
COHEN = {
    0.10: [394, 323, 274, 240, 215, 196],
    0.25: [64, 53, 45, 40, 36, 33],
    0.40: [26, 22, 19, 16, 15, 14],
}


@pytest.mark.parametrize("f_effect", sorted(COHEN))
def test_anova_sizes_of_cohen_1988(f_effect):
    found = [math.ceil(anova_sample_size(f_effect, k)) for k in range(2, 8)]
    assert found == COHEN[f_effect]


# Cohen (1992), printed n, from memory: the power there
@pytest.mark.parametrize(
    ("f_effect", "k", "n", "power"),
    [(0.25, 4, 45, 0.80399), (0.25, 3, 52, 0.79673), (0.40, 4, 18, 0.79890)],
)
def test_power_at_the_sizes_that_cohen_1992_prints(f_effect, k, n, power):
    found = f_power(k * n * f_effect**2, k - 1, k * (n - 1))
    assert found == pytest.approx(power, abs=5e-6)


# computed from the formulas of Schoenfeld (1981) and Freedman (1982)
@pytest.mark.parametrize(
    ("ratio", "power", "schoenfeld", "freedman"),
    [
        (2.0, 0.80, 65.3, 70.6),
        (0.5, 0.80, 65.3, 70.6),
        (2.0, 0.90, 87.5, 94.6),
        (1.5, 0.80, 191.0, 196.2),
        (1.5, 0.90, 255.7, 262.7),
        (0.7, 0.80, 246.8, 252.0),
    ],
)
def test_deaths_for_the_log_rank_test(ratio, power, schoenfeld, freedman):
    assert logrank_events(ratio, power=power) == pytest.approx(schoenfeld, abs=0.051)
    found = logrank_events(ratio, power=power, rule="freedman")
    assert found == pytest.approx(freedman, abs=0.051)
    back = logrank_power(ratio, logrank_events(ratio, power=power))
    assert back == pytest.approx(power, abs=1e-12)


def test_design_effect():
    assert design_effect(8, 0.1) == pytest.approx(1.7, rel=1e-15)
    assert design_effect(1, 0.5) == 1.0


@pytest.mark.parametrize("df", [1, 2, 3, 6, 18, 60.5])
@pytest.mark.parametrize("shift", [0.0, 0.3, 2.0, 6.0, 25.0])
def test_t_power_against_noncentral_t_of_scipy_stats(df, shift):
    c = stats.t.isf(0.025, df)
    other = stats.nct.sf(c, df, shift) + (stats.nct.cdf(-c, df, shift) if shift < 9 else 0)
    assert t_power(-3 * shift, 3, df) == pytest.approx(other, rel=1e-9)


def test_power_against_statsmodels():
    from statsmodels.stats.power import FTestAnovaPower, TTestIndPower

    assert t_power(0.6, math.sqrt(2 / 11), 20) == pytest.approx(
        TTestIndPower().power(0.6, 11, 0.05), rel=1e-9
    )
    one_sided = TTestIndPower().power(0.6, 11, 0.05, alternative="larger")
    assert t_power(0.6, math.sqrt(2 / 11), 20, two_sided=False) == pytest.approx(
        one_sided, rel=1e-9
    )
    assert f_power(30 * 0.3**2, 2, 27) == pytest.approx(
        FTestAnovaPower().power(0.3, 30, 0.05, k_groups=3), rel=1e-9
    )


@pytest.mark.parametrize("n", [3, 4, 6, 12, 50])
@pytest.mark.parametrize("effect", [0.2, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("alpha", [0.01, 0.05])
def test_power_beside_statsmodels_over_a_grid(n, effect, alpha):
    """statsmodels.stats.power: paired t of n blocks, t of two groups, F of k groups."""
    from statsmodels.stats.power import FTestAnovaPower, TTestIndPower, TTestPower

    paired = t_power(effect, math.sqrt(1 / n), n - 1, alpha=alpha)
    assert paired == pytest.approx(TTestPower().power(effect, n, alpha), rel=1e-8)
    groups = t_power(effect, math.sqrt(1 / n + 1 / (2 * n)), 3 * n - 2, alpha=alpha)
    theirs = TTestIndPower().power(effect, n, alpha, ratio=2)
    if math.isfinite(theirs):  # not a number there, where it is 1 to all digits
        assert groups == pytest.approx(theirs, rel=1e-8)
    else:
        assert groups == pytest.approx(1.0, abs=1e-12)
    for k in (2, 3, 6):
        found = f_power(k * n * effect**2, k - 1, k * (n - 1), alpha=alpha)
        theirs = FTestAnovaPower().power(effect, k * n, alpha, k_groups=k)
        assert found == pytest.approx(theirs, rel=1e-8)


@pytest.mark.parametrize("effect", [0.3, 0.8, 1.5])
@pytest.mark.parametrize("power", [0.5, 0.8, 0.95])
def test_sizes_and_smallest_effects_beside_statsmodels(effect, power):
    """Their power at our answers is the one asked for (their own root finder stops early)."""
    from statsmodels.stats.power import FTestAnovaPower, TTestIndPower

    n = t_sample_size(effect, 1, power=power)
    assert TTestIndPower().power(effect, n, 0.05) == pytest.approx(power, abs=1e-8)
    each = anova_sample_size(effect, 4, power=power)
    theirs = FTestAnovaPower().power(effect, 4 * each, 0.05, k_groups=4)
    assert theirs == pytest.approx(power, abs=1e-8)
    smallest = t_detectable(math.sqrt(2 / 9), 16, power=power)
    assert TTestIndPower().power(smallest, 9, 0.05) == pytest.approx(power, abs=1e-10)


def test_proportions_beside_statsmodels():
    """The same normal approximation, variances pooled under the null (R: power.prop.test)."""
    from statsmodels.stats.power import normal_power_het

    for p, q, n in ((0.5, 0.75, 50), (0.3, 0.45, 80), (0.9, 0.97, 120)):
        pooled = math.sqrt((p + q) * (1 - (p + q) / 2))
        own = math.sqrt(p * (1 - p) + q * (1 - q))
        theirs = normal_power_het(
            q - p, n, 0.05, std_null=pooled, std_alternative=own, alternative="larger"
        )
        one_sided = proportions_power(p, q, n, alpha=0.1)
        assert one_sided == pytest.approx(theirs, abs=2e-6)


def test_f_and_t_are_the_same_test_at_one_df():
    for df in (1, 2, 5, 40):
        assert f_power(2.5**2, 1, df) == pytest.approx(t_power(2.5, 1, df), rel=1e-10)


def test_power_far_out_is_a_number():
    assert t_power(1e9, 1e-3, 1) == 1.0
    assert t_power(50, 1, 2) == pytest.approx(1, abs=1e-12)
    assert f_power(1e6, 3, 4) == pytest.approx(1, abs=1e-12)
    assert f_power(2500.0, 2, 10) == pytest.approx(1, abs=1e-12)
    assert f_power(0.0, 3, 4) == pytest.approx(0.05, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(
    df=st.floats(1, 200),
    power=st.floats(0.1, 0.99),
    alpha=st.floats(0.001, 0.09),
    se=st.floats(1e-6, 1e6),
    two_sided=st.booleans(),
)
def test_detectable_difference_comes_back_as_power(df, power, alpha, se, two_sided):
    size = t_detectable(se, df, power=power, alpha=alpha, two_sided=two_sided)
    back = t_power(size, se, df, alpha=alpha, two_sided=two_sided)
    assert back == pytest.approx(power, abs=1e-8)


def test_detectable_with_another_critical_value_is_larger():
    # Dunnett two-sided 5 %, 3 treatments, 10 df: 2.759, computed by numerical integration
    plain, dunnett = t_detectable(1, 10), t_detectable(1, 10, critical=2.759)
    assert dunnett > plain
    assert t_power(dunnett, 1, 10, critical=2.759) == pytest.approx(0.8, abs=1e-9)
    assert t_detectable(1, 10, critical=t_critical(10)) == pytest.approx(plain, rel=1e-12)


def test_blocks_needed_is_the_first_that_suffices():
    need = blocks_needed(1.5, 1.0, 4)
    assert need is not None
    powers = [t_power(1.5, math.sqrt(2 / b), 3 * (b - 1)) for b in (need - 1, need)]
    assert powers[0] < 0.8 <= powers[1]
    assert blocks_needed(0.001, 1.0, 2, most=50) is None
    assert blocks_needed(100, 1.0, 4) == 2


@given(st.integers(2, 1000))
def test_fewest_finds_every_threshold(threshold):
    assert fewest(lambda b: float(b >= threshold), power=0.5) == threshold


def test_upper_limit_of_the_scatter():
    # chi-square, 12 df, lower 20 % point: scipy.stats
    expected = 2 * math.sqrt(12 / stats.chi2.ppf(0.2, 12))
    assert sd_upper_limit(2, 12) == pytest.approx(expected, rel=1e-12)


def test_assurance_is_the_mean_power_over_the_scaled_inverse_chi_square():
    def at(sd):
        return t_power(1.0, sd * math.sqrt(2 / 6), 15)

    rng = np.random.default_rng(1)
    drawn = np.sqrt(9 / rng.chisquare(9, 4000))
    powers = np.array([at(v) for v in drawn])
    error = 4 * powers.std() / math.sqrt(len(powers))
    assert assurance(at, 1.0, 9) == pytest.approx(powers.mean(), abs=error)
    assert assurance(lambda sd: 0.3, 1.0, 2) == pytest.approx(0.3, rel=1e-12)


def test_equivalence_power_against_simulation():
    rng = np.random.default_rng(2)
    estimate = rng.normal(0.1, 0.3, 200_000)
    s = np.sqrt(rng.chisquare(8, 200_000) / 8)
    shown = np.abs(estimate) + t_critical(8, two_sided=False) * 0.3 * s < 0.7
    error = 4 * math.sqrt(shown.mean() * (1 - shown.mean()) / shown.size)
    found = equivalence_power(0.1, 0.7, 0.3, 8)
    assert found == pytest.approx(shown.mean(), abs=error)
    assert equivalence_power(-0.1, 0.7, 0.3, 8) == pytest.approx(found, rel=1e-12)


def test_equivalence_power_with_a_margin_out_of_reach_is_zero():
    assert equivalence_power(0, 1e-9, 1, 4) == pytest.approx(0, abs=1e-9)
    # known scatter: 2 Phi(margin/se - z) - 1
    z = stats.norm.isf(0.05)
    known = 2 * stats.norm.cdf(3 - z) - 1
    assert equivalence_power(0, 3, 1, 1e6) == pytest.approx(known, abs=1e-5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: t_power(1, 0, 3), "se must lie between 0 and inf, found 0"),
        (lambda: t_power(1, 1, 0), "df must lie between 0 and inf, found 0"),
        (lambda: t_power(1, 1, 3, alpha=1.5), "alpha must lie between 0 and 1, found 1.5"),
        (lambda: t_detectable(1, 3, power=0.04), "power must lie above alpha (0.05)"),
        (lambda: t_sample_size(0, 1), "difference must lie between 0 and inf"),
        (lambda: t_sample_size(1, 1, groups=3), "one group or two, found 3"),
        (lambda: f_power(-1, 2, 3), "noncentrality must not be negative"),
        (lambda: blocks_needed(1, 1, 1), "at least two treatments, found 1"),
        (lambda: proportions_power(0.5, 0.5, 9), "two different shares between 0 and 1"),
        (lambda: logrank_events(1.0), "a hazard ratio above 0 and not 1, found 1.0"),
        (lambda: t_sample_size(1e-9, 1), "too small for any number of units"),
    ],
)
def test_questions_without_an_answer_are_refused(call, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        call()
