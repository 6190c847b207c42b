"""Seasons at the edge: nothing raises, nothing is silently missing, words say why."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from analysis_makers import (
    PAIRS,
    factor,
    make_layout,
    make_season,
    make_trial,
    one_value_a_plot,
    survival_season,
)

from wickstats.analysis.season import analyze_season
from wickstats.core.codec import to_plain
from wickstats.core.errors import AnalysisError
from wickstats.design.trial import Matters, Plan, Response

PLAN = Plan(primary="survival", matters={"survival": Matters(difference=0.10)})
YIELD = Response(name="fruit", kind="yield", column="kg", better="more")


def only(made):
    found = analyze_season(*made).responses[0]
    to_plain(found)  # refuses NaN and infinity
    return found


def verdict_row(found):
    rows = [c for c in found.comparisons if c.sentence is not None]
    assert len(rows) == 1
    return rows[0]


def test_all_alive_in_one_arm_is_a_bound():
    found = only(survival_season({"hand": [4, 3, 5], "wick": [8, 8, 8]}, 8, plan=PLAN))
    wick = next(m for m in found.means if m.treatment == "wick")
    assert (wick.estimate, wick.bound, wick.high, wick.se) == (1.0, "lower", None, None)
    # 24 plants at a correlation of 0.1, 8 in a plot: 24/1.7 independent ones; closed form
    # 0.05^(1/n) for all alive
    assert wick.low == pytest.approx(0.05 ** (1.7 / 24), rel=1e-9)
    row = verdict_row(found)
    assert row.verdict == "better"
    assert "every plant of wick lived" in row.sentence
    assert any("Every plant of wick lived" in text for text in found.cautions)


def test_all_dead_in_one_arm_is_an_upper_bound():
    found = only(survival_season({"hand": [0, 0, 0], "wick": [6, 5, 7]}, 8, plan=PLAN))
    hand = next(m for m in found.means if m.treatment == "hand")
    assert (hand.estimate, hand.bound, hand.low) == (0.0, "upper", None)
    assert verdict_row(found).verdict == "better"


def test_all_alive_everywhere_cannot_tell():
    found = only(survival_season({"hand": [8, 8, 8], "wick": [8, 8, 8]}, 8, plan=PLAN))
    row = verdict_row(found)
    assert row.verdict == "cannot tell"
    assert row.estimate == 0.0
    assert row.p is None
    assert (row.low_adjusted, row.high_adjusted) == (-row.absolute.high / 100, row.high)
    assert not any(t.term.endswith("log-rank score") for t in found.tests)


def test_one_unit_an_arm_gives_estimates_only():
    found = only(survival_season({"hand": [5], "wick": [8]}, 8, plan=PLAN))
    for row in found.comparisons:
        assert row.p is None
        assert row.low is None
        assert row.not_estimable
    row = verdict_row(found)
    assert row.verdict is None
    assert row.estimate is not None
    assert "estimates only" in row.sentence
    assert all(t.p is None and t.not_estimable for t in found.tests)


def test_a_single_reservoir_among_replicated_arms():
    """One reservoir feeds all plots of an arm: that arm gets no inference, the others do."""
    rng = np.random.default_rng(3)
    rows, cells = [], []
    for block in "1234":
        for arm in ("hand", "wick", "pot"):
            plot = f"{arm}{block}"
            shared = "tank" if arm == "wick" else None
            rows.append({"plot": plot, "treatment": arm, "block": block, "reservoir": shared})
            cells.append({"plot": plot, "value": 10 + rng.normal()})
    trial = make_trial(
        [factor("treatment", ["hand", "wick", "pot"], "hand")],
        [Response(name="value", kind="measurement", column="value")],
    )
    layout = make_layout(rows, ["treatment"])
    found = only(
        (trial, layout, make_season(layout, tables={"measurements": pd.DataFrame(cells)}))
    )
    rows = {c.treatment: c for c in found.comparisons}
    assert "single independently set up unit" in rows["wick"].not_estimable
    assert rows["wick"].p is None
    assert rows["wick"].estimate is not None
    assert rows["pot"].p is not None
    assert (rows["pot"].rule, rows["pot"].df) == ("paired", 3.0)
    assert {u.unit for u in found.unit_summary.values} >= {"tank"}
    assert len(found.unit_summary.values) == 9


def test_two_blocks_of_two_is_honest_and_says_so():
    found = only(one_value_a_plot({"a": [1.0, 2.0], "b": [2.5, 3.1]}))
    row = found.comparisons[0]
    assert row.df == 1.0
    # paired t on 1 df: differences 1.5 and 1.1
    assert row.estimate == pytest.approx(1.3)
    assert row.se == pytest.approx(np.std([1.5, 1.1], ddof=1) / math.sqrt(2))
    assert any("degrees of freedom" in text for text in found.cautions)
    assert row.redraws.smallest_possible_p == 0.5


def test_a_lost_plot_is_named_with_its_reason():
    made = one_value_a_plot(
        {"a": [1.0, 2.0, 3.5], "b": [2.5, 3.1, 4.0]}, lost={"b-2": "flood damage"}
    )
    results = analyze_season(*made)
    found = results.responses[0]
    gone = [u for u in found.unit_summary.values if u.value is None]
    assert [(u.unit, u.not_estimable) for u in gone] == [("b-2", "flood damage")]
    assert any("flood damage" in text for text in found.cautions)
    assert [(u.plot, u.reason) for u in results.accounting.lost] == [("b-2", "flood damage")]


def test_an_arm_without_any_value_is_said_to_be_missing():
    nan = np.nan
    found = only(
        one_value_a_plot({"a": [1.0, 2.0, 3.5], "b": [2.5, 3.1, 4.0], "c": [nan, nan, nan]})
    )
    for row in found.comparisons:
        if "c" in (row.treatment, row.versus):
            assert row.estimate is None
            assert row.not_estimable
            assert row.verdict is None
        else:
            assert row.p is not None
    assert next(m for m in found.means if m.treatment == "c").estimate is None


def test_constant_values_have_no_scatter():
    found = only(one_value_a_plot({"a": [2.0, 2.0, 2.0], "b": [2.0, 2.0, 2.0]}))
    row = found.comparisons[0]
    assert row.estimate == pytest.approx(0.0, abs=1e-12)
    assert row.p is None
    assert "do not vary" in row.not_estimable
    assert row.verdict is None
    assert found.mixed_model.not_estimable


def test_everything_missing_stops_in_words():
    nan = np.nan
    with pytest.raises(AnalysisError, match="no usable rows for value"):
        analyze_season(*one_value_a_plot({"a": [nan, nan], "b": [nan, nan]}))


def test_one_response_missing_leaves_the_others():
    trial, layout, season = one_value_a_plot({"a": [1.0, 2.0, 2.5], "b": [2.0, 2.2, 3.0]})
    more = trial.model_copy(update={"responses": (*trial.responses, YIELD)})
    found = analyze_season(more, layout, season).responses
    assert found[0].comparisons
    assert found[1].comparisons == ()
    assert "fruit" in found[1].cautions[0]


def test_zero_yields_switch_to_ratios_of_sums():
    made = one_value_a_plot(
        {"a": [1.0, 0.0, 2.0, 1.5], "b": [2.0, 3.0, 2.5, 4.0]},
        response=Response(name="fruit", kind="yield", column="value", better="more"),
    )
    found = only(made)
    row = found.comparisons[0]
    assert row.measure == "ratio"
    assert row.rule == "paired"
    assert row.estimate == pytest.approx(11.5 / 4.5, rel=1e-12)
    # leaving out one block: log ratios of the sums that are left
    left = [
        math.log((11.5 - b) / (4.5 - a))
        for a, b in zip([1, 0, 2, 1.5], [2, 3, 2.5, 4], strict=True)
    ]
    se = math.sqrt(3 / 4 * sum((x - np.mean(left)) ** 2 for x in left))
    assert row.se == pytest.approx(se, rel=1e-9)
    assert row.df == 3.0
    assert any("nothing is added" in text for text in found.cautions)


def test_an_arm_without_yield_has_no_ratio():
    found = only(
        one_value_a_plot(
            {"a": [0.0, 0.0, 0.0], "b": [2.0, 3.0, 2.5]},
            response=Response(name="fruit", kind="yield", column="value", better="more"),
        )
    )
    row = found.comparisons[0]
    assert row.estimate is None
    assert row.not_estimable
    assert row.high is None
    assert row.bound == "lower"
    assert row.verdict == "cannot tell"


def test_not_at_random_withholds_verdict_and_redraws():
    trial, layout, season = one_value_a_plot(
        {"a": [1.0, 1.1, 1.2], "b": [5.0, 5.2, 5.1]}, drawn="not at random"
    )
    found = only((trial, layout, season))
    row = found.comparisons[0]
    assert row.p is not None
    assert row.verdict is None
    assert "position and method cannot be told apart" in row.sentence
    assert row.redraws.kind == "none"
    assert row.redraws.reason
    assert found.tests[0].redraws.p is None


@pytest.mark.parametrize("adjustment", ["tukey", "holm", "single-step", "none"])
def test_every_adjustment_widens_or_keeps(adjustment):
    entry = PAIRS.model_copy(update={"adjustment": adjustment})
    made = one_value_a_plot(
        {"a": [1.0, 2.0, 3.5], "b": [2.5, 3.1, 4.0], "c": [2.0, 1.0, 3.0]},
        plan=Plan(primary="value", comparisons=(entry,)),
    )
    for row in only(made).comparisons:
        assert row.adjustment == adjustment
        assert row.p_adjusted >= row.p - 1e-12
        assert row.low_adjusted <= row.low + 1e-9
        assert row.high_adjusted >= row.high - 1e-9


def test_constant_values_in_a_split_plot_with_a_gap_have_no_scatter():
    """Every piece stood at the top: a gap sends the lines through the mixed model."""
    rows = []
    for b, i, j in np.ndindex(3, 2, 2):
        levels = {"cord": f"c{i}", "washing": f"w{j}"}
        rows.append({"plot": f"{b}{i}{j}", "block": str(b), "whole_plot": f"{b}-{i}", **levels})
    factors = [
        factor("cord", ["c0", "c1"], "c0", applied_to="whole plot"),
        factor("washing", ["w0", "w1"], "w0", applied_to="subplot"),
    ]
    asked = [Response(name="value", kind="measurement", column="value")]
    trial = make_trial(factors, asked, design="split-plot")
    applied = {"cord": "whole plot", "washing": "subplot"}
    layout = replace(make_layout(rows, list(applied), design="split-plot"), applied_to=applied)
    cells = pd.DataFrame({"plot": [row["plot"] for row in rows[:-1]], "value": 200.0})
    found = only((trial, layout, make_season(layout, tables={"measurements": cells})))
    assert found.comparisons
    for row in found.comparisons:
        assert row.p is None
        assert row.not_estimable
        assert row.verdict is None
