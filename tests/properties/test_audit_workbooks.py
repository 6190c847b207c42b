"""Every cell of a season's workbooks altered: the file, the sheet and the row are named.

The sheets' XML is edited in place, so that nothing but the one cell changes. Every cell is
altered one by one in a workbook that holds its row alone (a row's digest does not depend on
the rows around it, which is tested too), and column by column in the whole workbook.
"""

import functools
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import replace

import pytest
from support_audit import Season, audited

from wickstats.archive.manifest import compare, make_manifest, read_manifest, row_digests
from wickstats.demo.trials import TRIALS

CELL = re.compile(r'<c r="([A-Z]+)(\d+)"[^>]*?(?:/>|>.*?</c>)')
ROW = re.compile(r'<row r="(\d+)".*?</row>', re.DOTALL)


def altered(cell: str) -> str:
    """The same cell with another value."""
    if "<v>" in cell:
        return re.sub(r"<v>([^<]*)</v>", lambda m: f"<v>{float(m[1]) + 1:g}</v>", cell)
    if "<t>" in cell:
        return cell.replace("</t>", "x</t>")
    return re.sub(r"<c r=(\"\w+\").*", r'<c r=\1 t="n"><v>7</v></c>', cell)


class Book:
    """A workbook's parts, with sheets by name."""

    def __init__(self, data: bytes) -> None:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            self.parts = {name: packed.read(name) for name in packed.namelist()}
        listed = re.findall(r'<sheet [^>]*name="([^"]+)"', self.text("xl/workbook.xml"))
        self.sheets = {
            name: f"xl/worksheets/sheet{i}.xml" for i, name in enumerate(listed, start=1)
        }

    def text(self, part: str) -> str:
        return self.parts[part].decode("utf-8")

    def packed(self, part: str, text: str, leave_out: tuple[str, ...] = ()) -> bytes:
        """The workbook with one part changed; the sheets in ``leave_out`` without rows."""
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as packed:
            for name, data in self.parts.items():
                empty = ROW.sub("", data.decode()).encode() if name in leave_out else data
                packed.writestr(name, text.encode() if name == part else empty)
        return out.getvalue()


@pytest.fixture(params=TRIALS)
def season(request: pytest.FixtureRequest) -> Season:
    return audited(request.param)


@functools.cache
def books_of(season: Season) -> dict[str, Book]:
    return {path: Book(data) for path, data in season.files.items() if path.endswith(".xlsx")}


def sheets_of(season: Season) -> Iterator[tuple[str, Book, str, str]]:
    """Path, book, name of the sheet, its part."""
    for path, book in books_of(season).items():
        for name, part in book.sheets.items():
            yield path, book, name, part


class OneRow:
    """A workbook that holds the head and one row of a sheet."""

    def __init__(self, book: Book, name: str, part: str) -> None:
        text = book.text(part)
        self.rows = list(ROW.finditer(text))
        start, end = text.index("<sheetData>"), text.index("</sheetData>")
        self.before, self.after = (
            text[:start] + "<sheetData>" + self.rows[0].group(),
            text[end:],
        )
        self.name, self.part = name, part
        others = tuple(p for p in book.sheets.values() if p != part)
        self.book = Book(book.packed(part, text, others))

    def digest(self, row: str) -> str:
        """The digest of that row."""
        data = self.book.packed(self.part, self.before + row + self.after)
        return {r.sheet: r.digests for r in row_digests("one.xlsx", data)}[self.name][1]


def test_every_cell_by_itself_changes_its_row(season: Season) -> None:
    checked = 0
    for path, book, name, part in sheets_of(season):
        own = {r.sheet: r.digests for r in row_digests(path, season.files[path])}[name]
        one = OneRow(book, name, part)
        for row in one.rows[1:]:
            number = row.group(1)
            second = re.sub(rf'(r="[A-Z]*){number}"', r'\g<1>2"', row.group())
            before = own[int(number) - 1]
            assert one.digest(second) == before
            for cell in CELL.finditer(second):
                changed = altered(cell.group())
                whole = second[: cell.start()] + changed + second[cell.end() :]
                assert one.digest(whole) != before, (name, number, cell.group(1))
                checked += 1
    # the bench's records are csv files, altered cell by cell elsewhere
    assert checked > 1500 or not books_of(season)


