"""The water study: a slice held to its bounds, formulas equal to the single-season code."""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import water_cells
import water_run
import water_seasons
import water_summary
from study_cells import generator
from support_records import small_trial
from water_cells import WaterCell

from wickstats.layout.plots import Layout, Plot
from wickstats.models.linear.along import line_slopes
from wickstats.models.linear.paired import paired_contrast
from wickstats.models.ratios.sums import BEARING, log_ratio_of_sums
from wickstats.records.read import read_records

SEASONS, SEED = 2_000, 5
STORED = Path(water_cells.__file__).parent


def four(rate: float, n: int = SEASONS) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / n)


SLICE = [
    WaterCell("ledger", 3, 0.1, "planted", "one can"),
    WaterCell("ledger", 3, 0.3, "planted", "can and meters"),
    WaterCell("ledger", 4, 0.8, "planted", "one can"),
    WaterCell("ledger", 8, 0.8, "planted", "can and meters"),
    WaterCell("yield per liter", 3, 0.8, zeros=0.0),
    WaterCell("yield per liter", 5, 0.8, zeros=0.1),
    WaterCell("yield per liter", 4, 0.2, zeros=0.3),
    WaterCell("yield per liter", 8, 0.5, zeros=0.3),
    WaterCell("along a line", 3, 0.05, places=3),
    WaterCell("along a line", 6, 0.0, places=10),
]


@pytest.mark.parametrize("cell", SLICE, ids=lambda c: c.key)
def test_a_slice_covers(cell: WaterCell) -> None:
    found = water_run.run_water(cell, SEASONS, SEED)["rates"]
    wide = water_summary.COVER if cell.cv <= 0.3 else water_summary.COVER_WIDE
    for name, of in found.items():
        if of["judged"] < 500:
            continue
        bound = water_summary.COVER_ZEROS if name.startswith("zero") else wide
        assert of["rate"] >= bound - four(bound, of["judged"]), name


@pytest.mark.parametrize("blocks", [3, 8])
def test_arms_that_differ_by_the_bound_are_rarely_called_equal(blocks: int) -> None:
    found = water_run.run_water(WaterCell("equal water", blocks, 0.03), SEASONS, SEED)["rates"]
    for of in found.values():
        assert of["rate"] <= 0.05 + four(0.05)


@pytest.mark.parametrize("instrument", water_cells.INSTRUMENTS)
def test_the_study_adds_up_as_the_ledger_does(instrument: str) -> None:
    cell = WaterCell("ledger", 4, 0.3, "planted", instrument)
    log = water_seasons.keep_log(cell, 2, generator(SEED, "agree"))
    found = water_seasons.delivered_by_log(log)
    half = water_run.unit_half_widths(log)
    start = pd.Timestamp("2025-04-01")
    plots, arms = [], ("hand watering", "capillary wick")
    for block in range(4):
        for arm, name in enumerate(arms):
            plots.append(
                Plot(
                    f"{block}{arm}",
                    {"watering": name},
                    block=str(block),
                    reservoir=f"R{block}{arm}",
                )
            )
    layout = Layout("randomized complete block", ("watering",), tuple(plots), "elsewhere")
    trial = small_trial(water={"can_within_percent": 6.0, "reservoirs": {"holds_l": 61.0}})
    for season in range(2):
        rows = []
        for block in range(4):
            for arm in range(2):
                at = (season, block, arm)
                meter = 0.0
                for week in range(water_seasons.WEEKS + 1):
                    given = log.given[(*at, week)]
                    row = {
                        "date": start + pd.Timedelta(weeks=week),
                        "reservoir": f"R{block}{arm}",
                        "level_before_l": log.before[(*at, week)],
                        "level_after_l": log.after[(*at, week)],
                        "leaked_l": log.leaked[(*at, week)] or None,
                    }
                    if log.metered[arm]:
                        row |= {"meter_start_l": meter, "meter_end_l": meter + given}
                        meter += given
                    else:
                        row["applied_l"] = given
                    rows.append(row)
        read = read_records(trial, layout, {"water": pd.DataFrame(rows)})
        for line in read.ledger.to_dict("records"):
            at = (season, int(line["unit"][0]), int(line["unit"][1]))
            assert line["delivered_l"] == pytest.approx(found[at], rel=1e-9)
            high = line["delivered_high_l"] - line["delivered_l"]
            assert high == pytest.approx(half[at], rel=1e-6)


