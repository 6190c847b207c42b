"""Planned power as plain text for a terminal: sentences first, then numbers.

Leans on core.numbers and core.words.
"""

from typing import TYPE_CHECKING

from wickstats.core.numbers import confidence_level, fixed, number, percent
from wickstats.core.results import PowerRow
from wickstats.core.words import say

if TYPE_CHECKING:
    from wickstats.sizing.plan import PowerPlanned

HEADS = ("response", "comparison", "true difference", "blocks", "chance")


def lines_of(planned: "PowerPlanned") -> list[str]:
    """Return the lines to print."""
    out = [f"Power of {planned.trial} ({confidence_level(planned.confidence)} confidence)", ""]
    out.extend(headlines(planned))
    if planned.degrees_of_freedom:
        out.extend(["", "Degrees of freedom, before any data"])
        width = max(len(f"{r.stratum}: {r.term}") for r in planned.degrees_of_freedom)
        for item in planned.degrees_of_freedom:
            label = f"{item.stratum}: {item.term}"
            out.append(f"  {label:<{width}}  {item.df:>4}")
    kinds: dict[str, list[PowerRow]] = {}
    for row in planned.rows:
        kinds.setdefault(row.note.split(";")[0], []).append(row)
    for kind, rows in kinds.items():
        said = kind.replace("blocks", planned.word)
        out.extend(["", said[0].upper() + said[1:]])
        out.extend(_table(rows, planned.word))
    notes = dict.fromkeys(row.note.split("; ", 1)[1] for row in planned.rows)
    out.extend("  " + note for note in notes)
    if planned.notes:
        out.extend(["", *planned.notes])
    return out


def headlines(planned: "PowerPlanned") -> list[str]:
    """One sentence a comparison of the primary response (or the first one)."""
    first = planned.primary or (planned.rows[0].response if planned.rows else None)
    rows = [r for r in planned.rows if r.response == first]
    needed = {r.comparison: r for r in rows if r.note.startswith("blocks needed for the ass")}
    out = []
    for row in rows:
        if not row.note.startswith("power") or row.power is None or row.blocks is None:
            continue
        if row.difference == (1.0 if row.measure == "ratio" else 0.0):
            out.append(say("power same", comparison=row.comparison, response=row.response))
            continue
        words = {
            "blocks": fixed(row.blocks, 0),
            "replicates": planned.word,
            "power": _chance(row.power),
            "comparison": row.comparison,
            "response": row.response,
        }
        if row.power >= planned.target:
            out.append(say("power headline", **words))
            continue
        need = needed.get(row.comparison)
        target = percent(planned.target)
        if need is not None and need.blocks is not None:
            rest = say(
                "power needs",
                blocks=fixed(need.blocks, 0),
                replicates=planned.word,
                target=target,
            )
        else:
            rest = say("power hopeless", replicates=planned.word, most=400, target=target)
        out.append(say("power headline low", needed=rest, **words))
    return out


def _chance(power: float) -> str:
    """A chance in percent; none is certain before planting."""
    return say("power over", most=percent(0.99)) if power > 0.99 else percent(power)


def _table(rows: list[PowerRow], word: str) -> list[str]:
    cells = [(HEADS[0], HEADS[1], HEADS[2], word, HEADS[4])]
    for row in rows:
        sign = "x " if row.measure == "ratio" else ""
        blocks = "too many" if row.blocks is None else fixed(row.blocks, 0)
        cells.append(
            (
                row.response,
                row.comparison,
                sign + number(row.difference),
                blocks,
                percent(row.power),
            )
        )
    widths = [max(len(line[k]) for line in cells) for k in range(5)]
    return [
        "  "
        + "  ".join(
            text.ljust(width) if k < 2 else text.rjust(width)
            for k, (text, width) in enumerate(zip(line, widths, strict=True))
        )
        for line in cells
    ]
