"""The report's page, parsed: structure, names, escaping, words, and the same bytes."""

import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from support_page import Element, contrast, grade, parse_page
from support_results import ARMS, LOST_UNIT, hostile_results, rich_results

from wickstats.analysis.verdict import verdict_of
from wickstats.core.results import Results
from wickstats.core.words import CATALOG, say
from wickstats.pages.figures.palette import looks
from wickstats.pages.style import COLORS, TEXT_ON
from wickstats.report.advisor import answer_line
from wickstats.report.write import report_files, write_report

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    """Every file of the rich season's report."""
    return report_files(rich_results())


@pytest.fixture(scope="module")
def page(files: dict[str, bytes]) -> Element:
    """The page, parsed."""
    return parse_page(files["report.html"])


def test_the_page_is_small_and_self_contained(files: dict[str, bytes], page: Element) -> None:
    assert len(files["report.html"]) < 2_000_000
    (policy,) = [m for m in page.all("meta") if "http-equiv" in m.attributes]
    assert policy.attributes["content"] == POLICY
    assert page.all("script", "link", "iframe", "object", "img", "base", "form") == []
    for element in page.everything():
        for name, value in element.attributes.items():
            assert not name.startswith("on"), name
            if name in {"href", "xlink:href", "src"}:
                assert value.startswith("#") or value in files, value
    html = files["report.html"].decode()
    assert re.search(r"@import|url\((?!#)", html) is None


def test_every_picture_leads_to_the_numbers_it_draws(
    files: dict[str, bytes], page: Element
) -> None:
    figures = page.all("figure")
    assert len(figures) == 15
    for figure in figures:
        links = [a.attributes["href"] for a in figure.all("a")]
        assert links, figure.text
        assert all(link in files for link in links)


def test_every_reference_inside_the_page_has_one_target(page: Element) -> None:
    ids = [e.attributes["id"] for e in page.everything() if "id" in e.attributes]
    assert len(ids) == len(set(ids))
    wanted = {
        e.attributes[name][1:]
        for e in page.everything()
        for name in ("href", "xlink:href")
        if e.attributes.get(name, "").startswith("#")
    }
    wanted |= {
        e.attributes["aria-labelledby"]
        for e in page.everything()
        if "aria-labelledby" in e.attributes
    }
    clips = re.findall(
        r"url\(#([^)]+)\)",
        " ".join(v for e in page.everything() for v in e.attributes.values()),
    )
    assert wanted | set(clips) <= set(ids)


