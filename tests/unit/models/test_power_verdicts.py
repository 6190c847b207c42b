"""Chances of verdicts: against power, equivalence, simulation and the rule of one interval."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from wickstats.analysis.verdict import verdict_of
from wickstats.models.power import equivalence_power, t_power
from wickstats.models.power_events import widest_power
from wickstats.models.power_verdicts import CLASSES, classes_of, verdict_chances


@given(
    difference=st.floats(-4, 4),
    se=st.floats(0.1, 3),
    df=st.integers(1, 60),
    matters=st.none() | st.floats(0.05, 6),
)
@settings(max_examples=60, deadline=None)
def test_chances_sum_to_one_and_hold_power(difference, se, df, matters):
    found = verdict_chances(difference, se, df, matters=matters)
    assert sum(found.as_tuple) == pytest.approx(1.0, abs=1e-12)
    assert min(found.as_tuple) >= 0.0
    if matters is None:
        # noncentral t: the interval leaves none out on either side
        power = t_power(difference, se, df)
        assert found.better + found.worse == pytest.approx(power, abs=1e-9)
        assert found.same == found.no_worse == found.no_better == 0.0
    else:
        # two one-sided tests at 2.5 % (Schuirmann 1987; Phillips 1990)
        shown = equivalence_power(difference, matters, se, df, alpha=0.025)
        assert found.same == pytest.approx(shown, abs=1e-7)


def test_no_worse_is_the_one_sided_noncentral_t():
    # "no worse", "better" and "the same" together: the lower limit lies above -M
    for difference, se, df, margin in [
        (0.0, 1.0, 10, 2.5),
        (0.5, 0.7, 4, 1.0),
        (-1, 0.4, 30, 2),
    ]:
        found = verdict_chances(difference, se, df, matters=margin)
        above = t_power(difference + margin, se, df, alpha=0.025, two_sided=False)
        c = stats.t.ppf(0.975, df)
        assert above == pytest.approx(stats.nct.sf(c, df, (difference + margin) / se), abs=1e-9)
        # the lower limit lies above 0 and below -M never at once
        assert found.same + found.better + found.no_worse == pytest.approx(
            above - _worse_and_no_worse(difference, se, df, margin), abs=1e-8
        )


def _worse_and_no_worse(difference, se, df, margin):
    """P(-M <= L, U < 0, not within M): told as worse although it is no worse by M."""
    c = stats.t.ppf(0.975, df)

    def inside(s):
        h = c * se * s
        low, high = h - margin, min(-h, math.inf)
        if h <= margin:  # those within M are "the same"
            high = min(high, h - margin)
        if high <= low:
            return 0.0
        p = stats.norm.cdf((high - difference) / se) - stats.norm.cdf((low - difference) / se)
        return p * stats.chi2.pdf(df * s * s, df) * 2 * df * s

    return integrate.quad(inside, 0, 6, limit=200)[0]


@pytest.mark.parametrize("df", [1, 3, 10])
@pytest.mark.parametrize("difference", [0.0, 0.8, -2.0])
def test_simulated_intervals_fall_into_the_classes_as_often(df, difference):
    rng = np.random.default_rng(df)
    n, se, matters = 400_000, 0.6, 1.5
    e = difference + se * rng.standard_normal(n)
    h = stats.t.ppf(0.975, df) * se * np.sqrt(rng.chisquare(df, n) / df)
    counts = np.bincount(classes_of(e - h, e + h, matters), minlength=6) / n
    expected = np.array(verdict_chances(difference, se, df, matters=matters).as_tuple)
    error = np.sqrt(expected * (1 - expected) / n)
    assert (np.abs(counts - expected) <= 4 * error + 1e-6).all()


def test_a_least_half_width_counts_too():
    found = verdict_chances(1.0, 0.4, 8, spread=0.45, least=0.9)
    power = widest_power(1.0, 0.4, 8, spread=0.45, least=0.9)
    assert found.better + found.worse == pytest.approx(
        power, abs=1e-4
    )  # its rule is not cut at the kink


@given(low=st.floats(-3, 3), width=st.floats(0, 4), matters=st.none() | st.floats(0.01, 3))
def test_classes_are_the_verdicts_of_single_seasons(low, width, matters):
    high = low + width
    found = CLASSES[int(classes_of(np.array([low]), np.array([high]), matters)[0])]
    word = verdict_of(low, high, matters, "more")
    assert word.startswith(found if found != "same" else "the same")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((0.0, 0.0, 5), "se and df must be above zero"),
        ((0.0, 1.0, 0), "se and df must be above zero"),
    ],
)
def test_what_has_no_answer_is_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        verdict_chances(*arguments)
    with pytest.raises(ValueError, match="matters must be above zero"):
        verdict_chances(0.0, 1.0, 5, matters=0.0)
