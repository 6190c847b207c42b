"""Profile intervals: the deviance at their ends, and refusals in words."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize_scalar

from wickstats.models.linear.likelihood import evaluate
from wickstats.models.linear.profile import profile_components
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
    plot, residual = profile_components(fit, level=level)
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
