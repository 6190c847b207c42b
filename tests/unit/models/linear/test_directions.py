"""Directions of a lattice and what the largest of normals does along them."""

import numpy as np
import pytest
from scipy.special import fdtrc, ndtri

from wickstats.models.linear.contrasts import all_pairs
from wickstats.models.linear.directions import COPIES, LATTICES, spread_over_directions


def correlation(variances):
    rows = all_pairs(len(variances))
    covariance = rows @ np.diag(variances) @ rows.T
    scale = np.sqrt(np.diag(covariance))
    return covariance / np.outer(scale, scale)


def plain_directions(rank):
    """(copies, points, rank) by the formula: fractional parts, normal quantiles, length 1."""
    count, generator = LATTICES[rank]
    powers = np.array([pow(generator, j, count) for j in range(rank)])
    lattice = np.arange(count)[:, None] * powers % count / count
    primes = np.array([2, 3, 5, 7, 11, 13])[:rank]
    shifts = np.arange(COPIES)[:, None] * np.sqrt(primes)
    shifts = shifts + 0.5 * (np.sqrt(5.0) - 1.0) * np.arange(1, rank + 1)
    normal = ndtri((lattice + shifts[:, None, :]) % 1.0)
    return normal / np.sqrt(np.sum(normal**2, axis=2, keepdims=True))


@pytest.mark.parametrize("variances", [[0.3, 0.25, 0.2, 0.35, 0.1], [1.0, 2.0, 3.0, 4.0, 5.0]])
def test_the_rule_is_the_mean_over_all_directions(variances):
    r = correlation(variances)
    rank = len(variances) - 1
    found = spread_over_directions(r)
    # any root will do up to the scatter of the lattice; the same one gives the same mean
    root = np.linalg.cholesky(r[:rank, :rank])
    through = np.linalg.solve(root, r[:rank]).T
    largest = np.abs(plain_directions(rank) @ through.T).max(axis=2)
    for c in (1.0, 2.5, 4.0):
        for df in (4.0, 12.0, 80.0):
            copies = fdtrc(rank, df, (c / largest) ** 2 / rank).mean(axis=1)
            tail, error = found.tail(c, df)
            assert tail == pytest.approx(copies.mean(), abs=2.0 * error)
            assert error < 2e-4


def test_the_bound_is_the_scatter_of_shifted_copies():
    # one statistic a dimension: m(u) is the largest coordinate, whatever the order and signs
    rank = 5
    found = spread_over_directions(np.eye(rank))
    largest = np.abs(plain_directions(rank)).max(axis=2)
    for c in (0.8, 2.0, 3.5):
        copies = fdtrc(rank, 9.0, (c / largest) ** 2 / rank).mean(axis=1)
        tail, error = found.tail(c, 9.0)
        # single precision and a rule of 48 nodes on shared points
        assert tail == pytest.approx(copies.mean(), abs=3e-8)
        scatter = copies.std(ddof=1) / np.sqrt(COPIES)
        assert error == pytest.approx(3.5 * scatter + 1e-9, rel=1e-3, abs=1e-8)


@pytest.mark.parametrize("arms", [6, 7, 8, 9, 10, 11])
def test_pairs_of_unequal_arms_have_a_bound_below_two_in_ten_thousand(arms):
    units = np.random.default_rng([arms, 7]).integers(2, 12, arms)
    found = spread_over_directions(correlation(1.0 / units))
    for df in (4.0, 12.0, 60.0):
        for c in (1.0, 2.0, 2.5, 3.0, 3.5, 4.5):
            assert found.tail(c, df)[1] < 2e-4
