"""Kenward-Roger and Satterthwaite: small trials, limits, refusals in words."""

import numpy as np
import pytest
from scipy import stats

from wickstats.models.linear.degrees import contrast_covariance, mixed_contrasts, mixed_test
from wickstats.models.linear.reml import fit_mixed


def blocked(blocks, arms, seed=1, block_sd=30.0):
    """A complete blocked trial with clear blocks: values (blocks, arms) and its fit."""
    rng = np.random.default_rng(seed)
    table = rng.normal(0, block_sd, blocks)[:, None] + rng.normal(size=(blocks, arms))
    arm = np.tile(np.arange(arms), blocks)
    X = (arm[:, None] == np.arange(arms)).astype(float)
    fit = fit_mixed(table.ravel(), X, {"block": np.repeat(np.arange(blocks), arms)})
    return table, fit


@pytest.mark.parametrize(("blocks", "arms"), [(3, 2), (2, 2), (2, 3), (4, 3)])
def test_small_complete_trials_equal_the_analysis_by_strata(blocks, arms):
    table, fit = blocked(blocks, arms)
    assert not fit.singular
    df = (blocks - 1) * (arms - 1)
    means = table.mean(axis=0)
    error = table - table.mean(axis=1, keepdims=True) - means + table.mean()
    mse = np.sum(error**2) / df
    L = np.zeros((1, arms))
    L[0, :2] = -1, 1
    for method in ("kenward-roger", "satterthwaite"):
        row = mixed_contrasts(fit, L, method=method)[0]
        se = np.sqrt(2 * mse / blocks)
        t = (means[1] - means[0]) / se
        assert row.estimate == pytest.approx(means[1] - means[0], rel=1e-10)
        assert row.se == pytest.approx(se, rel=1e-9)
        assert row.df == pytest.approx(df, rel=1e-8)
        assert row.p == pytest.approx(2 * stats.t.sf(abs(t), df), rel=1e-7)
        half = stats.t.isf(0.025, df) * se
        assert row.high - row.low == pytest.approx(2 * half, rel=1e-7)
    joint = mixed_test(fit, np.diff(np.eye(arms), axis=0))
    f = blocks * np.sum((means - table.mean()) ** 2) / (arms - 1) / mse
    assert joint.f == pytest.approx(f, rel=1e-8)
    assert joint.df_den == pytest.approx(df, rel=1e-8)
    assert joint.scaling == 1.0
    assert joint.p == pytest.approx(stats.f.sf(f, arms - 1, df), rel=1e-7)


def test_the_design_caps_the_degrees_of_freedom():
    _, fit = blocked(4, 3)
    L = np.array([[-1.0, 1.0, 0.0]])
    free, capped = mixed_contrasts(fit, L)[0], mixed_contrasts(fit, L, design_df=2)[0]
    assert free.df == pytest.approx(6, rel=1e-8)
    assert capped.df == 2
    assert capped.se == free.se
    assert capped.high - capped.low > free.high - free.low
    assert mixed_contrasts(fit, L, design_df=60)[0] == free


def test_covariance_of_contrasts_goes_with_their_standard_errors():
    _, fit = blocked(5, 4)
    L = np.array([[-1, 1, 0, 0], [-1, 0, 1, 0], [-1, 0, 0.5, 0.5]], dtype=float)
    rows = mixed_contrasts(fit, L)
    found = contrast_covariance(fit, L)
    assert np.sqrt(np.diagonal(found)) == pytest.approx([r.se for r in rows], rel=1e-12)
    np.testing.assert_allclose(found, found.T, rtol=1e-12)


def test_dependent_rows_count_once():
    _, fit = blocked(5, 4)
    L = np.diff(np.eye(4), axis=0)
    once = mixed_test(fit, L)
    twice = mixed_test(fit, np.vstack([L, L.sum(axis=0), 3 * L[0]]))
    assert twice.df_num == 3
    assert twice.f == pytest.approx(once.f, rel=1e-9)
    assert twice.df_den == pytest.approx(once.df_den, rel=1e-9)


def test_satterthwaite_is_not_given_where_a_component_is_zero():
    table, _ = blocked(4, 3)
    flat = (table - table.mean(axis=1, keepdims=True)).ravel()
    X = np.tile(np.eye(3), (4, 1))
    fit = fit_mixed(flat, X, {"block": np.repeat(np.arange(4), 3)})
    assert fit.singular
    row = mixed_contrasts(fit, np.array([[-1.0, 1.0, 0.0]]), method="satterthwaite")[0]
    assert row.df is None
    assert "a variance component stands at zero" in str(row.not_estimable)
    assert mixed_test(fit, np.eye(3)[:2], method="satterthwaite").f is None
    kr = mixed_contrasts(fit, np.array([[-1.0, 1.0, 0.0]]))[0]
    assert kr.df is not None
    assert kr.not_estimable is None


def test_contrasts_that_the_data_cannot_give_say_so():
    arm = np.tile([0, 1, 1], 4)
    X = np.column_stack([np.ones(12), arm, arm, np.zeros(12)])
    y = np.random.default_rng(3).normal(size=12)
    fit = fit_mixed(y, X, {"block": np.repeat(np.arange(4), 3)})
    assert fit.aliased == (2, 3)
    L = np.array([[0, 1, 1, 0], [0, 1, 0, 0], [0, 0, 0, 1], [0, 0, 0, 0]], dtype=float)
    rows = mixed_contrasts(fit, L)
    assert rows[0].not_estimable is None
    for row in rows[1:]:
        assert row.estimate is None
        assert str(row.not_estimable).startswith("this comparison cannot be estimated")
    assert mixed_test(fit, L[:2]).not_estimable == rows[1].not_estimable
    with pytest.raises(ValueError, match="cannot be estimated from the data at hand"):
        contrast_covariance(fit, L)
    with pytest.raises(ValueError, match="one column for each column of the fixed part"):
        mixed_contrasts(fit, np.eye(3))


def test_a_fit_that_did_not_converge_gives_no_numbers():
    plot = np.repeat(np.arange(12), 2)
    y = np.repeat(np.random.default_rng(8).normal(size=12), 2)
    fit = fit_mixed(y, np.ones((24, 1)), {"plot": plot})
    row = mixed_contrasts(fit, np.ones((1, 1)))[0]
    assert row.estimate is None
    assert row.not_estimable == fit.reason
    assert mixed_test(fit, np.ones((1, 1))).not_estimable == fit.reason


def test_joint_tests_near_two_df_are_not_scaled_to_nothing():
    """Two blocks of three arms, unequal plots: F stays near its unscaled value."""
    scalings = []
    for seed in range(25):
        rng = np.random.default_rng(seed)
        plot = np.repeat(np.arange(6), 5)
        keep = rng.random(30) > 0.3
        y = rng.normal(size=6)[plot] + rng.normal(size=30)
        X = (plot[:, None] % 3 == np.arange(3)).astype(float)
        groups = {"block": plot[keep] // 3, "plot": plot[keep]}
        fit = fit_mixed(y[keep], X[keep], groups)
        joint = mixed_test(fit, np.diff(np.eye(3), axis=0))
        assert joint.not_estimable is None
        scalings.append(joint.scaling)
    assert min(scalings) >= 0.5
    assert max(scalings) <= 1.5
