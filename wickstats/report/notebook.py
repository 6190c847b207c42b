"""How results, layouts and seasons show themselves in a notebook: the parts of the page.

Leans on pages.notebook, report and the types that are shown.
"""

from collections.abc import Sequence

import pandas as pd

from wickstats.archive.tables import response_stems
from wickstats.core.notebook import register
from wickstats.core.numbers import MISSING, number, p_value, with_interval
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import Results
from wickstats.core.supply import Supply
from wickstats.core.words import say
from wickstats.layout.plots import Layout
from wickstats.pages.blocks import Block, Column, Items, Note, Picture, Section, Table, Text
from wickstats.pages.figures.palette import looks
from wickstats.pages.figures.units import unit_values
from wickstats.pages.notebook import fragment
from wickstats.records.season import Season
from wickstats.report.drawn import main_picture
from wickstats.report.effects import effect_tables, mean_tables
from wickstats.report.facts import (
    capital,
    headline,
    heads,
    ordered,
    scale_of,
    scene,
    title_of,
    what_of,
)
from wickstats.report.levels import shown_by
from wickstats.report.marked import marked
from wickstats.road.rehearse import Rehearsal
from wickstats.sizing.plan import PowerPlanned

MOST_ROWS = 60


def results_form(results: Results) -> str:
    """Every response: verdicts, picture, comparisons and means."""
    view = scene(results, response_stems(results))
    sections = []
    for response in ordered(view):
        stem = view.stems[results.responses.index(response)]
        picture = main_picture(view, response, stem)
        blocks: list[Block] = [
            *_verdicts(response),
            *([] if picture is None else [picture]),
            *effect_tables(view, response),
            *mean_tables(view, response),
        ]
        sections.append(Section(title_of(response), tuple(blocks)))
    if results.simulated:
        return fragment(marked(sections), (say("banner simulated"),))
    banners = (say("banner invented"),) if results.trial.invented else ()
    return fragment(sections, banners)


def response_form(response: ResponseResult) -> str:
    """One response alone: verdicts, its units, and the comparisons that carry verdicts."""
    blocks: list[Block] = [*_verdicts(response), *_units(response)]
    rows = headline(response)
    if rows:
        blocks.append(_comparisons(response, rows))
    return fragment([Section(title_of(response), tuple(blocks))])


def supply_form(supply: Supply) -> str:
    """What reservoirs need in words, then water against demand, and every note."""
    plan = supply.reservoirs
    blocks: list[Block] = [Text(text) for text in (() if plan is None else plan.sentences)]
    blocks += _table(say("notebook supply"), supply.to_frame())
    blocks += _table(say("notebook needs"), supply.to_frame("needs"))
    blocks += [Items(supply.supply_notes)] if supply.supply_notes else []
    return fragment([Section(say("notebook supply"), tuple(blocks))])


def power_form(planned: PowerPlanned) -> str:
    """The sentences, then chances, smallest differences and blocks."""
    lines = tuple(line.strip() for line in planned.lines() if line.strip())
    blocks: tuple[Block, ...] = (
        Items(lines),
        *_table(say("notebook power"), planned.to_frame()),
    )
    return fragment([Section(say("notebook power"), blocks)])


def layout_form(layout: Layout) -> str:
    """Every plot with its treatment, in walking order."""
    caption = say("notebook layout", type=layout.type, n=len(layout.plots))
    return fragment([Section(caption, tuple(_table(caption, layout.to_frame())))])


def season_form(season: Season) -> str:
    """What was read, and what a person should look at."""
    told = ", ".join(f"{name} {len(table)}" for name, table in season.tables.items())
    frame = season.to_frame()
    blocks: list[Block] = [Text(say("notebook tables", list=told or MISSING))]
    blocks += _table(say("notebook findings"), frame) or [Text(say("notebook no findings"))]
    return fragment([Section(say("notebook season"), tuple(blocks))])


def rehearsal_form(rehearsal: Rehearsal) -> str:
    """The results of the simulated season, marked so, and what it rests on."""
    rests = Section(say("simulated rests"), (Items(rehearsal.assumed),))
    return results_form(rehearsal.results) + fragment([rests])


def _verdicts(response: ResponseResult) -> list[Block]:
    rows = headline(response)
    return [Note(capital(row.sentence), "verdict") for row in rows if row.sentence is not None]


def _units(response: ResponseResult) -> list[Block]:
    values = response.unit_summary.values
    if not any(unit.value is not None for unit in values):
        return []
    arms = tuple(dict.fromkeys(unit.treatment for unit in values))
    shown = shown_by(response, arms, looks(arms))
    means = shown.means
    label = what_of(means[0], response) if means else response.name
    scale = scale_of(means[0]) if means else 1.0
    svg = unit_values(
        response, shown.arms, means, shown.looks, label, scale=scale, held=shown.held
    )
    words = say("picture units plain") if not means else say("notebook units")
    return [Picture("units.svg", svg, say("picture units title", name=response.name), words)]


def _comparisons(response: ResponseResult, rows: Sequence[Comparison]) -> Table:
    keys = ("comparison", "estimate", "limits", "p adjusted", "verdict")
    cells = []
    for row in rows:
        value, between = with_interval(row.estimate, row.low_adjusted, row.high_adjusted)
        told = (value, between, p_value(row.p_adjusted), row.verdict or MISSING)
        cells.append((row.name, *told))
    caption = say("effects caption", what=what_of(rows[0], response))
    return Table(caption, heads(*keys, numeric=(1, 2, 3)), tuple(cells))


def _table(caption: str, frame: pd.DataFrame) -> list[Table]:
    """A frame as a table, none where it has no rows; what is left out is told."""
    if frame.empty:
        return []
    shown = frame.dropna(axis="columns", how="all").head(MOST_ROWS)
    numeric = [bool(pd.api.types.is_numeric_dtype(shown[name])) for name in shown.columns]
    columns = tuple(
        Column(str(c), numeric=n) for c, n in zip(shown.columns, numeric, strict=True)
    )
    rows = tuple(tuple(_cell(value) for value in row) for row in shown.to_numpy(object))
    left = len(frame) - len(shown)
    note = say("notebook more", n=left) if left else None
    return [Table(caption, columns, rows, note)]


def _cell(value: object) -> str:
    if value is None or value is pd.NA or value != value:
        return MISSING
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(float(value)) if isinstance(value, int | float) else str(value)


register(Results, results_form)
register(ResponseResult, response_form)
register(Supply, supply_form)
register(PowerPlanned, power_form)
register(Layout, layout_form)
register(Season, season_form)
register(Rehearsal, rehearsal_form)
