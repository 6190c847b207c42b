"""Invariances of the first line: rescaling, shifting, relabeling, swapping, agreement."""

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from wickstats.models.linear.contrasts import against_reference, all_pairs, mean_weights
from wickstats.models.linear.dispersion import fit_shares
from wickstats.models.linear.estimates import Estimate
from wickstats.models.linear.multiplicity import Method, adjust
from wickstats.models.linear.paired import paired_contrast
from wickstats.models.linear.strata import UnitFit, fit_units
from wickstats.models.ratios.counts import fit_counts
from wickstats.models.ratios.fieller import fieller_limits
from wickstats.models.ratios.sums import log_ratio_of_sums

Trial = tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64], int]


@st.composite
def trials(draw: st.DrawFn) -> Trial:
    """Blocked trials with some units lost and unequal values; at least 2 residual df."""
    arms = draw(st.integers(2, 5))
    blocks = draw(st.integers(3, 6))
    lost = draw(st.integers(0, min(2, arms * blocks - arms - blocks - 1)))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    cell, block = (part.ravel() for part in np.indices((arms, blocks)))
    keep = np.sort(rng.permutation(cell.size)[lost:])
    values = rng.normal(10.0, 3.0, keep.size)
    return values, cell[keep], block[keep], arms


def refit(trial: Trial, **changes: NDArray[np.float64]) -> UnitFit:
    values, cells, blocks, arms = trial
    return fit_units(changes.get("values", values), cells, arms, blocks=blocks)


def numbers(e: Estimate) -> list[float]:
    if e.not_estimable:
        reject()  # another draw: skipping would end the whole property
    found = (e.estimate, e.se, e.df, e.low, e.high, e.p)
    return [float(x) for x in found if x is not None]


@given(trials(), st.floats(1e-6, 1e8), st.floats(-1e3, 1e3))
@settings(deadline=None, max_examples=60)
def test_rescaling_and_shifting(trial: Trial, factor: float, shift: float) -> None:
    weights = against_reference(trial[3], 0)[0]
    plain = refit(trial).contrast(weights)
    other = refit(trial, values=factor * (trial[0] + shift)).contrast(weights)
    if plain.p is None or other.p is None:
        assert plain.not_estimable == other.not_estimable
        return
    estimate, se, df, low, high, p = numbers(plain)
    expected = [factor * estimate, factor * se, df, factor * low, factor * high, p]
    size = factor * (abs(estimate) + se)
    assert numbers(other)[:2] == pytest.approx(expected[:2], abs=1e-8 * size)
    assert numbers(other)[2:] == pytest.approx(expected[2:], rel=1e-6, abs=1e-8 * size)


@given(trials(), st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=40)
def test_order_of_rows_and_labels_do_not_matter(trial: Trial, random: st.DrawFn) -> None:
    values, cells, blocks, arms = trial
    order = list(range(values.size))
    random.shuffle(order)  # type: ignore[attr-defined]
    names = list(range(arms))
    random.shuffle(names)  # type: ignore[attr-defined]
    renamed = np.array(names)[cells]
    weights = against_reference(arms, 0)[0]
    turned = np.zeros(arms)
    turned[names] = weights
    plain = fit_units(values, cells, arms, blocks=blocks)
    other = fit_units(values[order], renamed[order], arms, blocks=(7 - blocks)[order])
    a, b = plain.contrast(weights), other.contrast(turned)
    assert (a.not_estimable is None) == (b.not_estimable is None)
    if a.not_estimable is None:
        assert numbers(a) == pytest.approx(numbers(b), rel=1e-8, abs=1e-10)
        mean = np.eye(arms)[0]
        turned_mean = np.eye(arms)[names[0]]
        assert numbers(plain.mean(mean)) == pytest.approx(
            numbers(other.mean(turned_mean)), rel=1e-8
        )


@given(trials())
@settings(deadline=None, max_examples=40)
def test_swapping_the_arms_turns_the_sign_and_keeps_p(trial: Trial) -> None:
    values, cells, blocks, arms = trial
    weights = against_reference(arms, 0)[0]
    plants = 1.0 + np.arange(values.size) % 4
    makers = [
        fit_units(values, cells, arms, blocks=blocks, plants=plants).contrast,
        lambda w: paired_contrast(values, cells, w, blocks=blocks),
        fit_shares(np.floor(plants / 2), plants, cells, arms, blocks=blocks).contrast,
        fit_counts(np.floor(np.exp(values / 5)), cells, arms, blocks=blocks).contrast,
    ]
    for contrast in makers:
        one, other = contrast(weights), contrast(-weights)
        if one.not_estimable:
            assert other.not_estimable == one.not_estimable
            continue
        e1, e2 = numbers(one), numbers(other)
        assert e1[0] == pytest.approx(-e2[0], rel=1e-8, abs=1e-12)
        assert [e1[3], e1[4]] == pytest.approx([-e2[4], -e2[3]], rel=1e-8, abs=1e-12)
        assert e1[5] == pytest.approx(e2[5], rel=1e-8)


