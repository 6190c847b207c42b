"""The restricted likelihood at fixed variances against a dense textbook evaluation."""

import math

import numpy as np
import pytest

from wickstats.models.linear.likelihood import evaluate, second_products
from wickstats.models.linear.reduction import reduce_rows


def dense(W, terms, theta):
    """Searle, Casella & McCulloch (1992), section 6.6, with n x n matrices."""
    n = len(W)
    G = [(t[:, None] == t[None, :]).astype(float) for t in terms] + [np.eye(n)]
    V = sum(v * g for v, g in zip(theta, G, strict=True))
    X, y = W[:, :-1], W[:, -1]
    inverse = np.linalg.inv(V)
    A = X.T @ inverse @ X
    fixed = np.linalg.solve(A, X.T @ inverse @ y)
    P = inverse - inverse @ X @ np.linalg.solve(A, X.T @ inverse)
    objective = np.linalg.slogdet(V)[1] + np.linalg.slogdet(A)[1] + y @ P @ y
    objective += (n - X.shape[1]) * math.log(2 * math.pi)
    expected = np.array([[np.trace(P @ g @ P @ h) for h in G] for g in G])
    twice = np.array([[2 * y @ P @ g @ P @ h @ P @ y for h in G] for g in G])
    gradient = np.array([np.trace(P @ g) - y @ P @ g @ P @ y for g in G])
    return objective, fixed, gradient, expected, twice - expected


RNG = np.random.default_rng(11)
BLOCK = np.repeat(np.arange(4), 24)
PLOT = np.repeat(np.arange(12), 8)
PLANT = np.repeat(np.arange(48), 2)
OBSERVER = RNG.integers(0, 3, 96)
LAYOUTS = {
    "plants in plots in blocks": [BLOCK, PLOT, PLANT],
    "coarsest term last": [PLANT, PLOT, BLOCK],
    "one term": [PLOT],
    "crossed": [BLOCK, OBSERVER],
    "nested and crossed": [PLOT, OBSERVER, BLOCK],
}


@pytest.mark.parametrize("covariate", [False, True])
@pytest.mark.parametrize("gaps", [False, True])
@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_objective_and_derivatives_equal_the_dense_ones(name, gaps, covariate):
    rng = np.random.default_rng(3)
    columns = [np.ones(96), PLOT % 3 == 1, PLOT % 3 == 2]
    if covariate:
        columns.append(rng.normal(size=96))
    W = np.column_stack([*columns, rng.normal(size=96)])
    keep = rng.random(96) > 0.2 if gaps else np.ones(96, dtype=bool)
    terms = [codes[keep] for codes in LAYOUTS[name]]
    for theta in (np.full(len(terms) + 1, 0.7), np.linspace(2.0, 0.3, len(terms) + 1)):
        at = evaluate(reduce_rows(W[keep], terms), theta)
        found = (at.objective, at.fixed, at.gradient, at.expected, at.observed)
        for ours, textbook in zip(found, dense(W[keep], terms, theta), strict=True):
            np.testing.assert_allclose(ours, textbook, rtol=1e-10, atol=1e-10)


def test_gradient_and_observed_information_are_derivatives_of_the_objective():
    rng = np.random.default_rng(4)
    keep = rng.random(96) > 0.2
    W = np.column_stack([np.ones(96), rng.normal(size=96)])[keep]
    data = reduce_rows(W, [BLOCK[keep], PLOT[keep]])
    theta, h = np.array([0.4, 0.2, 0.9]), 1e-5
    at = evaluate(data, theta)
    for k in range(3):
        step = np.zeros(3)
        step[k] = h
        up, down = evaluate(data, theta + step), evaluate(data, theta - step)
        slope = (up.objective - down.objective) / (2 * h)
        assert at.gradient[k] == pytest.approx(slope, rel=1e-6)
        np.testing.assert_allclose(
            at.observed[k], (up.gradient - down.gradient) / (2 * h), rtol=1e-6, atol=1e-6
        )


