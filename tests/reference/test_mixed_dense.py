"""Structured covariances against dense textbook matrices, derivatives taken numerically."""

import math

import numpy as np
import pytest
from dense_mixed import slopes_of, textbook, textbook_joint, textbook_kenward_roger
from mixed_open_data import STRUCTURED

from wickstats.core.errors import AnalysisError
from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
from wickstats.models.linear.growth import fit_terms
from wickstats.models.linear.reml import fit_mixed
from wickstats.models.linear.structured import evaluate_structured
from wickstats.models.linear.subjects import arrange
from wickstats.models.linear.terms import Intercept, Residual, Serial, Slope, natural, working


def trial(seed, *, gaps=True, uneven=False):
    """Invented: 3 blocks x 3 arms x 3 plants x 5 visits."""
    rng = np.random.default_rng(seed)
    block, arm, plant, visit = (v.ravel() for v in np.indices((3, 3, 3, 5)))
    plot = block * 3 + arm
    plant = plot * 3 + plant
    times = visit * 1.0
    if uneven:
        times = np.array([0.0, 0.7, 2.1, 3.0, 5.5])[visit] + 0.2 * (plant % 3 == 0)
    n = len(plot)
    y = 5 + 0.5 * arm + (0.4 + 0.1 * arm) * times + rng.normal(0, 0.6, 9)[plot]
    y = y + rng.normal(0, 0.7, 3)[block] + rng.normal(0, 0.4, 9)[plot] * times
    y = y + rng.normal(0, 0.5, 27)[plant] + rng.normal(0, 0.25, 27)[plant] * times
    y = y + rng.normal(0, 0.4 + 0.2 * arm, n)
    keep = rng.random(n) > 0.15 if gaps else np.ones(n, dtype=bool)
    X = (arm[:, None] == np.arange(3)).astype(float)
    X = np.hstack([X, X * times[:, None]])
    data = {"block": block, "plot": plot, "plant": plant, "arm": arm, "visit": visit}
    return y[keep], X[keep], {k: v[keep] for k, v in data.items()}, times[keep]


def models(data, times):
    block, plot, plant, arm = (data[k] for k in ("block", "plot", "plant", "arm"))
    visit, arms = data["visit"], ("A", "B", "C")
    crossed = data["visit"] * 3 + data["block"]
    return {
        "slopes by plant": [Intercept("plot", plot), Slope("plant", plant, times), Residual()],
        "slopes by plot": [
            Intercept("block", block),
            Slope("plot", plot, times),
            Intercept("plant", plant),
            Residual(arm, arms),
        ],
        "serial and nugget": [
            Intercept("plot", plot),
            Serial("serial", plant, times),
            Residual(),
        ],
        "serial alone": [Slope("plot", plot, times), Serial("residual", plant, times)],
        "serial by arm": [
            Intercept("block", block),
            Serial("residual", plant, times, by=arm, levels=arms),
        ],
        "by visit": [
            Intercept("plant", plant),
            Serial("residual", plant, times, by=visit, levels=tuple("12345")),
        ],
        "crossed": [Intercept("plot", plot), Intercept("block-visit", crossed), Residual()],
    }


THETA = {
    "slopes by plant": [0.3, 0.4, 0.05, 0.1, 0.5],
    "slopes by plot": [0.2, 0.3, -0.04, 0.06, 0.3, 0.2, 0.4, 0.6],
    "serial and nugget": [0.3, 0.5, 0.6, 0.2],
    "serial alone": [0.3, 0.02, 0.05, 0.5, 0.45],
    "serial by arm": [0.4, 0.3, 0.5, 0.8, 0.55],
    "by visit": [0.4, 0.3, 0.5, 0.8, 0.4, 0.6, 0.35],
    "crossed": [0.3, 0.2, 0.5],
}