@given(trials(), st.sampled_from([0.8, 0.95, 0.99]))
@settings(deadline=None, max_examples=60)
def test_interval_and_p_agree(trial: Trial, confidence: float) -> None:
    values, cells, blocks, arms = trial
    plants = 1.0 + np.arange(values.size) % 3
    fit = fit_units(values, cells, arms, blocks=blocks, plants=plants, confidence=confidence)
    for weights in all_pairs(arms):
        found = fit.contrast(weights)
        if found.not_estimable:
            continue
        _, _, _, low, high, p = numbers(found)
        assert (p < 1 - confidence) == (low > 0 or high < 0)


@given(trials(), st.sampled_from(["tukey", "single-step", "bonferroni"]))
@settings(deadline=None, max_examples=25)
def test_adjusted_intervals_and_p_agree(trial: Trial, method: Method) -> None:
    values, cells, blocks, arms = trial
    fit = fit_units(values, cells, arms, blocks=blocks)
    pairs = all_pairs(arms)
    estimates = [fit.contrast(w) for w in pairs]
    if any(e.not_estimable for e in estimates):
        return
    family = adjust(estimates, method, covariance=fit.covariance(pairs))
    for e, p, low, high in zip(estimates, family.p, family.low, family.high, strict=True):
        assert p is not None
        assert low is not None
        assert high is not None
        assert e.p is not None
        assert e.p - 1e-12 <= p <= min(1.0, len(pairs) * e.p) + 1e-12
        if abs(p - 0.05) > 1e-6:
            assert (p < 0.05) == (low > 0 or high < 0)


@given(
    st.floats(0.1, 100), st.floats(0.1, 100), st.floats(0.01, 5), st.floats(0.01, 5),
    st.floats(1e-4, 1e4), st.integers(1, 40),
)  # fmt: skip
@settings(deadline=None)
def test_fieller_of_rescaled_means_is_unchanged(
    a: float, b: float, se_a: float, se_b: float, k: float, df: int
) -> None:
    one = fieller_limits(a, b, se_a, se_b, df=df)
    other = fieller_limits(k * a, k * b, k * se_a, k * se_b, df=df)
    assert one.g == pytest.approx(other.g, rel=1e-9)
    if one.g is not None and one.g < 1 - 1e-6:
        assert (one.low, one.high) == pytest.approx((other.low, other.high), rel=1e-5)
        assert one.low is not None
        assert one.high is not None
        assert one.low <= a / b * (1 + 1e-9)
        assert one.high >= a / b * (1 - 1e-9)


@given(trials(), st.floats(1e-3, 1e3))
@settings(deadline=None, max_examples=30)
def test_ratio_of_sums_follows_the_unit_of_measure(trial: Trial, liters: float) -> None:
    values, cells, blocks, _ = trial
    yields = np.maximum(values - 6.0, 0.0)
    water = 5.0 + np.arange(values.size) % 3
    one = log_ratio_of_sums(yields, cells, arms=(0,), water=water, blocks=blocks)
    other = log_ratio_of_sums(yields, cells, arms=(0,), water=liters * water, blocks=blocks)
    assert one.not_estimable == other.not_estimable
    if one.not_estimable is None:
        assert one.estimate is not None
        assert other.estimate == pytest.approx(one.estimate - np.log(liters), abs=1e-9)
        assert other.se == pytest.approx(one.se, rel=1e-6)
    both = log_ratio_of_sums(yields, cells, arms=(0, 1), water=water, blocks=blocks)
    turned = log_ratio_of_sums(yields, cells, arms=(1, 0), water=water, blocks=blocks)
    assert both.not_estimable == turned.not_estimable
    if both.estimate is not None:
        assert turned.estimate == pytest.approx(-both.estimate, abs=1e-12)


def test_means_of_equal_weights_average_to_the_grand_mean() -> None:
    values = np.arange(12.0) ** 1.5
    cells, blocks = (part.ravel() for part in np.indices((3, 4)))
    fit = fit_units(values, cells, 3, blocks=blocks)
    means = [fit.mean(mean_weights((3,), {0: k})).estimate for k in range(3)]
    assert np.mean([m for m in means if m is not None]) == pytest.approx(values.mean())
