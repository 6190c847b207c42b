"""Rehearsals with doubtful and browsed plants, leaks, and the trial's own weather."""

from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from support_simulate import trial_of

import wickstats as ws
from wickstats.design.read import parse_trial
from wickstats.recheck.habits import habit_findings

TRIAL = """\
format: 1
trial: {id: mishaps, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design:
  type: randomized complete block
  blocks: 8
  plants_per_plot: 8
  plots_per_reservoir: {wick: 2}
  layout: layout.csv
responses:
  - {name: survival, kind: survival, at: 2027-10-11, better: more}
  - {name: water used, kind: water used, water: delivered}
plan: {primary: survival, secondary: [water used]}
water: {planned_l: {hand: 400, wick: 200}, reservoirs: {holds_l: 60, unusable_l: 1}}
power:
  assume:
    survival: {alive_at_end: {hand: 0.5, wick: 0.7}, causes: {drought: 0.6, browsing: 0.4}}
  crew: {CREW}
"""
QUIET = "plots_lost: 0, plants_lost: 0, not_found: 0, reading_cv: 0"


def rehearsed(more: str, seed: int = 5):
    text = TRIAL.replace("CREW", QUIET + more)
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    return ws.rehearse(trial, seed=seed)


def table(rehearsal, name: str) -> pd.DataFrame:
    return pd.read_csv(BytesIO(rehearsal.files[f"{name}.csv"]))


def test_doubtful_and_browsed_plants_are_written_as_crews_do() -> None:
    plain, found = rehearsed(""), rehearsed(", doubtful: 0.5, browsed: 0.1")
    assert found.results.queries == ()
    visits = table(found, "visits")
    died = visits[visits["status"] == "dead"].groupby(["plot", "plant"])["date"].min()
    doubted = visits[visits["status"] == "doubtful"].groupby(["plot", "plant"])["date"].max()
    # about half of the dead were called doubtful a visit before (four binomial errors)
    both = doubted.index.intersection(died.index)
    half = 2 * np.sqrt(len(died))
    assert abs(len(both) - len(died) / 2) < half
    assert (doubted[both] < died[both]).all()
    eaten = visits["condition"].eq("browsed")
    living = visits["status"].eq("alive")
    assert not eaten[~living].any()
    assert eaten[living].mean() == pytest.approx(0.1, abs=4 * np.sqrt(0.09 / living.sum()))
    # nothing else changed: the same plants die, of the same causes
    before = table(plain, "visits")
    assert "condition" not in before
    gone = before[before["status"] == "dead"].groupby(["plot", "plant"])["cause"].first()
    again = visits[visits["status"] == "dead"].groupby(["plot", "plant"])["cause"].first()
    assert (again == gone[again.index]).all()
    assert {"drought", "browsing"} == set(gone)


def test_leaks_are_refilled_told_and_not_delivered() -> None:
    plain, found = rehearsed(""), rehearsed(", leaks: 1")
    assert found.results.queries == ()
    water, events = table(found, "water"), table(found, "events")
    leaked = water.groupby("reservoir")["leaked_l"].sum()
    assert len(leaked) == 8
    assert (leaked > 0).all()
    assert (events["what"] == "leak").sum() == 8
    ledger, before = found.season.ledger, plain.season.ledger
    assert ledger is not None
    assert before is not None
    now = ledger.set_index("unit")["delivered_l"]
    then = before.set_index("unit")["delivered_l"]
    # levels and refills are written to a tenth of a liter
    assert now.to_numpy() == pytest.approx(then[now.index].to_numpy(), abs=2.0)
    assert table(found, "visits").equals(table(plain, "visits"))


def test_the_crew_is_told_in_words() -> None:
    words = " ".join(rehearsed(", doubtful: 0.2, leaks: 0.25").assumed)
    assert "first called doubtful 20.0" in words
    assert "a reservoir leaks once 25.0" in words
    assert "found browsed at a visit 0" in words


WEATHER = "date,tmin_c,tmax_c,rain_mm\n2027-03-15,3,14,0\n2027-03-16,4,15,2.5\n"


def test_the_trials_own_weather_is_kept_as_it_stands(tmp_path: Path) -> None:
    text = TRIAL.replace("CREW", QUIET)
    text += "records: {weather: weather.csv, visits: visits.csv, water: water.csv}\n"
    (tmp_path / "trial.yaml").write_text(text, encoding="utf-8")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    assert ws.rehearse(trial, seed=2).files["weather.csv"].count(b"\n") > 200  # none there yet
    (tmp_path / "weather.csv").write_text(WEATHER.split("\n")[0] + "\n", encoding="utf-8")
    assert ws.rehearse(trial, seed=2).files["weather.csv"].count(b"\n") > 200  # no rows yet
    (tmp_path / "weather.csv").write_text(WEATHER, encoding="utf-8")
    found = ws.rehearse(trial, seed=2)
    assert found.files["weather.csv"] == WEATHER.encode()
    assert found.assumed[-1] == "Weather: the trial's own table (weather.csv), as it stands."
    assert found.results.simulated


def test_what_cannot_be_is_refused() -> None:
    lives = "  - {name: survival, kind: survival, at: 2027-10-11}"
    assume = "    survival: {alive_at_end: {hand: 0.5, wick: 0.9, drip: 0.9}}\n"
    for bad in ("doubtful: 1.2", "browsed: 0.8", "leaks: -1"):
        with pytest.raises(ws.TrialError, match=bad.split(":")[0]):
            trial_of(lives, assume + f"  crew: {{{bad}}}")


def test_nothing_in_a_rehearsal_looks_wrong_to_an_audit(tmp_path: Path) -> None:
    """Plants not found in between, small starts: the second engine agrees, digits are even."""
    text = TRIAL.replace("CREW", "plots_lost: 0, plants_lost: 0.05, not_found: 0.08")
    size = "  - {name: size, kind: growth, column: height_cm, measured_in: cm, better: more}\n"
    text = text.replace("plan: {", size + "plan: {").replace("blocks: 8", "blocks: 5")
    spread = (
        "    size: {mean: {hand: 45, wick: 52}, plot_cv: 0.1, plant_cv: 0.2, start_size: 11}\n"
    )
    text = text.replace("  crew:", spread + "  crew:")
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    made = ws.rehearse(trial, seed=5)
    parts = [u.value * u.n_plants for u in made.results.responses[0].unit_summary.values]
    assert np.abs(np.array(parts) - np.round(parts)).max() > 0.01  # parts of plants occur
    assert all(row.agrees for row in made.results.second_engine if row.ours is not None)
    for name, data in made.files.items():
        (tmp_path / name).write_bytes(data)
    season = ws.read_records(ws.read_trial(tmp_path / "trial.yaml"))
    assert habit_findings(season) == []
