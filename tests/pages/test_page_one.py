"""Page one of every demo season, a rehearsal and a hard season, in each language.

At most 400 words; Flesch-Kincaid grade 9 or below in English, Fernandez Huerta 60 or above
(eighth grade) in Spanish; the main question answered whole.
"""

import functools
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from support_demos import (
    DEMOS,
    demo_results,
    hard_results,
    rehearsed,
    spanish_oaks,
)
from support_page import Element, ease_in_spanish, grade, parse_page, spanish_syllables

import wickstats as ws
from wickstats.archive.manifest import make_manifest, read_manifest, write_manifest
from wickstats.archive.tables import response_stems
from wickstats.cli.commands.analyze import command as analyze_command
from wickstats.core.errors import ReportError
from wickstats.core.language import LANGUAGES, speaking
from wickstats.core.results import Results
from wickstats.core.words import CATALOG, say
from wickstats.core.words.plural import Plural
from wickstats.pages.blocks import Page, Section
from wickstats.pages.shell import render
from wickstats.recheck.audit import judge
from wickstats.recheck.recompute import recompute
from wickstats.report.answers import answer_line, answered
from wickstats.report.facts import scene
from wickstats.report.page import front
from wickstats.report.write import report_files, write_report

if TYPE_CHECKING:
    from playwright.sync_api import Browser

OPEN = Path(__file__).resolve().parents[2] / "designs" / "open"
SEASONS: dict[str, Callable[[], Results]] = {
    **{name: (lambda name=name: demo_results(name)) for name in DEMOS},  # type: ignore[misc]
    "rehearsal": rehearsed,
    "hard season": hard_results,
    "terrace in Spanish": spanish_oaks,
}


@functools.cache
def advisor(name: str, language: str) -> Element:
    """Page one alone, in the frame that it has on the page."""
    results = SEASONS[name]()
    view = scene(results, response_stems(results))
    with speaking(language):
        part, _ = front(view)
    others = (Section("one"), Section("two"))
    page = Page("title", (part, *others), language=language)
    return parse_page(render(page)).all("section")[0]


def lines_of(part: Element) -> list[str]:
    return [p.text for p in part.all("p") if "verdict" in p.attributes.get("class", "")]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", SEASONS)
def test_page_one_is_short_plain_and_answers_the_main_question(
    name: str, language: str
) -> None:
    results = SEASONS[name]()
    part = advisor(name, language)
    drawn = sum(len(svg.text.split()) for svg in part.all("svg"))
    assert len(part.text.split()) - drawn <= 400
    texts = [e.text for e in part.all("p", "li")]
    if language == "en":
        assert grade(texts) <= 9.0
    else:
        assert ease_in_spanish(texts) >= 60.0
    first = results.response(str(results.trial.primary))
    with speaking(language):
        wanted = [answer_line(c, first, results.trial.factors) for c in answered(first)[0]]
        whole = name != "bench-cords"  # twelve comparisons do not fit; what is left is told
        assert whole or say("answer more") in part.text
        heads = [say(f"advisor {k}") for k in ("tried", "answer", "sure", "limits", "more")]
    told = lines_of(part)
    assert told[: len(wanted)] == wanted if whole else told == wanted[: len(told)]
    assert len(told) >= 2
    titles = [h.text for h in part.all("h3")]
    assert [t for t in titles if t in heads] == heads


def test_what_it_cost_is_told_where_prices_are_known() -> None:
    text = advisor("quarry-oaks", "en").text
    costs = {c.treatment: c.estimate for c in demo_results("quarry-oaks").costs if not c.versus}
    assert "For one plant alive, in EUR:" in text
    for treatment, estimate in costs.items():
        assert f"{treatment} {estimate:.2f}" in text
    told = f"riego a mano {costs['hand watering']:.2f}".replace(".", ",")
    assert told in advisor("terrace in Spanish", "es").text


def test_several_factors_are_told_by_their_levels() -> None:
    part = advisor("bench-cords", "en")
    trial = demo_results("bench-cords").trial
    assert "We compared 15 ways: mixes of cord (" in part.text
    for levels in trial.factors.values():
        assert ", ".join(levels) in part.text
    for factor, reference in trial.references.items():
        assert f"Each {factor} was set against {reference}." in part.text
    assert "soil" not in part.text
    assert "This is one bench." in part.text


