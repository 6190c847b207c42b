"""The first line for counts in many seasons on the same units.

The package's batch engine, pattern by pattern of the units that are left; a test holds its
numbers equal to the package's own, season by season. Leans on study_linear and the
package's models.
"""

import numpy as np
from study_linear import Judged, from_batch, judge_by
from study_seasons import Seasons

from wickstats.models.batch.counts import judge_counts as judge_batch
from wickstats.models.batch.layout import lay_batch
from wickstats.models.linear.geometry import Geometry


def judge_counts(seasons: Seasons, contrasts: np.ndarray) -> Judged:
    """Judge (k, t) contrasts of log totals in every season."""

    def one(which: np.ndarray, units: np.ndarray, layout: Geometry) -> Judged:
        asked = lay_batch(layout.cells, layout.n_cells, contrasts=contrasts, geometry=layout)
        return from_batch(judge_batch(asked, seasons.values[np.ix_(which, units)]))

    return judge_by(seasons, contrasts, one)
