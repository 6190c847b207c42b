"""A past season's results as assumptions about the next one, for simulated seasons.

Levels are the past treatments' means; spread is the past variance, ``scale`` times itself:
with scale = df/chi-square(df) the uncertainty of the past variance goes into the seasons
(as in ``from_past``).

    shares   plot_correlation = (phi - 1)/(m - 1)                      (Kish 1965)
    counts   plots' log variance = s^2 - mean of 1/mean
    numbers  plots' variance = s^2 - plants' variance/m where the mixed model tells plants
             apart, else s^2; of logarithms cv = sqrt(exp(variance) - 1), and the mean as
             measured is the geometric one times exp(variance/2)     (Aitchison & Brown 1957)

``with_past`` puts them into a trial, for a rehearsal. Leans on ``past``, the results and the
trial's values.
"""

import math

from wickstats.core.errors import Problem, ReportError
from wickstats.core.numbers import number
from wickstats.core.responses import Mean, ResponseResult
from wickstats.core.words import say
from wickstats.design.defaults import cells_of, measured_in_of, names_of, role_of
from wickstats.design.rules_power import assumed_keys
from wickstats.design.trial import Assumption, PowerPlan, Response, Trial
from wickstats.simulate.streams import stream
from wickstats.sizing.past import (
    PastSeason,
    PastVariance,
    matching,
    past_variance,
    unit_factor,
)

MOST_CORRELATION = 0.9
LEVELS = ("alive_at_end", "mean")
# what a past season does not tell, or tells less well than the file that says it
OWN = (
    *("block_correlation", "whole_plot_cv", "whole_plot_sd", "whole_plot_correlation"),
    *("start_size", "causes", "death_shape"),
)


def with_past(trial: Trial, past: PastSeason, seed: int) -> tuple[Trial, tuple[str, ...]]:
    """The trial with a past season's spread assumed, and in words what was taken.

    Levels are the file's where it assumes any, else the past ones. The variance is drawn from
    what the past season leaves open of it (scaled inverse chi-square), by the seed.

    Raises
    ------
    ReportError
        Where no response of the trial can be taken from the past season.
    """
    assume = dict(trial.power.assume) if trial.power else {}
    told: list[str] = list(past.notes)
    taken = 0
    problems: list[Problem] = []
    for response in trial.responses:
        own = response.measured_in is not None or response.column is not None
        unit = measured_in_of(response) if own else None
        kind, scale = response.kind, response.model_scale
        try:
            found = matching(past.results, response.name, kind, scale, unit)
        except ReportError as error:
            if role_of(trial, response) != "exploratory":
                problems.extend(error.problems)
            continue
        known = past_variance(found)
        if kind == "yield per liter" or isinstance(known, str):
            told.append(
                known if isinstance(known, str) else say("past ratio", response=found.name)
            )
            continue
        factor = 1.0
        if unit and scale != "log" and kind != "count":
            factor = unit_factor(found.measured_in, unit, response.name)
        drawn = stream(seed, f"{response.name}: past variance").chisquare(known.df)
        times = known.df / float(drawn)
        new = assumed_of(found, known, scale=times, factor=factor)
        if isinstance(new, str):
            told.append(new)
            continue
        assume[response.name] = _merged(trial, response, assume.get(response.name), new)
        told.append(
            say(
                "past taken",
                response=response.name,
                trial=past.results.trial.id,
                times=number(times, 2),
                df=number(known.df, 2),
            )
        )
        taken += 1
    if not taken and problems:
        raise ReportError(problems)
    power = trial.power or PowerPlan()
    changed = power.model_copy(update={"assume": assume})
    return trial.model_copy(update={"power": changed}), tuple(told)


def _merged(
    trial: Trial, response: Response, own: Assumption | None, past: Assumption
) -> Assumption:
    """The past spread under the file's levels."""
    held = past.model_dump(exclude_none=True, exclude_unset=True)
    cells = cells_of(trial.factors)
    for key in LEVELS:
        if key in held:  # treatments that this trial has
            held[key] = {
                name: value
                for name, value in held[key].items()
                if any(name in (cell, *names_of(cell)) for cell in cells)
            }
    if own is not None:
        given = own.model_dump(exclude_none=True, exclude_unset=True)
        held.update({k: v for k, v in given.items() if k in (*LEVELS, *OWN) and v != {}})
    allowed = assumed_keys(response.kind)
    return Assumption(**{k: v for k, v in held.items() if k in allowed})


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