def test_shares_never_go_beyond_all_plants_and_none_is_as_many() -> None:
    results = hard_results()
    first = results.response("survival")
    row = next(c for c in first.comparisons if c.low_adjusted is not None)
    wide = replace(row, estimate=0.001, low_adjusted=-1.28, high_adjusted=1.22)
    line = answer_line(wide, first)
    assert "as many of 100 plants alive (100 fewer to 100 more)" in line


def test_a_pair_is_answered_once() -> None:
    first = hard_results().response("survival")
    turned = replace(first.comparisons[0], treatment="can", versus="wick")
    kept, left = answered(replace(first, comparisons=(*first.comparisons, turned)))
    assert kept == answered(first)[0]
    assert left


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((-4.6, -13.5, 4.1), "4.6 cm less (13.5 less to 4.1 more)"),
        ((4.6, -4.1, 13.5), "4.6 cm more (4.1 less to 13.5 more)"),
        ((-4.6, -13.5, -1.1), "4.6 cm less (1.1 to 13.5)"),
        ((0.0, -2.0, 2.0), "no difference seen (2.0 less to 2.0 more)"),
    ],
)
def test_differences_name_the_side_of_each_end(
    ends: tuple[float, float, float], words: str
) -> None:
    height = hard_results().response("height")
    row = next(c for c in height.comparisons if c.verdict is not None)
    told = replace(
        row,
        measure="difference",
        estimand="mean",
        estimate=ends[0],
        low_adjusted=ends[1],
        high_adjusted=ends[2],
    )
    assert f"; {words}." in answer_line(replace(told, verdict="cannot tell"), height)


def test_spanish_syllables() -> None:
    """Textbook syllables: ciu-dad, a-gua, dí-a, le-er, que, plan-ta, muy, rie-go, pa-ís."""
    words = {"ciudad": 2, "agua": 2, "día": 2, "leer": 2, "que": 1, "planta": 2, "muy": 1}
    words |= {"riego": 2, "país": 2, "guía": 2, "y": 1, "veredicto": 4, "cigüeña": 3}
    assert {word: spanish_syllables(word) for word in words} == words


# the Spanish page


@pytest.fixture(scope="module")
def files() -> dict[str, dict[str, bytes]]:
    """The hard season's report in each language."""
    return {language: report_files(hard_results(), language) for language in LANGUAGES}


@pytest.fixture(scope="module")
def spanish(files: dict[str, dict[str, bytes]]) -> Element:
    return parse_page(files["es"]["report.html"])


@pytest.mark.parametrize("name", SEASONS)
def test_no_estimand_is_named_in_english_in_the_spanish_part(name: str) -> None:
    """They are words of results.json, which is English; axes tell name and unit."""
    part = advisor(name, "es").text
    for response in SEASONS[name]().responses:
        for estimand in {m.estimand for m in response.means}:
            assert f"{response.name}, {estimand}" not in part
            assert " " not in estimand or estimand not in part


def test_axes_of_the_spanish_part_tell_name_and_unit() -> None:
    told = {name: advisor(name, "es").text for name in ("garden-peppers", "bench-cords")}
    assert "fruit per liter, kg/m³" in told["garden-peppers"]
    assert "flow, mL/h" in told["bench-cords"]


def test_each_part_says_its_language(spanish: Element) -> None:
    (root,) = spanish.all("html")
    assert root.attributes["lang"] == "es"
    parts = spanish.all("section")
    told = [part.attributes.get("lang", "es") for part in parts]
    titles = [part.all("h2")[0].text for part in parts]
    assert told[0] == "es"
    with speaking("es"):
        mine = {say("advisor title"), say("caution title")}
        assert {t for t, lang in zip(titles, told, strict=True) if lang == "es"} == mine
        contents = say("page contents")
    (nav,) = spanish.all("nav")
    links = nav.all("a")
    assert [a.attributes.get("lang", "es") for a in links] == told
    back = [p for p in spanish.all("p") if p.attributes.get("class") == "back"]
    assert [p.attributes.get("lang", "es") for p in back] == ["es"] * len(parts)
    assert {p.text for p in back} == {contents}


@pytest.mark.browser
@pytest.mark.parametrize("width", [1280, 400])
def test_no_accessibility_rule_is_broken_in_spanish(
    browser: "Browser", files: dict[str, dict[str, bytes]], tmp_path: Path, width: int
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    (tmp_path / "report.html").write_bytes(files["es"]["report.html"])
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        bypass_csp=True,  # the checker is a script, and the page allows none
    )
    page = context.new_page()
    page.goto((tmp_path / "report.html").as_uri())
    found = Axe().run(page).response["violations"]
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found] == []
    assert wide <= width