def test_the_study_leaves_blocks_out_as_the_rule_does() -> None:
    rng = np.random.default_rng(2)
    yields, water = rng.lognormal(size=(1, 5, 2)), rng.lognormal(size=(1, 5, 2))
    yields[0, 1, 0] = 0.0
    found, error = water_run.left_out(yields, water)
    cells = np.tile([0, 1], 5)
    blocks = np.repeat(np.arange(5), 2)
    pair = log_ratio_of_sums(
        yields.ravel(), cells, arms=(1, 0), water=water.ravel(), blocks=blocks
    )
    assert pair.estimate == pytest.approx(found[0, 1] - found[0, 0], rel=1e-12)
    assert pair.se == pytest.approx(error[0, 2], rel=1e-12)
    one = log_ratio_of_sums(
        yields.ravel(), cells, arms=(0,), water=water.ravel(), blocks=blocks
    )
    bearing = water_run.bearing_error(yields[..., 0], water[..., 0])
    assert one.se == pytest.approx(max(error[0, 0], bearing[0]), rel=1e-12)
    # the second arm has no zero of its own: its share of bearing units widens it
    other = log_ratio_of_sums(
        yields.ravel(), cells, arms=(1,), water=water.ravel(), blocks=blocks
    )
    bearing = water_run.bearing_error(yields[..., 1], water[..., 1])
    assert other.se == pytest.approx(max(error[0, 1], bearing[0]), rel=1e-12)
    assert other.basis == BEARING


def test_the_study_takes_t_as_the_paired_rule_does() -> None:
    y = np.random.default_rng(4).normal(size=(1, 6, 2))
    center, half = water_run.own_interval(y[..., 1] - y[..., 0])
    found = paired_contrast(
        y.ravel(), np.tile([0, 1], 6), [-1.0, 1.0], blocks=np.repeat(np.arange(6), 2)
    )
    assert found.estimate == pytest.approx(center[0], rel=1e-12)
    assert found.high - found.estimate == pytest.approx(half[0], rel=1e-12)


def test_the_slope_of_a_line_is_least_squares() -> None:
    x = np.array([1.0, 2.0, 4.0, 7.0])
    y = np.array([0.4, 0.1, -0.2, -1.0])
    slopes, counts = line_slopes(np.r_[y, 5.0], np.r_[x, 2.0], [0, 0, 0, 0, 1], 2)
    assert slopes[0] == pytest.approx(np.polyfit(x, y, 1)[0], rel=1e-12)
    assert np.isnan(slopes[1])
    assert counts.tolist() == [4, 1]


RESULTS = json.loads((STORED / "water.json").read_text(encoding="utf-8"))


def test_every_stored_cell_is_there_in_order() -> None:
    settings = [cell["settings"] for cell in RESULTS["cells"]]
    assert settings == [cell.settings() for cell in water_cells.water_cells()]
    assert {cell["seasons"] for cell in RESULTS["cells"]} == {10_000}


def test_the_stored_ledgers_cover() -> None:
    summary = water_summary.summarize_water(RESULTS["cells"])
    for name in water_summary.LEDGER:
        of = summary["ledger"][name]
        assert of["cv up to 0.3"]["lowest"] >= water_summary.COVER, name
        assert of["cv 0.5 and 0.8"]["lowest"] >= water_summary.COVER_WIDE, name


def test_the_stored_yields_lines_and_claims_hold() -> None:
    of = water_summary.summarize_water(RESULTS["cells"])["estimates"]
    for cell in RESULTS["cells"]:
        for name in ("log ratio", "log ratio, one arm", "fall a place"):
            found = cell["rates"].get(name)
            if found is not None and found["judged"]:
                bound = 0.95 - four(0.05, found["judged"])
                assert found["rate"] >= bound, (name, cell["settings"])
    for name in ("zero rule", "zero rule, one arm"):
        assert of[name]["lowest"] >= water_summary.COVER_ZEROS, name
    for name in ("called equal, two arms", "called equal, one arm"):
        assert of[name]["highest"] <= 0.05 + four(0.05, 10_000)


def test_the_summary_follows_from_the_cells() -> None:
    stored = json.loads((STORED / "summary.json").read_text(encoding="utf-8"))
    assert water_summary.summarize_water(RESULTS["cells"]) == stored["water"]


def test_the_readme_quotes_the_summary() -> None:
    readme = (STORED.parents[1] / "README.md").read_text(encoding="utf-8")
    told = " ".join(readme.split())
    of = water_summary.summarize_water(RESULTS["cells"])
    least = {
        name: min(part["lowest"] for part in of["ledger"][name].values())
        for name in water_summary.LEDGER
    }
    ratio, zeros = of["estimates"]["log ratio"], of["estimates"]["zero rule"]
    arm, pair = least["arm mean"], least["ratio of arms"]
    assert (
        f"Water, {of['cells']} settings with planted leaks and blocked wicks: 95 % intervals "
        f"of a unit's delivered water cover {least['unit']:.3f} or more, of a treatment's "
        f"{arm:.3f}, of the ratio of two treatments' {pair:.3f}; ratios of yield per liter "
        f"{ratio['lowest']:.3f}, with zero yields {zeros['lowest']:.3f}."
    ) in told