@pytest.mark.parametrize("uneven", [False, True])
@pytest.mark.parametrize("name", sorted(THETA))
def test_likelihood_and_derivatives_equal_the_dense_ones(name, uneven):
    y, X, data, times = trial(1, uneven=uneven)
    terms = models(data, times)[name]
    if uneven:
        terms = [
            Serial(t.name, t.group, t.times, equal=False, unit=1.5, by=t.by, levels=t.levels)
            if isinstance(t, Serial)
            else t
            for t in terms
        ]
    theta = np.array(THETA[name])
    objective, gradient, expected, observed, _ = textbook(terms, X, y, theta)
    at, _ = evaluate_structured(arrange(np.column_stack([X, y]), terms), theta)
    assert at.objective == pytest.approx(objective, rel=1e-12)
    np.testing.assert_allclose(at.gradient, gradient, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(at.expected, expected, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(at.observed, observed, rtol=2e-5, atol=1e-4)


@pytest.mark.parametrize(
    "name", ["serial and nugget", "serial alone", "by visit", "slopes by plot"]
)
def test_kenward_roger_equals_the_dense_textbook_computation(name):
    y, X, data, times = trial(3)
    terms = models(data, times)[name]
    fit = fit_terms(y, X, terms)
    assert fit.converged, fit.reason
    theta = np.array(fit.components)
    objective, gradient, expected, _, parts = textbook(terms, X, y, theta)
    assert fit.objective == pytest.approx(objective, rel=1e-10)
    assert not fit.singular
    assert np.max(np.abs(gradient) / np.sqrt(np.diagonal(expected))) < 1e-5
    L = np.array([[0, 0, 0, 1, -1, 0], [0, 0, 0, 1, 0, -1], [1, -1, 0, 2, -2, 0.0]])
    agree(fit, X, theta, parts, expected, L, L[:2])


def agree(fit, X, theta, parts, expected, L, M):
    """Standard errors to 1e-6 and denominators to 1e-4, row by row and jointly."""
    adjusted, P, W = textbook_kenward_roger(X, theta, parts, expected)
    phi = parts[3]
    for row, found in zip(L, mixed_contrasts(fit, L), strict=True):
        assert found.se == pytest.approx(math.sqrt(row @ adjusted @ row), rel=1e-6)
        g = np.array([-row @ phi @ Pk @ phi @ row for Pk in P])
        df = 2 * (row @ phi @ row) ** 2 / (g @ W @ g)
        assert found.df == pytest.approx(df, rel=1e-4)
    f, df = textbook_joint(M, adjusted, phi, P, W, fit.fixed)
    found = mixed_test(fit, M)
    assert found.df_den == pytest.approx(df, rel=1e-4)
    assert found.f == pytest.approx(f, rel=1e-5)


@pytest.mark.parametrize(
    "name", ["ovary", "body-weight", "orthodont-visits", "orthodont-sex", "spruce-serial"]
)
def test_kenward_roger_with_serial_correlation_on_open_data(name):
    """No package at hand has it: the textbook computation at the same parameters."""
    y, X, terms = STRUCTURED[name]()
    fit = fit_terms(y, X, terms)
    theta = np.array(fit.components)
    objective, _, expected, _, parts = textbook(terms, X, y, theta)
    assert fit.objective == pytest.approx(objective, rel=1e-10)
    L = np.eye(X.shape[1])
    agree(fit, X, theta, parts, expected, L, L[1:3])


def test_plain_intercepts_are_the_same_by_both_ways():
    y, X, data, _ = trial(5)
    groups = {k: data[k] for k in ("block", "plot", "plant")}
    one = fit_mixed(y, X, groups)
    other = fit_terms(y, X, [*(Intercept(k, v) for k, v in groups.items()), Residual()])
    assert other.names == one.names
    assert other.objective == pytest.approx(one.objective, rel=1e-11)
    np.testing.assert_allclose(other.components, one.components, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(other.fixed, one.fixed, rtol=1e-8)
    for a, b in zip(
        mixed_contrasts(one, np.eye(6)), mixed_contrasts(other, np.eye(6)), strict=True
    ):
        assert b.se == pytest.approx(a.se, rel=1e-7)
        assert b.df == pytest.approx(a.df, rel=1e-6)


@pytest.mark.parametrize("scale", ["variance", "pair", "positive", "autocorrelation", "decay"])
def test_working_scales_and_their_derivatives(scale):
    phi = np.array([0.7, -0.4, 0.6]) if scale == "pair" else np.array([0.7])
    theta, J, bends = natural(scale, phi)
    np.testing.assert_allclose(working(scale, theta), phi, rtol=1e-12)
    first, second = slopes_of(lambda p: natural(scale, p)[0], phi, h=1e-3)
    np.testing.assert_allclose(J, first.T, rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(bends, second.transpose(2, 0, 1), rtol=1e-5, atol=1e-6)


@pytest.mark.parametrize("factor", [1e-6, 1e8])
@pytest.mark.parametrize("name", ["slopes by plant", "serial and nugget", "slopes by plot"])
def test_the_unit_of_measure_changes_nothing_but_the_scale(name, factor):
    y, X, data, times = trial(7)
    terms = models(data, times)[name]
    one, other = fit_terms(y, X, terms), fit_terms(factor * y, X, terms)
    spread = np.array([1.0 if n.endswith("correlation") else factor**2 for n in one.names])
    np.testing.assert_allclose(np.array(other.components) / spread, one.components, rtol=1e-6)
    L = np.eye(6)
    for a, b in zip(mixed_contrasts(one, L), mixed_contrasts(other, L), strict=True):
        assert (b.t, b.df) == pytest.approx((a.t, a.df), rel=1e-7)


def test_a_term_that_cuts_through_subjects_is_refused():
    y, X, data, times = trial(1)
    across = Intercept("visit", data["visit"])
    with pytest.raises(ValueError, match="cuts through"):
        fit_terms(y, X, [across, Serial("serial", data["plant"], times), Residual()])


def test_what_the_data_cannot_tell_apart_is_said():
    y, X, data, _ = trial(1)
    rows = np.arange(len(y))
    fit = fit_terms(
        y, X, [Intercept("row", rows), Intercept("plant", data["plant"]), Residual()]
    )
    assert not fit.converged
    assert fit.reason.startswith("the variation of these terms cannot be told apart")
    with pytest.raises(AnalysisError, match="no scatter"):
        fit_terms(np.full(len(y), 3.0), X, [Intercept("plant", data["plant"]), Residual()])
