"""What is assumed about a response, made ready for a family: rule, strata, gaps filled.

Leans on ``assumed``, ``plots`` and the trial's values; numpy.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.plan import Family, matters_for
from wickstats.core.words import say
from wickstats.design.defaults import better_of, plan_of, side_of
from wickstats.design.trial import Response, Trial
from wickstats.models.power_verdicts import CLASSES, verdict_chances
from wickstats.sizing.assumed import Expected, expected, larger_pieces
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import Judged, Precision, power_of, precision

Main = tuple[Response, Family, int]  # the comparison that the questions are about
NONE = 1e-12  # no difference is assumed


def adapted(trial: Trial, response: Response, sizes: Sizes) -> Expected | str:
    """The assumptions with the rule by which the analysis judges, or why there are none."""
    what = expected(trial, response, sizes.cells, sizes.plants)
    if isinstance(what, str):
        return what
    if sizes.pieces is not None:
        larger = larger_pieces(trial, response, what)
        exact = what.note == say("power exact")
        told = say("power exact strata") if exact else what.note
        return replace(what, larger=larger, rule="strata", events=None, note=told)
    uneven = np.ptp(sizes.plots) > 0 or plan_of(trial).variance.get(response.name) == "by arm"
    return replace(what, rule="paired") if uneven and what.rule == "strata" else what


def filled(what: Expected) -> Expected:
    """The same with treatments of which nothing is assumed at the others' variance."""
    known = np.isfinite(what.variances)
    events = what.events
    if events is not None:
        means = np.where(known, events.means, np.nanmean(events.means))
        events = replace(events, means=means)
    return replace(
        what,
        values=np.nan_to_num(what.values),
        variances=np.where(known, what.variances, np.nanmean(what.variances)),
        events=events,
    )


def judged_as(trial: Trial, family: Family, response: Response, target: float) -> Judged:
    """How a family is judged for a response."""
    side = side_of(better_of(response), one_sided=family.one_sided)
    return Judged(family.adjustment, plan_of(trial).confidence, target, side)


def precisions(
    trial: Trial, what: Expected, sizes: Sizes, count: int, asked: tuple[Response, Family]
) -> list[Precision | None]:
    """Of every comparison of a response's family in a trial of that size."""
    response, family = asked
    weights = [c.weights for c in family.contrasts]
    return precision(
        sizes, count, filled(what), weights, judged_as(trial, family, response, 0.8)
    )


def chance_of(
    trial: Trial, what: Expected, sizes: Sizes, count: int, main: Main
) -> float | None:
    """Chance to show one comparison at the assumed difference.

    Where no difference is assumed: the chance to tell that it is no worse by what matters (or
    the same, where neither direction is better).
    """
    response, family, which = main
    if count < 1:
        return None
    at = precisions(trial, what, sizes, count, (response, family))[which]
    difference = assumed_of(what, main)
    if at is None or abs(difference) > NONE:
        return power_of(difference, at)
    matters = matters_for(trial, response.name, log=what.ratio)
    if matters is None:
        return None
    found = verdict_chances(
        0.0,
        at.se,
        at.df,
        matters=matters,
        alpha=at.alpha,
        spread=at.spread,
        least=at.least,
        one_sided=at.side != 0,
    )
    return sum(found.as_tuple[c] for c in enough_of(response))


def assumed_of(what: Expected, main: Main) -> float:
    """The assumed difference of a comparison, on the model's scale."""
    return float(main[1].contrasts[main[2]].weights @ np.nan_to_num(what.values))


def enough_of(response: Response) -> tuple[int, ...]:
    """Verdicts that tell it to be no worse: what is aimed at where arms are assumed alike."""
    told = ("same",) if better_of(response) == "neither" else ("same", "better", "no worse")
    return tuple(CLASSES.index(name) for name in told)
