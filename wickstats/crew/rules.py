"""The rules that stand over a sheet, in words. Leans on core.words."""

from wickstats.core.words import say
from wickstats.crew.tables import FieldSheet

_OF_TABLE = {
    "plants": ("planting", "replaced"),
    "visits": ("dead",),
    "lifetimes": ("lifetimes",),
    "measurements": ("measure",),
    "water": ("refill",),
    "picks": ("ripe",),
    "events": ("event", "replaced"),
    "readings": (),
    "weather": (),
}


def rules_of(sheet: FieldSheet) -> list[str]:
    """Rules of blank and zero, dates, words, units, and of this table."""
    out = [say("paper rule blank")]
    kinds = {a.column.kind for a in sheet.asked}
    if "date" in kinds:
        out.append(say("paper rule dates", example="2025-12-31"))
    out += [say(f"paper rule {name}") for name in _OF_TABLE[sheet.name]]
    top = next((a.head for a in sheet.asked if a.column.name == "reached_top"), None)
    if top is not None:
        out.append(say("paper rule bench", head=top))
    for asked in sheet.asked:
        if asked.words:
            out.append(say("paper rule words", head=asked.head, words=", ".join(asked.words)))
        if asked.times is not None:
            out.append(
                say(
                    "paper rule times",
                    head=asked.head,
                    times=f"{asked.times:g}",
                    unit=asked.unit or "",
                )
            )
    return out
