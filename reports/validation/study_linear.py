"""The first line of many seasons of one cell, through the package's batch engine.

Leans on the package's batch engine and study_seasons.
"""

import numpy as np
from study_seasons import Seasons

from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.results import Judged
from wickstats.models.batch.strata import judge_patterns, judge_units


def judge(seasons: Seasons, contrasts: np.ndarray, *, pooled: bool = False) -> Judged:
    """Judge (k, t) contrasts in every season, on the units that it has.

    ``pooled`` takes plot shares with one pooled variance, as a usual route does.
    """
    layout = lay_batch(
        seasons.cells,
        int(seasons.cells.max()) + 1,
        blocks=seasons.blocks,
        contrasts=contrasts,
    )

    def one(left: BatchLayout, which: np.ndarray, units: np.ndarray) -> Judged:
        at = np.ix_(which, units)
        values, plants = seasons.values[at], seasons.plants[at]
        if left.geometry.df == 0:
            return Judged.empty(which.size, len(contrasts), 0)
        if seasons.kind == "count":
            return judge_counts(left, values)
        if seasons.kind == "share" and not pooled:
            return judge_shares(left, values, plants)
        if seasons.kind == "share":
            return judge_units(left, values / plants)
        return judge_units(left, values, plants=plants if seasons.kind == "size" else None)

    return judge_patterns(layout, seasons.present, one)
