"""Every comparison without each block: the numbers are those of a season without it."""

import pytest
from analysis_makers import one_value_a_plot, survival_season

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import Matters, Plan, Response

VALUES = {
    "hand": [10.0, 12.0, 11.0, 13.0, 9.0],
    "wick": [14.0, 15.5, 12.0, 16.0, 25.0],
    "pot": [11.0, 12.5, 12.0, 12.0, 10.0],
}
KINDS = {
    "as measured": Response(name="value", kind="measurement", column="value", better="more"),
    "log": Response(name="value", kind="yield", column="value", scale="log", better="more"),
    "counts": Response(name="value", kind="count", column="value", better="more"),
}


def analyzed(values, response, plan=None):
    made = one_value_a_plot(values, response=response, reference="hand", plan=plan)
    return analyze_season(*made).responses[0]


@pytest.mark.parametrize("kind", KINDS)
def test_rows_agree_with_a_season_that_never_had_the_block(kind):
    whole = analyzed(VALUES, KINDS[kind])
    assert len(whole.left_out) == 5 * 2
    for k in range(5):
        rest = {arm: v[:k] + v[k + 1 :] for arm, v in VALUES.items()}
        alone = analyzed(rest, KINDS[kind])
        for row in whole.left_out:
            if row.block != str(k + 1):
                continue
            wanted = next(c for c in alone.comparisons if c.name == row.name)
            assert row.estimate == pytest.approx(wanted.estimate, rel=1e-9)
            # Dunnett's critical value is integrated to a tolerance
            assert row.low_adjusted == pytest.approx(wanted.low_adjusted, rel=1e-4, abs=1e-4)
            assert row.high_adjusted == pytest.approx(wanted.high_adjusted, rel=1e-4, abs=1e-4)
            assert row.df == wanted.df
            assert (row.verdict, row.measure) == (wanted.verdict, wanted.measure)


def test_the_finding_in_words_follows_from_the_rows():
    plan = Plan(primary="value", matters={"value": Matters(difference=3.0)})
    found = analyzed(VALUES, KINDS["as measured"], plan)
    before = {c.name: c.verdict for c in found.comparisons}
    changed = [r for r in found.left_out if r.verdict != before[r.name]]
    told = next(c for c in found.checks if c.name.startswith("verdicts with each"))
    assert changed
    for row in changed:
        assert f"without block {row.block}, {row.name}: {row.verdict}" in told.finding
    assert told.finding.count("without block") == len(changed)


def test_zero_yields_without_the_only_block_that_bore_are_bounded():
    fruit = Response(name="value", kind="yield", column="value", scale="log", better="more")
    values = {"hand": [5.0, 6.0, 4.0, 5.0], "wick": [0.0, 2.0, 0.0, 1.0]}
    rows = analyzed(values, fruit).left_out
    without = {row.block: row for row in rows}
    assert without["2"].bound == "upper"
    assert without["2"].high_adjusted is not None
    assert without["2"].low_adjusted is None
    assert without["1"].bound is None
    assert without["1"].low_adjusted is not None


def test_shares_and_two_blocks():
    alive = {"hand": [4, 5, 6, 3], "wick": [8, 8, 7, 8]}
    found = analyze_season(*survival_season(alive, 8, reference="hand")).responses[0]
    assert len(found.left_out) == 4
    rest = {arm: v[1:] for arm, v in alive.items()}
    alone = analyze_season(*survival_season(rest, 8, reference="hand")).responses[0]
    row = next(r for r in found.left_out if r.block == "1")
    assert row.estimate == pytest.approx(alone.comparisons[0].estimate, rel=1e-9)
    assert row.high_adjusted == pytest.approx(alone.comparisons[0].high_adjusted, rel=1e-6)
    two = {arm: v[:2] for arm, v in VALUES.items()}
    assert analyzed(two, KINDS["log"]).left_out is None
