"""Rows of a prepared sheet in which nothing was filled in yet are no observations.

Only what was printed there stands in them (plot, plant, reservoir, run), no date and nothing
seen. They are told in one note, and not as rows left out. Leans on design.tables.
"""

import numpy as np

from wickstats.design.tables import Table
from wickstats.records.columns import Part
from wickstats.records.findings import Findings, rows_in_words

_PRINTED = frozenset({"plot", "plant", "reservoir", "run", "file", "row"})
# in these a row may stand without a date of its own; the day then is what is missing
_DAY = {"plants": "planted_on", "readings": "minutes"}


def drop_unfilled(part: Part, table: Table, out: Findings) -> None:
    """Leave out, in place, rows that hold nothing but what was printed.

    In the table of plants only where that is true of every row: a single plant without a
    day of planting is a gap that somebody should fill.
    """
    frame = part.frame
    if _DAY.get(table.name, "date") not in frame or not len(frame):
        return
    asked = [c for c in frame.columns if c not in _PRINTED]
    blank = frame[asked].isna().all(axis=1).to_numpy()
    printed = frame[[c for c in frame.columns if c in _PRINTED - {"file", "row"}]]
    blank &= printed.notna().any(axis=1).to_numpy()
    if not blank.any() or (table.name == "plants" and not blank.all()):
        return
    rows = frame["row"].to_numpy()[blank]
    out.note(
        str(frame["file"].iloc[0]),
        "not filled in yet",
        found=f"{len(rows)} rows with nothing but what was printed there"
        if len(rows) > 3
        else f"nothing but what was printed there in {rows_in_words(rows)}",
        expected="rows are filled in as the season goes on",
        fix="nothing needs to be done: they are no observations",
        row=int(rows.min()),
    )
    part.frame = frame[~blank].reset_index(drop=True)
    part.repeated = {n: np.asarray(t)[~blank] for n, t in part.repeated.items()}
