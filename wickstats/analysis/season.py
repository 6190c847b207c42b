"""One season's analysis: every response of the trial, judged as it was randomized.

Leans on the modules of this package, layout, records and the trial's values.
"""

from dataclasses import dataclass, replace

from wickstats.analysis.accounting import accounting_of, trial_facts
from wickstats.analysis.beside import with_beside
from wickstats.analysis.browsing import AS_SEEN, browsing_as_planned
from wickstats.analysis.context import Context
from wickstats.analysis.costs import season_costs
from wickstats.analysis.deviations import deviations_of, visits_deviations
from wickstats.analysis.equal_water import equal_water, equal_water_check
from wickstats.analysis.gather import Gathered, gather
from wickstats.analysis.lives import read_lives
from wickstats.analysis.plan import families_of, matters_for, terms_of
from wickstats.analysis.redraw_line import seed_of
from wickstats.analysis.response import analyze_response, empty_response
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units, lay_out_units
from wickstats.analysis.water_units import water_rows
from wickstats.core.costs import Cost, CostParts
from wickstats.core.errors import AnalysisError, Problem
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import Accounting, Deviation, TrialFacts, WaterUnit
from wickstats.core.water import EqualWaterResult
from wickstats.core.words import say
from wickstats.design.defaults import better_of, measured_in_of, plan_of, role_of
from wickstats.design.trial import Response, Trial
from wickstats.layout.allowed import allowed
from wickstats.layout.plots import Layout
from wickstats.records.season import Season
from wickstats.records.visits import NOBODY_WENT, UNSEEN


@dataclass(frozen=True, slots=True)
class AnalysisResults:
    """What the analysis gives; complete when returned."""

    trial: TrialFacts
    accounting: Accounting
    responses: tuple[ResponseResult, ...]
    water: tuple[WaterUnit, ...]
    deviations: tuple[Deviation, ...]
    queries: tuple[Problem, ...] = ()
    equal_water: EqualWaterResult | None = None
    costs: tuple[Cost, ...] = ()
    cost_parts: CostParts | None = None


def analyze_season(trial: Trial, layout: Layout, season: Season) -> AnalysisResults:
    """Analyze a season as it was randomized.

    Parameters
    ----------
    trial
        A checked trial with at least one response.
    layout
        Its layout.
    season
        Its records, joined to the same layout.

    Raises
    ------
    AnalysisError
        In words: a design that is not analyzed yet, no response, no usable record at all.
    """
    if not trial.responses:
        raise AnalysisError(say("nothing to analyze"))
    units = lay_out_units(trial, layout)
    plan = plan_of(trial)
    lives = browsing_as_planned(read_lives(season, units), season, plan.browsing)
    gathered = {
        response.name: gather(
            trial, response, season, units, lives, plan.covariates.get(response.name)
        )
        for response in trial.responses
    }
    unseen = _nobody_went(season)
    if all(found.main is None for found in gathered.values()) and not unseen:
        raise AnalysisError("\n".join(f.reason for f in gathered.values() if f.reason))
    done: dict[str, ResponseResult] = {}
    # survival first: growth of survivors asks it for leave
    for response in sorted(trial.responses, key=lambda r: r.kind != "survival"):
        found = gathered[response.name]
        context = _context(trial, layout, units, response, found, _gaps(trial, response, done))
        done[response.name] = (
            empty_response(context, unseen or found.reason or "")
            if found.main is None
            else analyze_response(context, found, season, lives)
        )
        done[response.name] = with_beside(context, done[response.name], found.main, season)
    supplied = _tell_equal_water(trial, season, units, done)
    responses = tuple(done[response.name] for response in trial.responses)
    costs, cost_parts = season_costs(trial, units, season, gathered)
    return AnalysisResults(
        trial=trial_facts(trial),
        accounting=accounting_of(season, units, _first(trial, gathered)),
        responses=responses,
        water=water_rows(season, units),
        deviations=(
            *deviations_of(trial, season, units, _mains(gathered)),
            *visits_deviations(trial, responses),
        ),
        equal_water=supplied,
        costs=costs,
        cost_parts=cost_parts,
    )


