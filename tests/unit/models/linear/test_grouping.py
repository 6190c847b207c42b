"""Codes of groups: the same partitions as sorting would give, for dense and wild codes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.linear.grouping import (
    combine_codes,
    components,
    contents,
    distinct_rows,
    first_rows,
    is_nested,
    level_codes,
    number_codes,
)

QUIET = settings(max_examples=50, deadline=None)
CODES = st.lists(st.integers(-(10**12), 10**12) | st.integers(0, 5), min_size=1, max_size=60)


@QUIET
@given(CODES)
def test_numbers_are_those_of_sorted_values(values):
    code, count = number_codes(np.array(values))
    wanted, inverse = np.unique(values, return_inverse=True)
    assert count == len(wanted)
    assert code.tolist() == inverse.tolist()


@QUIET
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 10**9)), min_size=1, max_size=50))
def test_combinations_make_the_same_sets_as_tuples(pairs):
    one, other = (np.array(v) for v in zip(*pairs, strict=True))
    code, count = level_codes([one, other], len(pairs))
    assert count == len(set(pairs))
    assert len(set(zip(code.tolist(), pairs, strict=True))) == count


def test_a_nested_coding_is_its_own_combination():
    plot = np.array([2, 0, 1, 2, 1, 0])
    block = np.array([1, 0, 0, 1, 0, 0])
    assert is_nested(plot, 3, block)
    assert not is_nested(block, 2, plot)
    assert combine_codes(block, 2, plot, 3)[0] is plot
    assert first_rows(plot, 3).tolist() == [1, 2, 0]


@QUIET
@given(st.lists(st.lists(st.integers(0, 3), min_size=1, max_size=5), min_size=1, max_size=20))
def test_groups_that_hold_the_same_get_the_same_number(groups):
    label = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
    held = np.array([v for g in groups for v in g])
    kind = np.arange(len(groups)) % 2
    number, count = contents(label, len(groups), held, 4, kind)
    keys = [(tuple(sorted(g)), k) for g, k in zip(groups, kind.tolist(), strict=True)]
    assert count == len(set(keys))
    assert len(set(zip(number.tolist(), keys, strict=True))) == count


def test_sets_that_no_row_links_are_told_apart():
    rows, columns = np.array([0, 0, 1, 2, 2]), np.array([0, 1, 1, 2, 3])
    sets, count = components([rows, columns], [3, 4], 5)
    assert (sets.tolist(), count) == ([0, 0, 0, 1, 1], 2)


@pytest.mark.parametrize("distinct", [3, 40])
def test_distinct_rows_give_the_matrix_back(distinct):
    rng = np.random.default_rng(1)
    X = rng.normal(size=(distinct, 4))[rng.integers(0, distinct, 50)]
    codes, rows = distinct_rows(X)
    np.testing.assert_array_equal(rows[codes], X)
    assert len(rows) == (3 if distinct == 3 else 50)
