"""The invented seasons through the whole analysis: what was put in is found, and no more."""

import math

import pytest
from support import Tree, analyze, find, response

from wickstats.demo.make_seasons import HERE, read_truth


@pytest.fixture(scope="module")
def oaks() -> Tree:
    return analyze(HERE / "quarry-oaks")


@pytest.fixture(scope="module")
def peppers() -> Tree:
    return analyze(HERE / "garden-peppers")


def main_rows(tree: Tree, name: str, estimand: str) -> list[Tree]:
    rows = response(tree, name)["comparisons"]
    return [r for r in rows if r["estimand"] == estimand and r["versus"] == "hand watering"]


def test_oaks_find_the_large_effect_and_leave_the_small_ones_open(oaks: Tree) -> None:
    truth = read_truth(HERE / "quarry-oaks")["survival"]["alive_at_end"]
    rows = main_rows(oaks, "survival", "share alive")
    verdicts = {}
    for arm in ("capillary wick", "gravity wick", "buried clay pot"):
        row = find(rows, treatment=arm, at="2025-10-13")
        assert row["low_adjusted"] < truth[arm] - truth["hand watering"] < row["high_adjusted"]
        verdicts[arm] = row["verdict"]
    assert verdicts["capillary wick"] == "better"
    assert verdicts["gravity wick"] == "cannot tell"


def test_oak_heights_hold_the_true_ratios_and_a_verdict_only_among_equals(oaks: Tree) -> None:
    truth = read_truth(HERE / "quarry-oaks")["height"]["mean_cm"]
    rows = main_rows(oaks, "height", "mean")
    for arm in ("capillary wick", "gravity wick", "buried clay pot"):
        row = find(rows, treatment=arm)
        ratio = truth[arm] / truth["hand watering"]
        assert row["low_adjusted"] < ratio < row["high_adjusted"]
    # its plants survived better by more than matters: the survivors are not alike
    assert find(rows, treatment="capillary wick")["verdict"] is None
    assert find(rows, treatment="gravity wick")["verdict"] is not None


def test_peppers_find_what_was_put_in(peppers: Tree) -> None:
    truth = read_truth(HERE / "garden-peppers")
    mass, water = truth["fruit"]["mass_kg"], truth["water"]["weekly_l"]
    for name, estimand, value in (
        ("fruit per liter", "ratio of totals", {a: mass[a] / water[a] for a in mass}),
        ("fruit mass", "total", mass),
        ("water used", "total", water),
    ):
        rows = main_rows(peppers, name, estimand)
        for arm in ("drip", "buried clay pot", "capillary wick"):
            row = find(rows, treatment=arm)
            ratio = value[arm] / value["hand watering"]
            assert row["low_adjusted"] < ratio < row["high_adjusted"], (name, arm)
    per_liter = main_rows(peppers, "fruit per liter", "ratio of totals")
    assert find(per_liter, treatment="capillary wick")["verdict"] == "better"
    kilograms = main_rows(peppers, "fruit mass", "total")
    assert find(kilograms, treatment="capillary wick")["verdict"] == (
        "the same for practical purposes"
    )


def test_a_bucket_and_its_two_plots_are_one_unit(peppers: Tree) -> None:
    item = response(peppers, "fruit mass")
    units = [u for u in item["unit_summary"]["values"] if u["treatment"] == "capillary wick"]
    assert len(units) == 6
    assert {u["n_plants"] for u in units} == {8}
    # told per plot, as planned_l is: two plots of four plants are no better than one
    mean = find(item["means"], treatment="capillary wick")
    assert mean["estimate"] == pytest.approx(3.6, rel=0.25)


