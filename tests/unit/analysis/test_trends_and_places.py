"""Trends over amounts, differences of differences, position as covariate, as treated."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import ComparisonPlan, Factor, Level, Plan, Response
from wickstats.models.linear.trends import bend, straight_line

VALUE = Response(name="value", kind="measurement", column="value")


def blocks_of(cells, values, *, plan=None, factors=None, columns=None, **more):
    """``cells``: dicts of levels; ``values`` (cell, block)."""
    rows, seen = [], []
    for i, cell in enumerate(cells):
        for b in range(values.shape[1]):
            plot = f"p{i}-{b}"
            row = {"plot": plot, "block": str(b + 1), **cell}
            if columns is not None:
                row["column"] = int(columns[i, b])
            rows.append(row)
            seen.append({"plot": plot, "value": float(values[i, b])})
    names = list(cells[0])
    trial = make_trial(factors, [VALUE], plan=plan)
    layout = make_layout(rows, names)
    tables = {"measurements": pd.DataFrame(seen), **more.pop("tables", {})}
    return analyze_season(trial, layout, make_season(layout, tables=tables)).responses[0]


def test_equally_spaced_trends_are_the_printed_coefficients():
    # orthogonal polynomial coefficients for 4 levels, -3 -1 1 3 and 1 -1 -1 1 (Fisher &
    # Yates, Statistical Tables, from memory)
    line, curve = straight_line([10, 20, 30, 40]), bend([10, 20, 30, 40])
    assert line / line[3] * 3 == pytest.approx([-3, -1, 1, 3])
    assert curve / curve[0] == pytest.approx([1, -1, -1, 1])


@pytest.mark.parametrize("seed", range(5))
def test_trends_read_in_the_units_of_the_response(seed):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 9, 5))
    # an exact parabola: the line's change is that of least squares on the levels, the bend
    # the middle above the average of the ends
    a, b, c = rng.normal(size=3)
    y = a + b * x + c * x**2
    slope = np.polyfit(x, y, 1)[0]
    assert straight_line(x) @ y == pytest.approx(slope * (x[-1] - x[0]))
    middle = 0.5 * (x[0] + x[-1])
    ends = 0.5 * (y[0] + y[-1])
    assert bend(x) @ y == pytest.approx(a + b * middle + c * middle**2 - ends)
    assert straight_line(x) @ bend(x) == pytest.approx(0, abs=1e-12)


def test_trends_through_the_analysis_split_the_treatment_sum_of_squares():
    # rates of Gomez & Gomez (1984), table 2.5, from memory: with three rates line and bend
    # are all there is, so their F average to the F of treatments
    values = np.array(
        [[5113, 5398, 5307, 4678], [5346, 5952, 4719, 4264], [5254, 4542, 4919, 4098.0]]
    )
    levels = tuple(Level(name=f"{kg} kg", amount=float(kg)) for kg in (25, 50, 150))
    rate = Factor(name="rate", levels=levels)
    plan = Plan(
        primary="value",
        comparisons=(ComparisonPlan(factor="rate", compare="trend over amount"),),
    )
    cells = [{"rate": level.name} for level in levels]
    found = blocks_of(cells, values, plan=plan, factors=[rate])
    line, curve = found.comparisons
    assert line.name == "rate from 25 kg to 150 kg, straight line"
    assert {line.adjustment, curve.adjustment} == {"single-step"}
    ts = [(c.estimate / c.se) ** 2 for c in (line, curve)]
    assert sum(ts) / 2 == pytest.approx(found.tests[0].value, rel=1e-10)
    assert line.df == 6
    slope = np.polyfit([25, 50, 150], values.mean(axis=1), 1)[0]
    assert line.estimate == pytest.approx(125 * slope, rel=1e-10)


def test_differences_of_differences():
    rng = np.random.default_rng(3)
    values = rng.normal(size=(6, 4))
    two = [
        factor("water", ["none", "drip", "wick"], "none"),
        factor("mulch", ["bare", "straw"]),
    ]
    cells = [
        {"water": w, "mulch": m} for w in ("none", "drip", "wick") for m in ("bare", "straw")
    ]
    entry = ComparisonPlan(factor="water", differs_by="mulch")
    found = blocks_of(
        cells, values, plan=Plan(primary="value", comparisons=(entry,)), factors=two
    )
    rows = [
        c
        for c in found.comparisons
        if c.term == "water x mulch" and "straw against bare" in c.name
    ]
    rows = [c for c in rows if c.adjustment == "single-step"]
    assert [c.name for c in rows] == [
        "drip against none: straw against bare",
        "wick against none: straw against bare",
    ]
    m = values.mean(axis=1).reshape(3, 2)
    assert rows[0].estimate == pytest.approx((m[1, 1] - m[0, 1]) - (m[1, 0] - m[0, 0]))
    # both together are the interaction: the larger of the two bounds its F
    interaction = next(t for t in found.tests if t.term == "water x mulch")
    assert max((c.estimate / c.se) ** 2 for c in rows) <= 2 * interaction.value + 1e-12
    # four plots stand in each contrast, each by 1/4 of the variance of a block
    ms = next(r.mean_square for r in found.strata if r.source == "residual")
    assert rows[0].se == pytest.approx(np.sqrt(ms * 4 / 4))


def test_position_takes_a_gradient_out_along_the_columns():
    import statsmodels.api as sm

    rng = np.random.default_rng(8)
    columns = np.array([rng.permutation(4) + 1 for _ in range(5)]).T
    values = rng.normal(size=(4, 5)) + 3.0 * columns
    plan = Plan(primary="value", covariates={"value": "position"})
    cells = [{"arm": name} for name in "abcd"]
    found = blocks_of(
        cells, values, plan=plan, factors=[factor("arm", list("abcd"), "a")], columns=columns
    )
    arm, block = (part.ravel() for part in np.indices((4, 5)))
    x = np.column_stack([np.eye(4)[arm], np.eye(5)[block][:, 1:], columns.ravel()])
    theirs = sm.OLS(values.ravel(), x).fit()
    test = theirs.f_test(np.hstack([-np.ones((3, 1)), np.eye(3), np.zeros((3, 5))]))
    assert found.tests[0].value == pytest.approx(float(test.fvalue), rel=1e-9)
    assert found.tests[0].df_den == theirs.df_resid == 11
    assert found.unit_summary.covariate == "position"
    assert found.tests[0].redraws.p is not None
    without = blocks_of(
        cells, values, factors=[factor("arm", list("abcd"), "a")], columns=columns
    )
    assert without.unit_summary.covariate is None
    assert without.tests[0].df_den == 12


def test_position_is_walking_order_where_columns_are_not_known():
    values = np.random.default_rng(1).normal(size=(3, 4))
    plan = Plan(primary="value", covariates={"value": "position"})
    cells = [{"arm": name} for name in "abc"]
    # the layout lists all plots of an arm together: in each block a, b, c stand in order, so
    # position and arm are one and the same and nothing can be told apart
    found = blocks_of(cells, values, plan=plan, factors=[factor("arm", list("abc"), "a")])
    given = {u.unit: u.covariate for u in found.unit_summary.values}
    assert [given[f"p{i}-0"] for i in range(3)] == [-1.0, 0.0, 1.0]
    assert found.comparisons[0].not_estimable


def test_position_is_refused_in_words_where_rows_and_columns_are_fixed():
    """Rows and columns hold any gradient already; the plan's wish is told as a deviation."""
    order = 4
    values = np.random.default_rng(4).normal(size=(order, order))
    spots = [(i, j) for i in range(order) for j in range(order)]
    laid = [
        {"plot": f"{i}-{j}", "arm": "abcd"[(i + j) % order], "row": i + 1, "column": j + 1}
        for i, j in spots
    ]
    plan = Plan(primary="value", covariates={"value": "position"})
    factors = [factor("arm", list("abcd"), "a")]
    trial = make_trial(factors, [VALUE], plan=plan, design="Latin square")
    layout = make_layout(laid, ["arm"], design="Latin square")
    frame = pd.DataFrame({"plot": [p["plot"] for p in laid], "value": values.ravel()})
    whole = analyze_season(trial, layout, make_season(layout, tables={"measurements": frame}))
    found = whole.responses[0]
    assert found.unit_summary.covariate is None
    assert found.tests[0].df_den == 6  # (4 - 1) (4 - 2)
    told = "rows and columns are in the analysis already"
    assert any(told in text for text in found.cautions)
    assert any("covariate position" in d.what and told in d.done for d in whole.deviations)


