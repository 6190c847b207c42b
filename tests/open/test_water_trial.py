"""A trial with refills, rain, a leak, picks and lines, from files to report and audit."""

import csv
import json
import math
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

import wickstats as ws
from wickstats.core.results import Results

TRIAL = """\
format: 1
trial: {id: lines, season: {start: 2025-04-01, end: 2025-06-10}}
factors: {watering: [{name: drip line, reference: true}, {name: capillary wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records:
  plants: {file: plants.csv}
  water: {file: water.csv, columns: {applied_l: {head: cans, times: 9}}}
  weather: {file: weather.csv}
  picks: {file: picks.csv}
  events: {file: events.csv}
responses:
  - {name: fruit, kind: yield, column: marketable_kg, measured_in: kg, better: more}
  - {name: fruit per liter, kind: yield per liter, yield: fruit, water: delivered, better: more}
  - {name: water used, kind: water used, water: delivered, better: less}
plan: {primary: fruit per liter, equal_water: {ratio: 1.10, against: reference}}
water:
  planned_l: {drip line: 90, capillary wick: 90}
  can_within_percent: 6
  meter_within_percent: 2
  reservoirs: {holds_l: 60, unusable_l: 1}
  rain_catch_m2: 0.2
"""
WEEKS = 10
START = date(2025, 4, 1)


