"""The archived season as it was read: trial, plots, and every table's heads and cells.

Only the bytes in the results are looked at, so that what is told of them can be told again
by anybody who has the folder. Leans on records, layout, design and core.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wickstats.core.errors import TrialError
from wickstats.core.results import Results
from wickstats.design.read import parse_trial
from wickstats.design.tables import LAYOUT, RECORD_TABLES, Column, Table
from wickstats.design.trial import TableSource, Trial
from wickstats.layout.memory import LAYOUT_TABLE, memory_name
from wickstats.layout.rows import Report, rows_of_bytes
from wickstats.records.columns import quantities
from wickstats.records.findings import Findings
from wickstats.records.sheets import Sheet, sheet_from_csv
from wickstats.records.workbook import sheet_from_workbook

_WORKBOOKS = (".xlsx", ".xlsm")


@dataclass(frozen=True, slots=True, eq=False)
class ArchivedTable:
    """One file of a record table (or the layout), its cells as they stand in it.

    ``columns``: what each head that we know stands for; ``quantities``: heads that are the
    user's own quantities, with their units.
    """

    table: Table
    path: str  # among the inputs
    source: TableSource
    sheet: Sheet
    columns: Mapping[str, Column]
    quantities: Mapping[str, str | None]

    def cells(self, name: str) -> np.ndarray | None:
        """The cells of one of our columns, or None where the file has no such column."""
        for head, column in self.columns.items():
            place = self.sheet.find(head) if column.name == name else None
            if place is not None:
                return self.sheet.columns[place]
        return None


@dataclass(frozen=True, slots=True, eq=False)
class Archived:
    """What the archived inputs hold; ``plots`` are rows of the layout, cells as text."""

    trial: Trial | None
    plots: tuple[Mapping[str, str], ...] = ()
    tables: tuple[ArchivedTable, ...] = ()
    layout: str | None = None  # the layout's file among the inputs


def archived_of(results: Results) -> Archived:
    """Read the archived inputs once more; without a trial file that reads, nothing is known."""
    sources = results.source_bytes
    trial = _trial(results)
    if trial is None:
        return Archived(None)
    names = (trial.design.layout, memory_name(trial, LAYOUT_TABLE))
    layout = next((name for name in names if name in sources), None)
    tables = [_layout_table(trial, layout, sources[layout])] if layout else []
    given = {str(name): files for name, files in trial.records.items()}
    for name, table in RECORD_TABLES.items():
        tables += [_record_table(trial, table, s, sources) for s in given.get(name, ())]
        own = memory_name(trial, name)
        if own in sources:
            tables.append(_record_table(trial, table, TableSource(file=own), sources))
    factors = tuple(factor.name for factor in trial.factors)
    rows = rows_of_bytes(sources[layout], factors, Report(layout)) if layout else []
    return Archived(
        trial=trial,
        plots=tuple(row.cells for row in rows),
        tables=tuple(t for t in tables if t is not None),
        layout=layout,
    )


def _trial(results: Results) -> Trial | None:
    if not results.inputs:
        return None
    name = results.inputs[0].path  # the trial file stands first
    data = results.source_bytes.get(name)
    if data is None or not name.lower().endswith((".yaml", ".yml")):
        return None
    try:
        return parse_trial(data, file=name, folder=Path.cwd())
    except TrialError:
        return None


def _layout_table(trial: Trial, name: str, data: bytes) -> ArchivedTable | None:
    factors = {f.name: Column(f.name, "text", "") for f in trial.factors}
    known = {column.name: column for column in LAYOUT.columns} | factors
    source = TableSource(file=name)
    sheet = sheet_from_csv(name, data, source, frozenset(known), Findings())
    if sheet is None:
        return None
    columns = {h: known[h] for h in sheet.heads if h in known}
    return ArchivedTable(LAYOUT, name, source, sheet, columns, {})


def _record_table(
    trial: Trial, table: Table, source: TableSource, sources: Mapping[str, bytes]
) -> ArchivedTable | None:
    data = sources.get(source.file)
    if data is None:
        return None
    own = quantities(table, trial)
    given = {c.head: name for name, c in source.columns.items()}
    wanted = frozenset((*table.column_names, *given, *own))
    read = sheet_from_workbook if source.file.lower().endswith(_WORKBOOKS) else sheet_from_csv
    sheet = read(source.file, data, source, wanted, Findings())
    if sheet is None:
        return None
    columns: dict[str, Column] = {}
    measured: dict[str, str | None] = {}
    for head in sheet.heads:
        name = given.get(head, head) if isinstance(head, str) else None
        column = None if name is None else table.column(name)
        if column is not None and (head in given or column.name not in source.columns):
            columns[head] = column
        elif name in own or head in given:
            measured[head] = own.get(name or "")
    return ArchivedTable(table, source.file, source, sheet, columns, measured)
