"""A season's files, or frames in memory, become one checked Season.

Leans on the other modules of this package, each of which checks one table.
"""

from collections.abc import Mapping

import pandas as pd

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.records.season import Season


def read_records(
    trial: Trial, layout: Layout, tables: Mapping[str, pd.DataFrame] | None = None
) -> Season:
    """Read, check and join the season's tables.

    Parameters
    ----------
    trial
        A checked trial; its ``records`` name the files, in its folder.
    layout
        The plots; every row must belong to one of them.
    tables
        Table name to frame, in place of all files. The same checks apply.

    Raises
    ------
    RecordsError
        Holding every problem with its file, row and column.
    """
    raise NotImplementedError
