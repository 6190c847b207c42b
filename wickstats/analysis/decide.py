"""The verdict of one comparison: from its interval, or from a bound.

Leans on context, bounds, families and verdict.
"""

from dataclasses import replace
from math import inf

from wickstats.analysis.bounds import PairBound, pair_bound, rho_of
from wickstats.analysis.context import Context
from wickstats.analysis.effects import is_plain_pair
from wickstats.analysis.families import Judged, single_unit_side
from wickstats.analysis.line import Line
from wickstats.analysis.summary import Summary
from wickstats.analysis.verdict import of_the_side, verdict_of


def bound_correlation(context: Context, summary: Summary, line: Line) -> float | None:
    """The plot correlation for bounds of shares; None where they do not apply."""
    if summary.alive is None or context.units.is_split:
        return None
    return rho_of(summary, line, context.planned_correlation)


def bound_for(
    context: Context, summary: Summary, judged: Judged, rho: float | None
) -> PairBound | None:
    """The bound of a comparison with an arm in which all lived or died."""
    weights = judged.contrast.weights
    if rho is None or judged.estimate.estimate is None or not is_plain_pair(weights):
        return None
    if single_unit_side(weights, context.units) is not None:
        return None
    found = pair_bound(
        weights,
        (judged.contrast.treatment, judged.contrast.versus),
        judged.estimate.estimate,
        summary,
        context.units,
        rho=rho,
        confidence=context.confidence,
        family_size=len(judged.family.contrasts),
        better=context.better,
    )
    return None if found is None else replace(found, side=judged.side)


def verdict_for(context: Context, judged: Judged, bound: PairBound | None) -> str | None:
    """The verdict of one comparison; None without an interval."""
    if bound is not None:
        return of_the_side(bound.verdict, judged.side)
    if judged.low is None and judged.high is None:
        return None
    if not judged.side and (judged.low is None or judged.high is None):
        return None
    low = -inf if judged.low is None else judged.low
    high = inf if judged.high is None else judged.high
    return verdict_of(low, high, context.matters, context.better)
