"""Values show themselves in a notebook as tables and pictures, escaped; frames are tidy."""

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from support_demos import hard_results, rehearsed_season
from support_page import Element, parse_page
from support_results import ARMS, hostile_results, rich_results

import wickstats as ws
from wickstats.core.errors import Exclusion, Problem
from wickstats.core.notebook import Shown
from wickstats.core.results import Results
from wickstats.core.supply import Supply
from wickstats.recheck.findings import Audit, Finding
from wickstats.report.facts import headline

DEMO = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"


def shown(value: object) -> Element:
    """What a notebook shows, parsed strictly."""
    html = value._repr_html_()  # type: ignore[attr-defined]
    assert isinstance(html, str)
    page = parse_page(f"<html>{html}</html>".encode())
    assert page.all("script", "link", "img", "iframe") == []
    return page


@pytest.fixture(scope="module")
def results() -> Results:
    """A season with everything that a season may have."""
    return rich_results()


def test_results_show_verdicts_pictures_and_tables_of_every_response(results: Results) -> None:
    page = shown(results)
    titles = [h.text.lower() for h in page.all("h3")]
    assert sorted(titles) == sorted(r.name for r in results.responses)
    notes = {p.text for p in page.all("p") if "verdict" in p.attributes.get("class", "")}
    for response in results.responses:
        for row in headline(response):
            if row.sentence is not None:
                assert row.sentence[:1].upper() + row.sentence[1:] in notes
    assert len(page.all("figure")) == len(results.responses)
    captions = [c.text for c in page.all("caption")]
    assert any("absolute first" in text for text in captions)
    assert any(text.startswith("Means by treatment") for text in captions)
    assert "INVENTED" in page.text


def test_a_response_shows_its_units_and_comparisons(results: Results) -> None:
    survival = results.response("survival")
    page = shown(survival)
    assert len(page.all("svg")) == 1
    table = page.all("table")[0]
    names = [row.children[0].text for row in table.all("tbody")[0].all("tr")]
    assert names == [c.name for c in headline(survival)]
    assert all(arm in page.text for arm in ARMS)


def test_text_of_users_is_escaped_in_a_notebook() -> None:
    bad = '<script>alert("x")</script>'
    results = hostile_results()
    responses = tuple(
        replace(
            r,
            name=f"{r.name} {bad}",
            comparisons=tuple(
                replace(c, sentence=f"{bad} {c.sentence}") for c in r.comparisons
            ),
        )
        for r in results.responses
    )
    hostile = replace(results, responses=responses)
    assert bad in shown(hostile).text
    assert bad in shown(hostile.responses[0]).text


def test_layout_season_power_supply_and_rehearsal_show_themselves() -> None:
    trial = ws.read_trial(DEMO)
    layout = ws.read_layout(trial)
    page = shown(layout)
    assert len(page.all("tbody")[0].all("tr")) == len(layout.plots)
    season = replace(
        rehearsed_season().season,
        queries=(Problem("visits.csv", "odd", "found <b>", "expected", "fix", row=3),),
        exclusions=(Exclusion("visits.csv", 4, "the same as row 3"),),
    )
    page = shown(season)
    assert "found <b>" in page.text
    assert "the same as row 3" in page.text
    assert f"visits {len(season.tables['visits'])}" in page.text
    planned = ws.power(trial, seasons=0)
    page = shown(planned)
    assert planned.lines()[0].strip() in page.text
    assert "Before planting" in page.text
    rehearsal = rehearsed_season()
    page = shown(rehearsal)
    assert "SIMULATED: no plant was grown" in page.text
    assert rehearsal.assumed[0] in page.text
    notes = Supply(
        table=({"treatment": "wick", "week": 1.0, "demand_l": 3.5},), supply_notes=("so",)
    )
    page = shown(notes)
    assert page.all("tbody")[0].all("tr")[0].children[0].text == "wick"
    assert "so" in page.text


def test_an_audit_shows_what_it_found() -> None:
    found = (
        Finding(
            "serious", "file", "tables/<extra>.csv", "no report holds it", "who put it there?"
        ),
        Finding("question", "digits", "sizes.csv", "many ends in 5"),
    )
    audit = Audit("report", "beds", "0.1.0", found, 120, "drawn again", (), simulated=True)
    page = shown(audit)
    (table,) = page.all("table")
    rows = [[c.text for c in row.children] for row in table.all("tbody")[0].all("tr")]
    assert [row[0] for row in rows] == ["tables/<extra>.csv", "sizes.csv"]
    assert "One serious finding." in page.text
    assert "SIMULATED" in page.text
    assert list(audit.to_frame()["place"]) == [f.place for f in found]
    none = replace(audit, findings=(), simulated=False)
    assert "120 values were recomputed and agree" in shown(none).text
    assert list(none.to_frame()) == ["weight", "kind", "place", "sentence", "ask"]


def test_a_value_that_nothing_draws_keeps_its_plain_text() -> None:
    class Bare(Shown):
        pass

    assert Bare()._repr_html_() is None


def test_frames_hold_the_rows_and_their_numbers(results: Results) -> None:
    survival = results.response("survival")
    frame = survival.to_frame()
    assert list(frame["name"]) == [c.name for c in survival.comparisons]
    assert list(frame["estimate"]) == pytest.approx([c.estimate for c in survival.comparisons])
    assert frame["absolute.estimate"].iloc[0] == survival.comparisons[0].absolute.estimate
    units = survival.to_frame("units")
    assert len(units) == len(survival.unit_summary.values)
    assert units["value"].isna().sum() == sum(
        u.value is None for u in survival.unit_summary.values
    )
    for table in survival.tables():
        rows = survival.tables()[table]
        assert len(survival.to_frame(table)) == len(rows)
    with pytest.raises(KeyError, match="no table 'nothing'; there are"):
        survival.to_frame("nothing")


def test_one_frame_of_all_responses(results: Results) -> None:
    frame = results.to_frame("means")
    assert frame.columns[0] == "response"
    assert list(dict.fromkeys(frame["response"])) == [
        r.name for r in results.responses if r.means
    ]
    assert len(frame) == sum(len(r.means) for r in results.responses)
    assert frame.columns.is_unique
    assert results.to_frame("strata").empty or "response" in results.to_frame("strata")


def test_frames_of_the_other_results() -> None:
    trial = ws.read_trial(DEMO)
    layout = ws.read_layout(trial)
    plots = layout.to_frame()
    assert list(plots["plot"]) == [p.plot for p in layout.plots]
    assert list(plots["watering"]) == [p.treatment for p in layout.plots]
    season = rehearsed_season().season
    told = season.to_frame()
    assert list(told.columns[:3]) == ["kind", "file", "row"]
    assert len(told) == len(season.queries) + len(season.exclusions)
    planned = ws.power(trial, seasons=0)
    frame = planned.to_frame()
    assert len(frame) == len(planned.rows)
    assert set(frame.columns) >= {"response", "comparison", "difference", "blocks", "power"}
    supply = Supply(table=({"treatment": "wick", "week": 1.0},))
    assert supply.to_frame().to_dict("records") == [{"treatment": "wick", "week": 1.0}]
    assert supply.to_frame("chances").empty
    with pytest.raises(KeyError, match="there are"):
        supply.to_frame("nothing")
    rehearsal = rehearsed_season()
    pd.testing.assert_frame_equal(rehearsal.to_frame(), rehearsal.results.to_frame())
    assert len(hard_results().to_frame()) == sum(
        len(r.comparisons) for r in hard_results().responses
    )
