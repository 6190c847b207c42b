"""A sheet's columns become ours: heads, units, factors, kinds.

Leans on design.tables, which says what the columns of every table are.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from wickstats.core.units import UnitError, conversion, unit_of_name
from wickstats.design.tables import Column, Table
from wickstats.design.trial import ColumnSource, TableSource, Trial
from wickstats.records.cells import (
    Read,
    as_days,
    as_numbers,
    as_text,
    as_words,
    nearest,
    shown,
)
from wickstats.records.crosswise import melt
from wickstats.records.dates import DateStyle
from wickstats.records.findings import MOST_ALIKE, Findings, rows_in_words
from wickstats.records.hints import NEAR_HEAD, Beside, how_to_mend, of_missing_column
from wickstats.records.sheets import Sheet, column_letters, repeated_heads

OWN_QUANTITIES = ("measurements", "picks")


@dataclass(slots=True)
class Part:
    """One file's rows of a table, and the columns that only repeat the layout."""

    frame: pd.DataFrame
    repeated: dict[str, np.ndarray] = field(default_factory=dict)  # layout column -> text


@dataclass(slots=True)
class Reading:
    """What every step of reading one file needs to know."""

    table: Table
    trial: Trial
    source: TableSource
    style: DateStyle
    out: Findings
    layout_columns: frozenset[str]

    @property
    def decimal(self) -> str:
        """The decimal mark of this file."""
        return self.source.decimal or "."


def quantities(table: Table, trial: Trial) -> dict[str, str | None]:
    """The user's own columns of a table with their units, as the responses name them."""
    if table.name not in OWN_QUANTITIES:
        return {}
    here = {"growth", "measurement", "score"}
    if "picks" not in trial.records:
        here |= {"yield", "count"}
    if table.name == "picks":
        here = {"yield", "count"}
    return {
        r.column: r.measured_in or unit_of_name(r.column)
        for r in trial.responses
        if r.kind in here and r.column and table.column(r.column) is None
    }


def read_columns(sheet: Sheet, reading: Reading) -> Part | None:
    """Type all columns of a sheet; None where a column that is needed is missing."""
    if reading.source.wide is not None:
        melted = melt(sheet, reading.source.wide, reading.style, reading.out)
        if melted is None:
            return None
        sheet = melted
    own = _own_columns(reading)
    places = _places(sheet, reading, own)
    if places is None:
        return None
    if not len(sheet.rows):
        tell = reading.out.query if _needed(reading) else reading.out.note
        tell(
            sheet.file,
            "no rows",
            found="column heads and nothing below",
            expected="at least one row",
            fix="nothing to do if nothing was recorded yet",
        )
    frame: dict[str, np.ndarray] = {}
    for column, place in places:
        source = reading.source.columns.get(column.name)
        frame[column.name] = _typed(sheet, place, column, source, reading)
    repeated = _left_over(sheet, reading, {p for _, p in places}, frame)
    frame["file"] = np.full(len(sheet.rows), sheet.file, dtype=object)
    frame["row"] = sheet.rows
    return Part(pd.DataFrame(frame, copy=False), repeated)


def _needed(reading: Reading) -> bool:
    """Whether a response is, or without any responses may be, read from this table."""
    kinds = {
        "visits": ("survival",),
        "lifetimes": ("survival",),
        "measurements": ("growth", "measurement", "score"),
        "picks": ("yield", "count", "yield per liter"),
        "water": ("water used", "yield per liter"),
    }.get(reading.table.name, ())
    responses = reading.trial.responses
    return bool(kinds) and (not responses or any(r.kind in kinds for r in responses))


def _own_columns(reading: Reading) -> dict[str, Column]:
    own = quantities(reading.table, reading.trial)
    if reading.table.name in OWN_QUANTITIES:
        for name in reading.source.columns:
            if reading.table.column(name) is None:
                own.setdefault(name, unit_of_name(name))
        wide = reading.source.wide
        if wide is not None and reading.table.column(wide.cells_are) is None:
            own.setdefault(wide.cells_are, unit_of_name(wide.cells_are))
    return {n: Column(n, "number", "a quantity", measured_in=unit) for n, unit in own.items()}


