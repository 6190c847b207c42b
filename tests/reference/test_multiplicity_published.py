"""Critical values and adjusted p against tables, published examples and other programs."""

import json
from pathlib import Path

import numpy as np
import pytest

from wickstats.models.linear.contrasts import against_reference, all_pairs
from wickstats.models.linear.joint_t import (
    joint_t,
    one_factor_critical,
    one_factor_share,
    range_critical,
    range_share,
)
from wickstats.models.linear.multiplicity import adjust
from wickstats.models.linear.strata import fit_units

INFINITE = 1e9

# base R 4.2.2, qtukey(0.95, k, df), k = 3 to 6
TUKEY = {
    10: (3.877, 4.327, 4.654, 4.912),
    20: (3.578, 3.958, 4.232, 4.445),
    30: (3.486, 3.845, 4.102, 4.301),
    INFINITE: (3.314, 3.633, 3.858, 4.030),
}
# Dunnett (1964) prints 2.57, 2.38, 2.21 for two treatments (from memory); these digits are
# computed by independent numerical integration, two-sided, 2 to 5 treatments
DUNNETT = {
    10: (2.568, 2.759, 2.890, 2.990),
    15: (2.439, 2.610, 2.727, 2.816),
    20: (2.379, 2.540, 2.651, 2.735),
    30: (2.321, 2.474, 2.578, 2.657),
    INFINITE: (2.212, 2.349, 2.442, 2.511),
}
# one-sided, 2 to 4 treatments, computed likewise
DUNNETT_ONE_SIDED = {
    10: (2.151, 2.338, 2.466),
    20: (2.027, 2.192, 2.304),
    INFINITE: (1.916, 2.062, 2.160),
}


@pytest.mark.parametrize("df", TUKEY)
def test_studentized_range(df: float) -> None:
    found = [range_critical(0.95, k, df) for k in (3, 4, 5, 6)]
    assert found == pytest.approx(TUKEY[df], abs=5.1e-4)


@pytest.mark.parametrize("df", DUNNETT)
def test_comparisons_with_a_reference(df: float) -> None:
    found = [one_factor_critical(0.95, np.full(p, np.sqrt(0.5)), df) for p in (2, 3, 4, 5)]
    assert found == pytest.approx(DUNNETT[df], abs=6e-4)


@pytest.mark.parametrize("df", DUNNETT_ONE_SIDED)
def test_comparisons_with_a_reference_one_sided(df: float) -> None:
    found = [
        one_factor_critical(0.95, np.full(p, np.sqrt(0.5)), df, two_sided=False)
        for p in (2, 3, 4)
    ]
    assert found == pytest.approx(DUNNETT_ONE_SIDED[df], abs=6e-4)


def test_studentized_range_at_few_df_against_scipy() -> None:
    from scipy.stats import studentized_range

    for df in (1, 2, 3, 7, 40):
        for k in (3, 6):
            for q in (1.0, 3.0, 9.0):
                theirs = float(studentized_range.cdf(q, k, df))
                assert range_share(q, k, df) == pytest.approx(theirs, abs=2e-8)


def test_blood_counts() -> None:
    # Dunnett (1955), J. Am. Stat. Assoc. 50:1096: blood counts under two drugs and a
    # control, as quoted in scipy's documentation (from memory)
    control = [7.40, 8.50, 7.20, 8.24, 9.84, 8.32]
    drug_a = [9.76, 8.80, 7.68, 9.36]
    drug_b = [12.80, 9.68, 12.16, 9.20, 10.55]
    fit = fit_units([*control, *drug_a, *drug_b], [0] * 6 + [1] * 4 + [2] * 5, 3)
    means = [fit.mean(row).estimate for row in np.eye(3)]
    assert means == pytest.approx([8.25, 8.90, 10.878], abs=5e-4)
    assert fit.residual_ms == pytest.approx(1.3805, abs=5e-5)
    assert fit.residual_df == 12
    weights = against_reference(3, 0)
    estimates = [fit.contrast(w) for w in weights]
    assert [e.t for e in estimates] == pytest.approx([0.857, 3.694], abs=5e-4)
    family = adjust(estimates, "dunnett", covariance=fit.covariance(weights))
    assert family.p[0] == pytest.approx(0.620, abs=5e-4)
    assert family.p[1] == pytest.approx(0.0058, abs=5e-5)


JOINT = json.loads(
    (Path(__file__).parent / "expected" / "joint-t.json").read_text(encoding="utf-8")
)


def _name(case: dict) -> str:
    return f"{case['family']}-{case['df']}-{case['c']}"


