"""The question about values far out of line: it finds slips, and leaves scatter alone."""

import numpy as np
import pytest

from wickstats.records.outliers import out_of_line

CV = (0.2, 0.5, 0.8)


def lognormal(rng: np.random.Generator, cv: float, n: int) -> np.ndarray:
    """Values with median 1 and the coefficient of variation of a lognormal distribution."""
    return np.exp(np.sqrt(np.log1p(cv * cv)) * rng.standard_normal(n))


@pytest.mark.parametrize("cv", CV)
@pytest.mark.parametrize("n", [12, 60, 400])
def test_ordinary_scatter_is_nearly_never_asked_about(cv: float, n: int) -> None:
    """At most 2 of 10,000 values up to a coefficient of variation of 0.8; far fewer below."""
    rng = np.random.default_rng(20250317)
    values = [lognormal(rng, cv, n) for _ in range(20_000 // n)]
    days, arms = np.zeros(n, dtype=int), np.arange(n) % 3
    asked = sum(int(out_of_line(v, days, arms).sum()) for v in values)
    assert asked <= (0 if cv < 0.5 else 4)


@pytest.mark.parametrize("cv", [0.2, 0.5])
@pytest.mark.parametrize("factor", [100.0, 0.01, 1000.0])
def test_a_slip_by_a_hundred_is_asked_about_and_nothing_else(cv: float, factor: float) -> None:
    rng = np.random.default_rng(7)
    days = np.repeat(np.arange(4), 24)
    values = lognormal(rng, cv, 96) * np.array([5.0, 15.0, 40.0, 80.0])[days]
    values[30] = 15.0 * factor
    odd = out_of_line(values, days, np.arange(96) % 4)
    assert np.flatnonzero(odd).tolist() == [30]


def test_growth_and_arms_far_apart_are_no_slips() -> None:
    """A season in which plants grow thirtyfold, and arms that differ twentyfold."""
    rng = np.random.default_rng(3)
    days, arms = np.repeat(np.arange(3), 40), np.tile(np.arange(2), 60)
    values = lognormal(rng, 0.3, 120) * np.array([2.0, 20.0, 60.0])[days]
    assert not out_of_line(values, days, arms).any()
    assert not out_of_line(values * np.array([1.0, 20.0])[arms], days, arms).any()


def test_unit_and_order_do_not_matter() -> None:
    rng = np.random.default_rng(5)
    values = lognormal(rng, 0.6, 50)
    values[9] *= 500
    days, arms = np.arange(50) % 3, np.arange(50) % 4
    odd = out_of_line(values, days, arms)
    assert odd.sum() == 1
    assert np.array_equal(odd, out_of_line(1000 * values, days, arms))
    order = rng.permutation(50)
    assert np.array_equal(odd[order], out_of_line(values[order], days[order], arms[order]))


def test_few_values_blanks_zeros_and_signs() -> None:
    none = np.zeros(12, dtype=int)
    few = np.array([1.0, 1.0, 1.0, 1.0, 1000.0])
    assert not out_of_line(few, none[:5], none[:5]).any()
    values = np.array([0, np.nan, 9, 9, 9, 9, 9, 9000, 9, 9, 0, 9], dtype=float)
    assert np.flatnonzero(out_of_line(values, none, none)).tolist() == [7]
    below = np.array([-1.1, -1.2, -0.9, -1.0, -1.3, -1.0, -110.0, -1.2])
    assert np.flatnonzero(out_of_line(below, none[:8], none[:8])).tolist() == [6]
    both = np.array([-1.0, 0.4, 0.2, -0.3, 0.8, -0.6, 90.0, 0.1])
    assert np.flatnonzero(out_of_line(both, none[:8], none[:8])).tolist() == [6]


def test_a_minus_that_slipped_in_is_asked_about() -> None:
    """One height of -47 among 60 near 40; a column of both signs is left alone."""
    rng = np.random.default_rng(11)
    days = np.zeros(60, dtype=int)
    heights = 40.0 * lognormal(rng, 0.25, 60)
    heights[17] = -47.0
    assert np.flatnonzero(out_of_line(heights, days, days)).tolist() == [17]
    assert np.flatnonzero(out_of_line(-heights, days, days)).tolist() == [17]
    mixed = rng.normal(1.7, 1.0, (200, 60))  # about one in twenty is below zero
    both = [row for row in mixed if (row < 0).any()]
    assert len(both) > 150
    assert not any(out_of_line(row, days, days).any() for row in both)
