"""Profile intervals: the deviance at their ends, and refusals in words."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize_scalar

from wickstats.models.linear.likelihood import evaluate
from wickstats.models.linear.profile import likelihood_rise, profile_components
from wickstats.models.linear.reml import fit_mixed


def one_term(seed, plot_sd):
    rng = np.random.default_rng(seed)
    plot = np.repeat(np.arange(12), rng.integers(2, 7, 12))
    y = plot_sd * rng.normal(size=12)[plot] + rng.normal(size=len(plot))
    return fit_mixed(y, np.ones((len(y), 1)), {"plot": plot})


@pytest.mark.parametrize("level", [0.8, 0.95])
def test_the_deviance_at_each_end_is_the_quantile(level):
    fit = one_term(1, 1.5)
    rise, square = stats.chi2.ppf(level, 1), fit.inner.scale**2
    plot, residual = profile_components(fit, level=level, method="profile")
    assert plot.low < plot.estimate < plot.high
    for k, interval in enumerate((plot, residual)):
        for end in (interval.low, interval.high):

            def other(log_value, k=k, end=end):
                theta = np.full(2, np.exp(log_value))
                theta[k] = end / square
                return evaluate(fit.inner.reduced, theta).objective

            best = minimize_scalar(other, bounds=(-8, 8), method="bounded").fun
            assert best - fit.inner.at.objective == pytest.approx(rise, abs=1e-5)


def test_the_lower_end_is_zero_where_zero_is_not_ruled_out():
    for seed in range(6):
        fit = one_term(seed, 0.0)
        plot, residual = profile_components(fit)
        assert plot.low == 0.0
        assert plot.high > plot.estimate
        assert 0 < residual.low < residual.estimate < residual.high


def test_intervals_scale_with_the_response():
    plot = np.repeat(np.arange(8), 3)
    y = np.random.default_rng(3).normal(size=8)[plot] + np.random.default_rng(4).normal(size=24)
    X = np.ones((24, 1))
    small = profile_components(fit_mixed(y, X, {"plot": plot}))
    large = profile_components(fit_mixed(1e6 * y, X, {"plot": plot}))
    for a, b in zip(small, large, strict=True):
        assert b.low == pytest.approx(1e12 * a.low, rel=1e-7)
        assert b.high == pytest.approx(1e12 * a.high, rel=1e-7)


def test_other_fits_get_the_reason():
    block = np.repeat(np.arange(4), 3)
    y = np.random.default_rng(5).normal(size=12)
    fit = fit_mixed(y, np.ones((12, 1)), {"block": block}, mode="strata")
    for interval in profile_components(fit):
        assert interval.low is None
        assert interval.high is None
        assert "components at or above zero" in str(interval.not_estimable)


def left_over(y, *columns):
    """Degrees of freedom and sum of squares left by least squares on all columns."""
    X = np.hstack(columns)
    rank = np.linalg.matrix_rank(X)
    basis = np.linalg.svd(X, full_matrices=False)[0][:, :rank]
    left = y - basis @ (basis.T @ y)
    return len(y) - rank, float(left @ left)


def nested(seed, plot_sd=1.0):
    rng = np.random.default_rng(seed)
    plot = np.repeat(np.arange(12), rng.integers(1, 5, 12))
    block, arm = plot // 3, plot % 3
    y = rng.normal(size=4)[block] + plot_sd * rng.normal(size=12)[plot]
    return y + rng.normal(size=len(plot)), np.eye(3)[arm], {"block": block, "plot": plot}


def crossed(seed):
    rng = np.random.default_rng(seed)
    row, column = (v.ravel()[:-2] for v in np.indices((5, 5)))
    y = rng.normal(size=5)[row] + 0.4 * rng.normal(size=5)[column] + rng.normal(size=23)
    return y, np.eye(5)[(row + column) % 5], {"row": row, "column": column}


@pytest.mark.parametrize("level", [0.8, 0.95])
@pytest.mark.parametrize("make", [nested, crossed])
def test_the_residual_has_the_chi_square_interval_of_what_nothing_else_touches(make, level):
    y, X, groups = make(3)
    fit = fit_mixed(y, X, groups)
    df, squares = left_over(y, X, *(np.eye(g.max() + 1)[g] for g in groups.values()))
    low, high = squares / stats.chi2.ppf([0.5 + 0.5 * level, 0.5 - 0.5 * level], df)
    residual = profile_components(fit, level=level)[-1]
    assert residual.low == pytest.approx(min(low, residual.estimate), rel=1e-6)
    assert residual.high == pytest.approx(max(high, residual.estimate), rel=1e-6)


def full_rank(*columns):
    """The columns without those that the earlier ones already make."""
    X = np.hstack(columns)
    kept = []
    for j in range(X.shape[1]):
        if np.linalg.matrix_rank(X[:, [*kept, j]]) > len(kept):
            kept.append(j)
    return X[:, kept]


@pytest.mark.parametrize("seed", [6, 9, 12])
@pytest.mark.parametrize("make", [nested, crossed])
def test_the_others_rise_by_the_quantile_on_their_own_degrees_of_freedom(make, seed):
    y, X, groups = make(seed)
    fit = fit_mixed(y, X, groups)
    columns = {name: np.eye(g.max() + 1)[g] for name, g in groups.items()}
    small = profile_components(fit)[:-1]
    for name, interval in zip(groups, small, strict=True):
        # blocks before plots; rows and columns each after the other, which is then fixed
        before = {n for n, c in columns.items() if n != name and c.shape[1] <= 5}
        known = full_rank(X, *(columns[n] for n in before))
        df = left_over(y, known)[0] - left_over(y, known, columns[name])[0]
        rise = likelihood_rise(float(df), 0.95)
        # the plain profile reaches as far at the level whose chi-square quantile this is
        level = float(stats.chi2.cdf(rise, 1))
        rest = {n: g for n, g in groups.items() if n not in before}
        alone = fit_mixed(y, known, rest)
        place = list(rest).index(name)
        plain = profile_components(alone, level=level, method="profile")[place]
        # what a component held far off still tells
        assert interval.low == pytest.approx(min(plain.low, interval.estimate), rel=2e-4)
        assert interval.high == pytest.approx(max(plain.high, interval.estimate), rel=2e-4)


@pytest.mark.parametrize("df", [1, 2, 5, 18, 400])
def test_the_rise_is_the_exact_quantile_of_one_variance(df):
    # Bartlett (1937): near 1 + 1/(3 df) times the chi-square quantile
    rise = likelihood_rise(float(df), 0.95)
    x = stats.chi2.ppf((np.arange(400_000) + 0.5) / 400_000, df) / df
    assert np.mean(df * (x - 1.0 - np.log(x)) <= rise) == pytest.approx(0.95, abs=1e-5)
    assert rise == pytest.approx(3.8415 * (1.0 + 1.0 / (3.0 * df)), rel=0.08 / df**2 + 1e-4)


def test_an_interval_holds_its_estimate():
    for seed in range(20):
        y, X, groups = nested(seed, plot_sd=0.0)
        for interval in profile_components(fit_mixed(y, X, groups)):
            assert interval.low <= interval.estimate <= interval.high
