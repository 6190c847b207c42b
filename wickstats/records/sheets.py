"""One sheet of cells, however it was stored: CSV text, a workbook, a frame in memory.

Cells stay what they were (text, numbers, dates, None where blank); the row numbers
count from 1 with the header as a spreadsheet does. Leans on numpy and pandas.
"""

import csv
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wickstats.design.trial import TableSource
from wickstats.records.findings import Findings, rows_in_words

DELIMITERS = (",", ";", "\t", "|")
LOOK_AHEAD = 30  # rows in which the heads are looked for where they are not in their place
LONGEST_CELL = 131_072
_ZIPPED = b"PK\x03\x04"  # the first bytes of every xlsx file
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"  # of every xls file, and of an xlsx with a password
MOST_BYTES = 200 * 1024 * 1024


@dataclass(slots=True)
class Sheet:
    """Heads, one array of cells a head, and the row number of every line of cells."""

    file: str
    heads: list[Any]
    columns: list[np.ndarray]
    rows: np.ndarray
    header_row: int = 1
    delimiter: str | None = None  # of delimited text

    def find(self, head: str) -> int | None:
        """Place of the column with that head."""
        for i, known in enumerate(self.heads):
            if isinstance(known, str) and known == head:
                return i
        return None


def sheet_from_memory(name: str, heads: list[str], columns: list[np.ndarray]) -> Sheet:
    """Take columns of text from memory; the first line of cells is row 2."""
    count = len(columns[0]) if columns else 0
    return Sheet(f"{name} (in memory)", list(heads), columns, np.arange(2, count + 2))


def sheet_from_csv(
    file: str, data: bytes, source: TableSource, wanted: frozenset[str], out: Findings
) -> Sheet | None:
    """Read delimited text; None where it cannot be read (the problem is noted)."""
    text = _decode(file, data, out)
    if text is None:
        return None
    first_line = text[: text.find("\n")] if "\n" in text else text
    named = first_line.strip().lower()
    says_own = named.startswith("sep=") and len(named) == 5
    delimiter = source.delimiter or (first_line.strip()[4] if says_own else None)
    header_row = source.header_row or (2 if says_own else 1)
    if delimiter in ("tab", "\\t"):
        delimiter = "\t"
    if delimiter is None:
        delimiter = _detect(text, header_row, wanted)
    if len(delimiter) != 1:
        out.problem(
            file,
            "delimiter",
            found=f"the delimiter {delimiter!r}",
            expected='one character, or "tab"',
            fix="leave `delimiter` out to have it found",
        )
        return None
    lines = _lines(file, text, delimiter, out)
    if lines is None:
        return None
    if misplaced_heads(file, lines, header_row, wanted, out):
        return None
    sheet = sheet_from_lines(file, lines, header_row, out)
    return None if sheet is None else replace(sheet, delimiter=delimiter)


def _lines(file: str, text: str, delimiter: str, out: Findings) -> list[list[str]] | None:
    lines: list[list[str]] = []
    # the limit is the interpreter's own and other libraries move it: set here, put back after
    before = csv.field_size_limit(LONGEST_CELL)
    try:
        lines.extend(
            csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        )
    except csv.Error as error:
        found, fix = (
            f"text that does not follow its own quotes ({error})",
            "save the file again",
        )
        if "unexpected end" in str(error):
            found = "a quotation mark that opens in this row and is never closed"
            fix = "close it, or take it out; or save the file again"
        if "expected after" in str(error):
            found = "text behind a closing quotation mark"
            fix = "double a quotation mark that is meant as such; or save the file again"
        if "field larger" in str(error):
            found = f"a cell of more than {LONGEST_CELL} characters"
        out.problem(
            file,
            "broken text",
            found=found,
            expected="every quotation mark closed, and doubled inside a cell",
            fix=f"{fix} as CSV from a spreadsheet",
            row=len(lines) + 1,
        )
        return None
    finally:
        csv.field_size_limit(before)
    return lines


def _decode(file: str, data: bytes, out: Findings) -> str | None:
    if data[:4] == _ZIPPED:
        out.problem(
            file,
            "not text",
            found="a workbook (or another packed file) under this name",
            expected="text in UTF-8",
            fix='name it .xlsx, here and in the trial file, or save the sheet as "CSV UTF-8"',
        )
        return None
    if data[:4] == OLD_WORKBOOK:
        out.problem(
            file,
            "not text",
            found="an old workbook (.xls), or one with a password, under this name",
            expected="text in UTF-8",
            fix='open it in a spreadsheet and save the sheet as "CSV UTF-8"',
        )
        return None
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    if encoding != "utf-16" and b"\0" in data:
        out.problem(
            file,
            "not text",
            found="zero bytes, which no text holds",
            expected="a text file with one line a row",
            fix='save the sheet as "CSV UTF-8", or name it .xlsx if it is a workbook',
            row=data[: data.index(b"\0")].count(b"\n") + 1,
        )
        return None
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        out.problem(
            file,
            "not UTF-8",
            found=f"a byte that is not UTF-8 text (0x{data[error.start]:02X})",
            expected="text in UTF-8",
            fix='save the file as "CSV UTF-8"',
            row=line,
        )
        return None
    return text


def _detect(text: str, header_row: int, wanted: frozenset[str]) -> str:
    """The delimiter under which most heads are known, then the one with most cells."""
    lines = text.splitlines()
    # a title above the heads shows no delimiter: the heads below it do
    near = [*lines[header_row - 1 : header_row], *lines[:LOOK_AHEAD]]

    def score(delimiter: str, line: str) -> tuple[int, int]:
        try:
            cells = next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            return 0, 0
        return sum(c.strip() in wanted for c in cells), len(cells)

    for line in near:
        best = max(DELIMITERS, key=lambda d, line=line: score(d, line))  # type: ignore[misc]
        if score(best, line)[0] > 1:
            return best
    return max(DELIMITERS, key=lambda d: score(d, near[0] if near else ""))


