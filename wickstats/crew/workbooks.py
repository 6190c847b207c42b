"""Workbooks and plain text to type into: prepared rows, locked identifiers, allowed words.

Nothing in them is a formula: every prepared cell is text, whatever it begins with. Clocks
are taken out of the workbook, so that the same trial gives the same bytes. Leans on openpyxl.
"""

import io
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from wickstats.archive.tables import FORMULA_STARTS
from wickstats.core.words import say
from wickstats.crew.rules import rules_of
from wickstats.crew.tables import Asked, FieldSheet
from wickstats.design.trial import Trial
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import csv_bytes, without_clocks

_INLINE = 255  # a list in a cell's own rule holds no more
_GUIDE, _LISTS = "how to fill in", "lists"


def workbooks(
    trial: Trial, plots: Sequence[Plot], sheets: Sequence[FieldSheet]
) -> dict[str, bytes]:
    """Name -> bytes of every workbook; ``plots`` are listed in their order."""
    books: dict[str, list[FieldSheet]] = {}
    for sheet in sheets:
        books.setdefault(sheet.file, []).append(sheet)
    return {file: _book(trial, [p.plot for p in plots], held) for file, held in books.items()}


def plain_files(sheets: Sequence[FieldSheet]) -> tuple[dict[str, bytes], list[str]]:
    """Name -> bytes of the tables that the trial keeps as text; names that are unsafe so."""
    files: dict[str, bytes] = {}
    unsafe: list[str] = []
    for sheet in sheets:
        if sheet.plain is None:
            continue
        if any(cell.startswith(FORMULA_STARTS) for row in sheet.rows for cell in row):
            unsafe.append(sheet.plain)
            continue
        decimal = sheet.source.decimal or "."
        delimiter = sheet.source.delimiter or (";" if decimal == "," else ",")
        heads = [a.head for a in sheet.asked]
        rows = [_cells(sheet, row) for _ in range(sheet.rounds) for row in sheet.rows]
        lines = [*[[""] * len(heads)] * ((sheet.source.header_row or 1) - 1), heads, *rows]
        delimiter = "\t" if delimiter in ("tab", "\\t") else delimiter
        files[sheet.plain] = csv_bytes(lines[0], lines[1:], delimiter=delimiter)
    return files, unsafe


def _cells(sheet: FieldSheet, row: Sequence[str]) -> list[str]:
    told = sheet.told(row)
    return [told.get(a.head, "") for a in sheet.asked]


