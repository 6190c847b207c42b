"""Late planting and replacements from the crew's tables to the page, beside R's answers.

The season is invented (tests/reference/make/late_season.py); every number of it was computed
from its tables by R's survival, clubSandwich and lm (make/late_season.R).
"""

from pathlib import Path
from typing import Any

import pytest
from reference.reader import check
from support import ROOT, Tree, analyze_by_command, find, response
from support_page import Element, parse_page

SEASON = ROOT / "tests" / "reference" / "data" / "late-season"
ARMS = ("capillary wick", "hand watering")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Tree, Path]:
    place = tmp_path_factory.mktemp("late")
    return analyze_by_command(SEASON, place), place / "report"


def labeled(item: Tree, label: str) -> Tree:
    """The one sensitivity row of that label."""
    (row,) = [c for c in item["sensitivity"] if c["name"].endswith(f"({label})")]
    return row


def told(tree: Tree) -> dict[str, Any]:
    """What the reference file asks for."""
    survival, fruit = response(tree, "survival"), response(tree, "fruit")
    lives = survival["plant_lives"]
    out: dict[str, Any] = {}
    for p in lives["late_curves"]:
        head = f"season {p['group']} {p['time_low']:g}"
        out |= {f"{head} share": p["share"], f"{head} seen alive": p["at_risk"]}
    for p in survival["curves"]:
        out[f"own {p['group']} {p['time_low']:g} share"] = p["share"]
    for row in lives["stand"]:
        out[f"stand {row['treatment']} originals"] = row["originals_alive"]
        out[f"stand {row['treatment']} replacements"] = row["replacements_alive"]
    ways = {
        "as picked": find(fruit["comparisons"]),
        "of plots without replacements": labeled(
            fruit, "without the units that hold replacement plants"
        ),
        "of first plants": labeled(fruit, "without what replacement plants bore"),
    }
    for name, row in ways.items():
        put = {"ratio": "estimate", "se": "se", "df": "df", "low": "low", "high": "high"}
        out |= {f"totals {name} {k}": row[v] for k, v in {**put, "p": "p"}.items()}
    rates = {"death rates": labeled(survival, "ratio of death rates")}
    for row in lives["cause_comparisons"]:
        if row["measure"] == "hazard ratio":
            cause = row["estimand"].removeprefix("death rate, cause ")
            rates[f"death rates of {cause}"] = row
    for name, row in rates.items():
        put = {"ratio": "estimate", "se": "se", "df": "df", "low": "low", "high": "high"}
        out |= {f"{name} {k}": row[v] for k, v in {**put, "p": "p"}.items()}
    test = find(survival["tests"], term="treatment, log-rank score")
    out |= {"score F": test["value"], "score df": test["df_den"], "score p": test["p"]}
    for p in lives["incidence"]:  # in order of time: the last stays
        out[f"incidence {p['group']} {p['cause']}"] = p["share"]
    return out


def test_every_number_is_the_reference_programs(made: tuple[Tree, Path]) -> None:
    check("late-season", told(made[0]))


def test_first_plants_are_primary_and_what_enters_late_is_told(
    made: tuple[Tree, Path],
) -> None:
    survival = response(made[0], "survival")
    shares = {m["treatment"]: m for m in survival["means"] if m["estimand"] == "share alive"}
    places = {row["treatment"]: row for row in survival["plant_lives"]["stand"]}
    for arm in ARMS:
        # 48 first plants an arm whatever was planted later
        assert shares[arm]["n_plants"] == places[arm]["places"] == 48
        assert shares[arm]["estimate"] == pytest.approx(places[arm]["originals_alive"] / 48)
    kinds = {r["kind"]: r["total"] for r in survival["plant_lives"]["histories"]}
    assert kinds["replaced by a new plant"] == kinds["replacement plants"] == 8
    assert kinds["planted more than 14 days after the first"] == 3


def rows_of(page: Element, caption: str) -> list[list[str]]:
    found = next(t for t in page.all("table") if caption in t.all("caption")[0].text)
    return [[c.text for c in row.children] for row in found.all("tr")]


def test_the_page_tells_totals_both_ways_and_draws_the_season(made: tuple[Tree, Path]) -> None:
    report = made[1]
    page = parse_page((report / "report.html").read_bytes())
    heads, *rows = rows_of(page, "First plants and replacements on 2025-08-19")
    assert heads[1:] == [
        "Places planted",
        "First plants alive",
        "Replacements",
        "Replacements alive",
        "First plants alive of 100",
        "Places alive of 100",
    ]
    assert ["hand watering", "48", "16", "6", "3", "33", "40"] in rows
    assert "Totals hold what replacement plants bore, in 3 units (H2, W3, H4)" in page.text
    # counted from the tables by hand: what bore which kg and how many fruits
    assert "hand watering 1.62 of 24.8 kg; capillary wick 0.820 of 32.3 kg" in page.text
    assert "hand watering 16.0 of 247 fruit; capillary wick 8.00 of 326 fruit" in page.text
    beside = rows_of(page, "fruit: the comparisons under other rules")
    (without,) = [row for row in beside if "replacement plants bore" in row[0]]
    assert without[2:4] == ["1.4", "0.7 to 2.8"]
    assert "Planted more than 14 days after the first: hand watering 3." in page.text
    assert "Comparisons of each cause: 1 of 2 show a difference" in page.text
    rates = rows_of(page, "Ratios of death rates, one cause at a time")
    assert {row[0] for row in rates[1:]} == {"drought", "disease"}
    assert all(
        "fewer than 8 deaths a block" in row[1] and row[-1] == "\u2014" for row in rates[1:]
    )
    drawn = (report / "figures" / "survival-season-curves.svg").read_text(encoding="utf-8")
    assert all(f">{arm}<" in drawn for arm in ARMS)
