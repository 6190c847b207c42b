"""Which tables stand closed on the screen, and the sentence that each then shows.

Long tables are for a reviewer or a curious scientist; what they find is told in words
beside the arrow that opens them, and in print they stand open. Leans on pages,
report.effects, report.facts and core.
"""

from collections.abc import Sequence
from dataclasses import replace

from wickstats.core.numbers import fixed, number
from wickstats.core.responses import Comparison, LeftOut, Mean, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Section, Table
from wickstats.pages.closing import LONG, closed, second_words
from wickstats.report.effects import adjusted
from wickstats.report.facts import (
    Scene,
    capital,
    headline,
    listed,
    plain_unit,
    scale_of,
    title_of,
    what_of,
)
from wickstats.report.levels import shown_by


def folded(scene: Scene, sections: Sequence[Section]) -> tuple[Section, ...]:
    """Close the long tables and those beside the headline; nothing is taken out."""
    told = summaries(scene)
    return tuple(_section(section, told) for section in sections)


def _section(section: Section, told: dict[str, str]) -> Section:
    return replace(
        section,
        blocks=tuple(_block(block, told) for block in section.blocks),
        sections=tuple(_section(inner, told) for inner in section.sections),
    )


def _block(block: Block, told: dict[str, str]) -> Block:
    return closed(block, told.get(block.caption)) if isinstance(block, Table) else block


def summaries(scene: Scene) -> dict[str, str]:
    """Return the sentence of every table that has one, by the table's caption."""
    results = scene.results
    told: dict[str, str] = {}
    for response in results.responses:
        told |= _effects(response) | _means(scene, response) | _units(response)
        told |= _refitted(
            response, "fold left out", "left out caption", response.left_out or ()
        )
        told |= _refitted(
            response, "fold sensitivity", "sensitivity caption", response.sensitivity
        )
        if response.plant_lives is not None and response.plant_lives.cause_comparisons:
            both = response.plant_lives.cause_comparisons
            rows = [row for row in both if row.measure == "difference"]
            words = say("fold causes", k=sum(map(_apart, rows)), n=len(rows))
            told[say("cause comparisons caption")] = words
        told |= _histories(response)
    told |= _water(scene)
    if results.second_engine:
        told[say("second caption")] = second_words([r.agrees for r in results.second_engine])
    return told


def _histories(response: ResponseResult) -> dict[str, str]:
    rows = response.plant_lives.histories if response.plant_lives is not None else ()
    ends = [row for row in rows if row.part == "ending" and row.total]
    if len(rows) < LONG or not ends:
        return {}
    told = {}
    for key in ("histories caption", "histories caption followed"):
        caption = say(key)
        total = sum(row.total for row in ends)
        told[caption] = say("fold histories", caption=caption, n=total, k=len(ends))
    return told


def _apart(row: Comparison) -> bool:
    """Whether the interval leaves out no difference."""
    none = 0.0 if row.measure == "difference" else 1.0
    low, high = adjusted(row)
    return (low is not None and low > none) or (high is not None and high < none)


def _effects(response: ResponseResult) -> dict[str, str]:
    """Comparisons of other quantities and dates than the headline's."""
    lead = {what_of(row, response) for row in headline(response)}
    groups: dict[str, list[Comparison]] = {}
    for row in response.comparisons:
        groups.setdefault(what_of(row, response), []).append(row)
    return {
        say("effects caption", what=what): say(
            "fold effects", what=what, k=sum(map(_apart, rows)), n=len(rows)
        )
        for what, rows in groups.items()
        if what not in lead
    }


def _means(scene: Scene, response: ResponseResult) -> dict[str, str]:
    shown = shown_by(response, scene.arms, scene.looks)
    lead = {what_of(row, response) for row in shown.means}
    groups: dict[str, list[Mean]] = {}
    for row in response.means:
        groups.setdefault(what_of(row, response), []).append(row)
    out: dict[str, str] = {}
    for what, rows in groups.items():
        if what in lead:
            continue
        values = [
            say("mean words", treatment=r.treatment, value=number(r.estimate * scale_of(r)))
            for r in rows
            if r.estimate is not None
        ]
        if values and len(values) <= LONG:
            out[say("means caption", what=what)] = say(
                "fold means", what=what, list=listed(values)
            )
    return out


def _units(response: ResponseResult) -> dict[str, str]:
    summary = response.unit_summary
    known = [u.value for u in summary.values if u.value is not None]
    if not known:
        return {}
    caption = say(
        "unit values caption",
        name=response.name,
        summary=summary.name,
        unit=plain_unit(summary.measured_in),
    )
    words = say(
        "fold units" if summary.measured_in else "fold units plain",
        name=title_of(response),
        n=len(known),
        low=number(min(known)),
        high=number(max(known)),
        unit=plain_unit(summary.measured_in),
    )
    return {caption: words}


def _refitted(
    response: ResponseResult, key: str, caption: str, rows: Sequence[Comparison | LeftOut]
) -> dict[str, str]:
    whole = {
        (c.term, c.name, c.within, c.estimand, c.at): c.verdict for c in response.comparisons
    }
    pairs = [(whole.get((r.term, r.name, r.within, r.estimand, r.at)), r.verdict) for r in rows]
    return {say(caption, name=response.name): _changed(key, response, pairs)} if rows else {}


def _changed(
    key: str, response: ResponseResult, pairs: Sequence[tuple[str | None, str | None]]
) -> str:
    """How many verdicts change, among the comparisons that have one both times."""
    both = [(one, other) for one, other in pairs if one is not None and other is not None]
    changed = sum(one != other for one, other in both)
    name = capital(response.name)
    if not both:
        return say(f"{key} plain", name=name, n=len(pairs))
    if changed == 0:
        return say(f"{key} same", name=name, n=len(both))
    return say(f"{key} some", name=name, n=len(both), k=changed)


def _water(scene: Scene) -> dict[str, str]:
    known = [w.delivered_l for w in scene.results.water if w.delivered_l is not None]
    if not known:
        return {}
    words = say(
        "fold water",
        n=len(scene.results.water),
        low=fixed(min(known), 0),
        high=fixed(max(known), 0),
    )
    return {say("water caption"): words}
