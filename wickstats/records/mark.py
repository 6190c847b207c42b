"""Rows that say of themselves that they are simulated.

``rehearse`` marks every row whose table has a column for notes, so that the mark goes where
the rows go. Leans on the collector of findings.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from wickstats.core.words import say
from wickstats.design.tables import RECORD_TABLES
from wickstats.records.ground import Ground


@dataclass(frozen=True, slots=True)
class MarkedRows:
    """Rows with the mark, rows that could carry it, and the first file with a marked row."""

    marked: int = 0
    rows: int = 0
    file: str | None = None
    row: int | None = None


def marked_rows(tables: Mapping[str, pd.DataFrame]) -> MarkedRows:
    """Count the rows that say they are simulated."""
    mark = say("simulated mark")
    marked = rows = 0
    first: tuple[str | None, int | None] = (None, None)
    for name, frame in tables.items():
        if "note" not in RECORD_TABLES[name].column_names:
            continue  # the table of weather has no notes
        rows += len(frame)
        if "note" not in frame:
            continue
        held = frame["note"].astype(str).str.startswith(mark).to_numpy()
        if held.any() and first[0] is None:
            where = frame[held].iloc[0]
            first = str(where["file"]), int(where["row"])
        marked += int(held.sum())
    return MarkedRows(marked, rows, *first)


def ask_mark(tables: Mapping[str, pd.DataFrame], ground: Ground) -> None:
    """Trial file and rows agree on whether the season is simulated."""
    found = marked_rows(tables)
    said = ground.trial.trial.simulated is not None
    if found.marked and not said:
        ground.out.query(
            found.file or ground.trial.file,
            "simulated rows",
            found=say("simulated rows without mark", marked=found.marked),
            expected="rows of a real season, or the trial file that rehearse wrote",
            fix="delete the simulated rows; while they are here the report is marked SIMULATED",
            row=found.row,
            column="note",
        )
    elif said and found.marked < found.rows:
        plain = found.rows - found.marked
        ground.out.query(
            ground.trial.file,
            "simulated trial",
            found=say("simulated mark without rows", plain=plain, rows=found.rows),
            expected="the tables as rehearse wrote them",
            fix="for a real season take simulated out of the trial file, and all simulated "
            "rows out of the tables; until then the report is marked SIMULATED",
        )