def test_position_that_goes_with_the_subplots_cannot_be_told_from_them():
    """In every whole plot the levels stand in the same columns: nothing is left of them."""
    rng = np.random.default_rng(5)
    laid, seen = [], []
    for block in "1234":
        for line in "ab":
            for k, mulch in enumerate("xy"):
                plot = f"{block}{line}{mulch}"
                whole = f"{block}{line}"
                row = {"plot": plot, "block": block, "whole_plot": whole, "column": k + 1}
                laid.append(row | {"line": line, "mulch": mulch})
                seen.append({"plot": plot, "value": float(rng.normal())})
    factors = [
        factor("line", list("ab"), "a", applied_to="whole plot"),
        factor("mulch", list("xy"), "x", applied_to="subplot"),
    ]
    plan = Plan(primary="value", covariates={"value": "position"})
    trial = make_trial(factors, [VALUE], plan=plan, design="split-plot")
    layout = make_layout(laid, ["line", "mulch"], design="split-plot")
    tables = {"measurements": pd.DataFrame(seen)}
    whole = analyze_season(trial, layout, make_season(layout, tables=tables))
    found = whole.responses[0]
    assert found.unit_summary.covariate == "position"
    tests = {t.term: t for t in found.tests}
    assert tests["mulch"].value is None
    assert tests["mulch"].not_estimable
    # whole plots have all the same mean column: no slope between them, no df lost
    assert tests["line"].df_den == 3


