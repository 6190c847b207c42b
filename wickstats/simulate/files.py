"""A simulated season's tables as files, written the way that the trial file says.

A table that has one file in the trial is written as that file is read: its sheet, heads,
units, multiples, delimiter, decimal mark, dates and row of heads. Tables that the trial
names no file for, spreads over several or keeps crosswise become plain CSV. Leans on
``sheets``, ``tables``, core.units and the registry of columns.
"""

import hashlib
import re
from collections.abc import Mapping
from datetime import date

from wickstats.core.units import conversion, unit_of_name
from wickstats.design.kinds import TableName
from wickstats.design.tables import RECORD_TABLES
from wickstats.design.trial import ColumnSource, TableSource, Trial
from wickstats.simulate.sheets import Cell, Row, csv_bytes, xlsx_bytes
from wickstats.simulate.tables import CrewTable

Sources = dict[TableName, tuple[TableSource, ...]]
Book = dict[str, tuple[list[str], list[Row]]]
_ISO = "%Y-%m-%d"


def season_files(
    trial: Trial, tables: Mapping[str, CrewTable], kept: Mapping[str, bytes] | None = None
) -> tuple[dict[str, bytes], Sources]:
    """Files of the tables, name -> bytes, and the trial's ``records`` for them.

    ``kept``: files of the trial's own weather, taken as they are in place of that table.
    """
    files: dict[str, bytes] = {}
    books: dict[str, Book] = {}
    sources: Sources = {}
    taken = {s.file for held in trial.records.values() for s in held} | {trial.design.layout}
    for table in RECORD_TABLES:
        if table == "weather" and kept:
            sources["weather"] = trial.records["weather"]
            files.update(kept)
            continue
        if table not in tables:
            continue
        name: TableName = table  # type: ignore[assignment]
        source = _source(trial, name, taken)
        sources[name] = (source,)
        heads, rows = _in_their_words(trial, table, tables[table], source)
        titles: list[Row] = [("SIMULATED",)] * ((source.header_row or 1) - 1)
        lines: list[Row] = [*titles, heads, *rows]
        sheet = ([str(cell) for cell in lines[0]], lines[1:])
        if source.file.lower().endswith(".xlsx"):
            books.setdefault(source.file, {})[source.sheet or table] = sheet
        else:
            files[source.file] = _csv(source, *sheet)
    files.update({name: xlsx_bytes(book) for name, book in books.items()})
    return files, sources


def seal_of(files: Mapping[str, bytes]) -> str:
    """SHA-256 over names and contents of a season's layout and tables."""
    lines = [f"{n}:{hashlib.sha256(data).hexdigest()}\n" for n, data in sorted(files.items())]
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def _source(trial: Trial, name: TableName, taken: set[str]) -> TableSource:
    held = trial.records.get(name, ())
    if len(held) == 1 and held[0].wide is None:
        return held[0]
    plain = f"{name}.csv"
    while plain in taken:
        plain = f"simulated-{plain}"
    return TableSource(file=plain)


def _csv(source: TableSource, head: list[str], rows: list[Row]) -> bytes:
    decimal = source.decimal or "."
    delimiter = source.delimiter or (";" if decimal == "," else ",")
    if delimiter in ("tab", "\\t"):
        delimiter = "\t"
    return csv_bytes(head, rows, delimiter=delimiter, decimal=decimal)


def _in_their_words(
    trial: Trial, table: str, made: CrewTable, source: TableSource
) -> tuple[tuple[str, ...], list[Row]]:
    """Heads and cells as the file has them."""
    heads = [*made.heads]
    # a column that the trial file names must be there, blank if need be
    heads += [name for name in source.columns if name not in heads]
    their = [source.columns[h].head if h in source.columns else h for h in heads]
    style = None if source.dates is None else style_of(source.dates)
    in_csv = not source.file.lower().endswith(".xlsx")
    convert = {k: _factor(trial, table, h, source.columns.get(h)) for k, h in enumerate(heads)}
    rows: list[Row] = []
    for row in made.rows:
        cells: list[Cell] = [*row, *([None] * (len(heads) - len(row)))]
        rows.append(
            tuple(_cell(c, convert[k], style, in_csv=in_csv) for k, c in enumerate(cells))
        )
    return tuple(their), rows


def _cell(
    cell: Cell, way: tuple[float, float] | None, style: str | None, *, in_csv: bool
) -> Cell:
    if isinstance(cell, date):
        return cell.strftime(style or _ISO) if style or in_csv else cell
    if way is not None and isinstance(cell, int | float):
        return float(f"{(cell - way[1]) / way[0]:.6g}")
    return cell


def style_of(example: str) -> str:
    """The format of dates that an example such as 31/12/2025 shows."""
    parts = re.findall(r"\d+|\D+", example.strip())
    signs = {"31": "%d", "12": "%m"}
    return "".join(
        signs.get(p, "%Y" if len(p) == 4 else "%y") if p.isdigit() else p.replace("%", "%%")
        for p in parts
    )


def _factor(
    trial: Trial, table: str, column: str, source: ColumnSource | None
) -> tuple[float, float] | None:
    """Slope and offset by which the file's numbers become ours."""
    if source is None or (source.measured_in is None and source.times is None):
        return None
    slope, offset = 1.0, 0.0
    if source.measured_in is not None:
        ours = _our_unit(trial, table, column) or source.measured_in
        way = conversion(source.measured_in, ours)
        offset = float(way.apply(0.0))
        slope = float(way.apply(1.0)) - offset
    times = source.times or 1.0
    return slope * times, offset * times


def _our_unit(trial: Trial, table: str, column: str) -> str | None:
    known = RECORD_TABLES[table].column(column)
    if known is not None:
        return known.measured_in
    told = next((r.measured_in for r in trial.responses if r.column == column), None)
    return told or unit_of_name(column)
