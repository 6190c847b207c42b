"""Paired differences against scipy's paired t test."""

import pytest
from scipy.stats import ttest_rel

from wickstats.second.pairs import paired_difference


def test_it_is_the_paired_t_test() -> None:
    a, b = [5.1, 6.2, 4.8, 7.0], [4.4, 5.9, 4.9, 5.8]
    answer = paired_difference(
        [*a, *b], ["a"] * 4 + ["b"] * 4, {"a": 1.0, "b": -1.0}, [1, 2, 3, 4] * 2
    )
    peer = ttest_rel(a, b)
    assert answer.se is not None
    assert answer.estimate / answer.se == pytest.approx(peer.statistic, rel=1e-12)
    assert answer.df == peer.df


def test_blocks_that_miss_an_arm_are_left_out() -> None:
    answer = paired_difference(
        [1.0, 2.0, 4.0, 1.0, 3.5],
        ["a", "a", "a", "b", "b"],
        {"a": 1.0, "b": -1.0},
        [1, 2, 3, 1, 3],
    )
    assert answer.df == 1
    assert answer.estimate == pytest.approx(0.25)
