"""A layout's file, or a table of plots, becomes a checked layout."""

import pandas as pd

from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout


def read_layout(trial: Trial, frame: pd.DataFrame | None = None) -> Layout:
    """Read the layout's file, or check a table of plots given in its place.

    Raises
    ------
    LayoutError
        Holding every problem with its row and column.
    """
    raise NotImplementedError
