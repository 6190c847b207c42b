"""Critical values and adjusted p against tables and published examples."""

import numpy as np
import pytest

from wickstats.models.linear.contrasts import against_reference
from wickstats.models.linear.joint_t import (
    joint_t,
    one_factor_critical,
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
    assert fit.residual_ms == pytest.approx(1.3805, abs=5e-5)
    weights = against_reference(3, 0)
    estimates = [fit.contrast(w) for w in weights]
    assert [e.t for e in estimates] == pytest.approx([0.857, 3.694], abs=5e-4)
    family = adjust(estimates, "dunnett", covariance=fit.covariance(weights))
    assert family.p[0] == pytest.approx(0.620, abs=5e-4)
    assert family.p[1] == pytest.approx(0.0058, abs=5e-5)


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
            assert 0 < error < 2e-3
            assert tail == pytest.approx(1 - range_share(q, 4, df), abs=2e-4)