def _nobody_went(season: Season) -> str:
    """That rounds were written down and reached no plot, in words; empty where not so."""
    visits = season.tables.get("visits")
    if visits is None or not (visits["status"] == UNSEEN).all():
        return ""
    written = len(visits) or any(e.reason == NOBODY_WENT for e in season.exclusions)
    return say("nobody went") if written else ""


YIELDS = ("yield", "count")


def _tell_equal_water(
    trial: Trial, season: Season, units: Units, done: dict[str, ResponseResult]
) -> EqualWaterResult | None:
    """Judge the water; add the claim to the checks about water, its reading to yields."""
    reference = trial.factors[0].reference if len(trial.factors) == 1 else None
    found = equal_water(plan_of(trial).equal_water, season, units, reference)
    if found is None:
        return None
    check = equal_water_check(found)
    about = [r.name for r in trial.responses if r.kind in ("water used", "yield per liter")]
    if check is not None:
        for name in about or [trial.responses[0].name]:
            done[name] = replace(done[name], checks=(*done[name].checks, check))
    for response in trial.responses:
        if response.kind in YIELDS and done[response.name].comparisons:
            said = say("caution supply", reading=found.reading)
            before = done[response.name]
            done[response.name] = replace(before, cautions=(*before.cautions, said))
    return found


def _context(
    trial: Trial,
    layout: Layout,
    units: Units,
    response: Response,
    found: Gathered,
    gaps: dict[tuple[str, str, str | None], float],
) -> Context:
    plan = plan_of(trial)
    log = found.main.log if found.main is not None else response.model_scale == "log"
    measured_in = found.main.measured_in if found.main else measured_in_of(response)
    return Context(
        response=response,
        units=units,
        families=families_of(trial, units),
        terms=terms_of(units),
        role=role_of(trial, response),
        better=better_of(response),
        confidence=plan.confidence,
        # of values counted up to a top sameness cannot be told
        matters=None
        if found.main is not None and found.main.capped
        else matters_for(trial, response.name, log=log),
        by_arm=plan.variance.get(response.name) == "by arm",
        planned_correlation=_planned_correlation(trial, response),
        seed=seed_of(layout.seed, trial.trial.id),
        design=layout.type,
        measured_in=measured_in,
        survival_gap=gaps,
        allowed=allowed(trial, layout),
        visits=plan.growth_over_visits.get(response.name),
    )


def _planned_correlation(trial: Trial, response: Response) -> float | None:
    if trial.power is None or response.name not in trial.power.assume:
        return None
    return trial.power.assume[response.name].plot_correlation


def _gaps(
    trial: Trial, response: Response, done: dict[str, ResponseResult]
) -> dict[tuple[str, str, str | None], float]:
    """Pairs whose survival differs by more than matters, for growth of survivors."""
    out: dict[tuple[str, str, str | None], float] = {}
    if response.kind != "growth":
        return out
    for survival in trial.responses:
        matters = matters_for(trial, survival.name, log=False)
        if survival.kind != "survival" or matters is None or survival.name not in done:
            continue
        rows = _shares_alive(done[survival.name])
        last = rows[0].at if rows else None  # the date with the verdict comes first
        for row in rows:
            if row.at == last and row.estimate is not None and abs(row.estimate) > matters:
                out[(row.treatment, row.versus, row.within)] = row.estimate
    return out


def _shares_alive(found: ResponseResult) -> list[Comparison]:
    """Comparisons of shares alive: the main ones, or as seen where the plan asks otherwise."""
    rows = [c for c in found.comparisons if c.estimand == "share alive"]
    if not rows and found.plant_lives is not None:
        rows = [
            c
            for way in found.plant_lives.strategies
            if way.name == AS_SEEN
            for c in way.comparisons
        ]
    return rows


def _first(trial: Trial, gathered: dict[str, Gathered]) -> Summary | None:
    """The main summary of the primary response, else of the first that has one."""
    primary = plan_of(trial).primary
    if primary is not None and gathered.get(primary) is not None:
        found = gathered[primary].main
        if found is not None:
            return found
    return next((f.main for f in gathered.values() if f.main is not None), None)


def _mains(gathered: dict[str, Gathered]) -> dict[str, Summary | str]:
    return {
        name: found.main if found.main is not None else found.reason or ""
        for name, found in gathered.items()
    }