def sheet_from_lines(
    file: str, lines: Sequence[Sequence[Any]], header_row: int, out: Findings
) -> Sheet | None:
    """Cut the header off, square the rest, leave out lines without any cell."""
    if len(lines) < header_row or not any(_filled(c) for c in lines[header_row - 1]):
        out.problem(
            file,
            "no header",
            found="no column heads" if lines else "an empty file",
            expected=f"column heads in row {header_row}",
            fix="write the column names into the first row, or set `header_row`",
            row=header_row,
        )
        return None
    heads = [h.strip() if isinstance(h, str) else h for h in lines[header_row - 1]]
    body = lines[header_row:]
    width = len(heads)
    lengths = np.fromiter(map(len, body), dtype=np.int64, count=len(body))
    if body and (lengths != width).any():
        body = _square(file, body, lengths, heads, header_row, out)
    cells = [np.empty(len(body), dtype=object) for _ in range(width)]
    for array, values in zip(cells, zip(*body, strict=True), strict=False):
        array[:] = values
    rows = np.arange(header_row + 1, header_row + 1 + len(body))
    return _without_blank_lines(Sheet(file, heads, cells, rows, header_row))


def misplaced_heads(
    file: str,
    lines: Sequence[Sequence[Any]],
    header_row: int,
    wanted: frozenset[str],
    out: Findings,
) -> bool:
    """Tell heads that stand in another row than they should, or in two rows."""
    known = [
        {c.strip() for c in line if isinstance(c, str)} & wanted for line in lines[:LOOK_AHEAD]
    ]
    here = known[header_row - 1] if header_row <= len(known) else set()
    best = max(range(len(known)), key=lambda i: (len(known[i]), -i), default=0)
    if known and len(known[best]) > 1 and len(known[best]) >= 2 * len(here):
        above = [shown for c in lines[0] if _filled(c) and (shown := str(c).strip())]
        title = f", below {above[0][:40]!r} in row 1" if best and above else ""
        out.problem(
            file,
            "heads in another row",
            found=f"the column heads in row {best + 1}{title}",
            expected=f"column heads in row {header_row}",
            fix=f"write `header_row: {best + 1}` for this table in the trial file"
            + (", or delete the rows above the heads" if best >= header_row else ""),
            row=best + 1,
        )
        return True
    below = known[header_row] - here if header_row < len(known) else set()
    words = lines[header_row] if header_row < len(lines) else ()
    if here and below and all(isinstance(c, str) for c in words if _filled(c)):
        out.problem(
            file,
            "heads in two rows",
            found=f"heads in row {header_row}, and {', '.join(sorted(below))} in the row below",
            expected="one row of heads, each in a cell of its own",
            fix="split merged cells, write every head into one row, and delete the other",
            row=header_row + 1,
        )
        return True
    return False


def _filled(cell: Any) -> bool:
    return cell is not None and (not isinstance(cell, str) or bool(cell.strip()))


def _square(
    file: str,
    body: Sequence[Sequence[Any]],
    lengths: np.ndarray,
    heads: Sequence[Any],
    header_row: int,
    out: Findings,
) -> list[list[Any]]:
    squared = list(body)
    width = len(heads)
    short: list[int] = []
    # one line longer than all others: a decimal comma or a comma in a note cut a cell in two,
    # and every cell behind it stands under the wrong head, even if the last one is blank
    usual = int(np.median(lengths[lengths > 0])) if (lengths > 0).any() else width
    for i in np.flatnonzero(lengths != width).tolist():
        line = list(body[i])
        some = any(_filled(c) for c in line)
        surplus = len(line) > max(width, usual) and some
        if surplus or any(_filled(c) for c in line[width:]):
            out.problem(
                file,
                "too many cells",
                found=f"{len(line)} cells",
                expected=f"{width}, one for each column head",
                fix="put quotation marks around text that holds the delimiter",
                row=header_row + 1 + i,
            )
        if some and any(_filled(h) for h in heads[len(line) :]):
            short.append(header_row + 1 + i)
        squared[i] = line[:width] + [""] * (width - len(line))
    if short:
        out.query(
            file,
            "rows cut short",
            found=f"fewer cells than heads in {rows_in_words(short)}",
            expected=f"{width} cells, one for each column head",
            fix="nothing to do if nothing was recorded there: the missing cells are blank",
            row=short[0],
        )
    return [list(line) for line in squared]


def _without_blank_lines(sheet: Sheet) -> Sheet:
    """Lines without any cell say nothing and are not rows of the table."""
    if not len(sheet.rows):
        return sheet
    suspects = np.ones(len(sheet.rows), dtype=bool)
    for column in sheet.columns:
        blank = (column == "") | (column == None)  # noqa: E711  (element by element)
        suspects &= blank
        if not suspects.any():
            return sheet
    keep = ~suspects
    return Sheet(
        sheet.file,
        sheet.heads,
        [c[keep] for c in sheet.columns],
        sheet.rows[keep],
        sheet.header_row,
    )


def repeated_heads(sheet: Sheet) -> list[str]:
    """Heads that stand more than once."""
    counted = Counter(h for h in sheet.heads if isinstance(h, str) and h)
    return [head for head, n in counted.items() if n > 1]


def column_letters(place: int) -> str:
    """A column's letters as a spreadsheet shows them: 0 is A, 26 is AA."""
    text, rest = "", place + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        text = chr(65 + digit) + text
    return text
