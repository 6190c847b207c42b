"""Ratios of death rates beside survival: grouped hazards, never a verdict.

One row a planned pair of treatments; below six blocks (or units an arm without blocks)
without p, since few clusters say little of their own variance. Where an arm lost no plant
the ratio is penalized and has no p. Every block is a parameter of the model: below eight
deaths a block the ratio comes out more than about a tenth too far from 1 (on the logarithm,
by simulation), is called descriptive, and words say so; there units' scatter may be next to
nothing by luck, so that the interval is at least as wide as if plants died each for itself.

From six blocks and eight deaths a block on, the interval missed the true ratio in 0.047 of
simulated seasons on average, in 0.017 to 0.080 of single settings (75 settings of 300 seasons:
6 to 12 blocks, 2 and 4 treatments, 8 and 16 plants, plot correlation 0 to about 0.3).
Leans on models.lifetimes.
"""

from dataclasses import replace
from math import exp

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.lives import Lives
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.rows import Joint, Numbers, What, comparison_row
from wickstats.core.numbers import fixed
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.models.lifetimes.grouped import group_lives
from wickstats.models.lifetimes.hazards import PENALIZED, HazardFit, fit_hazards
from wickstats.models.linear.estimates import Estimate, t_quantile

ENOUGH = 6  # blocks from which a p is given
ENOUGH_DEATHS = 8.0  # a block, from which the ratio is not far off


def hazard_comparisons(context: Context, lives: Lives) -> tuple[Comparison, ...]:
    """One row a planned pair; empty where no plant died or units stand in several strata."""
    units = context.units
    pairs = [
        (family, contrast)
        for family in context.families
        if family.planned
        for contrast in family.contrasts
        if contrast.pair is not None
    ]
    if units.is_split or not lives.n or not lives.dead.any() or not pairs:
        return ()
    data = group_lives(
        lives.low - lives.planted,
        lives.high - lives.planted,
        lives.units,
        units.cells,
        units.block_codes,
    )
    fit = data if isinstance(data, str) else fit_hazards(data, confidence=context.confidence)
    sparse = deaths_a_block(context, lives) < ENOUGH_DEATHS
    return tuple(
        _row(context, family, contrast, fit, sparse=sparse) for family, contrast in pairs
    )


def deaths_a_block(context: Context, lives: Lives) -> float:
    """Mean number of deaths of the blocks that have any; infinite without blocks."""
    codes = context.units.block_codes
    if codes is None or not lives.dead.any():
        return float("inf")
    counts = np.bincount(codes[lives.units[lives.dead]])
    return float(counts[counts > 0].mean())


def hazard_notes(
    context: Context, lives: Lives, rows: tuple[Comparison, ...]
) -> tuple[str, ...]:
    """Words where the blocks hold too few deaths for ratios to be more than descriptive."""
    deaths = deaths_a_block(context, lives)
    if deaths >= ENOUGH_DEATHS or not any(row.estimate is not None for row in rows):
        return ()
    return (say("hazards sparse", deaths=fixed(deaths, 1), enough=fixed(ENOUGH_DEATHS, 0)),)


def _row(
    context: Context,
    family: Family,
    contrast: Contrast,
    fit: HazardFit | str,
    *,
    sparse: bool,
) -> Comparison:
    what = What("hazard ratio", None, "hazard ratio", "hazards", context.units.unit_word)
    label = say("sensitivity hazards")
    if isinstance(fit, str):
        numbers = Numbers(None, None, None, None, None, None, fit)
        return comparison_row(family, contrast, what, numbers, Joint(), label=label)
    found = fit.contrast(contrast.weights)
    few = replication(context) < ENOUGH
    if few or sparse:
        found = _not_narrower(found, fit.plain_se(contrast.weights), context.confidence)
    if found.basis == PENALIZED:
        label = say("sensitivity hazards penalized")
    elif few:
        label = say("sensitivity hazards few")
    elif sparse:
        label = say("sensitivity hazards sparse")
    numbers = Numbers(
        None if found.estimate is None else exp(found.estimate),
        found.se,
        found.df,
        None if found.low is None else exp(found.low),
        None if found.high is None else exp(found.high),
        None if few or sparse else found.p,
        found.not_estimable,
    )
    return comparison_row(family, contrast, what, numbers, Joint(), label=label)


def _not_narrower(found: Estimate, plain: float | None, confidence: float) -> Estimate:
    """The interval of plants that die each for itself, where the units' is narrower."""
    if plain is None or found.estimate is None or found.se is None or found.df is None:
        return found
    half = t_quantile(confidence, np.inf) * plain
    if half <= t_quantile(confidence, found.df) * found.se:
        return found
    low, high = found.estimate - half, found.estimate + half
    return replace(found, se=plain, df=None, low=low, high=high)


def replication(context: Context) -> int:
    """Blocks, or units of the arm with the fewest."""
    codes = context.units.block_codes
    if codes is not None:
        return int(np.unique(codes).size)
    counts = np.bincount(context.units.cells, minlength=context.units.n_cells)
    return int(counts[counts > 0].min())
