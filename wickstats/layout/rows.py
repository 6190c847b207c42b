"""A layout's table as text: from a CSV file or a frame to rows of named cells.

Byte-order marks, semicolons and tabs are understood. Leans on pandas for frames only.
"""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from wickstats.core.errors import Problem
from wickstats.design.findings import listing, nearest, quote
from wickstats.design.source import forbidden_in
from wickstats.design.tables import LAYOUT

MAX_BYTES = 50_000_000
DELIMITERS = (",", ";", "\t")


@dataclass(slots=True)
class Row:
    """One row: its number as a spreadsheet counts, and its cells by column."""

    number: int
    cells: dict[str, str]

    def get(self, column: str) -> str:
        """The cell's text, blank where there is none."""
        return self.cells.get(column, "")


class Report:
    """Collects the problems of one table."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def add(
        self,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        """Keep a problem with its place."""
        self.problems.append(
            Problem(self.file, code, found, expected, fix, row=row, column=column)
        )

    def sorted(self) -> tuple[Problem, ...]:
        """Problems in the order of the rows."""
        return tuple(sorted(dict.fromkeys(self.problems), key=lambda p: p.row or 0))


def rows_of_bytes(data: bytes, factors: tuple[str, ...], out: Report) -> list[Row]:
    """Rows of a CSV file; problems of the file itself go to ``out``."""
    if len(data) > MAX_BYTES:
        out.add(
            "file too large",
            found=f"{len(data)} bytes",
            expected=f"at most {MAX_BYTES}",
            fix="write one row a plot and nothing else",
        )
        return []
    if data[:4] == b"PK\x03\x04":
        out.add(
            "not a text table",
            found="a workbook",
            expected="a table saved as CSV",
            fix="save the sheet as CSV and name that file under design.layout",
        )
        return []
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        out.add(
            "not UTF-8",
            found=f"the byte 0x{data[error.start]:02X}",
            expected="text saved as UTF-8",
            fix="save the table again as CSV UTF-8",
            row=data[: error.start].count(b"\n") + 1,
        )
        return []
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    except csv.Error as error:
        out.add(
            "not a text table",
            found=str(error),
            expected="a table saved as CSV",
            fix="open the file in a spreadsheet and save it as CSV again",
        )
        return []
    return _named(lines, factors, out)


def rows_of_frame(frame: pd.DataFrame, factors: tuple[str, ...], out: Report) -> list[Row]:
    """Rows of a frame, numbered as if it had been written to a file."""
    lines = [[str(head) for head in frame.columns]]
    columns = [[_plain(value) for value in frame[head].tolist()] for head in frame.columns]
    lines.extend(list(row) for row in zip(*columns, strict=True))
    return _named(lines, factors, out)


def _plain(value: object) -> str:
    if value is None or pd.isna(value):  # type: ignore[call-overload]
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _named(lines: list[list[str]], factors: tuple[str, ...], out: Report) -> list[Row]:
    if not lines or not any(cell.strip() for cell in lines[0]):
        out.add(
            "empty table",
            found="no header",
            expected="a header in row 1: " + listing(["plot", "block", *factors]),
            fix="write the names of the columns into the first row",
            row=1,
        )
        return []
    known = {*LAYOUT.column_names, *factors}
    here, *below = ({cell.strip() for cell in line} & known for line in lines[:10])
    best = max(range(len(below)), key=lambda i: len(below[i]), default=0)
    if below and len(below[best]) > 1 and len(below[best]) >= 2 * len(here):
        out.add(
            "heads in another row",
            found=f"the column heads in row {best + 2}",
            expected="the column heads in row 1",
            fix="delete the rows above the heads",
            row=best + 2,
        )
        return []
    heads = _heads([head.strip() for head in lines[0]], factors, out)
    if any(problem.code == "duplicate column" for problem in out.problems):
        return []  # which of the two is meant cannot be known
    rows = []
    for number, line in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in line):
            continue
        if any(cell.strip() for cell in line[len(heads) :]):
            out.add(
                "too many cells",
                found=f"{len(line)} cells under {len(heads)} heads",
                expected="one cell a column",
                fix="put quotes around texts that hold the delimiter",
                row=number,
            )
        pairs = zip(heads, line, strict=False)
        rows.append(Row(number, {head: cell.strip() for head, cell in pairs if head}))
    if not rows and not out.problems:
        out.add(
            "empty table",
            found="a header without rows",
            expected="one row a plot",
            fix="write the plots under the header",
            row=1,
        )
    _invisible(rows, out)
    return rows


def _heads(heads: list[str], factors: tuple[str, ...], out: Report) -> list[str]:
    known = (*LAYOUT.column_names, *factors)
    for head in dict.fromkeys(h for h in heads if h):
        if head in known and heads.count(head) > 1:
            out.add(
                "duplicate column",
                found=f"{heads.count(head)} columns {quote(head)}",
                expected="each column once",
                fix="take one of them out, or rename it",
                row=1,
                column=head,
            )
    absent = [name for name in known if name not in heads]
    for head in heads:
        near = _meant(head, absent, 0.85) if head and head not in known else None
        # a misspelt column would be silently taken for one that is of no interest
        if near and near not in factors and near not in ("plot", "block"):
            out.add(
                "unknown column",
                found=quote(head),
                expected=f"one of: {listing(known)}",
                fix=f"write {near}; or give the column quite another name",
                row=1,
                column=head,
            )
    return heads


def _meant(head: str, absent: list[str], cutoff: float) -> str | None:
    """The column of ours that a head misspells; one that it abbreviates comes first."""
    near = nearest(head, absent, cutoff=cutoff)
    return _begun(head, absent) or near if near else None


def _begun(head: str, absent: list[str]) -> str | None:
    """The shortest column that begins as the head does, or that the head begins with."""
    plain = head.casefold().replace(" ", "_").strip("_.")
    alike = [n for n in absent if n.startswith(plain) or plain.startswith(f"{n}_")]
    return min(alike, key=len, default=None) if len(plain) > 2 else None


def unused_columns(
    layout_file: bytes, factors: tuple[str, ...]
) -> list[tuple[str, str | None]]:
    """Heads of a layout's table that nothing reads, each with the nearest of ours."""
    text = layout_file.decode("utf-8-sig", "replace")
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    heads = [h.strip() for h in next(csv.reader(io.StringIO(text), delimiter=delimiter), [])]
    known = (*LAYOUT.column_names, *factors)
    absent = [name for name in known if name not in heads]
    unused = [h for h in dict.fromkeys(heads) if h and h not in known]
    return [(h, _begun(h, absent) or nearest(h, absent, cutoff=0.7)) for h in unused]


def missing_columns(heads: Iterable[str], needed: Iterable[str], out: Report) -> bool:
    """Keep a problem for each column that must be there; True where any is missing."""
    present = list(heads)
    absent = [name for name in needed if name not in present]
    known = set(LAYOUT.column_names)
    for name in absent:
        near = nearest(name, [head for head in present if head not in known])
        out.add(
            "missing column",
            found=f"no column {quote(name)}" + (f", but {quote(near)}" if near else ""),
            expected=f"a column {quote(name)}",
            fix=f"rename {quote(near)}" if near else "add the column",
            row=1,
        )
    return bool(absent)


def _invisible(rows: list[Row], out: Report) -> None:
    for row in rows:
        for head, cell in row.cells.items():
            sign = forbidden_in(cell)
            if sign:
                out.add(
                    "control character",
                    found=f"the invisible character {sign}",
                    expected="visible text only",
                    fix="type the cell again",
                    row=row.number,
                    column=head,
                )
