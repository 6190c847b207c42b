"""A file's Table Schema: every head with its type, as the cells below it are written.

A column that the registry knows gets the registry's type and limits, with the file's own
way to write dates and decimals; where its cells are written in ways that the open standard
does not know (a time of day behind a date, another spelling of a word), the type or limit is
left open rather than told wrongly. Leans on ``archived``, records and core.words.

Source: Table Schema, Data Package standard 2.0 (datapackage.org).
"""

import re
from datetime import date, datetime
from typing import Any

import numpy as np

from wickstats.archive.archived import ArchivedTable
from wickstats.core.units import unit_of_name
from wickstats.core.words import say
from wickstats.design.tables import Column
from wickstats.records.cells import NOT_AVAILABLE, shown
from wickstats.records.dates import style_from_example

_DECIMAL = r"[+-]?(?:\d+(?:{mark}\d*)?|{mark}\d+)(?:[eE][+-]?\d+)?"
_WHOLE = re.compile(r"[+-]?\d+")
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
Field = dict[str, Any]


def table_fields(table: ArchivedTable) -> list[Field]:
    """One field a head, in the order of the file."""
    return [
        _field(table, shown(head) if head not in (None, "") else "", head, place)
        for place, head in enumerate(table.sheet.heads)
    ]


def _field(table: ArchivedTable, name: str, head: Any, place: int) -> Field:
    cells = [c for c in table.sheet.columns[place].tolist() if c not in (None, "")]
    column = table.columns.get(head) if isinstance(head, str) else None
    if column is not None:
        return _known(table, name, column, cells, len(table.sheet.columns[place]))
    if head in table.quantities or (table.source.wide is not None and name):
        unit = _unit(table, name)
        field: Field = {"name": name, **_number(cells, table.source.decimal or ".")}
        return field | {"description": say("package quantity", unit=unit or say("no unit"))}
    return {"name": name, **_text(cells), "description": say("package not used")}


def _known(
    table: ArchivedTable, name: str, column: Column, cells: list[Any], rows: int
) -> Field:
    decimal = table.source.decimal or "."
    if column.kind == "date":
        typed = _day(cells, table.source.dates)
    elif column.kind == "number":
        typed = _number(cells, decimal)
    elif column.kind == "integer":
        typed = _integer(cells, decimal)
    else:
        typed = _text(cells)
    field: Field = {"name": name, **typed}
    if column.says:
        field["description"] = _said(table, column)
    if column.name != name:
        field["title"] = column.name
    limits: dict[str, Any] = {}
    if column.required and cells and len(cells) == rows and "missingValues" not in field:
        limits["required"] = True
    if column.words and typed["type"] == "string" and set(cells) <= set(column.words):
        limits["enum"] = list(column.words)
    numeric = typed["type"] in ("number", "integer")
    if column.minimum is not None and numeric and column.name not in table.source.columns:
        limits["minimum"] = column.minimum
    return field | ({"constraints": limits} if limits else {})


def _said(table: ArchivedTable, column: Column) -> str:
    source = table.source.columns.get(column.name)
    unit = (source.measured_in if source else None) or column.measured_in
    told = column.says + (f" (in {unit})" if unit else "")
    if source is not None and source.times is not None:
        told = say(
            "package times", says=column.says, unit=unit or "", times=f"{source.times:g}"
        )
    return told


def _unit(table: ArchivedTable, head: str) -> str | None:
    for name, source in table.source.columns.items():
        if source.head == head:
            return source.measured_in or unit_of_name(name)
    wide = table.source.wide
    if wide is not None and head not in table.quantities:
        return unit_of_name(wide.cells_are)
    return table.quantities.get(head) or unit_of_name(head)


def _text(cells: list[Any]) -> Field:
    return {"type": "string" if all(isinstance(c, str) for c in cells) else "any"}


def _blank_as_na(cells: list[Any]) -> tuple[list[Any], Field]:
    """Cells without those that say NA, and what tells of these."""
    kept = [c for c in cells if c != NOT_AVAILABLE]
    return kept, {"missingValues": ["", NOT_AVAILABLE]} if len(kept) < len(cells) else {}


def _number(cells: list[Any], decimal: str) -> Field:
    kept, absent = _blank_as_na(cells)
    pattern = re.compile(_DECIMAL.format(mark=re.escape(decimal)))
    if not all(_is_number(c, pattern) for c in kept):
        return {"type": "any"}
    comma = decimal != "." and any(isinstance(c, str) for c in kept)
    return {"type": "number", **({"decimalChar": decimal} if comma else {}), **absent}


def _is_number(cell: Any, pattern: re.Pattern[str]) -> bool:
    if isinstance(cell, str):
        return pattern.fullmatch(cell.strip()) is not None
    return isinstance(cell, int | float | np.number) and not isinstance(cell, bool)


def _integer(cells: list[Any], decimal: str) -> Field:
    kept, absent = _blank_as_na(cells)
    whole = all(
        _WHOLE.fullmatch(c.strip()) is not None
        if isinstance(c, str)
        else isinstance(c, int | float) and not isinstance(c, bool) and c == int(c)
        for c in kept
    )
    return {"type": "integer", **absent} if whole else _number(cells, decimal)


def _day(cells: list[Any], example: str | None) -> Field:
    kept, absent = _blank_as_na(cells)
    try:
        style = style_from_example(example)
    except ValueError:
        return {"type": "any"}
    written = [c for c in kept if isinstance(c, str)]
    others = [c for c in kept if not isinstance(c, str)]
    at_midnight = all(
        isinstance(c, date) and (not isinstance(c, datetime) or c == _midnight(c))
        for c in others
    )
    if example is None:
        plain = all(_ISO_DAY.fullmatch(c) for c in written)
        return {"type": "date", **absent} if plain and at_midnight else {"type": "any"}
    if not at_midnight or any(style.read(c) is None or c != c.strip() for c in written):
        return {"type": "any"}
    return {"type": "date", **({"format": day_format(example)} if written else {}), **absent}


def _midnight(day: datetime) -> datetime:
    return day.replace(hour=0, minute=0, second=0, microsecond=0)


def day_format(example: str) -> str:
    """31/12/2025 -> %d/%m/%Y, the way in which the standard writes patterns of dates."""
    signs = {"31": "%d", "12": "%m"}
    parts = re.findall(r"\d+|\D+", example.strip())
    return "".join(
        signs.get(p, "%Y" if len(p) == 4 else "%y") if p.isdigit() else p.replace("%", "%%")
        for p in parts
    )