def write(folder: Path, name: str, head: str, rows: list[tuple[object, ...]]) -> None:
    with (folder / name).open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow(head.split(","))
        writer.writerows(["" if c is None else c for c in row] for row in rows)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four blocks of two plots, six plants on each line; rain of 5 mm every tenth day."""
    place = tmp_path_factory.mktemp("lines")
    rng = np.random.default_rng(12)
    layout, plants, water, picks = [], [], [], []
    for block in range(1, 5):
        for arm, code in (("drip line", "D"), ("capillary wick", "W")):
            plot = f"{code}{block}"
            layout.append((plot, block, arm, 6))
            own = 9.0 * rng.lognormal(0.0, 0.1)
            held, meter = 0.0, 100.0
            for week in range(WEEKS + 1):
                when = START + timedelta(weeks=week)
                used = own * rng.lognormal(0.0, 0.1)
                if code == "D":
                    if week:
                        water.append(
                            (when, plot, None, None, None, meter, round(meter + used, 1), None)
                        )
                        meter = round(meter + used, 1)
                    continue
                if week:
                    held += 1.0 if (7 * week) % 10 < 7 else 0.0  # 5 mm on 0.2 m2
                    leak = 30.0 if (plot, week) == ("W2", 5) else 0.0
                    held = max(held - used - leak, 0.0)
                before = round(2 * held) / 2
                cans = 0.0 if week == WEEKS else round(10 * (56 - held) / 9) / 10
                held += 9 * cans
                after = before if week == WEEKS else round(2 * held) / 2
                water.append((when, plot, cans, before, after, None, None, None))
            for k in range(1, 7):
                plants.append((plot, k, START, k))
                fall = -0.12 if code == "W" else 0.0
                for n, when in enumerate((START + timedelta(50), START + timedelta(64))):
                    mass = 0.3 * math.exp(fall * k + rng.normal(0.0, 0.1))
                    picks.append((plot, when, n + 1, k, round(1.1 * mass, 4), round(mass, 4)))
    write(place, "layout.csv", "plot,block,watering,plants", layout)
    write(place, "plants.csv", "plot,plant,planted_on,position", plants)
    head = "date,plot,cans,level_before_l,level_after_l,meter_start_l,meter_end_l,leaked_l"
    write(place, "water.csv", head, sorted(water, key=lambda row: str(row[0])))
    write(place, "picks.csv", "plot,date,pick,plant,mass_kg,marketable_kg", picks)
    write(place, "events.csv", "date,plot,what", [("2025-05-20", "W1", "other")])
    days = [START + timedelta(d) for d in range(71)]
    rain = [(d, 8, 22, 5.0 if k % 10 == 5 else 0.0) for k, d in enumerate(days)]
    write(place, "weather.csv", "date,tmin_c,tmax_c,rain_mm", rain)
    (place / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def results(folder: Path) -> Results:
    trial = ws.read_trial(folder / "trial.yaml")
    found = ws.analyze(trial, ws.read_records(trial))
    ws.write_report(found, folder / "report")
    return found


def test_the_ledger_adds_up_in_the_archive(results: Results, folder: Path) -> None:
    stored = json.loads((folder / "report" / "results.json").read_text(encoding="utf-8"))
    for unit in stored["water"]:
        told = unit["ledger"]
        total = unit["applied_l"] + told["rain_l"] - told["stored_change_l"] - told["leaked_l"]
        assert unit["delivered_l"] == pytest.approx(total, rel=1e-12)
        assert told["per_plant_l"] == pytest.approx(total / 6, rel=1e-12)
        assert told["per_plant_and_day_l"] == pytest.approx(total / 6 / 70, rel=1e-12)
        lost = sum(row["lost_l"] for row in told["periods"])
        # between visits by levels alone, over the season by cans: tenths of a can apart; and
        # a meter's first row has no visit before it
        assert lost == pytest.approx(total, abs=4.0) or told["by_meter_l"] > 0
    wick = next(u for u in stored["water"] if u["unit"] == "W3")
    assert wick["ledger"]["rain_l"] == 7.0  # seven rains of 5 mm on 0.2 m2
    assert wick["ledger"]["by_can_l"] == wick["applied_l"]


def test_the_leak_nobody_noted_is_asked_about(results: Results) -> None:
    asked = [q for q in results.queries if q.code == "lost more than any demand"]
    assert len(asked) == 1
    assert "unit W2" in asked[0].found
    leaky = next(u for u in results.water if u.unit == "W2")
    others = [u for u in results.water if u.treatment == "capillary wick" and u.unit != "W2"]
    assert leaky.low < max(u.delivered_l for u in others) < leaky.delivered_l
    assert all(u.low > 0.85 * u.delivered_l for u in others)


def test_the_comparison_is_repeated_without_the_leak(results: Results) -> None:
    for name in ("water used", "fruit per liter"):
        found = results.response(name)
        other = next(
            s for s in found.sensitivity if s.name.endswith("(what looks like leaks taken off)")
        )
        assert (other.estimate < found.comparisons[0].estimate) == (name == "water used")
        assert any("no leak noted: 1." in text for text in found.cautions)


def test_can_against_meter_does_not_cancel(results: Results) -> None:
    row = results.response("water used").comparisons[0]
    half = 0.5 * math.log(row.high / row.low)
    from scipy.stats import t

    plain = t.ppf(0.975, row.df) * row.se
    assert half - plain == pytest.approx(-math.log(0.94) - math.log(0.98), rel=1e-9)


def test_plants_along_the_wick_get_less(results: Results) -> None:
    found = results.response("fruit").along_line
    arms = {arm.treatment: arm for arm in found.arms}
    wick = arms["capillary wick"]
    assert wick.low <= math.exp(-0.12) <= wick.high
    assert wick.high < 1.0
    assert wick.least_position in (5.0, 6.0)
    assert arms["drip line"].low <= 1.0 <= arms["drip line"].high


@pytest.mark.usefixtures("results")
def test_the_page_tells_all_of_it_and_the_audit_finds_nothing(folder: Path) -> None:
    page = (folder / "report" / "report.html").read_text(encoding="utf-8")
    for words in (
        "Was the water equal?",
        "How the water adds up",
        "Along the line",
        "Picks over time",
        "of water delivered",
        "a loss that looks like a leak",
    ):
        assert words in page
    tables = folder / "report" / "tables"
    names = {path.name for path in tables.iterdir()}
    assert {
        "water-periods.csv",
        "equal-water.csv",
        "fruit-lines.csv",
        "fruit-picks.csv",
        "fruit-per-liter-productivity.csv",
    } <= names
    audit = ws.audit(folder / "report")
    assert audit.serious == 0


@pytest.mark.usefixtures("results")
def test_an_edited_ledger_is_found(folder: Path, tmp_path: Path) -> None:
    import shutil

    copy = tmp_path / "report"
    shutil.copytree(folder / "report", copy)
    file = copy / "results.json"
    tree = json.loads(file.read_text(encoding="utf-8"))
    tree["water"][0]["ledger"]["left_l"] += 1.0
    file.write_text(json.dumps(tree, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    assert ws.audit(copy).serious > 0
