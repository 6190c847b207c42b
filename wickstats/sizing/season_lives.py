"""Lives of simulated seasons, visit by visit: times lived, and the log-rank test.

A plant found dead at a visit died, on average, half way from the visit before (as the
analysis spreads it); one alive at the last visit that counts lived to it. Log-rank scores by
plots, stratified by block, are tested for one treatment term. Leans on models.batch and
``season_strata``.
"""

import numpy as np
from numpy.typing import NDArray

from wickstats.models.batch.dispersion import judge_scores
from wickstats.models.batch.error_strata import StrataLayout, judge_error_strata
from wickstats.models.batch.layout import BatchLayout
from wickstats.models.batch.lives import score_seasons
from wickstats.sizing.season_limits import Lived

Array = NDArray[np.float64]


def times_lived(ended: Array, visits: tuple[int, ...], horizon: float) -> Lived:
    """Times to a horizon that is the day of a visit.

    Parameters
    ----------
    ended
        (S, n, V + 1) plants found dead at each visit, and alive at the last.
    visits
        Days of the V visits, increasing.
    """
    days = np.array(visits, dtype=float)
    inside = days <= horizon
    middles = 0.5 * (np.concatenate([[0.0], days[:-1]]) + days)
    died = ended[:, :, :-1][:, :, inside]
    alive = ended.sum(axis=2) - died.sum(axis=2)
    counts = np.concatenate([died, alive[:, :, None]], axis=2)
    return Lived(counts, np.append(middles[inside], horizon), float(horizon))


def log_rank_p(
    layout: BatchLayout | StrataLayout, ended: Array, blocks: NDArray[np.int64] | None
) -> Array:
    """(S,) p of the layout's joint test on log-rank scores; NaN where a season has none.

    Parameters
    ----------
    ended
        (S, n, V + 1) as above.
    blocks
        (n,) codes, or None.
    """
    deaths, plants = ended[:, :, :-1], ended.sum(axis=2)
    found = score_seasons(deaths, plants, blocks)
    if isinstance(layout, StrataLayout):
        return judge_error_strata(layout, found.scores).p_all
    aligned = (found.aligned, found.aligned_variance)
    return judge_scores(
        layout, found.scores, found.plants, found.plant_variance, aligned=aligned
    ).p_all