@pytest.mark.parametrize("case", JOINT["tails"], ids=_name)
def test_general_correlations_against_another_rule(case: dict) -> None:
    # mvtnorm 1.1-3 (Genz & Bretz). The error it states is one of chance and is exceeded at
    # times: 2.5e-5 for the four named contrasts at 3.8 standard errors, where four million
    # random directions gave 5.288e-4 as we do and mvtnorm 5.037e-4
    weights = np.array(case["weights"])
    covariance = weights @ np.diag(case["variances"]) @ weights.T
    scale = np.sqrt(np.diag(covariance))
    tail, error = joint_t(covariance / np.outer(scale, scale)).tail(
        case["c"], case["df"] or INFINITE
    )
    theirs, bound = float(case["tail"]), float(case["error"])
    assert tail == pytest.approx(theirs, abs=2e-4)
    assert abs(tail - theirs) <= error + max(4.0 * bound, 3e-5)
    assert error <= 2e-4


@pytest.mark.parametrize("case", JOINT["sets"], ids=lambda c: f"{c['name']}-{c['kind']}")
def test_families_on_open_data(case: dict) -> None:
    # multcomp 1.4-22 on R's data sets, one-way; its own errors are around 1e-5
    cells = np.array(case["cells"])
    t = int(cells.max()) + 1
    fit = fit_units(case["values"], cells, t)
    weights = against_reference(t, 0) if case["kind"] == "Dunnett" else all_pairs(t)
    estimates = [fit.contrast(w) for w in weights]
    method = "dunnett" if case["kind"] == "Dunnett" else "tukey"
    found = adjust(estimates, method, covariance=fit.covariance(weights))
    # theirs in the order of ours: (2 - 1, 3 - 1, ..., 3 - 2, ...)
    theirs = {key: [float(v) for v in case[key]] for key in ("estimate", "p", "low", "high")}
    assert [e.estimate for e in estimates] == pytest.approx(theirs["estimate"], rel=1e-10)
    assert found.p == pytest.approx(theirs["p"], abs=2e-4)
    half = np.array(found.high) - np.array(theirs["estimate"])
    wide = np.array(theirs["high"]) - np.array(theirs["estimate"])
    np.testing.assert_allclose(half, wide, rtol=5e-4)
    assert found.error <= 2e-4


def test_equal_arms_against_scipy() -> None:
    # scipy.stats.tukey_hsd integrates the studentized range
    from scipy.stats import tukey_hsd

    groups = [[24.5, 23.5, 26.4, 27.1, 29.9], [28.4, 34.2, 29.5, 32.2, 30.1],
              [26.1, 28.3, 24.3, 26.2, 27.8]]  # fmt: skip
    fit = fit_units(np.concatenate(groups), np.repeat(np.arange(3), 5), 3)
    weights = all_pairs(3)
    found = adjust(
        [fit.contrast(w) for w in weights], "tukey", covariance=fit.covariance(weights)
    )
    theirs = tukey_hsd(*groups)
    limits = theirs.confidence_interval(0.95)
    for (j, i), p, low in zip(((1, 0), (2, 0), (2, 1)), found.p, found.low, strict=True):
        assert p == pytest.approx(theirs.pvalue[j, i], abs=1e-8)
        assert low == pytest.approx(limits.low[j, i], rel=1e-6)


def test_a_reference_against_scipy() -> None:
    # scipy.stats.dunnett: Genz's randomized rule, here from a fixed start; about 1e-4
    from scipy.stats import dunnett

    control = [7.40, 8.50, 7.20, 8.24, 9.84, 8.32]
    arms = [[9.76, 8.80, 7.68, 9.36], [12.80, 9.68, 12.16, 9.20, 10.55]]
    fit = fit_units(np.concatenate([control, *arms]), [0] * 6 + [1] * 4 + [2] * 5, 3)
    weights = against_reference(3, 0)
    found = adjust(
        [fit.contrast(w) for w in weights], "dunnett", covariance=fit.covariance(weights)
    )
    theirs = dunnett(*arms, control=control, rng=np.random.default_rng(1))
    assert found.p == pytest.approx(theirs.pvalue, abs=3e-4)
    assert found.error <= 1e-6


