"""The page of one season, composed of its parts: advisor, scientist, reviewer.

Leans on archive, pages, report and core.
"""

from collections.abc import Container
from dataclasses import replace
from datetime import date

from wickstats.archive.tables import response_stems, table_rows
from wickstats.core.language import ENGLISH, day_in_words, speaking, spoken
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.core.words.cautions import cautions_of
from wickstats.core.words.places import at_place
from wickstats.pages.blocks import Items, Note, Page, Picture, Section, pictures, with_pictures
from wickstats.pages.figures.svg import with_title
from wickstats.pages.shell import render
from wickstats.pages.text import clean
from wickstats.report.accounting import plants_part
from wickstats.report.advisor import advisor_part
from wickstats.report.checklists import checklists_part
from wickstats.report.costs import costs_part
from wickstats.report.drawn import main_picture
from wickstats.report.facts import Scene, ordered, scene
from wickstats.report.folding import folded
from wickstats.report.marked import marked, marked_title
from wickstats.report.power import power_part
from wickstats.report.response import response_part
from wickstats.report.reviewer import reviewer_part
from wickstats.report.supply import supply_part
from wickstats.report.water import water_part


def report_page(results: Results, language: str = ENGLISH) -> tuple[bytes, dict[str, bytes]]:
    """Return the page's bytes and the pictures, file name -> SVG bytes.

    ``language``: of the frame, the advisor's part and the cautions; the rest is English.
    """
    with at_place(results.trial.place):
        page = build_page(results, language)
        figures = {
            p.name: with_title(p.svg, clean(p.title), clean(p.alternative))
            for p in pictures(page.sections)
        }
        return render(page), figures


def build_page(results: Results, language: str = ENGLISH) -> Page:
    """Return the page as blocks, not yet rendered."""
    view = scene(results, response_stems(results))
    with speaking(language):
        advisor, lead = front(view)
        cautions = _cautions(results)
    first = ordered(view)[0].name if results.responses else None
    sections = [advisor, plants_part(view)]
    for response, stem in zip(results.responses, view.stems, strict=True):
        shown = lead if response.name == first else None
        sections.append(response_part(view, response, stem, lead=shown))
    water = water_part(view)
    sections += [water] if water is not None else []
    sections += [s for s in (supply_part(view), costs_part(view)) if s is not None]
    reviewer = reviewer_part(view)
    sections += [power_part(results), cautions]
    sections += [checklists_part(results, [*sections, reviewer]), reviewer]
    files = table_rows(results)
    told = with_pictures(folded(view, sections), lambda picture: _with_data(picture, files))
    title = results.trial.title or results.trial.id
    with speaking(language):
        return Page(
            title=marked_title(title) if results.simulated else title,
            sections=marked(told) if results.simulated else told,
            banners=_banners(results),
            lead=results.trial.question,
            footer=(say("not advice"), f"wickstats {results.wickstats}, {results.trial.id}"),
            language=language,
            mark=say("simulated mark") if results.simulated else None,
        )


def _with_data(picture: Picture, files: Container[str]) -> Picture:
    """The picture leading only to tables that have rows."""
    return replace(picture, data=tuple(name for name in picture.data if name in files))


def front(view: Scene) -> tuple[Section, Picture | None]:
    """The advisor's part in the language spoken, and the picture that it shows."""
    lead = _lead_picture(view)
    return advisor_part(view, lead), lead


def _lead_picture(view: Scene) -> Picture | None:
    responses = ordered(view)
    if not responses:
        return None
    stem = view.stems[view.results.responses.index(responses[0])]
    return main_picture(view, responses[0], stem)


def _banners(results: Results) -> tuple[str, ...]:
    said = (
        ("banner simulated", results.simulated),
        ("banner invented", results.trial.invented and not results.simulated),
        ("banner not at random", results.layout.drawn == "not at random"),
    )
    return (*(say(key) for key, holds in said if holds), *_look(results))


def _look(results: Results) -> tuple[str, ...]:
    """A look before the season's end, or one that is known not to be the last."""
    looks = results.looks
    if looks is None or looks.confirms:
        return ()
    if not looks.early or looks.own.until is None:
        return (say("banner not last look"),)
    return (say("banner early look", until=day_in_words(date.fromisoformat(looks.own.until))),)


def _cautions(results: Results) -> Section:
    *told, defer = cautions_of("bench" if results.trial.place == "bench" else "report")
    return Section(
        say("caution title"),
        (
            Items(tuple(told)),
            Note(defer, "caution"),
            Note(say("not advice"), "caution"),
        ),
        language=spoken(),
    )
