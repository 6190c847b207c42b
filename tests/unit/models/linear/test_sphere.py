"""Joint tails in two and three dimensions: closed cases, another rule, points on the sphere."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import chdtrc, fdtrc, ndtr

from wickstats.models.linear.contrasts import all_pairs
from wickstats.models.linear.directions import QUADRATURE_ERROR
from wickstats.models.linear.joint_t import joint_t, one_factor_share, range_share

INFINITE = 1e9


def _correlation(rows: np.ndarray) -> np.ndarray:
    scale = np.sqrt((rows * rows).sum(axis=1))
    r = (rows / scale[:, None]) @ (rows / scale[:, None]).T
    np.fill_diagonal(r, 1.0)
    return r


@pytest.mark.parametrize("k", [2, 3])
@pytest.mark.parametrize("c", [0.3, 1.96, 4.5])
def test_independent_normals(k: int, c: float) -> None:
    # P(max |Z| <= c) = (2 Phi(c) - 1)^k
    tail, error = joint_t(np.eye(k)).tail(c, INFINITE)
    assert tail == pytest.approx(1.0 - (2.0 * ndtr(c) - 1.0) ** k, rel=1e-12, abs=1e-14)
    assert error == QUADRATURE_ERROR


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0.02, 0.95), min_size=2, max_size=3),
    st.sampled_from([1.0, 2.5, 6.0, 40.0, INFINITE]),
    st.sampled_from([0.7, 2.4, 5.0]),
)
def test_references_by_the_product_rule(loads, df, c) -> None:
    # Dunnett (1955), J. Am. Stat. Assoc. 50:1096; the product rule leaves out 1e-9 of s
    r = np.outer(loads, loads)
    np.fill_diagonal(r, 1.0)
    found = joint_t(r).tail(c, df)[0]
    assert found == pytest.approx(1.0 - one_factor_share(c, np.array(loads), df), abs=3e-9)


@pytest.mark.parametrize("df", [1.0, 7.0, INFINITE])
@pytest.mark.parametrize("means", [3, 4])
def test_all_pairs_of_equal_means(means: int, df: float) -> None:
    r = _correlation(all_pairs(means))
    for c in (0.7, 2.4, 5.0):
        expected = 1.0 - range_share(c * np.sqrt(2.0), means, df)
        assert joint_t(r).tail(c, df)[0] == pytest.approx(expected, abs=3e-9)


@pytest.mark.parametrize("seed", range(8))
def test_any_correlations_by_points_on_the_sphere(seed: int) -> None:
    # a golden spiral (computed), 400,000 points of which opposite ones count once
    rng = np.random.default_rng(seed)
    rows = rng.standard_normal((3 + seed % 5, 3)) * [1.0, 1.0, 0.5]
    rows /= np.sqrt((rows * rows).sum(axis=1, keepdims=True))
    i = np.arange(400_000) + 0.5
    z, turn = i / i.size, i * np.pi * (1.0 + np.sqrt(5.0))
    flat = np.sqrt(1.0 - z * z)
    points = np.stack([flat * np.cos(turn), flat * np.sin(turn), z])
    m = np.abs(rows @ points).max(axis=0)
    joint = joint_t(_correlation(rows))
    for df in (3.0, 15.0, INFINITE):
        for c in (1.2, 2.6):
            x = (c / m) ** 2
            expected = (chdtrc(3, x) if df == INFINITE else fdtrc(3, df, x / 3.0)).mean()
            assert joint.tail(c, df)[0] == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("load", [0.99, 0.999, 0.9999])
def test_statistics_that_are_nearly_one(load: float) -> None:
    # a reference on one unit beside arms on very many, by adaptive integration (computed)
    from scipy.integrate import quad

    r = np.full((3, 3), load**2) + (1.0 - load**2) * np.eye(3)
    rest, c = np.sqrt(1.0 - load**2), 2.4

    def inside(z: float) -> float:
        width = ndtr((c - load * z) / rest) - ndtr((-c - load * z) / rest)
        return float(np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi) * width**3)

    share = quad(inside, -9, 9, epsabs=1e-13, limit=500, points=[-c / load, c / load])[0]
    tail, error = joint_t(r).tail(c, INFINITE)
    assert abs(tail - (1.0 - share)) <= error


def test_a_repeated_statistic_changes_nothing() -> None:
    rows = np.array([[1.0, 0.2, 0.0], [0.1, 1.0, 0.3], [0.0, -0.4, 1.0]])
    once, twice = (
        joint_t(_correlation(rows)),
        joint_t(_correlation(np.vstack([rows, -rows[1]]))),
    )
    assert twice.tail(2.2, 5.0)[0] == pytest.approx(once.tail(2.2, 5.0)[0], abs=1e-12)
