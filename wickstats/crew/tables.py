"""Which sheets a trial needs, their columns as ``check`` reads them, their prepared rows.

The heads, units and files are those that the trial file names under ``records``; where it
names none, or keeps a table crosswise, the table's own. Leans on the registry of columns.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath

from wickstats.crew.ground import Ground
from wickstats.crew.rounds import rounds_of
from wickstats.design.defaults import plan_of
from wickstats.design.tables import RECORD_TABLES, Column, Table
from wickstats.design.trial import TableSource, Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.columns import quantities

YES_NO = ("yes", "no")
SPARE, EVENT_ROWS = 20, 60
MOST_ROWS = 20_000
_PRINTED = ("plot", "plant", "reservoir", "run")
_BAD_IN_SHEET_NAMES = set("[]:*?/\\")
# columns that a sheet asks where nothing else is said; the quantities come before observer
_ASKED = {
    "plants": "plot plant planted_on start_cm stock crew note",
    "visits": "date plot plant status condition cause observer note",
    "lifetimes": "plot plant last_alive_d first_dead_d cause note",
    "measurements": "date plot plant observer note",
    "water": "date plot reservoir applied_l level_before level_after meter_start_l meter_end_l "
    "leaked_l source note",
    "picks": "date plot pick mass_kg marketable_kg count status note",
    "events": "date plot reservoir what plant new_plant until note",
    "weather": "date tmin_c tmax_c rh_min rh_max wind_m_s sun_h rain_mm",
    "readings": "run plot minutes height_mm reached_top volume_ml head_mm vented temperature_c "
    "note",
}
_COUNTED = "date plot alive_n dead_n not_found_n observer note"
_NEED = {
    "visits": ("survival",),
    "plants": ("survival", "growth"),
    "measurements": ("growth", "measurement", "score"),
    "water": ("water used", "yield per liter"),
    "picks": ("yield", "count", "yield per liter"),
    "readings": ("rise", "flow"),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """A column of a sheet: ours, and the head under which ``check`` finds it."""

    column: Column
    head: str
    unit: str | None = None  # as it is written on the sheet
    times: float | None = None
    locked: bool = False  # prepared, and not to be changed

    @property
    def words(self) -> tuple[str, ...]:
        """The only words that a cell may hold, where there are such."""
        return self.column.words or (YES_NO if self.column.kind == "boolean" else ())


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """One table to fill in.

    ``rows`` are the prepared cells of one round (a visit, a pick, ...) by the locked columns;
    ``blocks`` the block of each. ``file`` and ``sheet`` name the workbook; ``plain`` the text
    file that the trial file names, where it names one.
    """

    table: Table
    asked: tuple[Asked, ...]
    rows: tuple[tuple[str, ...], ...]
    blocks: tuple[str | None, ...]
    rounds: int
    file: str
    sheet: str | None
    source: TableSource
    plain: str | None = None
    crosswise: bool = False
    wanted_rounds: int = 0

    @property
    def name(self) -> str:
        """The table's name."""
        return self.table.name

    @property
    def locked(self) -> tuple[Asked, ...]:
        """Columns whose cells are prepared."""
        return tuple(a for a in self.asked if a.locked)

    @property
    def spare(self) -> int:
        """Blank rows under the prepared ones."""
        return SPARE if self.rows else EVENT_ROWS

    def told(self, row: Sequence[str]) -> dict[str, str]:
        """Head -> prepared cell, of one of ``rows``."""
        return dict(zip((a.head for a in self.locked), row, strict=True))


