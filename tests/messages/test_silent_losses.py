"""Slips that would change a season without a word: each has a message at its place.

A pick left blank or forgotten, a plot with 0 L, no reference, visits before planting.
"""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from wickstats.cli.app import run

PLOTS = tuple(f"A{block}{place}" for block in (1, 2, 3, 4) for place in (1, 2))
LAYOUT = "plot,block,watering,plants\n" + "".join(
    f"{p},{p[1]},{'hand' if p[2] == '1' else 'wick'},2\n" for p in PLOTS
)
TRIAL = """format: 1
trial: {id: small%s}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {%s}
responses:
%s
"""
SEASON = ", season: {start: 2025-04-01, end: 2025-10-01}"
FRUIT = "  - {name: fruit, kind: yield, column: mass_kg, measured_in: kg}"
LIVES = "  - {name: survival, kind: survival}"
PICKS = "date,plot,mass_kg\n" + "".join(
    f"2025-{month}-10,{p},{1 + 0.1 * i:.1f}\n"
    for month in ("07", "08")
    for i, p in enumerate(PLOTS)
)
WATER = "date,plot,applied_l\n" + "".join(
    f"2025-{month}-01,{p},{0 if p == 'A21' else 20}\n" for month in ("05", "06") for p in PLOTS
)
VISITS = "date,plot,plant,status\n" + "".join(
    f"{day},{p},{k},alive\n"
    for day in ("2025-05-01", "2025-06-01", "2025-07-01")
    for p in PLOTS
    for k in (1, 2)
)
PLANTS = "plot,plant,planted_on\n" + "".join(
    f"{p},{k},2025-04-01\n" for p in PLOTS for k in (1, 2)
)
EARLY = VISITS.replace("2025-05-01,A21,1,alive", "2024-05-01,A21,1,alive")


@pytest.fixture
def check(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    def run_check(
        season: str, response: str, trial: str = TRIAL, **tables: str
    ) -> dict[str, Any]:
        (tmp_path / "layout.csv").write_text(LAYOUT, encoding="utf-8")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        records = ", ".join(f"{name}: {{file: {name}.csv}}" for name in tables)
        text = trial % (season, records, response)
        (tmp_path / "trial.yaml").write_text(text, encoding="utf-8")
        capsys.readouterr()
        assert run(["check", str(tmp_path / "trial.yaml"), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    return run_check


def only(tree: dict[str, Any], code: str, part: str = "queries") -> dict[str, Any]:
    """The one finding of that code."""
    (item,) = [item for item in tree[part] if item["code"] == code]
    return item


@pytest.mark.parametrize("way", ["blank", "no row"])
def test_a_pick_without_an_amount_says_that_the_total_is_lost(check, way: str) -> None:
    cell = r"\1" if way == "blank" else ""
    picks = re.sub(r"(2025-08-10,A21,)[\d.]+" + ("" if cell else r"\n"), cell, PICKS)
    tree = check(SEASON, FRUIT, picks=picks)
    item = only(tree, "pick missing")
    assert (item["file"], item["row"]) == ("picks.csv", 10)  # the first row of that pick
    assert item["found"] == "no amount of plot A21 at the pick of 2025-08-10"
    assert "the season total of such a plot is not known" in item["fix"]
    blank = [q for q in tree["queries"] if q["code"] == "no amount"]
    assert [(q["row"], q["found"]) for q in blank] == (
        [(12, "no amount and no reason in row 12")] if way == "blank" else []
    )


def test_a_missed_pick_that_was_told_is_not_asked_about(check) -> None:
    picks = re.sub(r"2025-08-10,A21,[\d.]+\n", "", PICKS)
    events = "date,plot,what\n2025-08-10,A21,pick missed\n"
    codes = [q["code"] for q in check(SEASON, FRUIT, picks=picks, events=events)["queries"]]
    assert "pick missing" not in codes
    head, *rows = PICKS.replace("mass_kg", "mass_kg,status").splitlines()
    ripe = [row + "," for row in rows]
    ripe[10] = "2025-08-10,A21,,nothing ripe"
    tree = check(SEASON, FRUIT, picks="\n".join([head, *ripe]) + "\n")
    assert "pick missing" not in [q["code"] for q in tree["queries"]]


def test_a_pick_by_few_plots_is_not_missed_by_the_others(check) -> None:
    picks = PICKS + "2025-09-01,A11,0.5\n"
    assert check(SEASON, FRUIT, picks=picks)["queries"] == []


def test_a_plot_with_nothing_but_zero_liters_is_asked_about(check) -> None:
    item = only(check(SEASON, FRUIT, picks=PICKS, water=WATER), "no water at all")
    assert (item["file"], item["row"], item["column"]) == ("water.csv", 4, "applied_l")
    assert item["found"] == "0 L given to A21 in rows 4 and 12"
    assert "set `planned_l` to 0 for its treatment" in item["fix"]


def test_a_factor_without_a_reference_is_noted(check) -> None:
    tree = check(SEASON, FRUIT, trial=TRIAL.replace(", reference: true", ""), picks=PICKS)
    item = only(tree, "no reference", "notes")
    assert (item["file"], item["line"]) == ("trial.yaml", 3)
    assert item["found"] == "no level of watering is the reference"
    assert "all pairs" in item["fix"]


def test_a_reference_is_not_noted(check) -> None:
    assert check(SEASON, FRUIT, picks=PICKS)["notes"] == []


def test_a_sighting_a_year_before_planting_is_not_used(check) -> None:
    tree = check("", LIVES, visits=EARLY, plants=PLANTS)
    item = only(tree, "seen before planting")
    assert (item["file"], item["row"], item["column"]) == ("visits.csv", 6, "date")
    assert item["found"] == "plants planted on 2025-04-01 seen on 2024-05-01, in row 6"
    assert [(x["row"], x["reason"]) for x in tree["exclusions"]] == [
        (6, "before the plant was planted")
    ]


def test_a_death_a_year_before_planting_is_no_death(check) -> None:
    visits = EARLY.replace("2024-05-01,A21,1,alive", "2024-05-01,A21,1,dead")
    tree = check("", LIVES, visits=visits, plants=PLANTS)
    assert [q["code"] for q in tree["queries"]] == ["seen before planting"]


def test_a_first_visit_a_year_before_the_others_is_asked_about(check) -> None:
    tree = check("", LIVES, visits=EARLY)
    item = only(tree, "first visit far from the others")
    assert (item["file"], item["row"], item["column"]) == ("visits.csv", 6, "date")
    assert item["found"] == "a visit on 2024-05-01 in row 6, 365 days before the next one"


def test_visits_of_one_season_are_not_asked_about(check) -> None:
    codes = [q["code"] for q in check("", LIVES, visits=VISITS)["queries"]]
    assert codes == ["no planting day"]
    assert check("", LIVES, visits=VISITS, plants=PLANTS)["queries"] == []