def wrong(plot, note, plant=None):
    return {
        "events": pd.DataFrame(
            [
                {
                    "date": pd.Timestamp("2025-05-01"),
                    "plot": plot,
                    "reservoir": None,
                    "plant": plant,
                    "what": "wrong treatment",
                    "note": note,
                }
            ]
        )
    }


def test_as_treated_stands_beside_as_randomized():
    values = np.array([[1.0, 2.0, 3.0], [2.0, 3.5, 4.0], [9.0, 8.0, 7.0]])
    arms = [factor("arm", ["wick", "gravity wick", "hand"], "hand")]
    cells = [{"arm": name} for name in ("wick", "gravity wick", "hand")]
    told = wrong("p0-1", "got the Gravity wick, not the wick")
    found = blocks_of(cells, values, factors=arms, tables=told)
    plain = blocks_of(cells, values, factors=arms)
    assert [c.estimate for c in found.comparisons] == [c.estimate for c in plain.comparisons]
    rows = {c.name: c for c in found.sensitivity if "as treated" in c.name}
    assert set(rows) == {
        "wick against hand (as treated)",
        "gravity wick against hand (as treated)",
    }
    # least squares with unit p0-1 labelled gravity wick
    import statsmodels.api as sm

    arm = np.array([[0, 1, 0], [1, 1, 1], [2, 2, 2]]).ravel()
    block = np.tile(np.arange(3), 3)
    x = np.column_stack([np.eye(3)[arm], np.eye(3)[block][:, 1:]])
    fit = sm.OLS(values.ravel(), x).fit()
    row = rows["gravity wick against hand (as treated)"]
    assert row.estimate == pytest.approx(fit.params[1] - fit.params[2])
    assert row.verdict is None
    assert any(
        "p0-1 was given gravity wick in place of wick" in text for text in found.cautions
    )


@pytest.mark.parametrize(
    ("note", "plant", "words"),
    [
        ("", None, "does not name just one"),
        ("wick or gravity wick", None, "does not name just one"),
        ("the wick again", "3", "part of a unit"),
    ],
)
def test_as_treated_needs_one_name_for_the_whole_unit(note, plant, words):
    values = np.arange(9.0).reshape(3, 3) ** 2
    arms = [factor("arm", ["wick", "gravity wick", "hand"], "hand")]
    cells = [{"arm": name} for name in ("wick", "gravity wick", "hand")]
    found = blocks_of(cells, values, factors=arms, tables=wrong("p2-0", note, plant))
    assert not any("as treated" in c.name for c in found.sensitivity)
    assert any(words in text for text in found.cautions)
