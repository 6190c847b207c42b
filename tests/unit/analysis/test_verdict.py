"""Every interval gets exactly one verdict, and turning the sign turns the verdict."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.analysis import verdict as v

LIMITS = st.floats(-10, 10, allow_nan=False)
MATTERS = st.one_of(st.none(), st.floats(0.01, 5))

TURNED = {
    v.SAME: v.SAME,
    v.SAME_BETTER: v.SAME_WORSE,
    v.SAME_WORSE: v.SAME_BETTER,
    v.BETTER: v.WORSE,
    v.WORSE: v.BETTER,
    v.NO_WORSE: v.NO_BETTER,
    v.NO_BETTER: v.NO_WORSE,
    v.CANNOT_TELL: v.CANNOT_TELL,
}
NEUTRAL = {
    v.BETTER: v.MORE,
    v.WORSE: v.LESS,
    v.SAME_BETTER: v.SAME_MORE,
    v.SAME_WORSE: v.SAME_LESS,
    v.NO_WORSE: v.NO_LESS,
    v.NO_BETTER: v.NO_MORE,
}


def claims(low, high, m):
    """All verdicts whose own definition holds, read off the rule one by one."""
    same = m is not None and low >= -m and high <= m
    out = []
    if same:
        out.append(v.SAME_BETTER if low > 0 else v.SAME_WORSE if high < 0 else v.SAME)
    if not same and low > 0:
        out.append(v.BETTER)
    if not same and high < 0:
        out.append(v.WORSE)
    if not same and low <= 0 <= high:
        if m is not None and low >= -m:
            out.append(v.NO_WORSE)
        elif m is not None and high <= m:
            out.append(v.NO_BETTER)
        else:
            out.append(v.CANNOT_TELL)
    return out


@given(a=LIMITS, b=LIMITS, m=MATTERS)
def test_every_interval_gets_exactly_one_verdict(a, b, m):
    low, high = min(a, b), max(a, b)
    assert claims(low, high, m) == [v.verdict_of(low, high, m, "more")]


@given(a=LIMITS, b=LIMITS, m=MATTERS)
def test_turning_the_sign_turns_the_verdict(a, b, m):
    low, high = min(a, b), max(a, b)
    found = v.verdict_of(low, high, m, "more")
    assert v.verdict_of(-high, -low, m, "more") == TURNED[found]
    assert v.verdict_of(low, high, m, "less") == TURNED[found]
    assert v.verdict_of(low, high, m, "neither") == NEUTRAL.get(found, found)


@given(a=LIMITS, b=LIMITS, m=st.floats(0.01, 5), scale=st.floats(0.1, 10))
def test_a_change_of_unit_changes_nothing(a, b, m, scale):
    # powers of two keep the comparison of limits exact
    factor = 2.0 ** round(scale)
    low, high = min(a, b), max(a, b)
    assert v.verdict_of(low, high, m, "more") == v.verdict_of(
        factor * low, factor * high, factor * m, "more"
    )


@pytest.mark.parametrize(
    ("low", "high", "matters", "expected"),
    [
        (-0.05, 0.05, 0.1, v.SAME),
        (0.02, 0.08, 0.1, v.SAME_BETTER),
        (-0.08, -0.02, 0.1, v.SAME_WORSE),
        (-0.1, 0.1, 0.1, v.SAME),
        (0.02, 0.3, 0.1, v.BETTER),
        (0.2, 0.3, None, v.BETTER),
        (-0.3, -0.02, 0.1, v.WORSE),
        (-0.05, 0.3, 0.1, v.NO_WORSE),
        (-0.3, 0.05, 0.1, v.NO_BETTER),
        (-0.3, 0.3, 0.1, v.CANNOT_TELL),
        (-0.05, 0.05, None, v.CANNOT_TELL),
        (0.0, 0.3, None, v.CANNOT_TELL),
    ],
)
def test_the_order_of_the_rule(low, high, matters, expected):
    assert v.verdict_of(low, high, matters, "more") == expected


@pytest.mark.parametrize(("low", "high", "m"), [(1.0, 0.0, None), (0.0, 1.0, 0.0)])
def test_impossible_input_is_refused(low, high, m):
    with pytest.raises(ValueError, match=r"limits|above zero"):
        v.verdict_of(low, high, m, "more")


def test_a_bound_gives_better_worse_or_cannot_tell():
    assert v.verdict_of_bound(0.1, None, "more") == v.BETTER
    assert v.verdict_of_bound(0.1, None, "less") == v.WORSE
    assert v.verdict_of_bound(None, -0.1, "more") == v.WORSE
    assert v.verdict_of_bound(None, -0.1, "neither") == v.LESS
    assert v.verdict_of_bound(-0.1, 0.4, "more") == v.CANNOT_TELL
