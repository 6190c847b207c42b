"""Many comparisons: intervals and p agree, and the order of the arms does not matter."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from wickstats.models.linear.contrasts import against_reference, all_pairs
from wickstats.models.linear.directions import canonical
from wickstats.models.linear.estimates import Estimate, t_tail
from wickstats.models.linear.joint_t import joint_t
from wickstats.models.linear.multiplicity import adjust

NAMED = np.array([[1, -1, 0, 0], [1, 1, -1, -1], [3, 1, -1, -3], [1, 0, 0, -1]], dtype=float)


def estimates(values, ses, dfs) -> list[Estimate]:
    return [
        Estimate(v, s, d, None, None, v / s, t_tail(v / s, d), "made up")
        for v, s, d in zip(values, ses, dfs, strict=True)
    ]


def family(method: str, variances: np.ndarray) -> np.ndarray:
    """(k, k) covariance of the family's contrasts of independent arm means."""
    t = variances.size
    if method == "single-step":
        rows = NAMED[:, :t] - NAMED[:, :t].mean(axis=1, keepdims=True)
    else:
        rows = against_reference(t, 0) if method == "dunnett" else all_pairs(t)
    return rows @ np.diag(variances) @ rows.T


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["dunnett", "tukey", "single-step"]),
    st.lists(st.floats(0.1, 2.0), min_size=4, max_size=4),
    st.lists(st.sampled_from([3.0, 7.5, 12.0, 40.0]), min_size=1, max_size=2),
    st.integers(0, 10**6),
    st.sampled_from([0.9, 0.95, 0.99]),
)
def test_an_interval_leaves_zero_out_exactly_when_p_is_small(
    method, variances, few_dfs, seed, confidence
) -> None:
    covariance = family(method, np.array(variances))
    ses = np.sqrt(np.diag(covariance))
    rng = np.random.default_rng(seed)
    dfs = [few_dfs[i % len(few_dfs)] for i in range(ses.size)]
    found = adjust(
        estimates(rng.normal(0, 2.5, ses.size) * ses, ses, dfs),
        method, covariance=covariance, confidence=confidence,
    )  # fmt: skip
    alpha = 1.0 - confidence
    for p, low, high in zip(found.p, found.low, found.high, strict=True):
        assert p is not None
        assert low is not None
        assert high is not None
        assume(abs(p - alpha) > 1e-9)
        assert (low > 0.0 or high < 0.0) == (p < alpha)
    assert found.approximate == (len(set(dfs)) > 1)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.sampled_from([3, 4, 6, 8]), min_size=3, max_size=6),
    st.randoms(use_true_random=False),
    st.sampled_from([4.0, 11.0, 1e9]),
)
def test_the_order_of_the_arms_does_not_matter(units, random, df) -> None:
    variances = 1.0 / np.array(units, dtype=float)
    order = list(range(len(units)))
    random.shuffle(order)
    one, other = (_tails(variances[list(o)], df) for o in (range(len(units)), order))
    assert one == pytest.approx(other, abs=1e-9)


def _tails(variances: np.ndarray, df: float) -> list[float]:
    covariance = family("tukey", variances)
    scale = np.sqrt(np.diag(covariance))
    joint = joint_t(covariance / np.outer(scale, scale))
    return [joint.tail(c, df)[0] for c in (1.7, 2.6, 3.9)] + [joint.critical(0.95, df)]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 7), st.integers(1, 7))
def test_order_and_signs_of_any_contrasts_do_not_matter(seed, k, rank) -> None:
    rng = np.random.default_rng(seed)
    rows = rng.standard_normal((k, rank))
    rows /= np.sqrt((rows * rows).sum(axis=1, keepdims=True))
    r = rows @ rows.T
    np.fill_diagonal(r, 1.0)
    order, sign = rng.permutation(k), rng.choice([-1.0, 1.0], k)
    moved = r[np.ix_(order, order)] * np.outer(sign, sign)
    np.testing.assert_allclose(canonical(moved), canonical(r), atol=1e-12)
    one, other = joint_t(r).tail(2.3, 9.0)[0], joint_t(moved).tail(2.3, 9.0)[0]
    assert one == pytest.approx(other, abs=1e-9)


def test_pairs_of_equal_arms_are_known_in_any_order_and_direction() -> None:
    rng = np.random.default_rng(2)
    for t in (3, 4, 5, 7):
        rows = rng.permutation(all_pairs(t)) * rng.choice([-1.0, 1.0], (t * (t - 1) // 2, 1))
        joint = joint_t(0.5 * rows @ rows.T)
        assert joint.structure == "range"
        assert joint.means == t
    same_sizes = np.full((3, 3), -0.5) + 1.5 * np.eye(3)
    assert joint_t(np.abs(same_sizes)).structure == "one factor"  # not a range: signs count


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.05, 0.99), min_size=2, max_size=6), st.sampled_from([2.0, 15.0]))
def test_few_or_no_correlations_stand_between_one_test_and_bonferroni(loads, df) -> None:
    r = np.outer(loads, loads)
    np.fill_diagonal(r, 1.0)
    joint = joint_t(r)
    for c in (0.5, 2.0, 4.0):
        tail, error = joint.tail(c, df)
        alone = t_tail(c, df)
        assert alone - 1e-12 <= tail <= min(1.0, len(loads) * alone) + 1e-12
        assert 0.0 <= error < 2e-4
    critical = joint.critical(0.95, df)
    assert joint.tail(critical, df)[0] == pytest.approx(0.05, abs=1e-10)
