"""A field sheet to print: one round in walking order, with lines for who, when and weather.

Leans on pages.
"""

from wickstats.core.words import say
from wickstats.crew.common import Set
from wickstats.crew.rules import rules_of
from wickstats.crew.tables import Asked, FieldSheet
from wickstats.pages.blocks import Items, Note
from wickstats.pages.print_blocks import Blank, Form, FormColumn, FormGroup, Paper, Part

SPARE_LINES, EVENT_LINES = 6, 24
_WIDE = {"note": None, "observer": 20, "plot": 16, "plant": 14, "reservoir": 24}
_TICKED = ("status", "reached_top", "vented")
_SCORED = ("visits", "lifetimes", "measurements", "picks", "readings")
_UPRIGHT = 8  # columns that an upright sheet holds


def sheet_paper(papers: Set, sheet: FieldSheet) -> Paper:
    """The paper of one table."""
    # the day of a round stands once over the sheet
    asked = [a for a in sheet.asked if a.column.name != "date" or not sheet.rows]
    gets = sheet.name == "water" and not papers.blind
    columns = [_column(a) for a in asked]
    if gets:
        columns.insert(_after_places(asked), FormColumn(say("paper treatment"), "", 34))
    treatment = {p.plot: p.treatment for p in papers.layout.plots}
    treatment |= {p.reservoir: p.treatment for p in papers.layout.plots if p.reservoir}
    groups: dict[str | None, list[tuple[str, ...]]] = {}
    for row, block in zip(sheet.rows, sheet.blocks, strict=True):
        told = sheet.told(row)
        cells = [told.get(a.head, "") for a in asked]
        if gets:
            name = next((treatment[t] for t in told.values() if t in treatment), "")
            cells.insert(_after_places(asked), name)
        groups.setdefault(block, []).append(tuple(cells))
    word = "paper in run" if papers.bench else "paper in block"
    made = [
        FormGroup(say(word, block=b, run=b) if b else None, tuple(rows))
        for b, rows in groups.items()
    ]
    spare = (("",) * len(columns),) * (SPARE_LINES if sheet.rows else EVENT_LINES)
    made.append(FormGroup(say("paper unplanned") if sheet.rows else None, spare))
    key = f"paper {sheet.name}"
    running = (f"{papers.trial.trial.id}: {say(key)}", say("paper date"), say("paper who"))
    form = Form(say(key), tuple(columns), tuple(made), running)
    names = ("date", "who", "start", "end", "sky", "signature")
    head = Blank(tuple(say(f"paper {name}") for name in names))
    lead = []
    if papers.blind and sheet.name != "water":
        lead.append(say("paper blind"))
    elif sheet.name in _SCORED:
        lead.append(say("paper open scorer"))
    if sheet.name == "water":
        lead.append(say("paper water reader"))
    rules = Items((*rules_of(sheet), say("paper rule pencil")))
    cautions = tuple(Note(say(c), "caution") for c in _cautions(sheet.name, bench=papers.bench))
    return Paper(
        papers.title(key),
        (Part(say("paper fill sheet"), (head, rules, *cautions, form)),),
        lead=tuple(lead),
        footer=papers.footer,
        landscape=len(columns) > _UPRIGHT,
        banners=papers.banners,
    )


def _after_places(asked: list[Asked]) -> int:
    places = [i for i, a in enumerate(asked) if a.locked]
    return places[-1] + 1 if places else 0


def _column(asked: Asked) -> FormColumn:
    column = asked.column
    ticks = asked.words if column.name in _TICKED else ()
    under = asked.unit or ""
    if asked.times is not None:
        under = f"× {asked.times:g} {under}".strip()
    width = _WIDE.get(column.name, 19 if column.kind in ("number", "integer") else 22)
    if ticks:
        width = 26 if len(ticks) < 3 else 88 if len(ticks) > 3 else 48
    return FormColumn(asked.head, under, width, ticks)


def _cautions(table: str, *, bench: bool) -> tuple[str, ...]:
    if table == "water" and not bench:
        return ("caution hauling", "caution open water", "caution water quality")
    return ("caution tools",) if bench else ("caution heat",)
