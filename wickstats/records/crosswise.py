"""Crosswise sheets: days as heads, one quantity in the cells.

Leans on the readers of this package.
"""

import numpy as np

from wickstats.design.trial import WideSource
from wickstats.records.cells import as_days, as_text, shown
from wickstats.records.dates import DateStyle
from wickstats.records.findings import Findings
from wickstats.records.sheets import Sheet


def melt(sheet: Sheet, wide: WideSource, style: DateStyle, out: Findings) -> Sheet | None:
    """A crosswise sheet, dates as heads, becomes one row a cell; blank cells no row."""
    heads = np.empty(len(sheet.heads), dtype=object)
    heads[:] = sheet.heads
    days = as_days(heads, style).values
    dated = np.flatnonzero(~np.isnat(days))
    if not len(dated):
        out.problem(
            sheet.file,
            "no dates as heads",
            found="the heads " + ", ".join(shown(h) for h in sheet.heads[:12]),
            expected=f"dates written like {style.example} as heads",
            fix="correct the heads or `dates`, or leave `wide` out",
            row=sheet.header_row,
        )
        return None
    kept = [i for i in range(len(sheet.heads)) if i not in set(dated.tolist())]
    filled = [as_text(sheet.columns[i]).values != None for i in dated]  # noqa: E711
    columns = [np.concatenate([sheet.columns[i][f] for f in filled]) for i in kept]
    columns.append(
        np.concatenate([np.full(f.sum(), days[i]) for i, f in zip(dated, filled, strict=True)])
    )
    columns.append(
        np.concatenate([sheet.columns[i][f] for i, f in zip(dated, filled, strict=True)])
    )
    rows = np.concatenate([sheet.rows[f] for f in filled])
    names = [*(sheet.heads[i] for i in kept), wide.heads_are, wide.cells_are]
    return Sheet(sheet.file, names, columns, rows, sheet.header_row)
