"""Departures from what was planned before planting.

Leans on the trial, the season and the summaries.
"""

import pandas as pd

from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.core.responses import ResponseResult
from wickstats.core.results import Deviation
from wickstats.core.words import say
from wickstats.design.defaults import is_planned, plan_of
from wickstats.design.trial import Trial
from wickstats.records.season import Season


def deviations_of(
    trial: Trial, season: Season, units: Units, summaries: dict[str, Summary | str]
) -> tuple[Deviation, ...]:
    """All departures; ``summaries``: response -> its main summary, or why there is none."""
    out: list[Deviation] = []
    if is_planned(trial):
        plan = plan_of(trial)
        named = {plan.primary, *plan.secondary}
        for response in trial.responses:
            found = summaries.get(response.name)
            if isinstance(found, str) and response.name in named:
                out.append(
                    Deviation(
                        say("dev analysis", name=response.name),
                        say("dev planned response"),
                        say("dev no data", reason=found),
                        None,
                    )
                )
            if isinstance(found, Summary):
                out.extend(_of_response(trial, response.name, found))
    out.extend(_plants(season, units))
    out.extend(_wrong_treatment(season))
    if units.drawn == "not at random":
        out.append(
            Deviation(
                say("dev at random"),
                say("dev at random planned"),
                say("dev at random done"),
                None,
            )
        )
    return tuple(out)


def _of_response(trial: Trial, name: str, summary: Summary) -> list[Deviation]:
    out = []
    if summary.rule == "zero":
        out.append(
            Deviation(say("dev analysis", name=name), say("dev log"), say("dev zero"), None)
        )
    covariate = plan_of(trial).covariates.get(name)
    if covariate is not None and summary.covariate is None:
        out.append(
            Deviation(
                say("dev covariate", name=covariate, response=name),
                say("dev covariate planned"),
                say("dev covariate done", reason="; ".join(summary.notes) or summary.estimand),
                None,
            )
        )
    return out


def visits_deviations(
    trial: Trial, responses: tuple[ResponseResult, ...]
) -> tuple[Deviation, ...]:
    """Growth over the visits that was planned and could not be given."""
    out = []
    for response in responses:
        planned = plan_of(trial).growth_over_visits.get(response.name)
        model = response.growth_rates
        if planned is None or (model is not None and model.not_estimable is None):
            continue
        reason = say("dev visits none") if model is None else model.not_estimable
        out.append(
            Deviation(
                say("dev visits", name=response.name),
                say(
                    "dev visits planned",
                    correlation=planned.correlation,
                    variance=planned.variance,
                    course=planned.course,
                ),
                say("dev visits done", reason=reason),
                None,
            )
        )
    return tuple(out)


def _plants(season: Season, units: Units) -> list[Deviation]:
    frame = season.lives
    planned = int(units.laid_plants.sum())
    if frame is None or frame.empty or planned == 0:
        return []
    original = frame["original"].fillna(value=True).astype(bool)
    planted = int((original & frame["plot"].isin(list(units.index))).sum())
    if planted == planned:
        return []
    return [
        Deviation(
            say("dev plants"),
            say("dev plants planned", n=planned),
            say("dev plants done", n=planted),
            None,
        )
    ]


def _wrong_treatment(season: Season) -> list[Deviation]:
    frame = season.table("events")
    if frame is None or frame.empty or "what" not in frame:
        return []
    out = []
    for row in frame.loc[frame["what"] == "wrong treatment"].to_dict("records"):
        where = row.get("plot") if row.get("plot") is not None else row.get("reservoir")
        date = row.get("date")
        claimed = None if date is None or pd.isna(date) else str(pd.Timestamp(date).date())
        out.append(
            Deviation(
                say("dev wrong treatment", where=where),
                say("dev as laid out"),
                say("dev wrong done"),
                claimed,
            )
        )
    return out
