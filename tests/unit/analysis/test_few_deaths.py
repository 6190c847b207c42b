"""No deaths, all deaths, one death, in 2 to 6 blocks and 2 or 4 arms: through ws.analyze.

What a row shows are the numbers from which its verdict comes, and its sentence names every
arm in which all lived or all died. Values: the bound of an arm is 0.05^(1/n) for n effective
plants (closed form of the exact one-sided limit when all live; Clopper & Pearson 1934,
Biometrika 26:404), the two arms' distances added as squares (Newcombe 1998, Stat. Med.
17:873), computed here.
"""

import math
from collections.abc import Iterator

import pytest
from analysis_makers import survival_season

import wickstats as ws
from wickstats.core.results import Results
from wickstats.design.trial import Matters, Plan

ARMS = ("hand", "wick", "pot", "drip")
PLANTS = 8
PLAN = Plan(primary="survival", matters={"survival": Matters(difference=0.10)})
SOME = (4, 3, 5, 2, 6, 4)

# case -> plants alive of 8 in the first arm, in the second, in the others, block by block
CASES = {
    "no deaths": ((8,) * 6, (8,) * 6, (8,) * 6),
    "all dead": ((0,) * 6, (0,) * 6, (0,) * 6),
    "all dead in one": ((0,) * 6, (6, 5, 7, 6, 5, 7), (4, 6, 5, 7, 5, 4)),
    "one death": ((8,) * 6, (7, 8, 8, 8, 8, 8), (8,) * 6),
    "none against some": (SOME, (8,) * 6, (6, 5, 7, 6, 5, 7)),
    "none against all": ((0,) * 6, (8,) * 6, SOME),
}


def analyzed(case: str, blocks: int, arms: int) -> Results:
    first, second, others = (counts[:blocks] for counts in CASES[case])
    alive = {ARMS[0]: first, ARMS[1]: second, **dict.fromkeys(ARMS[2:arms], others)}
    trial, layout, season = survival_season(alive, PLANTS, plan=PLAN, reference="hand")
    del layout
    return ws.analyze(trial, season)


def numbers(thing: object) -> Iterator[float]:
    """Every number anywhere in the plain form of the results."""
    if isinstance(thing, dict):
        for value in thing.values():
            yield from numbers(value)
    elif isinstance(thing, list | tuple):
        for value in thing:
            yield from numbers(value)
    elif isinstance(thing, float):
        yield thing


@pytest.mark.parametrize("arms", [2, 4])
@pytest.mark.parametrize("blocks", [2, 3, 4, 6])
@pytest.mark.parametrize("case", list(CASES))
def test_every_row_is_finite_and_agrees_with_its_own_verdict(
    case: str, blocks: int, arms: int
) -> None:
    results = analyzed(case, blocks, arms)
    assert all(math.isfinite(value) for value in numbers(results.to_dict()))
    found = results.response("survival")
    judged = [c for c in found.comparisons if c.sentence is not None]
    assert len(judged) == arms - 1
    bounded = {m.treatment for m in found.means if m.bound and m.estimand == "share alive"}
    for row in judged:
        assert row.verdict is not None
        assert -1.0 <= row.low_adjusted <= row.estimate <= row.high_adjusted <= 1.0
        # the verdict is read from the limits that the row shows
        assert (row.low_adjusted > 0) == (row.verdict == "better")
        assert (row.high_adjusted < 0) == (row.verdict == "worse")
        assert row.absolute.low == pytest.approx(100 * row.low_adjusted, abs=1e-9)
        assert row.absolute.high == pytest.approx(100 * row.high_adjusted, abs=1e-9)
        extreme = bounded & {row.treatment, row.versus}
        assert (row.bound == "both") == bool(extreme)
        if extreme:
            # no p, se or interval of another rule beside the bound
            assert (row.p, row.p_adjusted, row.se, row.df) == (None,) * 4
            assert row.p_equivalence is None
            assert row.rule == "bound"
            # the sentence names every arm of one fate
            fates = row.sentence.split("every plant of")[-2:]
            assert all(any(f" {name}" in part for part in fates) for name in extreme)
            assert "allowing for luck in that, the true difference lies" in row.sentence
            assert "no p of this kind" in row.not_estimable
        else:
            assert row.p is not None
    for test in found.tests:
        assert (test.p is None) == bool(test.not_estimable)
        assert test.value is None or test.value == 0.0 or test.value > 1e-9
        assert test.p is None or test.p == 1.0 or test.p < 1.0 - 1e-9


@pytest.mark.parametrize("blocks", [2, 3, 4, 6])
def test_limits_of_a_bounded_row_are_the_closed_form(blocks: int) -> None:
    n_eff = blocks * PLANTS / (1.0 + (PLANTS - 1) * 0.1)
    far = 1.0 - 0.05 ** (1.0 / n_eff)
    both = analyzed("no deaths", blocks, 2).response("survival").comparisons[0]
    assert (both.low_adjusted, both.high_adjusted) == pytest.approx((-far, far), rel=1e-9)
    apart = analyzed("none against all", blocks, 2).response("survival").comparisons[0]
    # wick all alive, hand all dead: both distances count
    assert apart.low_adjusted == pytest.approx(1.0 - far * math.sqrt(2.0), rel=1e-9)
    assert apart.high_adjusted == 1.0


def test_arms_of_the_same_fate_are_both_named_and_do_not_vary() -> None:
    found = analyzed("no deaths", 4, 4).response("survival")
    row = found.comparisons[0]
    assert row.estimate == 0.0
    assert "every plant of wick and of hand lived" in row.sentence
    assert "as many plants alive of 100 planted" in row.sentence
    term = next(t for t in found.tests if t.term == "treatment")
    assert (term.value, term.p) == (None, None)
    assert term.not_estimable.startswith("no variation between units")
    rest = [c for c in found.comparisons if "restricted" in c.estimand]
    assert {(c.estimate, c.p, c.p_adjusted) for c in rest} == {(0.0, 1.0, 1.0)}


def test_opposite_fates_are_told_one_by_one() -> None:
    row = analyzed("none against all", 3, 2).response("survival").comparisons[0]
    assert row.verdict == "better"
    assert "every plant of wick lived and every plant of hand died" in row.sentence
    assert "between 73 more and 100 more of 100" in row.sentence


def test_left_out_blocks_show_the_limits_of_their_verdicts() -> None:
    found = analyzed("none against some", 4, 2).response("survival")
    for row in found.left_out:
        assert row.bound == "both"
        assert (row.low_adjusted > 0) == (row.verdict == "better")
