"""Checklists of reporting guidelines: each item has a place that exists or says so."""

from dataclasses import replace

import pytest
from support_page import Element, parse_page
from support_results import rich_results

from wickstats.core.results import Results
from wickstats.core.words import CATALOG, say
from wickstats.report.checklists import GUIDES
from wickstats.report.write import report_files


def opened(results: Results) -> Element:
    return parse_page(report_files(results)["report.html"])


def rows_of(page: Element, guide: str) -> dict[str, Element]:
    table = next(
        t for t in page.all("table") if t.all("caption")[0].text == say(f"checklist {guide}")
    )
    return {r.children[0].text: r for r in table.all("tbody")[0].all("tr")}


@pytest.mark.parametrize("guide", GUIDES)
def test_every_item_has_a_place_on_the_page_or_is_not_answered(guide: str) -> None:
    page = opened(rich_results())
    titles = {h.attributes["id"]: h.text for h in page.all("h2", "h3", "h4")}
    rows = rows_of(page, guide)
    assert len(rows) == sum(key.startswith(f"{guide} ") for key in CATALOG)
    answered = 0
    for row in rows.values():
        links = row.all("a")
        if links:
            answered += 1
            assert titles[links[0].attributes["href"][1:]] == links[0].text
        else:
            assert row.children[2].text == "not answered"
    assert 0 < answered < len(rows) or guide == "sampl"
    assert f"{answered} of {len(rows)} items" in page.text


def test_the_ten_essentials_are_all_there() -> None:
    numbers = {"".join(c for c in key if c.isdigit()) for key in _keys("arrive")}
    assert numbers == {str(i) for i in range(1, 11)}


def _keys(guide: str) -> list[str]:
    return list(rows_of(opened(rich_results()), guide))


def test_what_the_season_does_not_hold_is_not_answered() -> None:
    season = rich_results()
    bare = replace(
        season,
        trial=replace(season.trial, planned=False, primary=None, matters={}, details={}),
        layout=replace(season.layout, drawn="elsewhere"),
        power=replace(season.power, planned=()),
    )
    page = opened(bare)
    for guide, item in (
        ("arrive", "2b"),
        ("arrive", "4a"),
        ("arrive", "5"),
        ("arrive", "6b"),
        ("arrive", "9"),
        ("consort", "0"),
        ("sampl", "1"),
        ("sampl", "2"),
    ):
        assert rows_of(page, guide)[item].children[2].text == "not answered", item
    before = rows_of(opened(season), "arrive")
    assert before["2b"].all("a")
    assert before["4a"].all("a")