def _places(
    sheet: Sheet, reading: Reading, own: dict[str, Column]
) -> list[tuple[Column, int]] | None:
    """Where every column that we know stands in the sheet."""
    twice = repeated_heads(sheet)
    places: list[tuple[Column, int]] = []
    complete = True
    for column in (*reading.table.columns, *own.values()):
        source = reading.source.columns.get(column.name)
        melted = reading.source.wide is not None and column.name in (
            reading.source.wide.heads_are,
            reading.source.wide.cells_are,
        )
        head = source.head if source and not melted else column.name
        place = sheet.find(head)
        if place is None:
            if column.required or (source is not None and not melted):
                complete = False
                _missing(sheet, (head,), column.name, reading)
            continue
        if head in twice:
            complete = False
            reading.out.problem(
                sheet.file,
                "repeated head",
                found=f"the head {shown(head)} more than once",
                expected="every head once",
                fix="rename or delete the columns that are not meant",
                row=sheet.header_row,
                column=head,
            )
        places.append((column, place))
    found = {c.name for c, _ in places}
    for group in reading.table.one_of:
        if not found.intersection(group):
            complete = False
            _missing(sheet, group, group[0], reading)
    return places if complete else None


def _missing(sheet: Sheet, wanted: Sequence[str], ours: str, reading: Reading) -> None:
    """Tell that none of the wanted heads is there; ``ours`` is the column it stands for."""
    heads = [shown(h) for h in sheet.heads if isinstance(h, str) and h]
    free = [h for h in heads if reading.table.column(h) is None]
    alike = [(w, n) for w in wanted if (n := nearest(w, free, NEAR_HEAD))]
    if len(wanted) > 1 and alike:
        ours = alike[0][0]
    known = reading.table.column(ours)
    if "(in memory)" in sheet.file:
        fix = f"rename the frame's column to {ours}" if alike else f"add a column {ours}"
    else:
        fix = of_missing_column(ours, free, known.measured_in if known else None)
    reading.out.problem(
        sheet.file,
        "missing column",
        found="the heads " + ", ".join(heads[:12]) if heads else "no heads",
        expected=f"a column {' or '.join(wanted)}",
        fix=fix,
        row=sheet.header_row,
        column=" or ".join(wanted) if len(wanted) < 4 else None,
    )


def _typed(
    sheet: Sheet, place: int, column: Column, source: ColumnSource | None, reading: Reading
) -> np.ndarray:
    cells = sheet.columns[place]
    head = _head(sheet, place)
    if column.kind == "date":
        read = as_days(cells, reading.style)
        expected = f"a date written like {reading.style.example}"
    elif column.words:
        read = as_words(cells, column.words)
        expected = "one of " + ", ".join(column.words)
    elif column.kind in ("number", "integer"):
        read = as_numbers(cells, reading.decimal, whole=column.kind == "integer")
        expected = "a whole number" if column.kind == "integer" else "a number"
    else:
        read = as_text(cells)
        expected = "text"
    if not column.required:
        expected += ", or a blank"
    _tell_bad(sheet, place, read, expected, column, reading)
    if column.kind in ("number", "integer"):
        read.values = _converted(sheet, head, read.values, column, source, reading)
        _tell_below(sheet, head, read.values, column, reading)
    return read.values


def _head(sheet: Sheet, place: int) -> str:
    return shown(sheet.heads[place])


def _tell_bad(
    sheet: Sheet, place: int, read: Read, expected: str, column: Column, reading: Reading
) -> None:
    head = _head(sheet, place)
    beside = _beside(sheet.columns[place], read) if len(read.bad) else None
    hints: dict[str, str] = {}
    for bad in read.bad[:MOST_ALIKE].tolist():
        found = read.found[bad]
        if found not in hints and beside is not None:
            hints[found] = how_to_mend(
                found,
                column,
                reading.decimal,
                reading.style,
                beside,
                style_given=reading.source.dates is not None,
            )
        reading.out.problem(
            sheet.file,
            "unreadable value",
            found=found,
            expected=expected,
            fix=hints[found],
            row=int(sheet.rows[bad]),
            column=head,
        )
    left = len(read.bad) - MOST_ALIKE
    if left > 0:
        reading.out.rest(reading.out.problems, left, int(sheet.rows[read.bad[-1]]))
    if len(read.not_available):
        reading.out.query(
            sheet.file,
            "blank written as NA",
            found=f"NA in {rows_in_words(sheet.rows[read.not_available])}",
            expected="a blank cell where nothing was recorded",
            fix="nothing to do if NA means that nothing was recorded: it is read as blank",
            row=int(sheet.rows[read.not_available[0]]),
            column=head,
        )
    if len(read.clipped):
        reading.out.query(
            sheet.file,
            "time of day",
            found=f"a time of day in {rows_in_words(sheet.rows[read.clipped])}",
            expected="a day",
            fix="nothing to do: only the day is used",
            row=int(sheet.rows[read.clipped[0]]),
            column=head,
        )


