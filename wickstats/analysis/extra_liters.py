"""Yield for each extra liter of one treatment over another, beside yield per liter.

Descriptive: no verdict, not adjusted for the number of comparisons. From units with yield
and water known, those without any water included. Leans on models.ratios.extra, plan.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.effects import is_plain_pair
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.sentences import unit_words
from wickstats.analysis.summary import Summary
from wickstats.core.numbers import confidence_level, number
from wickstats.core.responses import Extra
from wickstats.core.words import say
from wickstats.models.ratios.extra import (
    FEW,
    NONE,
    NOT_DEFINED,
    SAME_WATER,
    ExtraRatio,
    extra_ratio,
)


def extra_liters(context: Context, summary: Summary) -> tuple[Extra, ...] | None:
    """One row a comparison of two treatments; None where the response is no such ratio."""
    top, bottom = summary.numerators, summary.denominators
    if context.response.kind != "yield per liter" or top is None or bottom is None:
        return None
    units = context.units
    known = np.isfinite(top) & np.isfinite(bottom)
    blocks = units.pairs
    out: dict[tuple[str, str | None, str, str], Extra] = {}
    for family in context.families:
        for contrast in family.contrasts:
            key = (family.term, family.within, contrast.treatment, contrast.versus)
            if key in out or not is_plain_pair(contrast.weights):
                continue
            found = extra_ratio(
                top[known],
                bottom[known],
                units.cells[known],
                contrast.weights,
                blocks=None if blocks is None else blocks[known],
                confidence=context.confidence,
            )
            out[key] = _row(context, summary, family, contrast, found)
    return tuple(out.values()) or None


def _row(
    context: Context, summary: Summary, family: Family, contrast: Contrast, found: ExtraRatio
) -> Extra:
    reason = _reason(context, contrast, found)
    row = Extra(
        term=family.term,
        name=contrast.name,
        treatment=contrast.treatment,
        versus=contrast.versus,
        within=family.within,
        measure=say("extra measure"),
        measured_in=context.measured_in,
        denominator=summary.denominator or "",
        estimate=found.ratio,
        df=found.df,
        low=found.low,
        high=found.high,
        n_blocks=found.pairs,
        water_l=found.water.estimate,
        water_low_l=found.water.low,
        water_high_l=found.water.high,
        yield_difference=found.yields.estimate,
        yield_low=found.yields.low,
        yield_high=found.yields.high,
        sentence="",
        not_estimable=reason,
    )
    mass = context.measured_in.removesuffix("/L")
    told = extra_sentence(row, confidence_level(context.confidence), mass=mass)
    return replace(row, sentence=told)


def _reason(context: Context, contrast: Contrast, found: ExtraRatio) -> str | None:
    names = {"treatment": contrast.treatment, "versus": contrast.versus}
    if found.reason == NOT_DEFINED:
        return say("extra not defined", **names)
    if found.reason == SAME_WATER:
        return say("extra same water", **names)
    if found.reason == FEW:
        blocked = context.units.pairs is not None
        return say("extra few", what=say("few blocks" if blocked else "few units"))
    return say("extra none") if found.reason == NONE else None


def extra_sentence(row: Extra, confidence: str, *, mass: str, scale: float = 1.0) -> str:
    """From the treatment with less water to the one with more; amounts times ``scale``."""
    if row.estimate is None or row.low is None or row.high is None:
        return say("extra open", name=row.name, reason=row.not_estimable or "")
    more = (row.water_l or 0.0) > 0
    unit = unit_words(mass)
    clear = row.low > 0 or row.high < 0
    key = "extra sentence more" if row.estimate >= 0 else "extra sentence less"
    value = scale * (abs(row.estimate) if clear else row.estimate)
    return say(
        key if clear else "extra sentence open",
        less=row.versus if more else row.treatment,
        more=row.treatment if more else row.versus,
        denominator=row.denominator,
        value=f"{number(value)}{unit}",
        confidence=confidence,
        low=number(scale * row.low),
        high=f"{number(scale * row.high)}{unit}",
    )