def _book(trial: Trial, plots: Sequence[str], sheets: Sequence[FieldSheet]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    book.properties.creator = "wickstats"
    # a reader that is not told a sheet's name takes a workbook with one sheet only
    named = all(s.sheet for s in sheets)
    for sheet in sheets:
        _fill(book.create_sheet(sheet.sheet or sheet.name), trial, sheet, plots, named=named)
    if named:
        _guide(book.create_sheet(_free(_GUIDE, sheets)), trial, sheets)
        lists = book.create_sheet(_LISTS)
        for k, plot in enumerate(plots, start=1):
            _put(lists.cell(k, 1), plot)
        lists.sheet_state = "hidden"
        lists.protection.sheet = True
    made = io.BytesIO()
    book.save(made)
    return without_clocks(made.getvalue())


def _free(name: str, sheets: Sequence[FieldSheet]) -> str:
    return name if all(s.sheet != name for s in sheets) else f"{name} "


def _put(cell: Any, text: str) -> None:
    cell.value = text
    cell.data_type = "s"  # also where it begins like a formula
    cell.number_format = "@"


def _fill(
    target: Any, trial: Trial, sheet: FieldSheet, plots: Sequence[str], *, named: bool
) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
    from openpyxl.utils import get_column_letter

    header = sheet.source.header_row or 1
    last = header + sheet.rounds * len(sheet.rows) + sheet.spare
    thin = Border(*[Side(style="thin", color="FF777777")] * 4)
    for k, asked in enumerate(sheet.asked, start=1):
        letter = get_column_letter(k)
        column = target.column_dimensions[letter]
        column.width = max(len(asked.head) + 3, 26 if asked.column.name == "note" else 12)
        column.protection = Protection(locked=False)
        if asked.column.kind == "date":
            column.number_format = "yyyy-mm-dd"
        elif asked.column.kind == "text":
            column.number_format = "@"
        head = target.cell(header, k)
        _put(head, asked.head)
        head.font, head.border = Font(bold=True), thin
        head.fill = PatternFill("solid", fgColor="FFEEEEEE")
        head.alignment = Alignment(wrap_text=True, vertical="bottom")
        head.protection = Protection(locked=True)
        _rule(target, trial, asked, f"{letter}{header + 1}:{letter}{last}", plots, named=named)
    row = header
    places = [k for k, a in enumerate(sheet.asked, start=1) if a.locked]
    shade = PatternFill("solid", fgColor="FFF4F4F4")
    for turn in range(sheet.rounds):
        for cells in sheet.rows:
            row += 1
            for place, text in zip(places, cells, strict=True):
                cell = target.cell(row, place)
                cell.protection = Protection(locked=True)
                if text:
                    _put(cell, text)
                if turn % 2:
                    cell.fill = shade
    target.freeze_panes = target.cell(header + 1, 1)
    target.print_title_rows = f"{header}:{header}"
    target.page_setup.orientation = "landscape"
    target.page_setup.fitToWidth, target.page_setup.fitToHeight = 1, 0
    target.sheet_properties.pageSetUpPr.fitToPage = True
    protection = target.protection
    protection.sheet = True  # without a password: against slips, not against people
    protection.formatColumns = protection.formatRows = False
    protection.sort = protection.autoFilter = False


def _rule(
    target: Any,
    trial: Trial,
    asked: Asked,
    area: str,
    plots: Sequence[str],
    *,
    named: bool,
) -> None:
    """What a cell may hold: words, dates of the season, numbers not below their limit."""
    from openpyxl.worksheet.datavalidation import DataValidation

    column, options = asked.column, dict[str, Any]()
    if column.name == "plot" and (listed := _listed(plots, named=named)):
        options = {"type": "list", "formula1": listed}
    elif asked.words:
        options = {"type": "list", "formula1": f'"{",".join(asked.words)}"'}
    elif column.kind == "date":
        first, last = _days(trial)
        options = {"type": "date", "operator": "between", "formula1": first, "formula2": last}
    elif column.kind in ("number", "integer"):
        kind = "whole" if column.kind == "integer" else "decimal"
        least = "-1000000" if column.minimum is None else f"{column.minimum:g}"
        options = {
            "type": kind,
            "operator": "between",
            "formula1": least,
            "formula2": "1000000000",
        }
    if not options:
        return
    said = column.says + (f" ({asked.unit})" if asked.unit else "")
    rule = DataValidation(
        allow_blank=True,
        showErrorMessage=True,
        showInputMessage=True,
        # a day outside the season may be right; a word outside the list is not
        errorStyle="warning" if options["type"] == "date" else "stop",
        errorTitle=asked.head[:30],
        error=say("paper rule words", head=asked.head, words=said)[:220],
        promptTitle=asked.head[:30],
        prompt=said[:220],
        **options,
    )
    rule.add(area)
    target.add_data_validation(rule)


def _listed(plots: Sequence[str], *, named: bool) -> str | None:
    if named:
        return f"'{_LISTS}'!$A$1:$A${len(plots)}"
    told = ",".join(plots)
    safe = all("," not in p and '"' not in p for p in plots)
    return f'"{told}"' if safe and len(told) < _INLINE else None


def _days(trial: Trial) -> tuple[str, str]:
    """First and last day as the serial numbers of spreadsheets."""
    season, zero = trial.trial.season, date(1899, 12, 30)
    first, last = (
        (season.start, season.end) if season else (date(2000, 1, 1), date(2199, 12, 31))
    )
    return str((first - zero).days), str((last - zero).days)


def _guide(target: Any, trial: Trial, sheets: Sequence[FieldSheet]) -> None:
    lines = [trial.trial.id, say("paper rule blank")]
    for sheet in sheets:
        lines += ["", say(f"paper {sheet.name}"), *rules_of(sheet)]
    for k, line in enumerate(lines, start=1):
        if line:
            _put(target.cell(k, 1), line)
    target.column_dimensions["A"].width = 110
    target.protection.sheet = True


def record_lines(sheets: Sequence[FieldSheet]) -> Mapping[str, dict[str, Any]]:
    """What the trial file says under ``records`` so that these workbooks are read."""
    out: dict[str, dict[str, Any]] = {}
    for sheet in sheets:
        source = sheet.source.model_dump(
            mode="json", exclude_none=True, exclude_defaults=True, by_alias=True
        )
        kept = {k: source[k] for k in ("header_row", "columns") if source.get(k)}
        entry: dict[str, Any] = {"file": sheet.file}
        if sheet.sheet:
            entry["sheet"] = sheet.sheet
        out[sheet.name] = entry | kept
    return out
