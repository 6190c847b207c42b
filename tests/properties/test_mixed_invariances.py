"""What must not change a mixed model's verdicts, and what balanced data must give."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
from wickstats.models.linear.reml import fit_mixed

QUIET = settings(max_examples=25, deadline=None)
SEEDS = st.integers(0, 10_000)


def season(seed):
    """An unbalanced invented season: values, arms, blocks, plots."""
    rng = np.random.default_rng(seed)
    blocks, arms, plants = rng.integers(3, 6), rng.integers(2, 5), rng.integers(3, 7)
    plot = np.repeat(np.arange(blocks * arms), plants)
    y = rng.normal(0, 1, blocks)[plot // arms] + rng.normal(0, 0.7, blocks * arms)[plot]
    y = y + rng.normal(size=len(plot))
    lost = rng.random(len(plot)) < 0.2
    lost |= plot == rng.integers(0, blocks * arms)
    plot = plot[~lost]
    block = plot // arms
    # enough plots left to tell blocks from plots
    assume(len(np.unique(plot)) >= len(np.unique(block)) + arms)
    return y[~lost], plot % arms, block, plot


def analyze(y, arm, block, plot):
    X = (arm[:, None] == np.unique(arm)).astype(float)
    fit = fit_mixed(y, X, {"block": block, "plot": plot})
    L = np.diff(np.eye(X.shape[1]), axis=0)
    return fit, mixed_contrasts(fit, L), mixed_test(fit, L)


def verdict(fit, rows, test):
    """All that has no unit; -1 for what is said in words."""
    numbers = [v for row in rows for v in (row.t, row.df, row.p)]
    numbers += [test.f, test.df_den, test.p, float(fit.converged), float(fit.singular)]
    return [-1.0 if v is None else v for v in numbers]


@QUIET
@given(SEEDS, st.sampled_from([1e-6, 1e-3, 7.0, 1e8]))
def test_the_unit_of_measure_changes_nothing_but_the_scale(seed, factor):
    y, *layout = season(seed)
    one, other = analyze(y, *layout), analyze(factor * y, *layout)
    assert verdict(*other) == pytest.approx(verdict(*one), rel=1e-6)
    found = np.array(other[0].components) / factor**2
    np.testing.assert_allclose(found, one[0].components, rtol=1e-6, atol=1e-12)
    moved = 2 * (one[0].n - one[0].rank) * math.log(factor)
    assert other[0].objective - moved == pytest.approx(one[0].objective, rel=1e-8, abs=1e-7)


@QUIET
@given(SEEDS, st.floats(-1e4, 1e4))
def test_a_shift_moves_only_the_level(seed, shift):
    y, *layout = season(seed)
    one, other = analyze(y, *layout), analyze(y + shift, *layout)
    assert verdict(*other) == pytest.approx(verdict(*one), rel=1e-5, abs=1e-9)
    np.testing.assert_allclose(other[0].fixed - shift, one[0].fixed, rtol=1e-6, atol=1e-7)


@QUIET
@given(SEEDS)
def test_row_order_and_labels_do_not_matter(seed):
    y, arm, block, plot = season(seed)
    order = np.random.default_rng(seed).permutation(len(y))
    one = analyze(y, arm, block, plot)
    other = analyze(y[order], arm[order], 91 - 3 * block[order], 1000 - 7 * plot[order])
    assert verdict(*other) == pytest.approx(verdict(*one), rel=1e-6)


@QUIET
@given(SEEDS)
def test_swapping_two_arms_turns_the_sign_and_keeps_p(seed):
    y, arm, block, plot = season(seed)
    swapped = np.where(arm == 0, 1, np.where(arm == 1, 0, arm))
    first, second = analyze(y, arm, block, plot)[1][0], analyze(y, swapped, block, plot)[1][0]
    assert second.estimate == pytest.approx(-first.estimate, rel=1e-7, abs=1e-9)
    assert second.p == pytest.approx(first.p, rel=1e-6)
    assert second.df == pytest.approx(first.df, rel=1e-6)


def split_plot(seed, blocks, whole, sub):
    """A complete split-plot: values (blocks, whole, sub) and its fixed columns and groups."""
    rng = np.random.default_rng(seed)
    y = rng.normal(0, 2, (blocks, 1, 1)) + rng.normal(0, 1.5, (blocks, whole, 1))
    y = y + rng.normal(size=(blocks, whole, sub))
    b, w, s = (v.ravel() for v in np.indices(y.shape))
    X = ((w * sub + s)[:, None] == np.arange(whole * sub)).astype(float)
    return y, X, {"block": b, "whole plot": b * whole + w}


@QUIET
@given(SEEDS, st.integers(2, 6), st.integers(2, 4), st.integers(2, 4))
def test_balanced_split_plots_give_the_classical_closed_forms(seed, blocks, whole, sub):
    y, X, groups = split_plot(seed, blocks, whole, sub)
    bw, ws = y.mean(axis=2), y.mean(axis=0)
    b, w, s, grand = bw.mean(axis=1), ws.mean(axis=1), ws.mean(axis=0), y.mean()
    ms_block = whole * sub * np.sum((b - grand) ** 2) / (blocks - 1)
    df_a = (blocks - 1) * (whole - 1)
    ms_a = sub * np.sum((bw - b[:, None] - w + grand) ** 2) / df_a
    df_b = whole * (blocks - 1) * (sub - 1)
    ms_b = np.sum((y - bw[:, :, None] - ws + w[:, None]) ** 2) / df_b
    # where a mean square is next to nothing the matrices are next to singular
    assume(min(ms_block, ms_a, ms_b) > 1e-2 * max(ms_block, ms_a, ms_b))
    classical = ((ms_block - ms_a) / (whole * sub), (ms_a - ms_b) / sub, ms_b)

    free = fit_mixed(y.ravel(), X, groups, mode="strata")
    assert free.converged
    scale = max(ms_block, ms_a, ms_b)
    assert free.components == pytest.approx(classical, rel=1e-10, abs=1e-10 * scale)
    bounded = fit_mixed(y.ravel(), X, groups)
    if min(classical) > 0:
        assert bounded.components == pytest.approx(classical, rel=1e-10, abs=1e-10 * scale)
        assert bounded.objective == pytest.approx(free.objective, rel=1e-12, abs=1e-10)
    else:
        assert bounded.singular
        assert bounded.objective >= free.objective - 1e-10

    main = np.kron(np.diff(np.eye(whole), axis=0), np.ones((1, sub)) / sub)
    test = mixed_test(free, main)
    f = blocks * sub * np.sum((w - grand) ** 2) / (whole - 1) / ms_a
    assert test.f == pytest.approx(f, rel=1e-8)
    assert test.df_den == pytest.approx(df_a, rel=1e-7)
    inner = np.kron(np.ones((1, whole)) / whole, np.diff(np.eye(sub), axis=0))
    test = mixed_test(free, inner)
    f = blocks * whole * np.sum((s - grand) ** 2) / (sub - 1) / ms_b
    assert test.f == pytest.approx(f, rel=1e-8)
    assert test.df_den == pytest.approx(df_b, rel=1e-7)


@QUIET
@given(SEEDS)
def test_strata_mode_is_never_worse_than_nonnegative_mode(seed):
    y, arm, block, plot = season(seed)
    X = (arm[:, None] == np.unique(arm)).astype(float)
    bounded = fit_mixed(y, X, {"block": block, "plot": plot})
    free = fit_mixed(y, X, {"block": block, "plot": plot}, mode="strata")
    if free.converged:
        assert free.objective <= bounded.objective + 1e-8
    assert min(bounded.components) >= 0


@QUIET
@given(SEEDS)
def test_fitting_twice_gives_the_same_bits(seed):
    one, other = analyze(*season(seed)), analyze(*season(seed))
    assert one[0].components == other[0].components
    assert one[1:] == other[1:]