def test_a_covariance_matrix_that_is_none_has_no_likelihood():
    data = reduce_rows(np.column_stack([np.ones(96), RNG.normal(size=96)]), [PLOT])
    assert evaluate(data, np.array([-0.124, 1.0])) is not None  # 1 - 8 x 0.124 > 0
    assert evaluate(data, np.array([-0.126, 1.0])) is None
    assert evaluate(data, np.array([1.0, -1.0])) is None


def test_balanced_rows_reduce_to_a_few_strata():
    W = np.column_stack([np.ones(96), RNG.normal(size=96)])
    data = reduce_rows(W, [BLOCK, PLOT, PLANT])
    assert data.blocks == ()
    assert sorted(data.dims) == [3 + 1, 8, 36, 48]  # the mean belongs to the blocks


def test_unequal_plots_cost_plots_and_not_rows():
    plot = np.repeat(np.arange(30), 40)
    keep = np.random.default_rng(5).random(1200) > 0.2
    W = np.column_stack([np.ones(1200), RNG.normal(size=1200)])[keep]
    data = reduce_rows(W, [plot[keep] // 6, plot[keep]])
    # one kind for the rows within plots, one for each size of plot, over five blocks
    sizes = np.unique(np.bincount(plot[keep]))
    assert len(data.dims) == 1 + len(sizes)
    assert [part.shares.shape[2] for part in data.blocks] == [5]


def many_levels(seed):
    """Blocks of very unequal size, plots and plants in them, and rows crossing columns."""
    rng = np.random.default_rng(seed)
    block = np.repeat(np.arange(9), [2, 2, 3, 3, 4, 4, 12, 14, 1])  # plots a block
    plot = np.repeat(np.arange(len(block)), rng.integers(2, 5, len(block)))  # of each plant
    plant = np.repeat(np.arange(len(plot)), rng.integers(1, 3, len(plot)))
    plot = plot[plant]
    row, column = np.divmod(np.arange(144), 12)
    keep = rng.random(144) > 0.3
    return {
        "unequal blocks": [block[plot], plot, plant],
        "rows and columns": [row[keep], column[keep]],
        "rows and columns with plants": [np.repeat(v[keep], 2) for v in (row, column)],
    }


@pytest.mark.parametrize("name", sorted(many_levels(0)))
@pytest.mark.parametrize("zero", [False, True])
def test_many_levels_equal_the_dense_computation(name, zero):
    terms = many_levels(6)[name]
    n = len(terms[0])
    rng = np.random.default_rng(9)
    W = np.column_stack([np.ones(n), rng.integers(0, 3, (n, 2)), rng.normal(size=n)])
    theta = np.array([0.0 if zero else 0.8, 0.4, 0.6, 0.5][: len(terms) + 1])
    data = reduce_rows(W, terms)
    at = evaluate(data, theta)
    found = (at.objective, at.fixed, at.gradient, at.expected, at.observed)
    for ours, textbook in zip(found, dense(W, terms, theta), strict=True):
        np.testing.assert_allclose(ours, textbook, rtol=1e-10, atol=1e-10)
    G = [(t[:, None] == t[None, :]).astype(float) for t in terms] + [np.eye(n)]
    H = np.linalg.inv(sum(v * g for v, g in zip(theta, G, strict=True)))
    X = W[:, :-1]
    np.testing.assert_allclose(at.first, [X.T @ H @ g @ H @ X for g in G], rtol=1e-9, atol=1e-9)
    wanted = [[X.T @ H @ g @ H @ k @ H @ X for k in G] for g in G]
    np.testing.assert_allclose(second_products(data, theta), wanted, rtol=1e-9, atol=1e-9)


def test_blocks_of_unequal_size_are_sorted_into_sets_of_levels():
    data = reduce_rows(
        np.column_stack([np.ones(n := len(many_levels(6)["unequal blocks"][0])), np.arange(n)]),
        many_levels(6)["unequal blocks"],
    )
    # one set a block; small and large blocks apart
    assert sum(part.shares.shape[1] for part in data.blocks) == 9
    assert len(data.blocks) > 1