def sheets_of(
    trial: Trial, layout: Layout, ground: Ground, visits: int | None = None
) -> tuple[FieldSheet, ...]:
    """The sheets of a trial, in the order of the tables."""
    out: list[FieldSheet] = []
    taken: set[str] = {s.file for held in trial.records.values() for s in held}
    for name in _ASKED:
        if not _needed(trial, layout, name):
            continue
        table = RECORD_TABLES[name]
        source, crosswise = _source(trial, name)
        if name == "water" and _tells_who_shares(trial, layout, source):
            source = source.model_copy(update={"file": "water-apart.xlsx", "sheet": name})
        asked = _asked(trial, layout, table, source)
        rows, blocks = _rows(layout, ground, table, asked)
        wanted = rounds_of(trial, name, visits)
        rounds = max(min(wanted, MOST_ROWS // max(len(rows), 1)), 1)
        in_book = source.file.lower().endswith((".xlsx", ".xlsm"))
        file = source.file if in_book else _own_file(name, taken)
        out.append(
            FieldSheet(
                table=table,
                asked=asked,
                rows=rows,
                blocks=blocks,
                rounds=rounds,
                file=file,
                sheet=source.sheet if in_book else name,
                source=source,
                plain=None if in_book else source.file,
                crosswise=crosswise,
                wanted_rounds=wanted,
            )
        )
    return tuple(out)


def has_plants(layout: Layout) -> bool:
    """Whether every plot's number of plants is known."""
    return all(p.plants for p in layout.plots)


def plants_of(plot: Plot) -> list[str]:
    """Numbers of a plot's plants."""
    return [str(n) for n in range(1, (plot.plants or 0) + 1)]


def _needed(trial: Trial, layout: Layout, name: str) -> bool:
    if name == "plants" and not has_plants(layout):
        return False
    bench = trial.trial.place == "bench"
    if name in trial.records:
        return True
    if name == "visits" and "lifetimes" in trial.records:
        return False  # they tell of survival in its stead
    if name == "events":
        return not bench
    if name == "water" and trial.water is not None and not bench:
        return True
    return any(r.kind in _NEED.get(name, ()) for r in trial.responses)


def _source(trial: Trial, name: str) -> tuple[TableSource, bool]:
    held = trial.records.get(name, ())  # type: ignore[call-overload]
    if not held:
        return TableSource(file=f"{name}.csv"), False
    first: TableSource = held[0]
    crosswise = first.wide is not None
    sheet = first.sheet or name
    unusable = len(sheet) > 31 or bool(set(sheet) & _BAD_IN_SHEET_NAMES)
    if crosswise or unusable or not _plain_path(first.file):
        return TableSource(file=f"{name}-rows.csv"), crosswise
    return first, False


def _tells_who_shares(trial: Trial, layout: Layout, source: TableSource) -> bool:
    """Whether a water log in one workbook with others would tell scorers what is hidden.

    Plots on one reservoir are treated alike; the log names them, or leaves them out.
    """
    others = (s.file for name, held in trial.records.items() if name != "water" for s in held)
    hidden = plan_of(trial).blind and bool(layout.shared_reservoirs)
    return hidden and source.file in set(others)


def _plain_path(path: str) -> bool:
    parts = PurePosixPath(path).parts
    bad = any(p.startswith(".") or ":" in p or "\\" in p or "\0" in p for p in parts)
    return bool(parts) and not path.startswith("/") and not bad


def _own_file(name: str, taken: set[str]) -> str:
    file = f"{name}.xlsx"
    while file in taken:
        file = f"field-{file}"
    return file


def _asked(
    trial: Trial, layout: Layout, table: Table, source: TableSource
) -> tuple[Asked, ...]:
    names = _ASKED[table.name].split()
    if table.name == "visits" and not has_plants(layout):
        names = _COUNTED.split()
    if not any(p.reservoir for p in layout.plots):
        names = [n for n in names if n != "reservoir"]
    if not has_plants(layout) and table.name != "lifetimes":
        names = [n for n in names if n not in ("plant", "new_plant")]
    names = [n for name in names for n in _levels(trial, name)]
    known = [table.column(n) for n in names]
    own = [
        Column(n, "number", "a quantity", measured_in=unit)
        for n, unit in quantities(table, trial).items()
    ]
    columns = [c for c in known if c is not None]
    at = next((i for i, c in enumerate(columns) if c.name in ("observer", "status", "note")), 0)
    if table.name in ("picks", "measurements"):
        columns[at:at] = own
    here = {c.name for c in columns}
    columns += [  # a column that the trial file names must be there
        table.column(name) or Column(name, "number", "a quantity")
        for name in source.columns
        if name not in here
    ]
    asked = (_one(c, table, source) for c in columns)
    if has_plants(layout):
        return tuple(asked)
    # whoever writes days lived also numbers the plants
    return tuple(replace(a, locked=False) if a.column.name == "plant" else a for a in asked)


def _levels(trial: Trial, name: str) -> Sequence[str]:
    if name not in ("level_before", "level_after"):
        return (name,)
    per_cm = trial.water is not None and trial.water.reservoirs.liters_per_cm
    return (f"{name}_cm" if per_cm else f"{name}_l",)


def _one(column: Column, table: Table, source: TableSource) -> Asked:
    theirs = source.columns.get(column.name)
    locked = column.name in _PRINTED and table.name not in ("events", "weather")
    if theirs is None:
        return Asked(column, column.name, column.measured_in, locked=locked)
    unit = theirs.measured_in or column.measured_in
    return Asked(column, theirs.head, unit, theirs.times, locked)


def _rows(
    layout: Layout, ground: Ground, table: Table, asked: Sequence[Asked]
) -> tuple[tuple[tuple[str, ...], ...], tuple[str | None, ...]]:
    names = [a.column.name for a in asked if a.locked]
    rows: list[tuple[str, ...]] = []
    blocks: list[str | None] = []
    if not names:
        return (), ()
    shared, told = layout.shared_reservoirs, set()
    for plot in ground.plots:
        cells = {"plot": plot.plot, "run": plot.run or "", "plant": "", "reservoir": ""}
        if table.name == "water" and plot.reservoir in shared:
            if plot.reservoir in told:
                continue
            told.add(plot.reservoir)
            cells |= {"plot": "", "reservoir": plot.reservoir or ""}
        each = plants_of(plot) if "plant" in names else [""]
        for plant in each:
            cells["plant"] = plant
            rows.append(tuple(cells[n] for n in names))
            blocks.append(plot.block or plot.run)
    return tuple(rows), tuple(blocks)


def with_controls(sheet: FieldSheet, trial: Trial, ground: Ground) -> FieldSheet:
    """Cups without a cord stand at the end of every run of the bench sheet."""
    cups = trial.design.evaporation_controls
    if sheet.name != "readings" or not cups:
        return sheet
    names = [a.column.name for a in sheet.locked]
    rows, blocks = list(sheet.rows), list(sheet.blocks)
    for run in dict.fromkeys(p.run or "" for p in ground.plots):
        for k in range(1, cups + 1):
            cells = {"plot": f"control {k}", "run": run}
            rows.append(tuple(cells.get(n, "") for n in names))
            blocks.append(run or None)
    return replace(sheet, rows=tuple(rows), blocks=tuple(blocks))
