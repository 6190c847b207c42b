"""An arm that bears in fewer than two blocks: bound, verdict and words of the comparison."""

from math import exp, sqrt

import numpy as np
import pytest
from analysis_makers import one_value_a_plot
from scipy.stats import t as student

from wickstats.analysis.season import analyze_season
from wickstats.core.codec import to_plain
from wickstats.design.trial import Response

FRUIT = Response(
    name="fruit", kind="yield", column="value", measured_in="kg", scale="log", better="more"
)
HAND = [5.0, 6.0, 4.0, 5.0, 7.0, 5.0]


def analyzed(values, response=FRUIT, **parts):
    made = one_value_a_plot(values, response=response, reference="hand", **parts)
    return analyze_season(*made).responses[0]


def lower_limit(values, confidence):
    """Of the log mean, leaving out one block (Quenouille 1956; Tukey 1958), computed."""
    given = np.array(values)
    left = np.log((given.sum() - given) / (given.size - 1))
    se = sqrt((given.size - 1) / given.size * np.sum((left - left.mean()) ** 2))
    quantile = student.ppf(confidence, given.size - 1)
    return exp(np.log(given.mean()) - quantile * se)


def test_an_arm_that_never_bore_is_worse_when_its_bound_says_so():
    found = analyzed({"hand": HAND, "wick": [0.0] * 6})
    row = found.comparisons[0]
    # 1 - alpha^(1/6) of the largest total (Clopper & Pearson 1934), each side at 2.5 %
    limit = (1 - 0.025 ** (1 / 6)) * 7.0 / lower_limit(HAND, 0.975)
    assert row.estimate == 0.0
    assert row.low is None
    assert row.high_adjusted == pytest.approx(limit, rel=1e-9)
    assert (row.bound, row.verdict) == ("upper", "worse")
    assert row.redraws.p == pytest.approx(2 / 2**6)
    assert row.absolute.high == pytest.approx(np.mean(HAND) * (limit - 1), rel=1e-9)
    assert "wick bore in 0 of 6 blocks" in row.sentence
    assert "at most 0.740 times as much as hand" in row.sentence
    assert "p 0.031" in row.sentence
    mean = next(m for m in found.means if m.treatment == "wick")
    assert (mean.estimate, mean.bound) == (0.0, "upper")
    assert mean.high == pytest.approx((1 - 0.05 ** (1 / 6)) * 7.0, rel=1e-9)
    assert any("wick bore in 0 of 6 blocks" in text for text in found.cautions)
    to_plain(found)  # raises on NaN and infinity


def test_turned_around_the_lowest_ratio_is_known_and_the_verdict_turns():
    there = analyzed({"hand": HAND, "wick": [0.0] * 6}).comparisons[0]
    turned = analyzed({"hand": [0.0] * 6, "wick": HAND}).comparisons[0]
    assert turned.estimate is None
    assert (turned.bound, turned.verdict) == ("lower", "better")
    assert turned.low_adjusted == pytest.approx(1 / there.high_adjusted, rel=1e-12)
    assert turned.absolute is None
    assert "at least" in turned.sentence


def test_at_three_blocks_nothing_is_claimed_and_the_words_say_what_would_tell():
    row = analyzed({"hand": [5.0, 6.0, 4.0], "wick": [0.0, 0.3, 0.0]}).comparisons[0]
    assert row.estimate == pytest.approx(0.3 / 15.0, rel=1e-12)
    assert (row.bound, row.verdict) == ("upper", "cannot tell")
    assert row.high_adjusted > 1.0
    assert "wick bore in 1 of 3 blocks" in row.sentence
    assert "cannot be reckoned from this season" in row.sentence
    assert "about" not in row.sentence


def test_without_yield_on_both_sides_there_is_no_bound_and_no_verdict():
    row = analyzed({"hand": [0.0] * 4, "wick": [0.0, 1.0, 0.0, 0.0]}).comparisons[0]
    assert (row.low, row.high, row.bound, row.verdict) == (None, None, None, None)
    assert "fewer than two blocks" in row.not_estimable
    assert "no bound can be given" in row.sentence


def test_families_share_the_error_rate():
    alone = analyzed({"hand": HAND, "wick": [0.0] * 6}).comparisons[0]
    among = analyzed({"hand": HAND, "wick": [0.0] * 6, "pot": HAND[::-1]})
    row = next(c for c in among.comparisons if c.treatment == "wick")
    assert row.high_adjusted > alone.high_adjusted
    limit = (1 - 0.0125 ** (1 / 6)) * 7.0 / lower_limit(HAND, 0.9875)
    assert row.high_adjusted == pytest.approx(limit, rel=1e-9)


def test_counts_of_nothing_at_all_are_bounded_too():
    fruits = Response(name="fruits", kind="count", column="value", better="more")
    found = analyzed({"hand": [40.0, 35, 50, 42, 38, 45], "wick": [0.0] * 6}, fruits)
    row = found.comparisons[0]
    assert (row.estimate, row.bound, row.verdict) == (0.0, "upper", "worse")
    limit = (1 - 0.025 ** (1 / 6)) * 50 / lower_limit([40, 35, 50, 42, 38, 45], 0.975)
    assert row.high_adjusted == pytest.approx(limit, rel=1e-9)


def test_replicates_without_blocks_are_bounded_by_units():
    row = analyzed(
        {"hand": HAND, "wick": [0.0] * 6}, design="completely randomized"
    ).comparisons[0]
    assert row.bound == "upper"
    assert "0 of 6 units" in row.sentence


def test_a_single_unit_gets_no_bound():
    trial = {"hand": HAND, "wick": [0.0, *[float("nan")] * 5]}
    row = analyzed(trial).comparisons[0]
    assert row.bound is None
    assert row.verdict is None
