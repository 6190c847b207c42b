"""Tables as bytes that are the same each time: CSV, and xlsx without clocks.

The workbook is written by openpyxl and packed again with a fixed date and without
compression, whose bytes differ between builds of the same library. Leans on
openpyxl and the standard library.
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

Cell = str | int | float | date | None
Row = Sequence[Cell]

_EPOCH = (1980, 1, 1, 0, 0, 0)
_STAMP = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:)")


def csv_bytes(
    head: Sequence[str],
    rows: Iterable[Row],
    *,
    delimiter: str = ",",
    decimal: str = ".",
    dates: str = "%Y-%m-%d",
) -> bytes:
    """Write a table as UTF-8 text with one line a row; a missing cell stays blank."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([_text(cell, decimal, dates) for cell in row])
    return out.getvalue().encode("utf-8")


def _text(cell: Cell, decimal: str, dates: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, date):
        return cell.strftime(dates)
    if isinstance(cell, float):
        return f"{cell:g}".replace(".", decimal)
    return str(cell)


def xlsx_bytes(sheets: Mapping[str, tuple[Sequence[str], Iterable[Row]]]) -> bytes:
    """Write sheets, each with a head and rows, as a workbook."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, (head, rows) in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(list(head))
        for row in rows:
            sheet.append(list(row))
    made = io.BytesIO()
    book.save(made)
    return without_clocks(made.getvalue())


def without_clocks(data: bytes) -> bytes:
    """Pack a workbook again: parts in one order, fixed dates, nothing compressed."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as packed:
        for name in sorted(source.namelist(), key=lambda n: (n != "[Content_Types].xml", n)):
            part = source.read(name)
            if name == "docProps/core.xml":
                part = _STAMP.sub(rb"\g<1>2000-01-01T00:00:00Z\g<3>", part)
            entry = zipfile.ZipInfo(name, date_time=_EPOCH)
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            packed.writestr(entry, part, compress_type=zipfile.ZIP_STORED)
    return out.getvalue()