def test_no_english_sentence_is_left_in_the_spanish_parts(spanish: Element) -> None:
    shown = "\n".join(
        part.text for part in spanish.all("section") if "lang" not in part.attributes
    )
    for key, entry in CATALOG.items():
        for text in (entry.one, entry.other) if isinstance(entry, Plural) else (entry,):
            for piece in re.split(r"\{[^}]*\}", text):
                if len(piece.split()) >= 3:
                    assert piece.strip() not in shown, key


def test_the_picture_speaks_spanish_and_has_decimal_commas() -> None:
    part = advisor("bench-cords", "es")
    texts = [t.text.strip() for t in part.all("svg")[0].all("text")]
    numbers = [t for t in texts if re.fullmatch(r"\d+[.,]\d+", t)]
    assert numbers
    assert all("," in t for t in numbers)
    curves = advisor("terrace in Spanish", "es").all("svg")[0]
    assert {"vistas vivas", "días desde la plantación"} <= {
        t.text.strip() for t in curves.all("text")
    }


def test_small_parts_of_a_kg_for_each_liter_are_told_by_the_cubic_meter() -> None:
    """0.0117 kg/L reads as 11.7 kg/m3, which is grams for each liter, in words and picture."""
    told = {"en": "hand watering 11.7 kg/m³ (10.0 to", "es": "hand watering 11,7 kg/m³ (10,0 a"}
    more = {
        "en": "kg/m³ is grams for each liter; the files hold kg/L.",
        "es": "gramos por litro",
    }
    for language, words in told.items():
        part = advisor("garden-peppers", language)
        assert words in part.text
        assert more[language] in part.text
        assert "0.0117" not in part.text.replace(",", ".")
        texts = [t.text.strip() for t in part.all("svg")[0].all("text")]
        assert {"10", "20", "30"} <= set(texts)
        assert any(t.endswith("kg/m³") for t in texts)
    mean = SEASONS["garden-peppers"]().response("fruit per liter").means[0]
    assert (mean.treatment, mean.estimate) == ("hand watering", pytest.approx(0.0117, abs=5e-5))


def test_only_page_and_figures_know_the_language(files: dict[str, dict[str, bytes]]) -> None:
    english, spanish = files["en"], files["es"]
    assert english.keys() == spanish.keys()
    differ = {path for path in english if english[path] != spanish[path]}
    named = {"report.html", "figures/survival-curves.svg", "ro-crate-metadata.json"}
    assert differ <= named
    assert {"report.html", "figures/survival-curves.svg"} <= differ


def test_a_spanish_report_is_audited_in_its_language(tmp_path: Path) -> None:
    shutil.copytree(OPEN / "plant-growth", tmp_path / "trial")
    folder = tmp_path / "report"
    asked = [str(tmp_path / "trial" / "trial.yaml"), "--out", str(folder), "--language"]
    done = CliRunner().invoke(analyze_command, [*asked, "es"], standalone_mode=False)
    assert (done.exception, done.return_value) == (None, 0)
    assert CliRunner().invoke(analyze_command, [*asked, "fr"]).exit_code == 2
    assert '<html lang="es">' in (folder / "report.html").read_text("utf-8")
    assert read_manifest((folder / "manifest.json").read_bytes()).language == "es"
    assert ws.audit(folder).serious == 0
    plain = (folder / "manifest.json").read_text()
    (folder / "manifest.json").write_text(plain.replace('"language": "es"', '"language": "en"'))
    outcome = ws.audit(folder)
    places = [f.place for f in outcome.findings if f.serious]
    assert "report.html" in places


def test_a_language_that_nobody_writes_is_told(tmp_path: Path) -> None:
    results = hard_results()
    with pytest.raises(ReportError, match=r"language.*'fr'.*one of en, es"):
        write_report(results, tmp_path / "report", "fr")
    assert list(tmp_path.iterdir()) == []
    trial = ws.read_trial(OPEN / "plant-growth" / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    files = report_files(results)
    made = make_manifest(files, trial="plant-growth")
    files["manifest.json"] = write_manifest(replace(made, language="fr"))
    again = recompute(files, "trial.yaml", report_files)
    audit = judge(files, again, name="report", results=results)
    told = [f.sentence for f in audit.findings if f.serious]
    assert told == [say("audit language", language="fr")]
    english = make_manifest(files, trial="plant-growth")
    assert english.language is None
    assert b"language" not in write_manifest(english)
