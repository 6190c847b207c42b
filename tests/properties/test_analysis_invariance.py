"""What may not change an analysis: row order, names, unit of measure, order of arms."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "analysis"))
from analysis_makers import make_season, one_value_a_plot, survival_season

from wickstats.analysis.season import analyze_season
from wickstats.core.codec import to_plain
from wickstats.design.trial import Matters, Plan, Response

NUMBERS = st.floats(1.0, 9.0, allow_nan=False).map(lambda x: round(x, 3))
SETTINGS = settings(max_examples=20, deadline=None)


@st.composite
def blocked(draw):
    """Two to four arms in two to five blocks, some plots lost."""
    arms = ["a", "b", "c", "d"][: draw(st.integers(2, 4))]
    blocks = draw(st.integers(2, 5))
    values = {arm: [draw(NUMBERS) for _ in range(blocks)] for arm in arms}
    if draw(st.booleans()):
        values[draw(st.sampled_from(arms))][draw(st.integers(0, blocks - 1))] = float("nan")
    return values


def rows(values, **more):
    return {
        (c.treatment, c.versus): c
        for c in analyze_season(*one_value_a_plot(values, **more)).responses[0].comparisons
    }


@SETTINGS
@given(values=blocked())
def test_results_hold_no_nan_and_say_why_where_a_number_is_missing(values):
    for found in analyze_season(*one_value_a_plot(values)).responses:
        to_plain(found)
        for row in (*found.comparisons, *found.sensitivity):
            assert (row.p is not None) or row.not_estimable
        for mean in found.means:
            assert (mean.low is not None) or mean.not_estimable
        for test in found.tests:
            assert (test.p is not None) or test.not_estimable


@SETTINGS
@given(values=blocked(), scale=st.sampled_from([1e-6, 0.01, 1000.0, 1e8]))
def test_a_change_of_unit_scales_estimates_and_keeps_p(values, scale):
    plain = rows(values)
    scaled = rows({arm: [scale * x for x in given] for arm, given in values.items()})
    for key, row in plain.items():
        other = scaled[key]
        assert (row.p is None) == (other.p is None)
        if row.p is not None:
            size = abs(row.estimate) + row.se
            assert other.estimate / scale == pytest.approx(row.estimate, abs=1e-9 * size)
            assert other.p == pytest.approx(row.p, rel=1e-6, abs=1e-12)
            assert other.verdict == row.verdict


@SETTINGS
@given(values=blocked())
def test_listing_arms_in_another_order_turns_signs_only(values):
    plain = rows(values)
    turned = rows(dict(reversed(values.items())))
    for (treatment, versus), row in plain.items():
        other = turned[versus, treatment]
        if row.p is None:
            assert other.p is None
            continue
        size = abs(row.estimate) + row.se
        assert other.estimate == pytest.approx(-row.estimate, abs=1e-9 * size)
        assert other.p == pytest.approx(row.p, rel=1e-6, abs=1e-12)
        # with unequal numbers the joint t is taken over a fixed set of directions
        assert other.p_adjusted == pytest.approx(row.p_adjusted, rel=1e-3, abs=1e-4)
        assert other.low_adjusted == pytest.approx(-row.high_adjusted, abs=2e-3 * size)


@SETTINGS
@given(values=blocked(), seed=st.integers(0, 1000))
def test_the_order_of_rows_changes_nothing(values, seed):
    trial, layout, season = one_value_a_plot(values)
    frame = season.tables["measurements"]
    order = np.random.default_rng(seed).permutation(len(frame))
    mixed = make_season(
        layout, tables={"measurements": frame.iloc[order].reset_index(drop=True)}
    )
    assert to_plain(analyze_season(trial, layout, season)) == to_plain(
        analyze_season(trial, layout, mixed)
    )


@SETTINGS
@given(
    alive=st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=5),
)
def test_any_shares_get_a_verdict_or_a_reason(alive):
    plan = Plan(primary="survival", matters={"survival": Matters(difference=0.1)})
    made = survival_season(
        {"hand": [x for x, _ in alive], "wick": [y for _, y in alive]}, 5, plan=plan
    )
    found = analyze_season(*made).responses[0]
    to_plain(found)
    row = next(c for c in found.comparisons if c.sentence)
    assert row.verdict is not None
    # a p and the interval from which the verdict is read, or the bound's range and no p
    assert (row.p is None) == (row.bound == "both") == bool(row.not_estimable)
    assert row.low_adjusted <= row.estimate <= row.high_adjusted
    clear = row.low_adjusted > 0 or row.high_adjusted < 0
    assert clear == (row.verdict in ("better", "worse"))
    for mean in found.means:
        if mean.estimand == "share alive":
            assert 0.0 <= mean.estimate <= 1.0
            for end in (mean.low, mean.high):
                assert end is None or 0.0 <= end <= 1.0
            assert (mean.bound is not None) == (mean.estimate in (0.0, 1.0))


def test_growth_rows_may_come_in_any_order():
    rng = np.random.default_rng(2)
    frame = pd.DataFrame(
        [
            {
                "date": pd.Timestamp("2025-09-01"),
                "plot": f"{arm}-{k}",
                "plant": str(plant),
                "height_cm": float(np.exp(rng.normal(3, 0.2))),
            }
            for arm in "ab"
            for k in (1, 2, 3)
            for plant in range(4)
        ]
    )
    asked = Response(name="height", kind="growth", column="height_cm")
    trial, layout, _ = one_value_a_plot({"a": [1, 2, 3], "b": [1, 2, 3]}, response=asked)
    plain = analyze_season(trial, layout, make_season(layout, tables={"measurements": frame}))
    back = frame.iloc[::-1].reset_index(drop=True)
    turned = analyze_season(trial, layout, make_season(layout, tables={"measurements": back}))
    one, two = plain.responses[0], turned.responses[0]
    assert one.comparisons[0].estimate == pytest.approx(two.comparisons[0].estimate, rel=1e-12)
    assert one.mixed_model.objective == pytest.approx(two.mixed_model.objective, rel=1e-9)
