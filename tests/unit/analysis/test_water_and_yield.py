"""Calibration, equal water, yield beside water, picks over time, the fall along lines."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.analysis.season import AnalysisResults, analyze_season
from wickstats.design.trial import ComparisonPlan, EqualWater, Matters, Plan, Response
from wickstats.models.linear.estimates import t_quantile
from wickstats.models.ratios.equivalence import equal_water_one_arm, equal_water_two_arms
from wickstats.models.ratios.fieller import fieller_limits

ARMS = ("hand", "wick")
BLOCKS = 5
FRUIT = Response(name="fruit", kind="yield", column="kg", measured_in="kg", better="more")
PER = Response(
    name="per liter", kind="yield per liter", yield_of="fruit", water="delivered", better="more"
)
USED = Response(name="water", kind="water used", water="delivered", better="less")
LITERS = {"hand": [205.0, 190, 214, 201, 196], "wick": [101.0, 96, 108, 99, 93]}
KG = {"hand": [4.1, 4.6, 3.9, 5.0, 4.4], "wick": [4.0, 4.9, 4.4, 4.6, 4.8]}


def season(
    liters: dict[str, list[float]] | None = None,
    kg: dict[str, list[float]] | None = None,
    *,
    can: float = 0.0,
    meter: float = 0.0,
    metered: tuple[str, ...] = (),
    planned: dict[str, float] | None = None,
    plan: Plan | None = None,
    responses: tuple[Response, ...] = (FRUIT, PER, USED),
) -> AnalysisResults:
    """One plot an arm and block; water by can, or by meter in the arms named."""
    liters, kg = liters or LITERS, kg or KG
    planned = planned or {"hand": 200.0, "wick": 100.0}
    rows, ledger, picks = [], [], []
    for arm in ARMS:
        for k in range(len(liters[arm])):
            plot, given = f"{arm}{k}", liters[arm][k]
            rows.append({"plot": plot, "treatment": arm, "block": str(k + 1)})
            picks.append({"plot": plot, "pick": "1", "kg": kg[arm][k], "status": "picked"})
            ledger.append(
                {
                    "unit": plot,
                    "treatment": arm,
                    "planned_l": planned[arm],
                    "applied_l": given,
                    "delivered_l": given,
                    "delivered_low_l": given,
                    "delivered_high_l": given,
                    "by_can_l": 0.0 if arm in metered else given,
                    "by_meter_l": given if arm in metered else 0.0,
                    "note": None,
                }
            )
    layout = make_layout(rows, ["treatment"])
    trial = make_trial([factor("treatment", ARMS, "hand")], responses, plan=plan)
    made = make_season(
        layout,
        tables={"picks": pd.DataFrame(picks)},
        ledger=pd.DataFrame(ledger),
        can_within=can,
        meter_within=meter,
    )
    return analyze_season(trial, layout, made)


def by_name(results: AnalysisResults, name: str) -> Any:
    return next(r for r in results.responses if r.name == name)


def mean(response: Any, arm: str) -> Any:
    return next(m for m in response.means if m.treatment == arm)


# calibration: added once, cancels between arms measured alike


def test_a_can_that_all_share_widens_means_and_leaves_ratios() -> None:
    exact, shared = season(), season(can=0.06)
    for name in ("water", "per liter"):
        before, after = by_name(exact, name), by_name(shared, name)
        for arm in ARMS:
            a, b = mean(before, arm), mean(after, arm)
            assert b.estimate == a.estimate
            assert b.high / a.high == pytest.approx(1 / 0.94, rel=1e-12)
            assert a.low / b.low == pytest.approx(1 / 0.94, rel=1e-12)
        assert after.comparisons == before.comparisons
        assert any("cans within 6.00 %" in text for text in after.cautions)
    assert by_name(shared, "fruit").means == by_name(exact, "fruit").means


def test_liters_as_measured_move_by_liters() -> None:
    plain = Response(name="water", kind="water used", water="delivered", scale="as measured")
    exact = by_name(season(responses=(plain,)), "water")
    mixed = by_name(season(responses=(plain,), can=0.06, metered=("wick",)), "water")
    hand = float(np.mean(LITERS["hand"]))
    assert mean(mixed, "hand").high - mean(exact, "hand").high == pytest.approx(0.06 * hand)
    assert mean(mixed, "wick") == mean(exact, "wick")
    moved = exact.comparisons[0].low - mixed.comparisons[0].low
    assert moved == pytest.approx(0.06 * hand)


def test_arms_measured_by_different_instruments_keep_both_errors() -> None:
    exact = by_name(season(), "water").comparisons[0]
    mixed = by_name(season(can=0.06, meter=0.02, metered=("wick",)), "water").comparisons[0]
    move = 1 / 0.94 / 0.98
    assert mixed.estimate == exact.estimate
    assert mixed.high / exact.high == pytest.approx(move, rel=1e-12)
    assert exact.low_adjusted / mixed.low_adjusted == pytest.approx(move, rel=1e-12)
    assert mixed.p > exact.p


def test_p_and_interval_agree_when_calibration_counts() -> None:
    # arms that differ by about what the can may hide
    liters = {"hand": [100.0, 104, 97, 101, 99], "wick": [92.0, 97, 90, 93, 92]}
    for can in np.linspace(0.0, 0.12, 13):
        row = by_name(season(liters, can=float(can), metered=("wick",)), "water").comparisons[0]
        assert (row.p < 0.05) == (row.high < 1.0 or row.low > 1.0)


def test_equivalence_of_water_used_gives_up_what_the_can_may_hide() -> None:
    plan = Plan(
        primary="water",
        comparisons=(ComparisonPlan(factor="treatment", compare="each with the reference"),),
        matters={"water": Matters(ratio=1.2)},
    )
    liters = {"hand": [100.0, 104, 97, 101, 99], "wick": [101.0, 103, 98, 102, 98]}
    exact = by_name(season(liters, plan=plan), "water").comparisons[0]
    wide = by_name(season(liters, plan=plan, can=0.1, metered=("wick",)), "water").comparisons[
        0
    ]
    assert wide.p_equivalence > exact.p_equivalence
    assert exact.verdict == "the same for practical purposes"
    gone = by_name(season(liters, plan=plan, can=0.3, metered=("wick",)), "water").comparisons[
        0
    ]
    assert gone.verdict == "cannot tell"
    assert gone.p_equivalence == 1.0


# was the water equal


def plan_of(ratio: float, against: str = "planned") -> Plan:
    return Plan(equal_water=EqualWater(ratio=ratio, against=against))


def test_one_arm_against_its_plan_by_hand() -> None:
    found = season(plan=plan_of(1.10)).equal_water
    assert found is not None
    row = next(r for r in found.rows if r.treatment == "wick" and r.against == "planned")
    logs = np.log(np.array(LITERS["wick"]) / 100.0)
    half = t_quantile(0.90, 4) * logs.std(ddof=1) / math.sqrt(5)
    assert row.ratio == pytest.approx(math.exp(logs.mean()), rel=1e-12)
    assert row.low == pytest.approx(math.exp(logs.mean() - half), rel=1e-12)
    assert row.attainable == pytest.approx(math.exp(half), rel=1e-12)
    assert (row.df, row.n_units, row.claimed, row.equal) == (4, 5, True, True)
    assert row.could_show is True


def test_two_arms_are_paired_within_blocks() -> None:
    found = season(plan=plan_of(1.10, "reference")).equal_water
    assert found is not None
    row = next(r for r in found.rows if r.against == "hand")
    logs = np.log(np.array(LITERS["wick"]) / np.array(LITERS["hand"]))
    half = t_quantile(0.90, 4) * logs.std(ddof=1) / math.sqrt(5)
    assert row.high == pytest.approx(math.exp(logs.mean() + half), rel=1e-12)
    assert (row.df, row.claimed, row.equal) == (4, True, False)
    assert found.reading.startswith("The treatments did not get equal water")


def test_the_reading_follows_from_supply() -> None:
    same = {"hand": LITERS["wick"], "wick": [102.0, 95, 109, 98, 94]}
    equal = season(same, plan=plan_of(1.10, "reference")).equal_water
    assert equal is not None
    assert equal.reading.startswith("The water that the treatments got was equal")
    planned = season(plan=plan_of(1.10)).equal_water
    assert planned is not None
    assert planned.reading.startswith("Each treatment got its planned water")
    wild = {"hand": [50.0, 200, 90, 160, 101], "wick": [150.0, 60, 120, 70, 99]}
    unclear = season(wild, plan=plan_of(1.10, "reference")).equal_water
    assert unclear is not None
    assert unclear.reading.startswith("Whether the treatments got equal water was not shown")
    row = next(r for r in unclear.rows if r.claimed)
    assert row.could_show is False
    assert "too large to show it" in row.sentence
    told = by_name(season(plan=plan_of(1.10)), "fruit").cautions
    assert any(text.startswith("Water and yield: Each treatment got") for text in told)


def test_without_a_claim_nothing_is_judged() -> None:
    found = season().equal_water
    assert found is not None
    assert found.bound is None
    assert all(not r.claimed and r.equal is None and r.p is None for r in found.rows)


def test_calibration_widens_a_claim_against_the_plan_once() -> None:
    liters, planned = np.array(LITERS["wick"]), np.full(5, 100.0)
    exact = equal_water_one_arm(liters, planned, ratio=1.1)
    shared = equal_water_one_arm(liters, planned, ratio=1.1, calibration=0.03)
    assert shared.high == pytest.approx(exact.high * math.exp(0.03), rel=1e-12)
    assert shared.attainable == pytest.approx(exact.attainable * math.exp(0.03), rel=1e-12)
    assert shared.p > exact.p
    hidden = equal_water_two_arms(
        np.r_[liters, liters * 1.01],
        np.repeat([0, 1], 5),
        [1.0, -1.0],
        ratio=1.1,
        calibration=0.1,
    )
    assert (hidden.p, hidden.equal) == (1.0, False)


def test_equal_means_that_two_one_sided_tests_reject() -> None:
    # Schuirmann (1987): the 90 % interval inside the bounds is p below 5 %
    rng = np.random.default_rng(8)
    for _ in range(200):
        got = np.exp(rng.normal(0.05, 0.06, 4))
        for calibration in (0.0, 0.02):
            found = equal_water_one_arm(got, np.ones(4), ratio=1.15, calibration=calibration)
            assert found.equal == (found.p <= 0.05)


# yield, water and their ratio


def test_kilograms_per_cubic_meter_is_grams_per_liter() -> None:
    # 5 t/ha on 500 mm: 5000 kg on 5000 m3, computed; as in FAO Irrigation and Drainage
    # Paper 66 (Steduto et al. 2012), from memory, in kg per m3
    hectare = {"hand": [5.0e6] * 3, "wick": [5.0e6, 4.9e6, 5.1e6]}
    kg = {"hand": [5000.0, 5000, 5000], "wick": [5000.0, 5300, 4900]}
    found = by_name(season(hectare, kg), "per liter").productivity
    units = {u.unit: u for u in found.units}
    assert units["hand0"].per_cubic_meter == pytest.approx(1.0, rel=1e-12)
    assert units["hand0"].per_liter * 1000.0 == units["hand0"].per_cubic_meter
    arm = next(a for a in found.arms if a.treatment == "hand")
    assert (arm.yield_mean, arm.water_mean_l) == (5000.0, 5.0e6)
    assert arm.per_cubic_meter == pytest.approx(1.0, rel=1e-12)


def test_a_unit_that_bears_nothing_stays_in_the_picture() -> None:
    kg = {**KG, "wick": [0.0, 4.9, 4.4, 4.6, 4.8]}
    response = by_name(season(kg=kg), "per liter")
    bare = next(u for u in response.productivity.units if u.unit == "wick0")
    assert (bare.yield_total, bare.per_liter, bare.per_cubic_meter) == (0.0, 0.0, 0.0)
    wick = next(a for a in response.productivity.arms if a.treatment == "wick")
    assert wick.per_liter == pytest.approx(sum(kg["wick"]) / sum(LITERS["wick"]), rel=1e-12)
    assert response.comparisons[0].estimate == pytest.approx(
        wick.per_liter / (sum(KG["hand"]) / sum(LITERS["hand"])), rel=1e-12
    )
    assert response.comparisons[0].denominator == "water delivered"


@pytest.mark.parametrize("k", [1e-6, 3.0, 1e8])
def test_fieller_does_not_mind_the_unit(k: float) -> None:
    # worked example as quoted in github.com/DCPROGS/DCSTATS; unchanged for (ka, kb), computed
    one = fieller_limits(14, 7, 3, 2, df=10, confidence=0.90)
    other = fieller_limits(14 * k, 7 * k, 3 * k, 2 * k, df=10, confidence=0.90)
    assert (other.g, other.low, other.high) == pytest.approx((one.g, one.low, one.high))


# picks over time


def picked(drop: tuple[str, str] | None = None) -> AnalysisResults:
    rows, table = [], []
    days = {"1": "2025-07-01", "2": "2025-07-11", "3": "2025-07-31"}
    for a, arm in enumerate(ARMS):
        for k in range(4):
            plot = f"{arm}{k}"
            rows.append({"plot": plot, "treatment": arm, "block": str(k + 1), "plants": 4})
            for p, (pick, when) in enumerate(days.items()):
                mass = [1.0, 2.0, 1.0][p] + 0.1 * k + (0.5 if a and p == 0 else 0.0)
                missing = drop == (plot, pick)
                bare = plot == "hand3" and pick == "1"
                table.append(
                    {
                        "date": pd.Timestamp(when),
                        "pick": pick,
                        "plot": plot,
                        "plant": None,
                        "mass_kg": np.nan if missing or bare else 1.25 * mass,
                        "marketable_kg": np.nan if missing or bare else mass,
                        "count": np.nan if missing else 0.0 if bare else 10.0 + 2 * k,
                        "status": "not picked" if missing else "nothing ripe" if bare else None,
                    }
                )
    layout = make_layout(rows, ["treatment"])
    fruit = Response(name="fruit", kind="yield", column="marketable_kg", measured_in="kg")
    trial = make_trial([factor("treatment", ARMS, "hand")], (fruit,))
    plants = pd.DataFrame(
        {"plot": ["hand0"], "plant": ["1"], "planted_on": [pd.Timestamp("2025-05-02")]}
    )
    made = make_season(layout, tables={"picks": pd.DataFrame(table), "plants": plants})
    return analyze_season(trial, layout, made)


def test_the_mean_day_is_weighted_by_mass() -> None:
    found = by_name(picked(), "fruit").harvest
    days = np.array([60.0, 70.0, 90.0])
    hand = []
    for k in range(4):
        mass = np.array([1.0 + 0.1 * k if k < 3 else 0.0, 2.0 + 0.1 * k, 1.0 + 0.1 * k])
        hand.append(float(mass @ days / mass.sum()))
    row = next(
        m for m in found.means if m.treatment == "hand" and m.estimand == "mean day of picking"
    )
    assert row.estimate == pytest.approx(np.mean(hand), rel=1e-12)
    assert (row.n_units, row.df) == (4, 3)
    assert found.notes == ("Days of picking count from 2025-05-02.",)
    part = [m.estimate for m in found.means if m.estimand == "marketable percent"]
    assert part == pytest.approx([80.0, 80.0])
    assert all(c.verdict is None for c in found.comparisons)


def test_every_pick_and_the_dispersion_of_counts() -> None:
    found = by_name(picked(), "fruit").harvest
    first = found.picks[0]
    assert (first.treatment, first.pick, first.picked, first.nothing_ripe) == (
        "hand",
        "1",
        3,
        1,
    )
    assert first.mean == pytest.approx((1.0 + 1.1 + 1.2) / 4)
    hand = [30.0, 36.0, 42.0, 32.0]
    row = found.counts[0]
    assert (row.mean, row.variance) == (np.mean(hand), pytest.approx(np.var(hand, ddof=1)))
    assert row.dispersion == pytest.approx(np.var(hand, ddof=1) / np.mean(hand))


def test_a_missing_pick_is_told_and_bounds_the_total() -> None:
    response = by_name(picked(("wick2", "2")), "fruit")
    found = response.harvest
    assert sum(row.not_picked for row in found.picks) == 1
    row = next(
        m for m in found.means if m.treatment == "wick" and m.estimand == "mean day of picking"
    )
    assert row.n_units == 3
    bounds = {s.name.rsplit("(", 1)[1].rstrip(")"): s.estimate for s in response.sensitivity}
    low, high = (v for k, v in bounds.items() if k.startswith("missing"))
    assert low < high


# plants along a line


def lines(
    slope: float, *, n: int = 5, places: int = 6, seed: int = 1, sd: float = 0.1, **more: Any
) -> AnalysisResults:
    rng = np.random.default_rng(seed)
    rows, plants, sizes = [], [], []
    for arm in ARMS:
        for k in range(n):
            plot = f"{arm}{k}"
            reservoir = f"T{arm}{k // 2}" if more.get("shared") else None
            rows.append(
                {"plot": plot, "treatment": arm, "block": str(k + 1), "reservoir": reservoir}
            )
            level = rng.normal(3.0, 0.3)
            for place in range(1, places + 1):
                told = f"{place}" if more.get("numbers", True) else f"row {place}"
                plants.append({"plot": plot, "plant": f"p{place}", "position": told})
                fall = slope if arm == "wick" else 0.0
                value = math.exp(level + fall * place + rng.normal(0.0, sd))
                sizes.append({"plot": plot, "plant": f"p{place}", "ml": value})
    told = pd.DataFrame(sizes)
    told = more["change"](told) if "change" in more else told
    layout = make_layout(rows, ["treatment"])
    drip = Response(name="outflow", kind="measurement", column="ml", measured_in="mL")
    trial = make_trial([factor("treatment", ARMS, "hand")], (drip,))
    frames = {"plants": pd.DataFrame(plants), "measurements": told}
    return analyze_season(trial, layout, make_season(layout, tables=frames))


def test_a_fall_without_scatter_is_found_exactly() -> None:
    found = by_name(lines(-0.1, sd=0.0), "outflow").along_line
    wick = next(a for a in found.arms if a.treatment == "wick")
    assert wick.ratio == pytest.approx(math.exp(-0.1), rel=1e-10)
    assert wick.last_to_first == pytest.approx(math.exp(-0.5), rel=1e-10)
    assert (wick.least_position, wick.n_lines) == (6.0, 5)
    assert {line.least for line in found.lines if line.treatment == "wick"} == {"p6"}


def test_the_interval_of_the_fall_covers_over_many_seasons() -> None:
    hits = 0
    for seed in range(60):
        found = by_name(lines(-0.05, n=4, seed=seed), "outflow").along_line
        wick = next(a for a in found.arms if a.treatment == "wick")
        hits += wick.low <= math.exp(-0.05) <= wick.high
        assert wick.df == 3
    assert abs(hits / 60 - 0.95) <= 4.0 * math.sqrt(0.95 * 0.05 / 60)


def test_the_sentence_tells_a_clear_fall_and_no_other() -> None:
    found = by_name(lines(-0.1), "outflow").along_line
    told = {a.treatment: a.sentence for a in found.arms}
    assert "% less outflow" in told["wick"]
    assert "Least stood at place 6." in told["wick"]
    assert "no clear fall" in told["hand"]


def test_lines_on_one_reservoir_are_one_unit() -> None:
    found = by_name(lines(-0.1, n=4, shared=True), "outflow").along_line
    wick = next(a for a in found.arms if a.treatment == "wick")
    assert (wick.n_lines, wick.n_units, wick.df) == (4, 2, 1)


def test_plants_with_nothing_got_least_and_plants_without_a_value_are_counted() -> None:
    # places 4 and 6 of every wick line bore nothing; place 5 was not measured
    def change(sizes: pd.DataFrame) -> pd.DataFrame:
        wick = sizes["plot"].str.startswith("wick")
        sizes.loc[wick & sizes["plant"].isin(["p4", "p6"]), "ml"] = 0.0
        return sizes[~(wick & (sizes["plant"] == "p5"))]

    found = by_name(lines(0.0, sd=0.01, change=change), "outflow").along_line
    wick = next(a for a in found.arms if a.treatment == "wick")
    assert wick.least_position in (4.0, 6.0)
    told = {(x.least, x.least_position) for x in found.lines if x.treatment == "wick"}
    assert told == {("p6", 6.0)}  # the furthest of those with nothing
    assert wick.ratio == pytest.approx(1.0, abs=0.02)  # of the three that had any
    assert found.notes[0].endswith("the fall is larger than it looks.")
    assert "slope: 10." in found.notes[0]
    assert "not in the fall: 5." in found.notes[1]


def test_positions_in_words_give_no_line() -> None:
    assert by_name(lines(-0.1, numbers=False), "outflow").along_line is None
