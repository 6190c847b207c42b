"""Workbooks (xlsx): cells quickly, and what a spreadsheet hides.

The cells come from calamine. What it does not tell (formula cells without a stored
value, error cells, merged cells, hidden rows) is read from the sheet's own XML. Every part is
unpacked under a common limit before anything else looks at the file, whatever sizes
the archive claims. Leans on python-calamine.
"""

import io
import posixpath
import re
import struct
import zipfile
import zlib
from datetime import date, datetime
from typing import Any

from wickstats.design.trial import TableSource
from wickstats.records.findings import Findings, rows_in_words
from wickstats.records.sheets import (
    MOST_BYTES,
    OLD_WORKBOOK,
    Sheet,
    column_letters,
    misplaced_heads,
    sheet_from_lines,
)

_FORMULA = re.compile(
    rb'<(?:\w+:)?c\b[^>]*?\br="([A-Z]{1,3})(\d+)"[^>]*>\s*<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)'
    rb"\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_ERROR = re.compile(
    rb'<(?:\w+:)?c\b([^>]*?\bt="e"[^>]*)>(?:<(?:\w+:)?f\b[^>]*>[^<]*</(?:\w+:)?f>)?<(?:\w+:)?v>([^<]*)<'
)
_REFERENCE = re.compile(rb'\br="([A-Z]{1,3})(\d+)"')
_MERGED = re.compile(
    rb'<(?:\w+:)?mergeCell\b[^>]*?\bref="([A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7})"'
)
_AREA = re.compile(r"([A-Z]+)(\d+):([A-Z]+)(\d+)")
_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*\bhidden=[^>]*)>")
_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')


class _TooLargeError(Exception):
    pass


def sheet_from_workbook(
    file: str, data: bytes, source: TableSource, wanted: frozenset[str], out: Findings
) -> Sheet | None:
    """Read one sheet; None where it cannot be read (the problem is noted)."""
    from python_calamine import CalamineError, CalamineWorkbook

    name = f"{file}, sheet {source.sheet}" if source.sheet else file
    try:
        parts = unpack(data)
    except _TooLargeError:
        out.problem(
            name,
            "too large",
            found=f"a workbook that unpacks to more than {MOST_BYTES // 1024**2} MB",
            expected="less",
            fix="save only the sheets of this trial, or save the sheet as CSV",
        )
        return None
    except (zipfile.BadZipFile, zlib.error, struct.error, OSError, ValueError):
        _unreadable(name, data, out)
        return None
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        chosen = _choose(name, source, book.sheet_names, out)
        if chosen is None:
            return None
        lines: list[list[Any]] = book.get_sheet_by_name(chosen).to_python(skip_empty_area=False)
    except (CalamineError, ValueError, OSError):
        _unreadable(name, data, out)
        return None
    xml = _sheet_xml(parts, chosen)
    header_row = source.header_row or 1
    if misplaced_heads(name, lines, header_row, wanted, out):
        return None
    if xml is not None:
        _tell_hidden(name, xml, lines, header_row, out)
    return sheet_from_lines(name, lines, header_row, out)


def _unreadable(name: str, data: bytes, out: Findings) -> None:
    found, fix = "a damaged workbook", "open it in a spreadsheet and save it again as .xlsx"
    if not data:
        found, fix = "an empty file", "save the workbook again"
    elif data[:4] == OLD_WORKBOOK:
        found = "a workbook with a password, or of the old kind (.xls), under this name"
        fix += ", without a password"
    elif data[:2] != b"PK" and b"\0" not in data[:4096]:
        found = "text under the name of a workbook"
        fix = "name it .csv, here and in the trial file, or save it as .xlsx"
    elif data[:2] != b"PK":
        found = "a file of another kind under the name of a workbook"
    out.problem(name, "unreadable workbook", found=found, expected="an xlsx workbook", fix=fix)


def _choose(name: str, source: TableSource, sheets: list[str], out: Findings) -> str | None:
    if source.sheet is None and len(sheets) == 1:
        return sheets[0]
    if source.sheet in sheets:
        return source.sheet
    known = ", ".join(sheets)
    if source.sheet is None:
        out.problem(
            name,
            "which sheet",
            found=f"{len(sheets)} sheets: {known}",
            expected="the name of one",
            fix="add `sheet:` to this table in the trial file",
        )
    else:
        out.problem(
            name,
            "missing sheet",
            found=f"the sheets {known}",
            expected=f"a sheet named {source.sheet}",
            fix="correct `sheet:` in the trial file",
        )
    return None


def unpack(data: bytes) -> dict[str, bytes]:
    """Unpack all parts, counting real bytes up to the limit; XML but the texts is returned.

    Raises
    ------
    zipfile.BadZipFile, zlib.error, struct.error, ValueError
        For a damaged archive.
    """
    left = MOST_BYTES
    parts: dict[str, bytes] = {}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        infos = archive.infolist()
    if len(infos) > 10_000:
        raise _TooLargeError
    for info in infos:
        if info.flag_bits & 1 or info.compress_type not in (0, 8):
            raise ValueError("encrypted or packed in an unknown way")
        sizes = struct.unpack_from("<HH", data, info.header_offset + 26)
        start = info.header_offset + 30 + sum(sizes)
        packed = data[start : start + info.compress_size]
        if info.compress_type == 8:
            packed = zlib.decompressobj(-15).decompress(packed, left + 1)
        left -= len(packed)
        if left < 0:
            raise _TooLargeError
        if info.filename.endswith((".xml", ".rels")) and "sharedStrings" not in info.filename:
            parts[info.filename] = packed
    return parts


