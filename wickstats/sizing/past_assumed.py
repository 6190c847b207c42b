"""A past season's results as assumptions about the next one, for simulated seasons.

Levels are the past treatments' means; spread is the past variance, ``scale`` times itself:
with scale = df/chi-square(df) the uncertainty of the past variance goes into the seasons
(as in ``from_past``).

    shares   plot_correlation = (phi - 1)/(m - 1)                      (Kish 1965)
    counts   plots' log variance = s^2 - mean of 1/mean
    numbers  plots' variance = s^2 - plants' variance/m where the mixed model tells plants
             apart, else s^2; of logarithms cv = sqrt(exp(variance) - 1), and the mean as
             measured is the geometric one times exp(variance/2)     (Aitchison & Brown 1957)

Leans on ``past``, the results and the trial's values.
"""

import math

from wickstats.core.responses import Mean, ResponseResult
from wickstats.core.words import say
from wickstats.design.trial import Assumption
from wickstats.sizing.past import PastVariance

MOST_CORRELATION = 0.9


def assumed_of(
    response: ResponseResult, known: PastVariance, *, scale: float = 1.0, factor: float = 1.0
) -> Assumption | str:
    """What a past response says of the next season, or why it says nothing.

    Parameters
    ----------
    scale
        What the past variance is multiplied with.
    factor
        What turns the past unit of measure into the next one.
    """
    means = _levels(response)
    if not means:
        return say("past no units", response=response.name)
    if known.shares:
        return _shares(known, scale)
    if known.counts:
        return _counts(known, means, scale)
    between = known.between_plants or 0.0
    plants = known.plants or 1.0
    plot = max(known.variance * scale - between / plants, 0.0)
    block = _component(response, "block")
    if response.model_scale != "log":
        return Assumption(
            mean={name: factor * value for name, value in means.items()},
            plot_sd=factor * math.sqrt(plot),
            plant_sd=factor * math.sqrt(between),
            block_sd=factor * math.sqrt(block),
        )
    lift = factor * math.exp(0.5 * (plot + between + block))
    return Assumption(
        mean={name: lift * value for name, value in means.items()},
        plot_cv=_cv(plot),
        plant_cv=_cv(between),
        block_cv=_cv(block),
    )


def _shares(known: PastVariance, scale: float) -> Assumption:
    plants = known.plants or 1.0
    correlation = 0.0
    if plants > 1.0:
        correlation = max(known.variance * scale - 1.0, 0.0) / (plants - 1.0)
    return Assumption(
        alive_at_end={name: share for name, share in known.shares.items() if name},
        plot_correlation=min(correlation, MOST_CORRELATION),
        block_correlation=0.0,
    )


def _counts(known: PastVariance, means: dict[str, float], scale: float) -> Assumption:
    own = sum(1.0 / max(mean, 0.5) for mean in means.values()) / len(means)
    plot = max(known.variance * scale - own, 0.0)
    return Assumption(mean=means, plot_cv=_cv(plot), block_cv=0.0)


def _levels(response: ResponseResult) -> dict[str, float]:
    """Treatment -> mean of the last date, of the finest term that names every treatment."""
    rows: dict[str, dict[str, Mean]] = {}
    for row in response.means:
        if row.within is None and row.estimate is not None:
            rows.setdefault(row.term, {})[row.treatment] = row
    treatments = {u.treatment for u in response.unit_summary.values if u.value is not None}
    for held in rows.values():
        if treatments <= held.keys():
            return {name: float(held[name].estimate or 0.0) for name in sorted(treatments)}
    return {}


def _component(response: ResponseResult, term: str) -> float:
    model = response.mixed_model
    if model is None or not model.converged:
        return 0.0
    found = {c.term: c.estimate for c in model.variance_components}
    return float(found.get(term) or 0.0)


def _cv(variance: float) -> float:
    return math.sqrt(math.expm1(variance))
