"""Ratios and equivalence against published examples and other programs' formulas."""

import numpy as np
import pytest

from wickstats.models.linear.paired import welch_contrast
from wickstats.models.linear.strata import fit_units
from wickstats.models.ratios.equivalence import equivalence_test
from wickstats.models.ratios.fieller import fieller_limits

# Fieller's limits as quoted in the worked example of github.com/DCPROGS/DCSTATS
# (a = 14, b = 7, standard errors 3 and 2, t = 1.812461 at 10 df)


def test_fieller_worked_example() -> None:
    found = fieller_limits(14, 7, 3, 2, df=10, confidence=0.90)
    assert found.g == pytest.approx(0.268164, abs=1e-6)
    assert found.low == pytest.approx(1.051413, abs=1e-6)
    assert found.high == pytest.approx(4.414296, abs=1e-6)


@pytest.mark.parametrize(
    ("confidence", "low", "high"),
    [(0.90, 1.545, 2.642), (0.95, 1.457, 2.833), (0.99, 1.273, 3.360)],
)
def test_fieller_two_groups_of_six(confidence: float, low: float, high: float) -> None:
    # the same page prints 1.54-2.64, 1.46-2.83, 1.27-3.36; third digits computed
    found = fieller_limits(14, 7, 3 / 6**0.5, 2 / 6**0.5, df=10, confidence=confidence)
    assert found.low == pytest.approx(low, abs=5e-4)
    assert found.high == pytest.approx(high, abs=5e-4)


def test_fieller_without_a_finite_interval() -> None:
    found = fieller_limits(14, 3, 3, 2, df=10)
    assert found.g == pytest.approx(2.206, abs=5e-4)
    assert found.low is None
    assert found.high is None
    assert found.unbounded == (
        "the denominator is not clearly different from zero (g = 2.21): "
        "no finite interval for the ratio exists at this confidence"
    )


def test_two_one_sided_tests_pooled() -> None:
    # Lakens (2017), Soc. Psychol. Personal. Sci. 8:355, from memory:
    # t(182) = -2.69, p = .004 with bounds of 0.384
    n1, n2, sd1, sd2 = 95, 89, 0.95, 0.83
    pooled = np.sqrt(((n1 - 1) * sd1**2 + (n2 - 1) * sd2**2) / (n1 + n2 - 2))
    found = equivalence_test(
        5.25 - 5.22, pooled * np.sqrt(1 / n1 + 1 / n2), n1 + n2 - 2, -0.384, 0.384
    )
    assert found.t_high == pytest.approx(-2.69, abs=0.01)
    assert found.p == pytest.approx(0.004, abs=5e-4)


def test_two_one_sided_tests_welch() -> None:
    # the same summary, computed by Welch (1947)
    v1, v2 = 0.95**2 / 95, 0.83**2 / 89
    df = (v1 + v2) ** 2 / (v1**2 / 94 + v2**2 / 88)
    found = equivalence_test(0.03, np.sqrt(v1 + v2), df, -0.384, 0.384)
    assert df == pytest.approx(181.1, abs=0.05)
    assert found.t_high == pytest.approx(-2.6961, abs=5e-5)
    assert found.t_low == pytest.approx(3.1530, abs=5e-5)
    assert found.p == pytest.approx(0.00384, abs=5e-6)


def test_two_one_sided_tests_on_units() -> None:
    # computed: pooled t p .03173 and 90 % interval [-1.803, .803], Welch p .0329
    values = [49, 51, 50, 52, 48, 50, 50, 49, 51, 50, 52, 51]
    cells = [0] * 6 + [1] * 6
    pooled = fit_units(values, cells, 2, confidence=0.90).contrast([1, -1])
    assert pooled.low == pytest.approx(-1.803, abs=5e-4)
    assert pooled.high == pytest.approx(0.803, abs=5e-4)
    assert pooled.estimate is not None
    assert pooled.se is not None
    assert pooled.df is not None
    found = equivalence_test(pooled.estimate, pooled.se, pooled.df, -2, 2)
    assert found.p == pytest.approx(0.03173, abs=5e-6)
    welch = welch_contrast(values, cells, [1, -1], confidence=0.90)
    assert welch.estimate is not None
    assert welch.se is not None
    assert welch.df is not None
    by_arm = equivalence_test(welch.estimate, welch.se, welch.df, -2, 2)
    assert by_arm.p == pytest.approx(0.0329, abs=5e-5)
