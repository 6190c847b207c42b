"""Limits of the planned comparisons in many seasons where several strata hold treatments.

Split-plots and strip-plots without gaps, by the rules of the analysis: each part of a
contrast in its own stratum, df Satterthwaite's (1946); shares and restricted means as they
are, counts as the logarithm of count + 0.5. Leans on analysis, models.batch and ``critical``.
"""

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.strata_line import error_strata
from wickstats.analysis.units import Units
from wickstats.core.words import say
from wickstats.models.batch.error_strata import (
    StrataLayout,
    judge_error_strata,
    lay_error_strata,
)
from wickstats.models.batch.strata import t_quantiles
from wickstats.models.linear.multiplicity import JOINT
from wickstats.sizing.critical import correlation_of, critical_values
from wickstats.sizing.season_limits import Ruled, groups_of, open_sides

Array = NDArray[np.float64]


def lay_strata(units: Units, rows: Array, together: Array | None = None) -> StrataLayout | str:
    """Lay out all units, or say in words why seasons cannot be judged.

    Parameters
    ----------
    rows
        (k, t) contrasts of treatments.
    together
        (q, t) contrasts of one joint test, or None.
    """
    where = np.arange(units.n)
    strata = error_strata(units, where)
    try:
        return lay_error_strata(
            units.cells,
            units.shape,
            strata,
            contrasts=rows,
            together=together,
            main_effects=units.main_effects,
        )
    except ValueError:
        return say("simulated strata mixed")


def strata_limits(ruled: Ruled, layout: StrataLayout, values: Array) -> tuple[Array, Array]:
    """Limits (S, k) at the families' level; NaN where a season gives no interval."""
    found = judge_error_strata(layout, values, confidence=ruled.confidence).contrasts
    low, high = np.full_like(found.estimate, np.nan), np.full_like(found.estimate, np.nan)
    for family, group in zip(ruled.families, groups_of(ruled.families), strict=True):
        df = found.df[:, group]
        size = df.shape[1]
        if size == 1 or family.adjustment == "none":
            critical = t_quantiles(ruled.level(family), df)
        elif family.adjustment in JOINT:
            critical = critical_values(
                _correlation(layout, group),
                df,
                ruled.confidence,
                sides=ruled.sides(family),
            )
        else:
            critical = t_quantiles(1.0 - (1.0 - ruled.level(family)) / size, df)
        half = critical * found.se[:, group]
        low[:, group] = found.estimate[:, group] - half
        high[:, group] = found.estimate[:, group] + half
        open_sides(ruled.side_of(family), low[:, group], high[:, group])
    return low, high


def _correlation(layout: StrataLayout, group: slice) -> Array:
    """(k, k) of one family's contrasts.

    It is the same in every stratum: the comparisons of a family differ in the levels of one
    factor alone. Where they lie in several strata, that of the first.
    """
    part = next(p for p in layout.parts if p.contrasts[group].any())
    return correlation_of(part.layout.contrasts.rows[group])
