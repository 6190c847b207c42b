"""Composite rank beside survivors' growth: dead plants below all living ones.

The probability that a plant of one treatment ends above one of another, ties half. Leans
on models.lifetimes.rank, quantities and lives.
"""

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.lives import Lives
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.quantities import WHO_JOIN, by_plant, measured_rows, plant_window
from wickstats.analysis.rows import Joint, Numbers, What, comparison_row
from wickstats.analysis.summaries.sizes import living
from wickstats.analysis.units import Array, IntArray
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.models.lifetimes.rank import RankComparison, compare_ranks
from wickstats.records.season import Season


def rank_comparisons(context: Context, season: Season, lives: Lives) -> tuple[Comparison, ...]:
    """One row a planned pair of treatments; empty where no plant died or none was measured."""
    scores = _scores(context, season, lives)
    if scores is None:
        return ()
    values, units = scores
    out = []
    for family in context.families:
        if not family.planned:
            continue
        for contrast in family.contrasts:
            if contrast.pair is None:
                continue
            out.append(
                _row(context, family, contrast, _compare(context, contrast, values, units))
            )
    return tuple(out)


def _scores(context: Context, season: Season, lives: Lives) -> tuple[Array, IntArray] | None:
    rows = measured_rows(season, context.units, context.response.column)
    if rows is None or not lives.dead.any():
        return None
    held = living(plant_window(rows, None), season)
    values, _, who = by_plant(held)
    size = {str(name): float(v) for name, v in zip(who, values, strict=True)}
    out, units = [], []
    for k in range(lives.n):
        name = f"{lives.plots[k]}{WHO_JOIN}{lives.plants[k]}"
        if lives.dead[k]:
            out.append(-np.inf)
        elif name in size:
            out.append(size[name])
        else:
            continue
        units.append(int(lives.units[k]))
    return np.array(out, dtype=float), np.array(units, dtype=np.int64)


def _compare(
    context: Context, contrast: Contrast, values: Array, units: IntArray
) -> RankComparison | None:
    if contrast.pair is None:
        return None
    cells = context.units.cells[units]
    a, b = (cells == contrast.pair[0], cells == contrast.pair[1])
    if not a.any() or not b.any():
        return None
    blocks = context.units.block_codes
    return compare_ranks(
        values[a],
        values[b],
        blocks_a=None if blocks is None else blocks[units[a]],
        blocks_b=None if blocks is None else blocks[units[b]],
        units_a=units[a],
        units_b=units[b],
        confidence=context.confidence,
    )


def _row(
    context: Context, family: Family, contrast: Contrast, found: RankComparison | None
) -> Comparison:
    between = "block" if context.units.block_codes is not None else "plot"
    what = What("probability of ending above", None, "probability", "dispersion", between)
    if found is None:
        numbers = Numbers(None, None, None, None, None, None, say("no plant"))
    else:
        numbers = Numbers(
            found.probability,
            found.se,
            found.df,
            found.low,
            found.high,
            found.p,
            found.not_estimable,
        )
    return comparison_row(
        family, contrast, what, numbers, Joint(), label=say("sensitivity rank")
    )
