"""A layout's file, or a table of plots, becomes a checked layout.

Leans on rows, checks, record and pandas.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import pandas as pd

from wickstats.core.errors import LayoutError, Problem
from wickstats.design.defaults import is_pilot, main_effects_only
from wickstats.design.tiers import tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.bench import fill_columns
from wickstats.layout.checks import check_rows, needed_columns
from wickstats.layout.drawn import verify_drawn
from wickstats.layout.memory import LAYOUT_TABLE, memory_name
from wickstats.layout.plots import Layout, Plot
from wickstats.layout.record import LayoutRecord, read_record, record_bytes, record_name
from wickstats.layout.rows import (
    Report,
    Row,
    missing_columns,
    rows_of_bytes,
    rows_of_frame,
)
from wickstats.layout.table import layout_csv

TEXT_COLUMNS = ("replicate", "square", "subplot", "row_strip", "column_strip", "coil", "run")


def read_layout(trial: Trial, frame: pd.DataFrame | None = None) -> Layout:
    """Read the layout's file, or check a table of plots given in its place.

    A layout that was drawn here and has its record is drawn again from the record's
    seed and must be the same. Without a record (or with a frame) seed, scheme and hash
    are None.

    Raises
    ------
    LayoutError
        Holding every problem with its row and column.
    """
    factors = tuple(factor.name for factor in trial.factors)
    name = trial.design.layout
    out = Report(name)
    record: LayoutRecord | None = None
    if frame is None:
        data = _bytes(trial)
        rows = rows_of_bytes(data, factors, out)
        record = read_record(trial) if trial.design.drawn == "here" else None
        sources = {name: data}
    else:
        rows = rows_of_frame(frame, factors, out)
        sources = {}
    if record is not None:
        sources[record_name(name)] = record_bytes(trial) or b""
    fill_columns(trial, rows)
    layout = _build(trial, rows, factors, out)
    if layout is not None and not out.problems and record is not None:
        verify_drawn(trial, layout, rows, record, out)
    if out.problems or layout is None:
        raise LayoutError(out.sorted())
    return Layout(
        type=layout.type,
        factors=factors,
        plots=layout.plots,
        drawn=_drawn(trial),
        applied_to=tiers_of(trial),
        main_effects=main_effects_only(trial),
        seed=record.seed if record else None,
        scheme=record.scheme if record else None,
        hash=record.hash if record else None,
        file=name,
        source_bytes=sources
        or {memory_name(trial, LAYOUT_TABLE): layout_csv(layout).encode("utf-8")},
    )


def _drawn(trial: Trial) -> Literal["here", "elsewhere", "not at random"]:
    """In a pilot there is nothing that chance could have given out."""
    drawn = trial.design.drawn
    return "elsewhere" if is_pilot(trial) and drawn == "not at random" else drawn


def _bytes(trial: Trial) -> bytes:
    path = Path(trial.folder) / trial.design.layout
    try:
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError, PermissionError):
        found = f"no file {trial.design.layout} that can be read in the trial's folder"
        fix = "put the table of the existing layout there"
        if trial.design.drawn == "here":
            fix = "lay out the plots with the command randomize"
        if path.exists():
            kind = "a folder" if path.is_dir() else "a file that you may not read"
            found, fix = f"{trial.design.layout}, which is {kind}", "name the layout's table"
        raise LayoutError(
            [
                Problem(
                    file=trial.design.layout,
                    code="missing file",
                    found=found,
                    expected="the layout: one row a plot",
                    fix=fix,
                )
            ]
        ) from None


def _build(
    trial: Trial, rows: list[Row], factors: tuple[str, ...], out: Report
) -> Layout | None:
    if not rows:
        return None
    if missing_columns(rows[0].cells, needed_columns(trial), out):
        return None
    check_rows(trial, rows, out)
    if out.problems:
        return None
    whole = _whole_plot_names(rows)
    plots = tuple(_plot(trial, row, factors, whole) for row in rows)
    return Layout(
        type=trial.design.type, factors=factors, plots=plots, drawn=trial.design.drawn
    )


def _whole_plot_names(rows: list[Row]) -> Callable[[Row], str | None]:
    """Whole plots named anew in each block get the block's name before their own."""
    blocks: dict[str, set[str]] = {}
    for row in rows:
        blocks.setdefault(row.get("whole_plot"), set()).add(row.get("block"))
    again = any(len(found) > 1 for name, found in blocks.items() if name)
    coils = all(row.get("coil") == row.get("whole_plot") for row in rows)  # in every run

    def name(row: Row) -> str | None:
        own = row.get("whole_plot") or None
        return f"{row.get('block')}/{own}" if own and again and not coils else own

    return name


def _plot(
    trial: Trial,
    row: Row,
    factors: tuple[str, ...],
    whole: Callable[[Row], str | None],
) -> Plot:
    plants = _whole(row.get("plants")) or trial.design.plants_per_plot
    return Plot(
        plot=row.get("plot"),
        levels={factor: row.get(factor) for factor in factors},
        block=row.get("block") or None,
        row=_whole(row.get("row")),
        column=_whole(row.get("column")),
        whole_plot=whole(row),
        reservoir=row.get("reservoir") or None,
        plants=plants,
        **{name: row.get(name) or None for name in TEXT_COLUMNS},
    )


def _whole(text: str) -> int | None:
    return int(float(text)) if text else None