def test_headings_go_down_one_step_at_a_time(page: Element) -> None:
    levels = [int(h.tag[1]) for h in page.all("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_the_page_can_be_moved_through(page: Element) -> None:
    (root,) = page.all("html")
    assert root.attributes["lang"] == "en"
    skip = page.all("a")[0]
    assert skip.attributes["class"] == "skip"
    assert skip.attributes["href"] == "#main"
    assert [m.attributes["id"] for m in page.all("main")] == ["main"]
    (contents,) = page.all("nav")
    assert contents.attributes["aria-label"]
    titles = {h.attributes["id"] for h in page.all("h2")}
    listed = {a.attributes["href"][1:] for a in contents.all("a")}
    assert titles == listed
    back = [p.all("a")[0] for p in page.all("p") if p.attributes.get("class") == "back"]
    assert len(back) == len(titles)
    assert {a.attributes["href"] for a in back} == {"#" + contents.attributes["id"]}


def test_tables_have_captions_scopes_and_a_region_that_scrolls(page: Element) -> None:
    tables = page.all("table")
    assert len(tables) > 25
    for table in tables:
        assert table.all("caption")[0].text.strip()
        for head in table.all("th"):
            assert head.attributes["scope"] in {"col", "row"}
        width = len(table.all("thead")[0].all("th"))
        for row in table.all("tbody")[0].all("tr"):
            assert row.children[0].attributes.get("scope") == "row"
            assert len(row.children) == width
    for table in [e for e in page.all("div") if e.attributes.get("class") == "scroll"]:
        assert table.attributes["role"] == "region"
        assert table.attributes["tabindex"] == "0"
        assert table.attributes["aria-label"]


def test_every_picture_says_what_it_shows(page: Element) -> None:
    pictures = [e for e in page.all("div") if e.attributes.get("role") == "img"]
    assert len(pictures) == 15
    for picture in pictures:
        assert len(picture.attributes["aria-label"]) > 40
        drawings = picture.all("svg")
        assert [d.attributes["class"] for d in drawings] == ["wide", "narrow"]
        assert {d.attributes["aria-hidden"] for d in drawings} == {"true"}
        assert all("aria-label" not in d.attributes for d in drawings)
        assert [d.attributes["viewbox"].split()[2] for d in drawings] == ["576", "324"]
    assert len(page.all("svg")) == 30
    curves = pictures[0].attributes["aria-label"]
    assert (
        "hand watering 62, capillary wick 87, gravity wick 83 and buried clay pot 66" in curves
    )
    forest = next(p for p in pictures if "differences" in p.attributes["aria-label"])
    assert "25 (8 to 44)" in forest.attributes["aria-label"]


def test_long_tables_stand_closed_behind_a_sentence(page: Element) -> None:
    folds = page.all("details")
    assert len(folds) > 5
    for fold in folds:
        assert "open" not in fold.attributes
        assert fold.children[0].tag == "summary"
        assert len(fold.all("summary")) == 1
        assert len(fold.all("summary")[0].text.split()) >= 4
        assert fold.all("table")
        assert fold.all("h1", "h2", "h3", "h4") == []
    inside = {id(t) for fold in folds for t in fold.all("table")}
    for table in page.all("table"):
        if id(table) not in inside:
            assert len(table.all("tbody")[0].all("tr")) <= 12
    second = next(f for f in folds if say("second caption") in f.text)
    rows = rich_results().second_engine
    agree = sum(row.agrees is True for row in rows)
    assert second.all("summary")[0].text.startswith(f"{len(rows)} numbers computed twice: ")
    assert f"{agree} agree" in second.all("summary")[0].text


def test_curves_are_named_at_the_line_and_dashed_each_its_own_way(page: Element) -> None:
    curves = page.all("svg")[0]
    texts = [t.text.strip() for t in curves.all("text")]
    for arm, share in zip(ARMS, (62, 87, 83, 66), strict=True):
        assert f"{arm} {share}" in texts
        assert arm in texts  # its row of counts under the axis
    dashes = {
        found.group(1)
        for path in curves.all("path")
        if (found := re.search(r"stroke-dasharray: ([^;]+)", path.attributes.get("style", "")))
    }
    assert len(dashes) >= 3


def test_numbers_at_risk_stand_in_the_picture(page: Element) -> None:
    texts = [t.text.strip() for t in page.all("svg")[0].all("text")]
    assert say("at risk") in texts
    assert texts.count("48") >= 3
    assert "40" in texts


def test_contrast_of_every_text_color() -> None:
    for text, ground in TEXT_ON:
        for shade in (0, 1):
            ratio = contrast(COLORS[text][shade], COLORS[ground][shade])
            assert ratio >= 4.5, (text, ground, shade, ratio)


def test_arms_differ_in_color_marker_and_dash_and_can_be_seen() -> None:
    names = [f"arm {i}" for i in range(40)]
    found = looks(names)
    assert len({(a.color, a.marker, a.dash) for a in found.values()}) == 40
    first = [found[name] for name in names[:8]]
    for part in ("color", "marker", "dash"):
        assert len({getattr(look, part) for look in first}) == 8
    assert all(contrast(look.color, "#ffffff") >= 3.0 for look in first)


def _advisor(page: Element) -> Element:
    return page.all("section")[0]


def test_the_advisors_part_is_short_and_plain(page: Element) -> None:
    part = _advisor(page)
    drawn = sum(len(svg.text.split()) for svg in part.all("svg"))
    assert len(part.text.split()) - drawn <= 400
    assert grade([e.text for e in part.all("p", "li")]) <= 9.0
    heads = [h.text for h in part.all("h3")]
    assert heads == [say(f"advisor {k}") for k in ("tried", "answer", "sure", "limits", "more")]


def test_the_verdicts_of_the_primary_response_come_first(page: Element) -> None:
    notes = [
        p.text for p in _advisor(page).all("p") if "verdict" in p.attributes.get("class", "")
    ]
    survival = rich_results().response("survival")
    expected = [answer_line(c, survival) for c in survival.comparisons]
    assert notes[:3] == expected
    assert all(len(line.split()) <= 20 for line in expected)
    full = [
        p.text for p in page.all("p") if p.text in {c.sentence for c in survival.comparisons}
    ]
    assert len(full) == 3


def test_answer_lines_tell_verdict_number_and_range() -> None:
    results = rich_results()
    row = results.response("survival").comparisons[0]
    told = replace(row, estimate=0.3249, low_adjusted=0.086, high_adjusted=0.544)
    line = answer_line(replace(told, verdict="better"), results.response("survival"))
    assert line == (
        f"{row.treatment[:1].upper()}{row.treatment[1:]} did better than {row.versus}: "
        "32 more of 100 plants alive (9 more to 54 more)."
    )
    ratio = replace(
        told,
        measure="ratio",
        estimand="total",
        estimate=0.86,
        low_adjusted=0.71,
        high_adjusted=1.04,
        verdict="cannot tell",
    )
    line = answer_line(ratio, results.response("survival"))
    assert line.endswith("we cannot tell; 0.86 times as much (0.71 to 1.04).")
    less = replace(
        told,
        estimand="mean",
        measure="difference",
        estimate=-24.0,
        low_adjusted=-45.0,
        high_adjusted=-3.0,
        verdict="worse",
    )
    line = answer_line(less, results.response("height"))
    assert line.endswith(" less (3 to 45).")
    bounded = replace(ratio, low_adjusted=None, se=None, bound="upper", verdict="worse")
    line = answer_line(bounded, results.response("survival"))
    assert line.endswith("at most 1.04 times as much.")
    assert "no verdict" in answer_line(
        replace(told, verdict=None), results.response("survival")
    )


@pytest.mark.parametrize("better", ["more", "neither"])
def test_every_verdict_has_its_line(better: str) -> None:
    for matters in (None, 1.0):
        for low in (-3.0, -0.5, 0.2, 1.5):
            for high in (-2.0, -0.2, 0.5, 2.0):
                if low < high:
                    verdict = verdict_of(low, high, matters, better)
                    assert f"answer line {verdict}" in CATALOG


def test_long_answers_are_cut_and_say_where_the_rest_is() -> None:
    results = rich_results()
    long = " ".join(["word"] * 60) + "."
    responses = tuple(
        replace(
            r,
            comparisons=tuple(
                replace(c, treatment=long, sentence=long if c.verdict else None)
                for c in r.comparisons
            ),
        )
        for r in results.responses
    )
    data = report_files(replace(results, responses=responses))["report.html"]
    part = _advisor(parse_page(data))
    drawn = sum(len(svg.text.split()) for svg in part.all("svg"))
    assert len(part.text.split()) - drawn <= 400
    assert say("answer more") in part.text


@pytest.mark.parametrize(
    ("results", "banner"),
    [
        (rich_results(), "banner invented"),
        (rich_results(simulated=True), "banner simulated"),
        (rich_results(drawn="not at random"), "banner not at random"),
    ],
)
def test_banners_stand_over_everything(results: Results, banner: str) -> None:
    page = parse_page(report_files(results)["report.html"])
    (header,) = page.all("header")
    assert say(banner) in [p.text for p in header.all("p")]


def test_without_randomization_no_verdict_leads() -> None:
    page = parse_page(report_files(rich_results(drawn="not at random"))["report.html"])
    assert say("answer none") in _advisor(page).text


def test_absolute_effects_stand_before_relative_ones(page: Element) -> None:
    table = next(t for t in page.all("table") if "absolute first" in t.all("caption")[0].text)
    heads = [h.text for h in table.all("thead")[0].all("th")]
    assert heads.index(say("head absolute")) < heads.index(say("head relative"))
    first = [cell.text for cell in table.all("tbody")[0].all("tr")[0].children]
    assert first[1:4] == ["25", "8 to 42", "more alive of 100 planted"]


def test_what_cannot_be_estimated_says_why(page: Element) -> None:
    assert "fewer than two blocks: compare by re-randomization." in page.text
    assert f"{LOST_UNIT}: the plot was lost." in page.text
    assert f"{LOST_UNIT}: no water log for this plot." in page.text


def test_every_part_for_the_reviewer_is_there(page: Element) -> None:
    heads = [h.text for h in page.all("h2", "h3")]
    for key in (
        "methods",
        "layout",
        "structure",
        "strata",
        "deviations",
        "queries",
        "exclusions",
        "inputs",
        "second",
        "software",
    ):
        assert say(f"{key} title") in heads
    for source in ("Fisher 1935", "Kenward and Roger", "Dunnett", "Turnbull", "Kaplan"):
        assert source in page.text
    assert "Tukey" not in page.text  # not used in this season
    assert rich_results().inputs[0].sha256 in page.text


def test_missing_rows_of_methods_follow_what_was_used() -> None:
    results = rich_results()
    only = replace(results, responses=(results.response("survival"),), second_engine=())
    text = parse_page(report_files(only)["report.html"]).text
    assert "Kenward" not in text
    assert "McCullagh" not in text
    assert "Turnbull" in text


def test_the_caution_defers_to_law_and_licensed_people(page: Element) -> None:
    assert say("caution defer") in page.text
    assert say("not advice") in page.all("footer")[0].text


def test_decimal_points_line_up(page: Element) -> None:
    pads = [s for s in page.all("span") if s.attributes.get("class") == "pad"]
    assert pads
    for pad in pads:
        assert pad.attributes["aria-hidden"] == "true"
    for table in page.all("table"):
        for row in table.all("tbody")[0].all("tr"):
            assert len({c.tag for c in row.children[1:]}) <= 1


def test_hostile_text_is_escaped_stripped_and_never_math() -> None:
    files = report_files(hostile_results())
    html = files["report.html"].decode()
    page = parse_page(files["report.html"])
    assert page.all("script", "img") == []
    assert "<b>0</b>" not in html
    assert "\u202e" not in html
    assert "\x07" not in html
    assert '<script>alert("x")</script> & $\\alpha$ gnp.exe' in page.text
    assert "$x_1$" in "".join(t.text for svg in page.all("svg") for t in svg.all("text"))
    for name, data in files.items():
        if name.endswith(".svg"):
            assert b"<b>" not in data
            assert "/" not in name.removeprefix("figures/")


def test_svg_files_stand_alone_without_date_or_outside_links(files: dict[str, bytes]) -> None:
    import xml.etree.ElementTree as ET

    drawn = {name: data for name, data in files.items() if name.endswith(".svg")}
    assert len(drawn) == 15
    for data in drawn.values():
        root = ET.fromstring(data)
        assert root.tag.endswith("svg")
        kinds = [child.tag.rsplit("}", 1)[-1] for child in root]
        assert kinds[:2] == ["title", "desc"]
        assert b"date" not in data.lower().split(b"<desc>")[0]
        assert b"<style" not in data


def test_yield_beside_water_agrees_with_the_ratio(page: Element) -> None:
    drawn = [e for e in page.all("div") if e.attributes.get("role") == "img"]
    picture = next(p for p in drawn if "beside water" in p.attributes["aria-label"])
    texts = [t.text.strip() for t in picture.all("text")]
    assert any(t.endswith("kg/m\N{SUPERSCRIPT THREE}") for t in texts)
    assert all(arm in texts for arm in ARMS)


_BUILD = (
    "import sys; sys.path.insert(0, {tests!r});"
    "from support_results import rich_results;"
    "from wickstats.report.write import write_report;"
    "from pathlib import Path;"
    "write_report(rich_results(), Path({out!r}))"
)


def test_the_same_inputs_give_the_same_bytes_anywhere(tmp_path: Path) -> None:
    tests = str(Path(__file__).resolve().parent.parent)
    folders = []
    settings = [("UTC", "1", "C"), ("Asia/Tokyo", "77", "C.UTF-8")]
    for i, (zone, seed, locale) in enumerate(settings):
        cwd = tmp_path / f"cwd{i}"
        cwd.mkdir()
        (cwd / "matplotlibrc").write_text("font.size: 30\nsvg.fonttype: path\n" if i else "")
        out = tmp_path / f"out{i}"
        script = _BUILD.format(tests=tests, out=str(out))
        subprocess.run(
            [sys.executable, "-c", script],
            cwd=cwd,
            check=True,
            env={**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "LC_ALL": locale},
        )
        folders.append(
            {
                p.relative_to(out).as_posix(): p.read_bytes()
                for p in out.rglob("*")
                if p.is_file()
            }
        )
    assert folders[0].keys() == folders[1].keys()
    assert [k for k in folders[0] if folders[0][k] != folders[1][k]] == []
    assert "manifest.json" in folders[0]


def test_write_report_returns_the_folder(tmp_path: Path) -> None:
    place = write_report(rich_results(), tmp_path / "a" / "report")
    assert place == tmp_path / "a" / "report"
    assert (place / "report.html").read_bytes().startswith(b"<!DOCTYPE html>")


def test_a_season_with_almost_nothing_still_has_its_page() -> None:
    results = rich_results()
    response = results.response("shoots")
    bare = replace(
        response,
        unit_summary=replace(response.unit_summary, values=()),
        tests=(),
        means=(),
        comparisons=(),
        sensitivity=(),
        checks=(),
        cautions=(),
    )
    empty = replace(
        results,
        responses=(bare,),
        water=(),
        queries=(),
        exclusions=(),
        deviations=(),
        second_engine=(),
        costs=(),
        power=type(results.power)(),
        accounting=replace(results.accounting, lost=()),
    )
    text = parse_page(report_files(empty)["report.html"]).text
    for key in (
        "answer nothing",
        "plants none lost",
        "power none",
        "queries none",
        "exclusions none",
        "deviations none",
        "second none",
    ):
        assert say(key) in text


def test_the_answer_holds_what_was_planned_and_points_to_the_rest() -> None:
    results = rich_results()
    survival = results.response("survival")
    first, *rest = survival.comparisons
    marked = [
        replace(c, sentence=say("exploratory", sentence=c.sentence)) if c.sentence else c
        for c in rest
    ]
    changed = replace(survival, comparisons=(first, *marked))
    others = tuple(changed if r is survival else r for r in results.responses)
    page = parse_page(report_files(replace(results, responses=others))["report.html"])
    told = [p.text for p in _advisor(page).all("p")]
    assert answer_line(first, changed) in told
    assert not any(answer_line(c, changed) in told for c in marked)
    assert say("answer more") in told
