"""Degrees of freedom of means: Satterthwaite's from three df up, corrected below.

Misses of 95 % intervals are integrated exactly: in complete blocks an estimated mean is
independent of both mean squares, so that P(miss) = E 2 Phi(-t(df) sqrt(v / V)).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import chdtri, ndtr, stdtrit

from wickstats.models.linear.estimates import combine_mean, combine_parts

few = st.floats(1.0, 40.0)
variances = st.floats(1e-3, 1e3)


def missed(blocks: int, arms: int, ratio: float, combine) -> float:
    """How often the interval misses; ``ratio`` of the expected mean squares."""
    nodes, weights = np.polynomial.legendre.leggauss(40)
    inner = 0.5 * (nodes + 1.0)
    at = inner**3 * (10.0 - 15.0 * inner + 6.0 * inner**2)  # gathers nodes at both ends
    weights = 0.5 * weights * 30.0 * inner**2 * (1.0 - inner) ** 2
    dfs = (blocks - 1.0, (blocks - 1.0) * (arms - 1.0))
    between, within = (
        scale * chdtri(df, 1.0 - at) / df
        for scale, df in zip((ratio, arms - 1.0), dfs, strict=True)
    )
    truth = ratio + arms - 1.0
    total = 0.0
    for v_b, w_b in zip(between, weights, strict=True):
        for v_w, w_w in zip(within, weights, strict=True):
            found, df = combine([(v_b, dfs[0]), (v_w, dfs[1])])
            total += w_b * w_w * 2.0 * ndtr(-stdtrit(df, 0.975) * np.sqrt(found / truth))
    return float(total / weights.sum() ** 2)


@pytest.mark.parametrize("arms", [2, 3, 4, 6])
def test_three_blocks_miss_four_to_six_percent(arms: int) -> None:
    # block variance 0, 0.25, 1, 2.5 times that of units
    for variance in (0.0, 0.25, 1.0, 2.5):
        assert 0.04 <= missed(3, arms, 1.0 + arms * variance, combine_mean) <= 0.06


# block variance, of that of units: the misses rise to about 10 times and fall again
WIDE = (0.0, 1.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 32.0, 100.0, 1000.0)


@pytest.mark.parametrize(
    ("blocks", "arms", "most"),
    [
        (3, 2, 0.066), (3, 3, 0.062), (3, 4, 0.064), (3, 6, 0.066),
        (4, 2, 0.056), (4, 6, 0.062), (6, 2, 0.053), (6, 6, 0.055),
    ],
)  # fmt: skip
def test_misses_at_any_block_variance(blocks: int, arms: int, most: float) -> None:
    found = [missed(blocks, arms, 1.0 + arms * ratio, combine_mean) for ratio in WIDE]
    assert most - 0.001 <= max(found) <= most + 0.0005
    assert found[-1] < 0.0525  # one part leads: its own df, nearly exact


def test_two_blocks_are_worse() -> None:
    assert 0.09 <= missed(2, 3, 1.0 + 3.0 * 32.0, combine_mean) <= 0.098


def test_satterthwaite_alone_does_not() -> None:
    assert missed(3, 2, 1.0, combine_parts) < 0.036
    assert missed(3, 6, 97.0, combine_parts) > 0.07


@given(st.lists(st.tuples(variances, few), min_size=1, max_size=4))
def test_from_three_df_up_it_is_satterthwaite(parts: list[tuple[float, float]]) -> None:
    many = [(v, df + 2.0) for v, df in parts]
    assert combine_mean(many) == pytest.approx(combine_parts(many), rel=1e-12)


@given(st.lists(st.tuples(variances, few), min_size=1, max_size=4))
def test_df_lie_between_the_fewest_and_all(parts: list[tuple[float, float]]) -> None:
    total, df = combine_mean(parts)
    assert total == pytest.approx(sum(v for v, _ in parts), rel=1e-12)
    most = sum(f for _, f in parts) + len(parts) - 1.0
    assert min(f for _, f in parts) * (1.0 - 1e-12) <= df <= most * (1.0 + 1e-12)


@given(variances, few, st.sampled_from([1e-9, 1e8]))
def test_one_part_keeps_its_df_and_units_do_not_matter(
    v: float, df: float, unit: float
) -> None:
    assert combine_mean([(v, df), (0.0, 1.0)]) == (v, df)
    one, other = (combine_mean([(v * u, df), (2.0 * v * u, 2.0)])[1] for u in (1.0, unit))
    assert other == pytest.approx(one, rel=1e-12)


def test_nothing_has_no_df() -> None:
    assert combine_mean([(0.0, 3.0)]) == (0.0, 0.0)