def _sheet_xml(parts: dict[str, bytes], sheet: str) -> bytes | None:
    """Find a sheet's part: workbook.xml names it, its relations say where it is."""
    import xml.etree.ElementTree as ET

    book, relations = parts.get("xl/workbook.xml"), parts.get("xl/_rels/workbook.xml.rels")
    if book is None or relations is None or b"<!DOCTYPE" in book + relations:
        return None
    try:
        sheets = ET.fromstring(book).iter()  # noqa: S314  (no DOCTYPE, size is limited)
        wanted = next(
            (
                next(v for k, v in node.attrib.items() if k.endswith("}id"))
                for node in sheets
                if node.tag.endswith("}sheet") and node.get("name") == sheet
            ),
            None,
        )
        links = ET.fromstring(relations).iter()  # noqa: S314
        target = next((n.get("Target") for n in links if n.get("Id") == wanted), None)
    except (ET.ParseError, StopIteration):
        return None
    if target is None:
        return None
    path = target.lstrip("/") if target.startswith("/") else posixpath.join("xl", target)
    return parts.get(posixpath.normpath(path))


def _tell_hidden(
    name: str, xml: bytes, lines: list[list[Any]], header_row: int, out: Findings
) -> None:
    if b'hidden="' in xml:
        hidden = [
            int(m.group(1))
            for attributes in _ROW.findall(xml)
            if _HIDDEN.search(attributes)
            and (m := re.search(rb'\br="(\d+)"', attributes))
            and header_row < int(m.group(1)) <= len(lines)
        ]
        if hidden:
            out.query(
                name,
                "hidden rows",
                found=f"{rows_in_words(hidden)} hidden in the sheet",
                expected="every row in sight",
                fix="they are read like all others; delete them if they are not meant",
                row=min(hidden),
            )
    _tell_merged(name, xml, lines, header_row, out)
    _tell_formulas(name, xml, lines, header_row, out)


def _tell_merged(
    name: str, xml: bytes, lines: list[list[Any]], header_row: int, out: Findings
) -> None:
    """Merged cells: all but the first are blank, which matters below and in the heads."""
    for match in _MERGED.findall(xml):
        area = match.decode()
        left, first, right, last = _AREA.fullmatch(area).groups()  # type: ignore[union-attr]
        top, bottom = int(first), min(int(last), len(lines))
        if bottom < header_row or (top == bottom and left == right):
            continue
        heads = top <= header_row
        out.query(
            name,
            "merged heads" if heads else "merged cells",
            found=f"the cells {area} merged into one",
            expected="one head above every column" if heads else "one value in every cell",
            fix="only the first cell holds the head; split them and write a head above every "
            "column, in one row"
            if heads
            else "only the first cell holds the value, the others are read as blank; "
            "split them and fill in every cell",
            row=top,
            column=left if heads else _head(lines, header_row, left),
        )
        for place in range(_number(left), min(_number(right), 1000) + 1):
            head = _head(lines, header_row, column_letters(place))
            for row in range(max(top, header_row + 1), bottom + 1):
                if (row, place) != (top, _number(left)):
                    out.merged[name, row, head] = area


def _tell_formulas(
    name: str, xml: bytes, lines: list[list[Any]], header_row: int, out: Findings
) -> None:
    if b"<f" in xml or b":f>" in xml or b":f " in xml:
        for letters, number in _FORMULA.findall(xml):
            out.query(
                name,
                "formula without a value",
                found="a formula whose result is not stored in the file",
                expected="a value",
                fix="the cell is read as blank; open the workbook in a spreadsheet and save it",
                row=int(number),
                column=_head(lines, header_row, letters.decode()),
            )
    if b't="e"' in xml:
        for attributes, text in _ERROR.findall(xml):
            place = _REFERENCE.search(attributes)
            if place is None:
                continue
            row, column = int(place.group(2)) - 1, _number(place.group(1).decode())
            if row < len(lines) and column < len(lines[row]):
                # calamine gives a blank; as text it is reported where it matters
                lines[row][column] = text.decode("utf-8", "replace")


def _number(letters: str) -> int:
    value = 0
    for letter in letters:
        value = 26 * value + ord(letter) - 64
    return value - 1


def _head(lines: list[list[Any]], header_row: int, letters: str) -> str:
    place = _number(letters)
    heads = lines[header_row - 1] if len(lines) >= header_row else []
    if place >= len(heads) or heads[place] in ("", None):
        return letters
    head = heads[place]
    return head.strftime("%Y-%m-%d") if isinstance(head, datetime | date) else str(head)
