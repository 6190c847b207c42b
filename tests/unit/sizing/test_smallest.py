"""Answers read between simulated chances: straight in probits, never far past them."""

import pytest
from scipy.special import ndtr, ndtri

from wickstats.sizing.smallest import blocks_between, smallest_between

TARGET = 0.8
AIM = float(ndtri(TARGET))


def test_a_straight_line_of_probits_is_read_exactly() -> None:
    points = [(d, float(ndtr(10 * d - 2))) for d in (0.2, 0.3, 0.4)]
    assert smallest_between(points, TARGET, None) == pytest.approx((AIM + 2) / 10)


def test_it_is_read_a_little_past_what_was_simulated_and_no_further() -> None:
    near = [(d, float(ndtr(10 * d - 2))) for d in (0.2, 0.25)]
    assert smallest_between(near, TARGET, None) == pytest.approx((AIM + 2) / 10)
    far = [(d, float(ndtr(10 * d - 2))) for d in (0.1, 0.12)]
    assert smallest_between(far, TARGET, None) is None
    # no two shares lie further apart than there is room
    assert smallest_between(near, TARGET, 0.28) is None
    assert smallest_between(near[:1], TARGET, None) is None
    assert smallest_between([(0.2, 0.5), (0.3, 0.5)], TARGET, None) is None


def test_blocks_are_read_in_roots_and_rounded_up() -> None:
    points = [(n, float(ndtr(n**0.5 - 2))) for n in (4, 6, 12)]
    assert blocks_between(points, TARGET) == 9  # (0.8416 + 2)^2 = 8.07
    assert blocks_between(points[:2], TARGET) is None


def test_the_first_size_is_the_answer_only_where_none_is_smaller() -> None:
    assert blocks_between([(2, 0.9), (4, 0.99)], TARGET) == 2
    assert blocks_between([(10, 0.95), (20, 0.99)], TARGET) is None
