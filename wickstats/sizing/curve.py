"""Chance by size of the trial: as it was planned, and as this season's units scatter.

Both for a true difference of what matters, never for the one observed. Planned: by the
closed forms of ``plan``. Reached: this season's standard error carried to other numbers of
blocks, with a band between the one-sided 80 % limits of its variance (chi-square).
Leans on ``adapted``, ``plots``, ``season``, models.power and the results of the analysis.
"""

import numpy as np

from wickstats.analysis.units import lay_out_units
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import PowerPoint
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.models.power import sd_upper_limit, t_power
from wickstats.sizing.adapted import adapted, precisions
from wickstats.sizing.plots import sizes_of, with_sizes
from wickstats.sizing.reckon import power_of_size
from wickstats.sizing.season import UPPER, alpha_of, is_bounded, is_one_sided
from wickstats.sizing.seasons import planned_families

MOST, POINTS, ENOUGH = 60, 14, 0.95


def curve_points(
    trial: Trial,
    layout: Layout,
    response: ResponseResult,
    *,
    units: int,
    confidence: float,
) -> tuple[PowerPoint, ...]:
    """Points of the first comparison for which the plan says what matters; empty without.

    Parameters
    ----------
    units
        As in ``season.next_rows``.
    """
    row = next(
        (
            r
            for r in response.comparisons
            if r.matters is not None and r.se and r.df and not is_bounded(response, r)
        ),
        None,
    )
    if row is None or units < 2:
        return ()
    alpha = alpha_of(row, confidence)
    counts = _counts(row, units, alpha)
    about = (response.name, _name(row))
    reached = [
        PowerPoint(*about, "reached", row.matters, row.measure, n, *chances, n == units)
        for n in counts
        for chances in [_reached(row, units, alpha, n)]
    ]
    return (*_planned(trial, layout, response, row, counts, units), *reached)


def _name(row: Comparison) -> str:
    return row.name if row.within is None else f"{row.name} ({row.within})"


def _size(row: Comparison) -> float:
    """What matters on the model's scale."""
    matters = row.matters or 0.0
    return float(np.log(matters)) if row.measure == "ratio" else matters


def _reached(
    row: Comparison, units: int, alpha: float, count: int
) -> tuple[float, float, float]:
    """Chance at this season's variance, at its upper and at its lower 80 % limit."""
    se, df = row.se or 0.0, row.df or 1.0
    # degrees of freedom grow with the blocks but for the first, in every stratum
    spare = df * (count - 1.0) / (units - 1.0)

    def at(confidence: float | None) -> float:
        held = se if confidence is None else sd_upper_limit(se, df, confidence=confidence)
        wide, size = held * (units / count) ** 0.5, abs(_size(row))
        if is_one_sided(row):
            return t_power(size, wide, spare, alpha=0.5 * alpha, two_sided=False)
        return t_power(size, wide, spare, alpha=alpha)

    return at(None), at(UPPER), at(1.0 - UPPER)


def _counts(row: Comparison, units: int, alpha: float) -> list[int]:
    """Sizes from 2 to where the chance at the upper limit is near certain."""
    top = max(units + 2, 6)
    while top < MOST and _reached(row, units, alpha, top)[1] < ENOUGH:
        top += 1
    grid = np.unique(np.round(np.geomspace(2, top, POINTS)).astype(int))
    return sorted({*(int(n) for n in grid), units} - {0, 1})


def _planned(
    trial: Trial,
    layout: Layout,
    response: ResponseResult,
    row: Comparison,
    counts: list[int],
    units: int,
) -> list[PowerPoint]:
    """The same by what was assumed before planting; empty where nothing was."""
    whole = with_sizes(trial, layout)
    sizes = sizes_of(whole, layout)
    if trial.power is None or isinstance(sizes, str):
        return []
    asked = trial.response(response.name)
    what = adapted(whole, asked, sizes)
    if isinstance(what, str) or (sizes.pieces is not None and what.larger is None):
        return []
    for family in planned_families(whole, lay_out_units(whole, layout)):
        for k, contrast in enumerate(family.contrasts):
            if (contrast.name, family.within) != (row.name, row.within):
                continue
            size, about = _size(row), (asked, family)
            chances = [
                (n, power_of_size(size, precisions(whole, what, sizes, n, about)[k]))
                for n in counts
            ]
            return [
                PowerPoint(
                    *(response.name, _name(row), "planned", row.matters, row.measure),
                    *(n, p, None, None, n == units),
                )
                for n, p in chances
                if p is not None
            ]
    return []
