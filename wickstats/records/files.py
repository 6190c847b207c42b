"""From the trial's list of files, or frames in memory, to typed rows of every table.

Leans on the readers of this package.
"""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from wickstats.core.results import InputFile
from wickstats.core.units import unit_of_name
from wickstats.design.places import place_of_file
from wickstats.design.tables import RECORD_TABLES, Table
from wickstats.design.trial import TableSource
from wickstats.layout.memory import memory_name
from wickstats.records.cells import nearest
from wickstats.records.columns import Reading, quantities, read_columns
from wickstats.records.dates import ISO, DateStyle, style_from_example
from wickstats.records.ground import Ground
from wickstats.records.hints import of_missing_column
from wickstats.records.identifiers import join_layout, layout_columns
from wickstats.records.memory import (
    csv_bytes,
    in_order_of_tables,
    text_columns,
)
from wickstats.records.readings import control_names
from wickstats.records.sheets import MOST_BYTES, Sheet, sheet_from_csv, sheet_from_memory
from wickstats.records.unfilled import drop_unfilled
from wickstats.records.workbook import sheet_from_workbook

_WORKBOOKS = (".xlsx", ".xlsm")


@dataclass(slots=True)
class Sources:
    """Bytes and numbers of rows of everything that was read, and the order of reading."""

    data: dict[str, bytes] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)

    def inputs(self) -> tuple[InputFile, ...]:
        """One line a file."""
        return tuple(
            InputFile(name, hashlib.sha256(data).hexdigest(), self.rows.get(name, 0))
            for name, data in self.data.items()
        )


def read_tables(
    ground: Ground, frames: Mapping[str, pd.DataFrame] | None, sources: Sources
) -> dict[str, pd.DataFrame]:
    """Type and join every table; problems are noted in ``ground.out``."""
    tables: dict[str, pd.DataFrame] = {}
    for name, parts in _sheets(ground, frames, sources):
        table = RECORD_TABLES[name]
        read = [
            _typed(sheet, table, source, ground) for sheet, source in parts if sheet is not None
        ]
        kept = [frame for frame in read if frame is not None]
        if not kept:
            continue
        if len(kept) == len(parts):
            first = next(sheet.file for sheet, _ in parts if sheet is not None)
            _need_quantities(table, kept, first, ground)
        tables[name] = kept[0] if len(kept) == 1 else _joined(kept)
    return tables


def _joined(parts: list[pd.DataFrame]) -> pd.DataFrame:
    """Rows of several files; a column that one of them lacks is blank there."""
    names = list(dict.fromkeys(c for part in parts for c in part.columns))
    dtypes = {c: part[c].dtype for part in parts for c in part.columns}
    return pd.DataFrame(
        {
            c: pd.concat(
                [
                    part[c]
                    if c in part
                    else pd.Series([None] * len(part), index=part.index, dtype=dtypes[c])
                    for part in parts
                    if len(part)
                ],
                ignore_index=True,
            )
            if any(len(p) for p in parts)
            else parts[0].get(c, pd.Series(dtype=dtypes[c]))
            for c in names
        }
    )


_Parts = list[tuple[Sheet | None, TableSource]]


def _sheets(
    ground: Ground, frames: Mapping[str, pd.DataFrame] | None, sources: Sources
) -> Iterator[tuple[str, _Parts]]:
    if frames is not None:
        yield from _in_memory(ground, frames, sources)
        return
    for name, files in ground.trial.records.items():
        parts: _Parts = [
            (_from_file(source, RECORD_TABLES[name], ground, sources), source)
            for source in files
        ]
        yield name, parts


def _in_memory(
    ground: Ground, frames: Mapping[str, pd.DataFrame], sources: Sources
) -> Iterator[tuple[str, _Parts]]:
    for name in in_order_of_tables(frames):
        file = f"{name} (in memory)"
        if name not in RECORD_TABLES:
            near = nearest(name, list(RECORD_TABLES))
            ground.out.problem(
                file,
                "unknown table",
                found=f"a table {name}",
                expected="one of " + ", ".join(RECORD_TABLES),
                fix=f"did you mean {near}?" if near else "rename or remove it",
            )
            continue
        sources.order.append(file)
        heads, columns = text_columns(frames[name])
        archived = memory_name(ground.trial, name)
        sources.data[archived] = csv_bytes(heads, columns)
        sources.rows[archived] = len(frames[name])
        yield name, [(sheet_from_memory(name, heads, columns), TableSource(file=file))]