def _beside(cells: np.ndarray, read: Read) -> Beside:
    """What the column holds besides the cell that is told."""
    filled = as_text(cells).values != None  # noqa: E711  (element by element)
    filled[read.bad] = False
    filled[read.not_available] = False
    good = np.flatnonzero(filled)
    # a number with a point says most about how the column writes numbers
    texts = dict.fromkeys(shown(c) for c in cells[good].tolist())
    first = next((t for t in texts if "." in t), next(iter(texts), None))
    return Beside(frozenset(read.found.values()), first, len(read.bad), len(good))


def _converted(
    sheet: Sheet,
    head: str,
    values: np.ndarray,
    column: Column,
    source: ColumnSource | None,
    reading: Reading,
) -> np.ndarray:
    if source is None:
        return values
    if source.measured_in is not None:
        try:
            ours = column.measured_in or source.measured_in  # nothing asks for another unit
            values = conversion(source.measured_in, ours).apply(values)
        except UnitError as error:
            reading.out.problem(
                sheet.file,
                "unit",
                found=f"the unit {source.measured_in}",
                expected=f"a unit that can be turned into {column.measured_in}",
                fix=f"{error}; correct `measured_in` of {column.name} in the trial file",
                row=sheet.header_row,
                column=head,
            )
    if source.times is not None:
        values = values * source.times
    return values


def _tell_below(
    sheet: Sheet, head: str, values: np.ndarray, column: Column, reading: Reading
) -> None:
    if column.minimum is None:
        return
    below = np.flatnonzero(values < column.minimum)
    for place in below:
        reading.out.problem(
            sheet.file,
            "below its limit",
            found=shown(float(values[place])),
            expected=f"a number not below {shown(float(column.minimum))}",
            fix="correct it, or leave the cell blank and say why in a note",
            row=int(sheet.rows[place]),
            column=head,
        )


def _left_over(
    sheet: Sheet, reading: Reading, used: set[int], frame: dict[str, np.ndarray]
) -> dict[str, np.ndarray]:
    """Columns that we do not know: repeats of the layout, own quantities, the rest."""
    repeated: dict[str, np.ndarray] = {}
    ignored: list[str] = []
    headless: list[str] = []
    for place, head in enumerate(sheet.heads):
        if place in used:
            continue
        cells = sheet.columns[place]
        if head in (None, ""):
            if as_text(cells).values.astype(bool).any():
                headless.append(column_letters(place))
            continue
        name = shown(head)
        if name in reading.layout_columns:
            repeated[name] = as_text(cells).values
            continue
        if reading.table.name in OWN_QUANTITIES and name not in ("file", "row"):
            read = as_numbers(cells, reading.decimal)
            if not len(read.bad) and not np.isnan(read.values).all():
                frame[name] = read.values
                continue
        ignored.append(name)
    _tell_left_over(sheet, reading, ignored, headless)
    return repeated


def _tell_left_over(
    sheet: Sheet, reading: Reading, ignored: list[str], headless: list[str]
) -> None:
    if ignored:
        absent = [c for c in reading.table.column_names if sheet.find(c) is None]
        meant = [(h, n) for h in ignored if (n := nearest(h, absent, 0.75))]
        reading.out.query(
            sheet.file,
            "column not used",
            found=f"the columns {', '.join(ignored)}"
            if len(ignored) > 1
            else f"the column {ignored[0]}",
            expected="columns of this table",
            fix="nothing to do if they are meant for people only"
            + "".join(f"; if {n} is meant, rename {h}" for h, n in meant),
            row=sheet.header_row,
        )
    if headless:
        many = len(headless) > 1
        reading.out.query(
            sheet.file,
            "no head",
            found=f"cells in {'columns' if many else 'column'} {', '.join(headless)}, "
            f"which {'have' if many else 'has'} no head",
            expected="a head above every column that is filled",
            fix="nothing to do if they are meant for people only: they are not used",
            row=sheet.header_row,
            column=headless[0],
        )