@pytest.mark.parametrize("df", [3.0, 10.0, 40.0])
@pytest.mark.parametrize("two_sided", [True, False])
def test_a_reference_by_adaptive_integration(df: float, *, two_sided: bool) -> None:
    # Dunnett (1955), J. Am. Stat. Assoc. 50:1096, his double integral, adaptively (computed)
    from scipy.integrate import dblquad
    from scipy.special import gammaln, ndtr

    loads = np.sqrt(np.array([0.3, 0.5, 0.7]))
    rest, c = np.sqrt(1.0 - loads**2), 2.4
    log_constant = np.log(2.0) + 0.5 * df * np.log(0.5 * df) - gammaln(0.5 * df)

    def inside(z: float, s: float) -> float:
        each = ndtr((c * s - loads * z) / rest)
        if two_sided:
            each = each - ndtr((-c * s - loads * z) / rest)
        density = log_constant + (df - 1.0) * np.log(s) - 0.5 * df * s * s - 0.5 * z * z
        return float(np.prod(each) * np.exp(density) / np.sqrt(2.0 * np.pi))

    expected = dblquad(inside, 1e-9, 6.0, -8.0, 8.0, epsabs=1e-9, epsrel=1e-9)[0]
    found = one_factor_share(c, loads, df, two_sided=two_sided)
    assert found == pytest.approx(expected, abs=1e-7)


def test_unequal_replication_of_a_reference_by_two_rules() -> None:
    # the product rule against the fixed directions on the same correlations
    from wickstats.models.linear.directions import spread_over_directions

    loads = np.sqrt(np.array([0.3, 0.5, 0.6, 0.75]))
    r = np.outer(loads, loads)
    np.fill_diagonal(r, 1.0)
    joint = joint_t(r)
    assert joint.structure == "one factor"
    for df in (4.0, 12.0, INFINITE):
        tail, error = spread_over_directions(r).tail(2.6, df)
        assert abs(joint.tail(2.6, df)[0] - tail) <= error
        assert error < 1e-4


def test_a_steep_reference_is_integrated_finely() -> None:
    # a reference on one unit beside arms on thirty: loadings near one
    loads = np.full(4, np.sqrt(30.0 / 31.0))
    r = np.outer(loads, loads)
    np.fill_diagonal(r, 1.0)
    joint = joint_t(r)
    assert joint.structure == "one factor"
    from scipy.integrate import quad
    from scipy.special import ndtr

    rest = np.sqrt(1.0 - loads[0] ** 2)

    def inside(z: float) -> float:
        width = ndtr((2.4 - loads[0] * z) / rest) - ndtr((-2.4 - loads[0] * z) / rest)
        return float(np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi) * width**4)

    share = quad(inside, -9, 9, epsabs=1e-13, limit=400, points=[-2.4, 2.4])[0]
    assert joint.tail(2.4, INFINITE)[0] == pytest.approx(1.0 - share, abs=1e-9)


def test_fixed_directions_agree_with_the_exact_rule() -> None:
    # all pairs of unequal arms have no closed structure; with nearly equal arms the fixed
    # directions must come to the studentized range within their own error bound
    pairs = np.array([[1, -1, 0, 0], [1, 0, -1, 0], [1, 0, 0, -1],
                      [0, 1, -1, 0], [0, 1, 0, -1], [0, 0, 1, -1]], dtype=float)  # fmt: skip
    covariance = pairs @ np.diag([1, 1, 1, 1 + 1e-6]) @ pairs.T
    scale = np.sqrt(np.diag(covariance))
    joint = joint_t(covariance / np.outer(scale, scale))
    assert joint.structure == "general"
    for df in (3.0, 12.0, INFINITE):
        for q in (2.5, 3.7, 6.0):
            tail, error = joint.tail(q / np.sqrt(2), df)
            assert 0 < error < 1e-4
            assert abs(tail - (1 - range_share(q, 4, df))) <= error + 1e-6


@pytest.mark.parametrize("arms", [11, 12])
def test_many_unequal_arms_keep_the_bound(arms: int) -> None:
    # arms of 2 to 11 units, all pairs; nearly equal arms against the studentized range
    pairs = all_pairs(arms)
    units = np.random.default_rng(arms).integers(2, 12, arms)
    nearly = np.r_[np.full(arms - 1, 1.0), 1.0 + 1e-6]
    for variances in (1.0 / units, nearly):
        covariance = pairs @ np.diag(variances) @ pairs.T
        scale = np.sqrt(np.diag(covariance))
        joint = joint_t(covariance / np.outer(scale, scale))
        assert joint.structure == "general"
        for df in (10.0, 40.0, INFINITE):
            for c in (2.0, 2.8, 3.3, 4.0):
                tail, error = joint.tail(c, df)
                assert 0.0 < error <= 2e-4
                if variances is nearly:
                    exact = 1.0 - range_share(c * np.sqrt(2.0), arms, df)
                    assert abs(tail - exact) <= error
