"""Planned power as plain text for a terminal: sentences first, then numbers.

Leans on core.numbers and core.words.
"""

from math import ceil
from typing import TYPE_CHECKING

from wickstats.core.numbers import MISSING, confidence_level, fixed, number, percent
from wickstats.core.results import PowerRow
from wickstats.core.words import say
from wickstats.sizing.plan import DETECTABLE, NEEDED, NEEDED_MATTERS, POWER
from wickstats.sizing.questions_told import columns, question_lines, size_text
from wickstats.sizing.reckon import MOST_BLOCKS
from wickstats.sizing.second_year import second_lines

if TYPE_CHECKING:
    from wickstats.sizing.assured import Assured
    from wickstats.sizing.from_past import PastPower, PastRow
    from wickstats.sizing.plan import PowerPlanned

PAST_HEADS = (
    "comparison",
    "what matters",
    "chance",
    "upper",
    "assurance",
    "smallest",
    "upper",
    "needed",
    "upper",
)
KINDS = (POWER, DETECTABLE, NEEDED, NEEDED_MATTERS)  # in the order of their tables
HEADS = ("response", "comparison", "true difference", "blocks", "chance")


def lines_of(planned: "PowerPlanned") -> list[str]:
    """Return the lines to print."""
    out = [title_of(planned.trial, planned.confidence), ""]
    if planned.warnings:
        out.extend([*planned.warnings, ""])
    if planned.past is not None:
        out.extend([*past_lines(planned, planned.past), ""])
    if planned.second_year is not None:
        out.extend(second_lines(planned.second_year, planned.word, planned.target))
    first = headlines(planned)
    out.extend(first)
    if planned.questions is not None:
        out.extend(question_lines(planned.questions, planned.word, planned.target))
    if planned.assured:
        out.extend(["", *_assured_lines(planned)])
    if planned.degrees_of_freedom:
        told = first or planned.second_year is not None
        out.extend([*([""] if told else []), say("degrees before data")])
        width = max(len(f"{r.stratum}: {r.term}") for r in planned.degrees_of_freedom)
        for item in planned.degrees_of_freedom:
            label = f"{item.stratum}: {item.term}"
            out.append(f"  {label:<{width}}  {item.df:>4}")
    out.extend(_tables(planned))
    notes = dict.fromkeys(row.note.split("; ", 1)[1] for row in planned.rows)
    out.extend("  " + note for note in notes)
    if planned.notes:
        out.extend(["", *planned.notes])
    # parts bring their own blank lines: one between two
    return [line for k, line in enumerate(out) if line or k == 0 or out[k - 1]]


def _tables(planned: "PowerPlanned") -> list[str]:
    """The rows, a table a kind."""
    out: list[str] = []
    kinds: dict[str, list[PowerRow]] = {kind: [] for kind in KINDS}
    for row in planned.rows:
        if _assumes_none(row) and "assumed difference" in row.note.split(";")[0]:
            continue  # a sentence above says so; a chance of "no difference" says nothing
        kinds.setdefault(row.note.split(";")[0], []).append(row)
    for kind, rows in kinds.items():
        if not rows:
            continue
        said = kind.replace("blocks", planned.word)
        out.extend(["", said[0].upper() + said[1:]])
        out.extend(_table(rows, planned))
        whys = dict.fromkeys(row.not_estimable for row in rows if not _too_many(row))
        out.extend("  " + why for why in whys if why)
    return out


def title_of(trial: str, confidence: float) -> str:
    """The first line."""
    return f"Power of {trial} ({confidence_level(confidence)} confidence)"


def past_lines(planned: "PowerPlanned", past: "PastPower") -> list[str]:
    """What a past season's variances give: sentences, then a table a response."""
    out = [say("past heading", trial=past.trial, digest=past.sha256[:12]), ""]
    first = planned.primary or (past.rows[0].response if past.rows else None)
    out.extend(
        say(
            "past headline",
            blocks=fixed(row.blocks, 0),
            replicates=planned.word,
            trial=past.trial,
            power=_chance(row.power),
            comparison=row.comparison,
            response=row.response,
            matters=_size(planned, row, row.difference),
            assurance=_chance(row.assurance),
        )
        for row in past.rows
        if row.response == first and row.power is not None and row.assurance is not None
    )
    for response in dict.fromkeys(row.response for row in past.rows):
        rows = [row for row in past.rows if row.response == response]
        out.extend(
            [
                "",
                say(
                    "past spread",
                    response=response,
                    sd=number(rows[0].sd),
                    upper=number(rows[0].sd_upper),
                    df=number(rows[0].df),
                ),
                *columns([PAST_HEADS, *(_past_cells(planned, row) for row in rows)], left=1),
            ]
        )
        out.extend("  " + why for why in dict.fromkeys(r.not_estimable for r in rows) if why)
        out.append("  " + rows[0].note)
    return [*out, "", say("past legend"), *past.notes]


def _past_cells(planned: "PowerPlanned", row: "PastRow") -> tuple[str, ...]:
    return (
        row.comparison,
        _size(planned, row, row.difference),
        percent(row.power),
        percent(row.power_upper),
        percent(row.assurance),
        _size(planned, row, row.detectable),
        _size(planned, row, row.detectable_upper),
        _needed(row, row.blocks_needed),
        _needed(row, row.blocks_needed_upper),
    )


def _size(planned: "PowerPlanned", row: "PastRow", value: float | None) -> str:
    return _told(planned, row.response, value, row.measure)


def _told(planned: "PowerPlanned", response: str, value: float | None, measure: str) -> str:
    """A difference as it is told: shares as plants of 100."""
    return size_text(value, measure, shares=response in planned.shares)