def test_a_bucket_costs_and_yields_for_both_of_its_plots(peppers: Tree) -> None:
    # by hand: 12 EUR over 3 seasons for two plots, and the mean yield of its plots
    arm = find(peppers["cost_parts"]["arms"], treatment="capillary wick")
    mean = find(response(peppers, "fruit mass")["means"], treatment="capillary wick")
    values = response(peppers, "fruit mass")["unit_summary"]["values"]
    own = [math.exp(u["value"]) for u in values if u["treatment"] == "capillary wick"]
    assert arm["kg"] == pytest.approx(sum(own) / len(own), rel=1e-9)
    assert arm["kg"] == pytest.approx(mean["estimate"], rel=0.05)
    assert arm["total"] == pytest.approx(12 / 3 / 2)
    cost = find(peppers["costs"], treatment="capillary wick", per="kg", versus=None)
    assert cost["estimate"] == pytest.approx(2.0 / arm["kg"], rel=1e-9)


def test_lost_plots_are_accounted_for(oaks: Tree, peppers: Tree) -> None:
    for tree, reason, arm in (
        (oaks, "flood damage on 2025-05-09", "buried clay pot"),
        (peppers, "theft on 2025-08-11", "drip"),
    ):
        assert reason in {lost["reason"] for lost in tree["accounting"]["lost"]}
        row = find(tree["accounting"]["by_treatment"], treatment=arm)
        assert row["plots_analyzed"] < row["plots_planned"]


def test_water_until_a_plot_was_lost_is_not_a_seasons_water(oaks: Tree, peppers: Tree) -> None:
    for tree, arm in ((oaks, "buried clay pot"), (peppers, "drip")):
        units = response(tree, "water used")["unit_summary"]["values"]
        values = [u["value"] for u in units if u["treatment"] == arm]
        assert values.count(None) == 1
        # and the page says so beside the means that hold it
        notes = [w["ledger"]["note"] or "" for w in tree["water"] if w["treatment"] == arm]
        assert sum("the plot was lost: liters until then" in note for note in notes) == 1


@pytest.fixture(scope="module")
def cords() -> Tree:
    return analyze(HERE / "bench-cords")


def test_cords_show_the_orders_of_magnitude_of_the_trade(cords: Tree) -> None:
    """Thin cord over a rim, vented and sealed: common practice, no source."""
    flow = response(cords, "flow")
    means = {r["treatment"]: r["mean"] for r in flow["bench"]["spread"]}
    assert 10 < 24 * means["thin synthetic x over a rim"] < 20  # mL a day
    assert 100 < means["thin synthetic x vented"] < 600  # mL an hour
    assert means["thin synthetic x sealed"] < 0.2 * means["thin synthetic x vented"]
    changes = [
        m
        for m in flow["means"]
        if m["estimand"] == "change of flow per day" and m["term"] == "setting"
    ]
    told = {m["treatment"]: m for m in changes}
    assert all(m["high"] < 0 for m in changes)  # algae grow
    assert told["sealed"]["high"] < told["vented"]["low"]


def test_cords_hold_their_true_ratios_between_coils(cords: Tree) -> None:
    truth = read_truth(HERE / "bench-cords")["cords"]
    flow = response(cords, "flow")
    rows = [c for c in flow["comparisons"] if c["estimand"] == "flow" and c["within"]]
    rows = [c for c in rows if c["versus"] == "thin synthetic"]
    assert len(rows) == 12
    for row in rows:
        of = truth[row["treatment"]][row["within"]] / truth["thin synthetic"][row["within"]]
        assert row["low_adjusted"] < of < row["high_adjusted"]
    tests = {t["term"]: t for t in flow["tests"]}
    assert (tests["cord"]["stratum"], tests["cord"]["df_den"]) == ("coil", 5.0)
    cv = flow["bench"]
    assert cv["piece_cv_low"] < read_truth(HERE / "bench-cords")["piece_cv"]
    assert cv["piece_cv_high"] > read_truth(HERE / "bench-cords")["piece_cv"]


def test_cords_rise_holds_the_true_heights(cords: Tree) -> None:
    truth = read_truth(HERE / "bench-cords")["cords"]
    rise = response(cords, "rise")
    for cord, of in truth.items():
        own = [m for m in rise["means"] if m["treatment"] == cord and m["term"] == "cord"]
        assert own[0]["estimand"] == "height at 60 min"
        assert own[0]["low"] < of["rise_mm"] < own[0]["high"]
