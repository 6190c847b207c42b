"""Extra liters beside yield per liter, and a bucket that loses one of its two plots."""

import math

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import Response

BLOCKS = "1234"
FRUIT = Response(name="fruit", kind="yield", column="kg", measured_in="kg", better="more")
PER = Response(
    name="per liter", kind="yield per liter", yield_of="fruit", water="delivered", better="more"
)
USED = Response(name="water", kind="water used", water="delivered")
KG = {"hand": [4.0, 5.0, 4.5, 5.5], "wick": [5.0, 5.6, 5.9, 6.1]}
LITERS = {"hand": [200.0, 210, 195, 205], "wick": [100.0, 96, 104, 101]}


def season(kg=None, liters=None, *, two=False, lost=(), notes=None):
    """``two``: every wick is one reservoir on two plots of half the yield each."""
    kg, liters = kg or KG, liters or LITERS
    rows, picks, ledger = [], [], []
    for arm, given in kg.items():
        for k, block in enumerate(BLOCKS):
            shared = two and arm == "wick"
            names = [f"{arm}{block}", f"{arm}{block}b"] if shared else [f"{arm}{block}"]
            unit = f"tank{block}" if shared else names[0]
            for name in names:
                reservoir = unit if shared else None
                rows.append(
                    {"plot": name, "treatment": arm, "block": block, "reservoir": reservoir}
                )
                mass = given[k] / len(names)
                picks.append({"plot": name, "pick": "1", "kg": mass, "status": "picked"})
            water = liters[arm][k]
            ledger.append(
                {
                    "unit": unit,
                    "treatment": arm,
                    "planned_l": 2 * water,
                    "applied_l": water,
                    "delivered_l": water,
                    "delivered_low_l": water,
                    "delivered_high_l": water,
                    "note": notes.get(unit) if notes else None,
                }
            )
    layout = make_layout(rows, ["treatment"])
    trial = make_trial([factor("treatment", list(kg), "hand")], [FRUIT, PER, USED])
    made = make_season(
        layout,
        tables={"picks": pd.DataFrame(picks)},
        ledger=pd.DataFrame(ledger),
        lost_plots=dict.fromkeys(lost, "taken by a flood on 2025-06-01"),
    )
    return analyze_season(trial, layout, made).responses


def test_extra_liters_stand_beside_the_ratio_with_their_denominator():
    row = season()[1].extra_liters[0]
    d_y = np.subtract(KG["wick"], KG["hand"])
    d_w = np.subtract(LITERS["wick"], LITERS["hand"])
    assert (row.treatment, row.versus, row.denominator) == ("wick", "hand", "water delivered")
    assert row.measure == "incremental yield per extra liter"
    assert row.measured_in == "kg/L"
    assert row.estimate == pytest.approx(d_y.mean() / d_w.mean(), rel=1e-12)
    assert row.water_l == pytest.approx(d_w.mean())
    assert (row.df, row.n_blocks) == (3.0, 4)
    assert row.low < row.estimate < row.high < 0
    assert row.sentence.startswith("From wick to hand, each extra liter of water delivered")
    assert "kg less" in row.sentence
    assert season()[0].extra_liters is None


def test_like_water_has_no_extra_liters_in_words():
    alike = {"hand": [100.0, 105, 95, 102], "wick": [101.0, 99, 104, 97]}
    row = season(liters=alike)[1].extra_liters[0]
    assert (row.estimate, row.low, row.high) == (None, None, None)
    assert "not defined" in row.not_estimable
    assert "covers zero" in row.sentence


def test_an_arm_without_water_counts_in_extra_liters_though_it_has_no_ratio():
    none = {"hand": [0.0] * 4, "wick": LITERS["wick"]}
    found = season(liters=none)[1]
    row = found.extra_liters[0]
    d_y = np.subtract(KG["wick"], KG["hand"])
    assert row.estimate == pytest.approx(d_y.mean() / np.mean(none["wick"]), rel=1e-12)
    assert found.comparisons[0].estimate is None


def test_a_bucket_that_keeps_both_plots_divides_its_yield_by_its_water():
    values = {u.unit: u.value for u in season(two=True)[1].unit_summary.values}
    assert values["tank2"] == pytest.approx(math.log(5.6 / 96), rel=1e-12)


def test_a_bucket_that_lost_a_plot_has_no_ratio_but_bounds():
    _, per, used = season(two=True, lost=["wick2b"])
    units = {u.unit: u for u in per.unit_summary.values}
    assert units["tank2"].value is None
    assert "lost plot wick2b" in units["tank2"].not_estimable
    assert units["tank1"].value == pytest.approx(math.log(5.0 / 100), rel=1e-12)
    assert any("lost some of their plots: 1" in text for text in per.cautions)
    left = {c.name.split("(")[-1].rstrip(")"): c for c in per.sensitivity}
    shared = left["lost plots counted as drinking to the end"]
    given = left["all water of a reservoir given to the plots that are left"]
    hand = np.log(np.divide(KG["hand"], LITERS["hand"]))
    wick = np.log(np.divide(KG["wick"], LITERS["wick"]))
    # the plot that is left bore 2.8 kg; its liters lie between 48 and 96
    first, last = wick.copy(), wick.copy()
    first[1], last[1] = math.log(2.8 / 48), math.log(2.8 / 96)
    assert shared.estimate == pytest.approx(math.exp((first - hand).mean()), rel=1e-10)
    assert given.estimate == pytest.approx(math.exp((last - hand).mean()), rel=1e-10)
    assert given.estimate < shared.estimate
    water = {u.unit: u.value for u in used.unit_summary.values}
    assert water["tank2"] is None
    assert water["tank1"] == pytest.approx(math.log(50.0), rel=1e-12)
    assert len(used.sensitivity) == 2


def test_planned_water_is_per_plot_whatever_was_lost():
    planned = Response(name="planned", kind="water used", water="planned")
    layout_rows = [
        {"plot": f"{arm}{b}{x}", "treatment": arm, "block": b, "reservoir": f"{arm}{b}"}
        for b in BLOCKS
        for arm in ("hand", "wick")
        for x in "ab"
    ]
    layout = make_layout(layout_rows, ["treatment"])
    ledger = pd.DataFrame(
        {"unit": f"{arm}{b}", "treatment": arm, "planned_l": 60.0 + 10 * int(b)}
        for b in BLOCKS
        for arm in ("hand", "wick")
    )
    trial = make_trial([factor("treatment", ("hand", "wick"), "hand")], [planned])
    made = make_season(layout, ledger=ledger, lost_plots={"wick2b": "theft"})
    found = analyze_season(trial, layout, made).responses[0]
    values = {u.unit: u.value for u in found.unit_summary.values}
    assert values["wick2"] == pytest.approx(math.log(40.0), rel=1e-12)


def test_a_unit_without_a_ratio_says_what_is_missing():
    liters = {**LITERS, "hand": [200.0, math.nan, 195, 0.0]}
    note = "a watering or refill without any amount: the sum is not known"
    _, per, used = season(liters=liters, notes={"hand2": note})
    told = {u.unit: u.not_estimable for u in per.unit_summary.values if u.value is None}
    assert told == {
        "hand2": f"water delivered: {note}",
        "hand4": "no water was delivered: there is no yield per liter",
    }
    why = {u.unit: u.not_estimable for u in used.unit_summary.values if u.value is None}
    assert why["hand2"] == f"water delivered: {note}"
