"""Units that got another treatment than they were given by lot: as treated, as sensitivity.

The analysis is as randomized (Fisher 1935; for trials with people: ICH E9, intention to
treat). Where an event says "wrong treatment" and its note names the treatment that was
given, the same comparison with that label stands beside it. Leans on units and records.
"""

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wickstats.analysis.units import Units
from wickstats.core.words import say
from wickstats.records.season import Season

WRONG = "wrong treatment"


@dataclass(frozen=True, slots=True, eq=False)
class AsTreated:
    """What wrong treatments come to.

    Attributes
    ----------
    units
        With the treatments given; None where none is known.
    notes
        One sentence an event.
    """

    units: Units | None
    notes: tuple[str, ...]


def as_treated(units: Units, season: Season) -> AsTreated:
    """Read the events."""
    frame = season.table("events")
    if frame is None or frame.empty or "what" not in frame:
        return AsTreated(None, ())
    cells = units.cells.copy()
    notes: list[str] = []
    for row in frame.loc[frame["what"] == WRONG].to_dict("records"):
        where = str(_text(row, "plot") or _text(row, "reservoir"))
        place = None if _text(row, "plant") else _unit(units, row)
        if place is None:
            notes.append(say("as treated part", where=where))
            continue
        given = _given(units, int(units.cells[place]), _text(row, "note") or "")
        if given is None:
            notes.append(say("as treated unclear", where=where))
            continue
        names = units.cell_names
        laid = names[int(units.cells[place])]
        notes.append(say("as treated done", where=where, given=names[given], laid=laid))
        cells[place] = given
    changed = bool((cells != units.cells).any())
    return AsTreated(
        replace(units, cells=cells) if changed else None, tuple(dict.fromkeys(notes))
    )


def _text(row: dict[Any, Any], key: str) -> str | None:
    value = row.get(key)
    return value if isinstance(value, str) and value.strip() else None


def _unit(units: Units, row: dict[Any, Any]) -> int | None:
    """Position of the unit, where the event is about all of it."""
    plot, reservoir = _text(row, "plot"), _text(row, "reservoir")
    if plot is not None and plot in units.index:
        place = int(units.index[plot])
        return place if len(units.plots[place]) == 1 else None
    return units.names.index(reservoir) if reservoir in units.names else None


def _given(units: Units, cell: int, note: str) -> int | None:
    """The treatment that the note names beside the one laid out; None where not just one."""
    laid = [int(code) for code in np.unravel_index(cell, units.shape)]
    text = note.casefold()
    named: dict[int, set[int]] = {k: set() for k in range(len(units.shape))}
    levels = [
        (name, k, code)
        for k, names in enumerate(units.levels)
        for code, name in enumerate(names)
    ]
    # longer names first: "gravity wick" is not a "wick"
    for name, k, code in sorted(levels, key=lambda item: -len(item[0])):
        word = rf"(?<!\w){re.escape(name.casefold())}(?!\w)"
        if re.search(word, text):
            text = re.sub(word, " ", text)
            if code != laid[k]:
                named[k].add(code)
    if any(len(codes) > 1 for codes in named.values()) or not any(named.values()):
        return None
    codes = [named[k].pop() if named[k] else laid[k] for k in range(len(laid))]
    return int(np.ravel_multi_index(codes, units.shape))