def _needed(row: "PastRow", blocks: float | None) -> str:
    if row.difference is None:
        return fixed(None, 0)
    return "too many" if blocks is None else fixed(blocks, 0)


def headlines(planned: "PowerPlanned") -> list[str]:
    """One sentence a comparison of the primary response (or the first one)."""
    first = planned.primary or (planned.rows[0].response if planned.rows else None)
    rows = [r for r in planned.rows if r.response == first]
    asked = planned.questions.chances if planned.questions is not None else ()
    simulated = {(c.response, c.comparison): c.shown for c in asked}
    needed = {r.comparison: r for r in rows if r.note.startswith("blocks needed for the ass")}
    out = []
    for row in rows:
        if not row.note.startswith("power") or row.power is None or row.blocks is None:
            continue
        if _assumes_none(row):
            out.append(_same(planned, row))
            continue
        power = simulated.get((row.response, row.comparison), row.power)
        words = {
            "blocks": _sizes(planned, row.blocks),
            "replicates": planned.word,
            "power": _chance(power),
            "comparison": row.comparison,
            "response": row.response,
        }
        if power >= planned.target:
            out.append(say("power headline", **words))
            continue
        need = needed.get(row.comparison)
        target = percent(planned.target)
        if need is not None and need.blocks is not None:
            rest = say(
                "power needs",
                blocks=_sizes(planned, need.blocks),
                replicates=planned.word,
                target=target,
            )
        else:
            rest = say("power hopeless", replicates=planned.word, most=400, target=target)
        out.append(say("power headline low", needed=rest, **words))
    return [*out, *_smallest(planned, rows)]


def _same(planned: "PowerPlanned", row: PowerRow) -> str:
    """No difference is assumed: what can be told then."""
    words = {"comparison": row.comparison, "response": row.response}
    asked = planned.questions
    mine = (
        []
        if asked is None
        else [
            c
            for c in asked.chances
            if (c.response, c.comparison) == (row.response, row.comparison)
        ]
    )
    matters = any(
        (r.response, r.comparison) == (row.response, row.comparison)
        and r.note.startswith("blocks needed for the difference that matters")
        for r in planned.rows
    )
    if asked is None or not mine or not matters:
        return say("power same", **words)
    found = mine[0]
    key = "power same neutral" if found.neutral else "power same told"
    told = say(
        key, blocks=_sizes(planned, row.blocks or 0.0), word=planned.word,
        chance=_chance(found.no_worse_at_all), same=percent(found.same), **words,
    )  # fmt: skip
    about = (asked.response, asked.comparison)
    if asked.alike and asked.needed is not None and about == tuple(words.values())[::-1]:
        target, blocks = percent(planned.target), fixed(asked.needed, 0)
        told += " " + say("curve needed", blocks=blocks, word=planned.word, target=target)
    return told


def _smallest(planned: "PowerPlanned", rows: list[PowerRow]) -> list[str]:
    """The smallest difference that would show, of the first comparison that tells one."""
    asked = [row for row in rows if row.note.startswith("smallest")]
    told = [row for row in asked if row.difference is not None]
    for row in told or [row for row in asked if row.power is not None]:
        size = _told(planned, row.response, row.difference, row.measure)
        key = "power smallest" if told else "power none smallest"
        words = {"comparison": row.comparison, "response": row.response}
        return [say(key, target=percent(planned.target), difference=size, **words)]
    return []


def _assured_lines(planned: "PowerPlanned") -> list[str]:
    """A sentence for the first comparison of each response, then all of them."""
    firsts: dict[str, Assured] = {}
    for row in planned.assured:
        firsts.setdefault(row.response, row)
    out = [
        say(
            "assured told",
            response=row.response,
            df=number(row.df),
            comparison=row.comparison,
            difference=_told(planned, row.response, row.difference, row.measure),
            kind=say("assured matters" if row.matters else "assured assumed"),
            assurance=_chance(row.assurance),
        )
        for row in firsts.values()
    ]
    heads = ("response", "comparison", "true difference", "chance", "upper", "assurance")
    cells = [
        (
            row.response,
            row.comparison,
            _told(planned, row.response, row.difference, row.measure),
            *map(percent, (row.power, row.upper, row.assurance)),
        )
        for row in planned.assured
    ]
    return [*out, *columns([heads, *cells], left=2), "  " + say("assured legend")]


def _assumes_none(row: PowerRow) -> bool:
    return row.difference == (1.0 if row.measure == "ratio" else 0.0)


def _too_many(row: PowerRow) -> bool:
    return row.not_estimable == say("next beyond", most=MOST_BLOCKS)


def _chance(power: float) -> str:
    """A chance in percent; none is certain before planting."""
    return say("power over", most=percent(0.99)) if power > 0.99 else percent(power)


def _sizes(planned: "PowerPlanned", blocks: float) -> str:
    """How many, from the least to the most replicated treatment where they differ."""
    if planned.most is None or not planned.blocks:
        return fixed(blocks, 0)
    most = ceil(planned.most * blocks / planned.blocks - 1e-9)
    return say("power from to", low=fixed(blocks, 0), high=fixed(float(most), 0))


def _table(rows: list[PowerRow], planned: "PowerPlanned") -> list[str]:
    cells: list[tuple[str, ...]] = [(HEADS[0], HEADS[1], HEADS[2], planned.word, HEADS[4])]
    for row in rows:
        blocks = "too many" if _too_many(row) else MISSING
        if row.blocks is not None:
            blocks = _sizes(planned, row.blocks)
        cells.append(
            (
                row.response,
                row.comparison,
                _told(planned, row.response, row.difference, row.measure),
                blocks,
                percent(row.power),
            )
        )
    return columns(cells, left=2)
