"""One number per unit, kind by kind, against hand-made seasons worked by hand."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from analysis_makers import (
    factor,
    make_layout,
    make_season,
    make_trial,
    survival_season,
)

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import EqualWater, Matters, Plan, Response

ARMS = ("hand", "wick")
BLOCKS = "123"
START = pd.Timestamp("2025-03-01")
END = START + pd.Timedelta(days=100)


def plots(plants=None, reservoirs=None):
    return [
        {
            "plot": f"{arm}{block}",
            "treatment": arm,
            "block": block,
            "plants": plants,
            "reservoir": (reservoirs or {}).get(f"{arm}{block}"),
        }
        for block in BLOCKS
        for arm in ARMS
    ]


def run(responses, *, layout_rows=None, plan=None, **season):
    trial = make_trial([factor("treatment", ARMS, "hand")], responses, plan=plan)
    layout = make_layout(layout_rows or plots(), ["treatment"])
    return analyze_season(trial, layout, make_season(layout, **season))


def unit_values(found):
    return {u.unit: u.value for u in found.unit_summary.values}


def test_growth_is_the_mean_log_of_last_sizes_of_the_living():
    rows = []
    for plot in plots():
        for plant, size in (("1", 10.0), ("2", 20.0)):
            for days, factor_ in ((0, 0.5), (100, 1.0)):
                bonus = 1.5 if plot["treatment"] == "wick" else 1.0
                noise = 1 + 0.05 * (int(plot["block"]) + (plot["treatment"] == "wick")) ** 2
                rows.append(
                    {
                        "date": START + pd.Timedelta(days=days),
                        "plot": plot["plot"],
                        "plant": plant,
                        "height_cm": size * factor_ * bonus * noise,
                    }
                )
    # a plant that died on day 60 keeps its day-0 size in the table, which must not count
    rows = [
        r for r in rows if not (r["plot"] == "hand1" and r["plant"] == "2" and r["date"] == END)
    ]
    found = run(
        [Response(name="height", kind="growth", column="height_cm", better="more")],
        tables={"measurements": pd.DataFrame(rows)},
    ).responses[0]
    values = unit_values(found)
    assert values["hand2"] == pytest.approx(math.log(1.2) + (math.log(10) + math.log(20)) / 2)
    assert values["hand1"] == pytest.approx(math.log(1.05 * 10))
    assert {u.unit: u.n_plants for u in found.unit_summary.values}["hand1"] == 1
    row = found.comparisons[0]
    assert row.measure == "ratio"
    assert row.relative.ratio == row.estimate
    # the absolute size is the ratio less one, at the mean of the reference
    hand = next(m for m in found.means if m.treatment == "hand").estimate
    assert row.absolute.estimate == pytest.approx(hand * (row.estimate - 1), rel=1e-12)
    assert "at the mean of hand" in row.absolute.per
    assert found.mixed_model.terms[-1] == "residual"
    assert "plot" in found.mixed_model.terms


def test_slope_is_a_growth_rate_per_day():
    rows = []
    for k, plot in enumerate(plots()):
        for plant in "12":
            rate = 0.01 + 0.001 * k + (0.0005 if plant == "2" else 0.0)
            rows.extend(
                {
                    "date": START + pd.Timedelta(days=day),
                    "plot": plot["plot"],
                    "plant": plant,
                    "height_cm": 5.0 * math.exp(rate * day),
                }
                for day in (0, 30, 90)
            )
    asked = Response(name="height", kind="growth", column="height_cm", measure="slope")
    found = run([asked], tables={"measurements": pd.DataFrame(rows)}).responses[0]
    assert unit_values(found)["hand1"] == pytest.approx(0.01025, rel=1e-9)
    assert found.comparisons[0].estimand == "growth rate"
    assert found.comparisons[0].measure == "difference"


def test_start_size_enters_where_the_plan_says_so():
    rng = np.random.default_rng(5)
    sizes, starts = [], []
    for plot in plots():
        for plant in "1234":
            start = float(np.exp(rng.normal(2, 0.3)))
            starts.append({"plot": plot["plot"], "plant": plant, "start_cm": start})
            end = start * float(np.exp(rng.normal(1, 0.02)))
            sizes.append({"date": END, "plot": plot["plot"], "plant": plant, "height_cm": end})
    tables = {"measurements": pd.DataFrame(sizes), "plants": pd.DataFrame(starts)}
    asked = Response(name="height", kind="growth", column="height_cm")
    plain = run([asked], tables=tables).responses[0]
    plan = Plan(primary="height", covariates={"height": "start size"})
    adjusted = run([asked], tables=tables, plan=plan).responses[0]
    assert adjusted.comparisons[0].df == plain.comparisons[0].df - 1
    # the true spread given the start is 0.02/2 a unit; without it the starts dominate
    assert adjusted.comparisons[0].se < plain.comparisons[0].se


def lives(alive, start_rows):
    out = []
    for row in start_rows:
        living = alive[row["plot"]]
        for plant in range(4):
            lived = plant < living
            out.append(
                {
                    "plot": row["plot"],
                    "plant": str(plant),
                    "planted_on": START,
                    "original": True,
                    "replaces": None,
                    "last_alive": END if lived else START + pd.Timedelta(days=40),
                    "first_dead": pd.NaT if lived else START + pd.Timedelta(days=50),
                    "cause": None,
                    "last_seen": END if lived else START + pd.Timedelta(days=50),
                    "fate": "alive" if lived else "dead",
                    "doubtful_from": pd.NaT,
                }
            )
    return pd.DataFrame(out)


def test_survivors_growth_gets_no_verdict_where_survival_differs():
    frame = lives({p["plot"]: 4 if p["treatment"] == "wick" else 2 for p in plots()}, plots())
    sizes = [
        {"date": END, "plot": r.plot, "plant": r.plant, "height_cm": 10.0 + k % 7}
        for k, r in enumerate(frame.itertuples())
        if r.fate == "alive"
    ]
    plan = Plan(
        primary="survival",
        secondary=("height",),
        matters={"survival": Matters(difference=0.1), "height": Matters(ratio=1.1)},
    )
    results = run(
        [
            Response(name="height", kind="growth", column="height_cm", better="more"),
            Response(name="survival", kind="survival", better="more"),
        ],
        plan=plan,
        tables={"measurements": pd.DataFrame(sizes)},
        lives=frame,
    )
    height = results.responses[0]
    row = height.comparisons[0]
    assert row.estimate is not None
    assert row.verdict is None
    assert "50 more" in row.sentence
    assert row.sentence.startswith("Secondary response: No verdict")
    ranks = [c for c in height.sensitivity if c.measure == "probability"]
    assert len(ranks) == 1
    assert ranks[0].estimate > 0.5


def test_share_alive_at_dates_and_open_plants():
    trial, layout, season = survival_season({"hand": [4, 6, 5], "wick": [7, 6, 8]}, 8)
    frame = season.lives.copy()
    # two plants of hand-1 were last seen 30 days before the end
    k = frame.index[(frame["plot"] == "hand-1") & (frame["fate"] == "alive")][:2]
    frame.loc[k, "last_alive"] = START + pd.Timedelta(days=70)
    frame.loc[k, "last_seen"] = START + pd.Timedelta(days=70)
    frame.loc[k, "fate"] = "not found"
    dates = (pd.Timestamp("2025-04-20").date(), END.date())
    asked = trial.responses[0].model_copy(update={"at": dates})
    trial = trial.model_copy(update={"responses": (asked,)})
    found = analyze_season(trial, layout, replace(season, lives=frame)).responses[0]
    # four of eight died while all eight were watched; those last seen on day 70 are censored
    assert unit_values(found)["hand-1"] == pytest.approx(4 / 8)
    by_date = {c.at: c for c in found.comparisons if c.estimand == "share alive"}
    assert set(by_date) == {"2025-04-20", "2025-06-09"}
    assert by_date["2025-06-09"].verdict is not None
    assert by_date["2025-04-20"].verdict is None
    # on day 50 the deaths of (40, 50] are known and everybody else was seen
    first = {m.treatment: m for m in found.means if m.at == "2025-04-20"}
    assert first["hand"].estimate == pytest.approx(15 / 24)
    names = " ".join(c.name for c in found.sensitivity)
    assert "counted alive" in names
    assert "counted dead" in names
    best = next(c for c in found.sensitivity if "plants not seen counted alive" in c.name)
    worst = next(c for c in found.sensitivity if "plants not seen counted dead" in c.name)
    assert best.estimate == pytest.approx(21 / 24 - 15 / 24)
    assert worst.estimate == pytest.approx(21 / 24 - 13 / 24)
    assert any("in plots that were visited: 2;" in text for text in found.cautions)


def test_curves_step_between_visits_with_numbers_at_risk():
    made = survival_season({"hand": [4, 6, 5], "wick": [7, 6, 8]}, 8)
    points = [p for p in analyze_season(*made).responses[0].curves if p.group == "hand"]
    assert [(p.time_low, p.time_high, p.at_risk) for p in points] == [
        (0, 40, 24),
        (50, 100, 15),
    ]
    assert points[0].share == 1.0
    assert points[1].share == pytest.approx(15 / 24)
    assert points[1].low < 15 / 24 < points[1].high


def picks(values, **more):
    return pd.DataFrame(
        [
            {"plot": plot, "pick": pick, "kg": kg, "status": "picked", **more}
            for (plot, pick), kg in values.items()
        ]
    )


def two_picks():
    return {
        (plot["plot"], pick): 1.0 + 0.5 * k + 0.1 * int(pick) * (k % 3)
        for k, plot in enumerate(plots())
        for pick in ("1", "2")
    }


FRUIT = Response(name="fruit", kind="yield", column="kg", measured_in="kg", better="more")


def test_yield_is_the_log_of_the_season_total():
    values = two_picks()
    found = run([FRUIT], tables={"picks": picks(values)}).responses[0]
    total = values["hand2", "1"] + values["hand2", "2"]
    assert unit_values(found)["hand2"] == pytest.approx(math.log(total))
    assert found.comparisons[0].estimand == "total"


def test_a_missing_pick_leaves_the_total_undefined_with_bounds():
    values = two_picks()
    frame = picks(values)
    frame.loc[(frame["plot"] == "wick3") & (frame["pick"] == "2"), "status"] = "not picked"
    frame.loc[(frame["plot"] == "wick3") & (frame["pick"] == "2"), "kg"] = np.nan
    found = run([FRUIT], tables={"picks": frame}).responses[0]
    assert unit_values(found)["wick3"] is None
    low, high = (c for c in found.sensitivity if "missing picks" in c.name)
    assert low.estimate < high.estimate
    assert any("miss a pick: 1" in text for text in found.cautions)


def test_nothing_ripe_is_a_zero_and_not_a_gap():
    frame = picks(two_picks())
    mine = (frame["plot"] == "wick3") & (frame["pick"] == "2")
    frame.loc[mine, "status"] = "nothing ripe"
    frame.loc[mine, "kg"] = np.nan
    found = run([FRUIT], tables={"picks": frame}).responses[0]
    assert unit_values(found)["wick3"] == pytest.approx(math.log(two_picks()["wick3", "1"]))


def ledger(liters):
    return pd.DataFrame(
        [
            {
                "unit": unit,
                "treatment": unit[:4],
                "planned_l": 100.0,
                "applied_l": amount + 5,
                "delivered_l": amount,
                "delivered_low_l": amount * 0.9,
                "delivered_high_l": amount * 1.1,
                "note": None,
            }
            for unit, amount in liters.items()
        ]
    )


def test_yield_per_liter_is_the_ratio_of_totals_with_its_denominator():
    liters = {p["plot"]: 80.0 + 5 * k for k, p in enumerate(plots())}
    per = Response(name="per liter", kind="yield per liter", yield_of="fruit", water="applied")
    results = run([FRUIT, per], tables={"picks": picks(two_picks())}, ledger=ledger(liters))
    found = results.responses[1]
    total = two_picks()["hand2", "1"] + two_picks()["hand2", "2"]
    assert unit_values(found)["hand2"] == pytest.approx(math.log(total / (liters["hand2"] + 5)))
    assert found.comparisons[0].denominator == "water applied"
    assert found.comparisons[0].estimand == "ratio of totals"
    assert len(results.water) == 6
    assert results.water[0].delivered_l == 80.0
    assert results.water[0].low == pytest.approx(72.0)


def test_water_used_is_judged_by_differences_within_blocks():
    liters = {p["plot"]: 80.0 + 7 * k + (k % 2) for k, p in enumerate(plots())}
    asked = Response(name="water", kind="water used", water="delivered")
    found = run([asked], ledger=ledger(liters)).responses[0]
    row = found.comparisons[0]
    gaps = [math.log(liters[f"wick{b}"] / liters[f"hand{b}"]) for b in BLOCKS]
    assert (row.rule, row.df, found.better) == ("paired", 2.0, "less")
    assert row.estimate == pytest.approx(math.exp(np.mean(gaps)))
    assert row.se == pytest.approx(np.std(gaps, ddof=1) / math.sqrt(3))


def test_counts_compare_arm_totals():
    frame = pd.DataFrame(
        [
            {"plot": p["plot"], "pick": "1", "count": float(n), "status": "picked"}
            for p, n in zip(plots(), [12, 20, 15, 31, 9, 22], strict=True)
        ]
    )
    asked = Response(name="fruits", kind="count", column="count", better="more")
    found = run([asked], tables={"picks": frame}).responses[0]
    row = found.comparisons[0]
    assert row.measure == "ratio"
    assert row.estimate == pytest.approx(73 / 36, rel=1e-9)
    assert found.mixed_model.not_estimable


def test_a_bucket_feeding_two_plots_is_one_unit():
    rows = plots(plants=2)
    for block in BLOCKS:
        rows.append(
            {
                "plot": f"wick{block}b",
                "treatment": "wick",
                "block": block,
                "plants": 2,
                "reservoir": f"tank{block}",
            }
        )
    for row in rows:
        if row["treatment"] == "wick":
            row["reservoir"] = f"tank{row['block']}"
    values = {(r["plot"], "1"): 2.0 + 0.3 * k for k, r in enumerate(rows)}
    found = run([FRUIT], layout_rows=rows, tables={"picks": picks(values)}).responses[0]
    units = unit_values(found)
    assert set(units) == {"hand1", "hand2", "hand3", "tank1", "tank2", "tank3"}
    both = (values["wick1", "1"] + values["wick1b", "1"]) / 2
    assert units["tank1"] == pytest.approx(math.log(both))
    row = found.comparisons[0]
    assert (row.rule, row.unit_of_replication, row.df) == ("paired", "plot or reservoir", 2.0)
    assert row.redraws.kind == "none"


def test_variance_by_arm_makes_the_paired_rule_the_first_line():
    frame = pd.DataFrame(
        [
            {"plot": p["plot"], "mpa": v}
            for p, v in zip(plots(), [-1.0, -1.6, -1.2, -1.3, -0.9, -2.0], strict=True)
        ]
    )
    asked = Response(name="potential", kind="measurement", column="mpa", measured_in="MPa")
    plan = Plan(primary="potential", variance={"potential": "by arm"})
    found = run([asked], plan=plan, tables={"measurements": frame}).responses[0]
    assert found.comparisons[0].rule == "paired"
    assert found.better == "neither"


@pytest.mark.parametrize("against", ["planned", "reference"])
def test_equal_water_is_an_equivalence(against):
    near = dict(zip((p["plot"] for p in plots()), [98, 101, 100, 99, 102, 100], strict=True))
    asked = Response(name="water", kind="water used", water="delivered")
    plan = Plan(primary="water", equal_water=EqualWater(ratio=1.10, against=against))
    found = run([asked], plan=plan, ledger=ledger(near)).responses[0]
    told = next(c for c in found.checks if c.name.startswith("equal water"))
    assert "wick: equal" in told.finding
    assert "not shown" not in told.finding
    far = {
        plot: value * (1.3 if plot.startswith("wick") else 1) for plot, value in near.items()
    }
    found = run([asked], plan=plan, ledger=ledger(far)).responses[0]
    told = next(c for c in found.checks if c.name.startswith("equal water"))
    assert "wick: not shown to be equal" in told.finding


def test_departures_from_the_plan_are_told():
    plan = Plan(primary="fruit", browsing="competing cause", covariates={"fruit": "position"})
    events = pd.DataFrame(
        [
            {
                "date": pd.Timestamp("2025-06-02"),
                "plot": "wick1",
                "reservoir": None,
                "what": "wrong treatment",
            }
        ]
    )
    tables = {"picks": picks({**two_picks(), ("hand1", "1"): 0.0, ("hand1", "2"): 0.0})}
    found = run([FRUIT], plan=plan, tables={**tables, "events": events}).deviations
    told = {d.what: (d.planned, d.claimed_on) for d in found}
    assert told["analysis of fruit"][0] == "ratio of unit values on a log scale"
    assert "browsed plants" not in told  # a competing cause is analyzed as planned
    assert told["treatment of wick1"] == ("as laid out", "2025-06-02")
    assert "covariate position in fruit" in told