def test_a_column_at_once_names_sheet_and_every_row(season: Season) -> None:
    for path, book, name, part in sheets_of(season):
        text = book.text(part)
        own = make_manifest({path: season.files[path]}, trial="x")
        letters = dict.fromkeys(cell.group(1) for cell in CELL.finditer(text))
        for letter in letters:
            hit: set[int] = set()

            def turn(found: re.Match[str], letter: str = letter, hit: set[int] = hit) -> str:
                if found.group(1) != letter:
                    return found.group()
                hit.add(int(found.group(2)))
                return altered(found.group())

            data = book.packed(part, CELL.sub(turn, text))
            (change,) = compare(own, {path: data})
            assert change.path == path
            assert set(change.rows) == {(name, row) for row in hit}


def test_one_cell_is_named_with_and_without_a_new_manifest(season: Season) -> None:
    for path, book, name, part in sheets_of(season):
        text = book.text(part)
        cells = list(CELL.finditer(text))
        for cell in (cells[0], cells[len(cells) // 2], cells[-1]):
            changed = text[: cell.start()] + altered(cell.group()) + text[cell.end() :]
            data = book.packed(part, changed)
            named = season.serious(path, data, new_manifest=False)
            assert f"{path}, sheet {name} row {cell.group(2)}" in named
            assert path in season.serious(path, data, new_manifest=True)


def test_what_no_cell_shows_is_still_another_file(season: Season) -> None:
    """A formula behind a value, a column's format, a cell's style: values are the same."""
    for path, book in books_of(season).items():
        part = next(iter(book.sheets.values()))
        text = book.text(part)
        formula = re.sub(r"(<c [^>]*>)<v>", r"\1<f>SUM(A1:A9)</f><v>", text, count=1)
        style = text.replace('s="1"', 's="0"', 1)
        for changed in {formula, style} - {text}:
            data = book.packed(part, changed)
            assert path in [
                p.split(",")[0] for p in season.serious(path, data, new_manifest=False)
            ]
            assert path in season.serious(path, data, new_manifest=True)


def test_rows_taken_out_doubled_and_moved_are_named(season: Season) -> None:
    for path, book, name, part in sheets_of(season):
        text = book.text(part)
        rows = list(ROW.finditer(text))
        last, before = rows[-1], rows[-2]
        number = int(last.group(1))
        out = text[: last.start()] + text[last.end() :]
        again = re.sub(rf'(r="[A-Z]*){number}"', rf'\g<1>{number + 1}"', last.group())
        doubled = text[: last.end()] + again + text[last.end() :]
        swapped = text.replace(
            before.group() + last.group(),
            re.sub(rf'(r="[A-Z]*){number}"', rf'\g<1>{number - 1}"', last.group())
            + re.sub(rf'(r="[A-Z]*){number - 1}"', rf'\g<1>{number}"', before.group()),
        )
        own = make_manifest({path: season.files[path]}, trial="x")
        for changed, rows_named in (
            (out, {number}),
            (doubled, {number + 1}),
            (swapped, {number - 1, number}),
        ):
            (change,) = compare(own, {path: book.packed(part, changed)})
            assert set(change.rows) == {(name, row) for row in rows_named}


def test_a_manifest_without_row_digests_still_names_the_file(season: Season) -> None:
    bare = replace(read_manifest(season.files["manifest.json"]), input_rows=())
    for path, data in season.files.items():
        if path.endswith(".xlsx"):
            changes = compare(bare, {**season.files, path: data + b"x"})
            (change,) = (c for c in changes if c.what == "changed")
            assert (change.path, change.rows) == (path, ())
            # every other input is there, but its rows are told nowhere
            others = {p for p in season.files if p.startswith("inputs/")} - {path}
            assert {c.path for c in changes if c.what == "misdescribed"} == others
