"""A layout as a table: its columns, and its text as CSV. Standard library only."""

import csv
import io

from wickstats.design.tables import LAYOUT
from wickstats.layout.plots import Layout, Plot

ALWAYS = ("plot", "block", "row", "column")
OPTIONAL = tuple(name for name in LAYOUT.column_names if name not in ALWAYS)


def cell(plot: Plot, column: str) -> str:
    """One cell's text; blank where nothing is known."""
    value = getattr(plot, column)
    return "" if value is None else str(value)


def columns_of(layout: Layout) -> tuple[str, ...]:
    """plot, block, row, column, the factors, then what else any plot has."""
    used = tuple(name for name in OPTIONAL if any(cell(p, name) for p in layout.plots))
    return (*ALWAYS, *layout.factors, *used)


def layout_csv(layout: Layout) -> str:
    """The table as CSV with a header, one row a plot."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    columns = columns_of(layout)
    writer.writerow(columns)
    for plot in layout.plots:
        writer.writerow([plot.levels.get(c) or cell(plot, c) for c in columns])
    return text.getvalue()