def _from_file(
    source: TableSource, table: Table, ground: Ground, sources: Sources
) -> Sheet | None:
    data = sources.data.get(source.file) or _bytes(source.file, table.name, ground)
    if data is None:
        return None
    sources.data[source.file] = data
    wanted = frozenset(
        (
            *table.column_names,
            *(c.head for c in source.columns.values()),
            *quantities(table, ground.trial),
            *layout_columns(ground.layout, ()),
        )
    )
    if source.file.lower().endswith(_WORKBOOKS):
        sheet = sheet_from_workbook(source.file, data, source, wanted, ground.out)
    else:
        sheet = sheet_from_csv(source.file, data, source, wanted, ground.out)
    sources.order.append(
        f"{source.file}, sheet {source.sheet}" if source.sheet else source.file
    )
    if sheet is not None:
        sources.rows[source.file] = sources.rows.get(source.file, 0) + len(sheet.rows)
    return sheet


def _bytes(name: str, table: str, ground: Ground) -> bytes | None:
    """The file's bytes, or a problem at the place where the trial file names it."""
    folder = Path(ground.trial.folder).resolve()
    path = (folder / name).resolve()
    try:
        if not path.is_relative_to(folder):
            code, found, fix = (
                "outside the folder",
                f"{name}, a path that leaves the trial's folder",
                "copy the file beside the trial file",
            )
        elif path.stat().st_size > MOST_BYTES and not path.is_dir():
            code, found, fix = (
                "too large",
                f"{name}, a file of more than {MOST_BYTES // 1024**2} MB",
                "split it into several files and list them",
            )
        else:
            return path.read_bytes()
    except FileNotFoundError:
        taken = {s.file for sources in ground.trial.records.values() for s in sources}
        taken |= {ground.trial.file, ground.trial.design.layout}
        files = sorted(p.name for p in path.parent.glob("*") if p.is_file())
        beside = [
            n for n in files if (path.parent / n).relative_to(folder).as_posix() not in taken
        ]
        near = nearest(path.name, beside)
        code, found = "missing file", f"no file {name} in the trial's folder"
        fix = f"did you mean {near}?" if near else "put the file there, or correct its name"
    except IsADirectoryError:
        code, found = "missing file", f"{name}, which is a folder"
        fix = "name a file inside it, as in folder/file.csv"
    except PermissionError:
        code, found = "unreadable file", f"{name}, which you may not read"
        fix = "change the file's permissions"
    except OSError as error:
        reason = (error.strerror or "an error of the system").lower()
        code, found = "unreadable file", f"{name}, which cannot be read: {reason}"
        fix = "close it in other programs, and check its permissions"
    place = place_of_file(ground.trial, table, name)
    ground.out.problem(
        ground.trial.file,
        code,
        found=found,
        expected=f"the table {table} as a file beside the trial file",
        fix=fix,
        line=place.line if place else None,
        column=place.column if place else None,
    )
    return None


def _typed(
    sheet: Sheet, table: Table, source: TableSource, ground: Ground
) -> pd.DataFrame | None:
    reading = Reading(
        table=table,
        trial=ground.trial,
        source=source,
        style=_style(source, sheet.file, ground),
        out=ground.out,
        layout_columns=layout_columns(ground.layout, table.column_names),
    )
    part = read_columns(sheet, reading)
    if part is None:
        return None
    drop_unfilled(part, table, ground.out)
    cups = control_names(part.frame, ground) if table.name == "readings" else []
    return join_layout(part, ground.layout, ground.out, beside=cups)


def _style(source: TableSource, file: str, ground: Ground) -> DateStyle:
    try:
        return style_from_example(source.dates)
    except ValueError as error:
        ground.out.problem(
            file,
            "dates",
            found=f"the example {source.dates}",
            expected="an example that shows day, month and year, such as 31/12/2025",
            fix=str(error),
        )
        return ISO


def _need_quantities(
    table: Table, parts: list[pd.DataFrame], file: str, ground: Ground
) -> None:
    """Every quantity that a response looks at is in one of the table's files."""
    homes = {
        "measurements": ("growth", "measurement", "score"),
        "picks": ("yield", "count"),
    }
    for response in ground.trial.responses:
        column = response.column
        if column is None or response.kind not in homes.get(table.name, ()):
            continue
        if any(column in part for part in parts):
            continue
        heads = [c for c in parts[0].columns if c not in ("file", "row")]
        free = [h for h in heads if table.column(h) is None]
        ours = table.column(column)
        unit = ours.measured_in if ours else response.measured_in or unit_of_name(column)
        ground.out.problem(
            file,
            "missing column",
            found="the columns " + ", ".join(heads),
            expected=f"a column {column}, of the response {response.name}",
            fix=of_missing_column(column, free, unit),
            row=1,
            column=column,
        )
