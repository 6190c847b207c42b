"""One response: unit summaries, three lines, verdicts, checks, cautions.

Leans on every other module of this package but season.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from wickstats.analysis.as_treated import AsTreated, as_treated
from wickstats.analysis.bounds import bound_notes
from wickstats.analysis.cautions import cautions_of
from wickstats.analysis.checks import checks_of
from wickstats.analysis.comparisons import compare
from wickstats.analysis.context import Context
from wickstats.analysis.curve_fits import curve_fits
from wickstats.analysis.curves import curve_points
from wickstats.analysis.decide import bound_correlation
from wickstats.analysis.extra_liters import extra_liters
from wickstats.analysis.families import borrowed_error
from wickstats.analysis.few_line import few_notes
from wickstats.analysis.first_line import fit_line, paired_line
from wickstats.analysis.gather import Gathered
from wickstats.analysis.growth_line import empty_visits, growth_rates
from wickstats.analysis.hazards_line import hazard_comparisons, hazard_notes
from wickstats.analysis.interactions import interactions_told
from wickstats.analysis.least_favorable import least_favorable
from wickstats.analysis.left_out import left_out_rows
from wickstats.analysis.line import Line
from wickstats.analysis.lives import Lives
from wickstats.analysis.means import mean_rows, term_tests
from wickstats.analysis.mixed_line import mixed_model
from wickstats.analysis.plant_lives import plant_lives
from wickstats.analysis.ranks import rank_comparisons
from wickstats.analysis.redraw_line import Redrawer, redrawer_for
from wickstats.analysis.strategies import Primary
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.analysis.would_tell import without_matters
from wickstats.core.responses import (
    Comparison,
    CurvePoint,
    Mean,
    ResponseResult,
    TestRow,
    UnitSummary,
    UnitValue,
)
from wickstats.core.words import say
from wickstats.records.season import Season

DISAGREE_AT = 0.05


def analyze_response(
    context: Context, gathered: Gathered, season: Season, lives: Lives | None
) -> ResponseResult:
    """Everything about one response; ``gathered`` must have a main summary.

    ``lives`` are those of the plan's way of taking browsed plants.
    """
    main = gathered.main
    if main is None:
        return empty_response(context, gathered.reason or "")
    line = fit_line(context.units, main, context.confidence, by_arm=context.by_arm)
    if line is None:
        return empty_response(context, say("no data for response", name=context.response.name))
    rho = bound_correlation(context, main, line)
    redrawer = _redrawer(context, main)
    comparisons = compare(context, main, line, with_verdict=True, redrawer=redrawer, rho=rho)
    tests = term_tests(context, line, redrawer=redrawer)
    means = mean_rows(context, main, line, rho=rho)
    other_means, other_comparisons = _others(context, gathered)
    paired = _paired(context, main, line)
    treated = as_treated(context.units, season)
    ratios: tuple[Comparison, ...] = ()
    sensitivity = (*paired, *_runs(context, gathered), *_as_treated(context, main, treated))
    if context.response.kind == "growth" and lives is not None and not season.days_not_dates:
        sensitivity = (*sensitivity, *rank_comparisons(context, season, lives))
    if context.response.kind == "survival" and lives is not None:
        ratios = hazard_comparisons(context, lives)
        sensitivity = (*sensitivity, *ratios)
    cautions = cautions_of(context, main, line, comparisons, lives, season)
    if rho is not None:
        notes = bound_notes(main, context.units, rho=rho, confidence=context.confidence)
        cautions = (*cautions, *notes)
    cautions = (
        *cautions,
        *treated.notes,
        *few_notes(context, main, line),
        *empty_visits(context, season),
        *(() if main.capped else without_matters(context.matters, comparisons)),
        *borrowed_error(context.units),
        *_disagreement(comparisons, tests),
        *(hazard_notes(context, lives, ratios) if ratios and lives is not None else ()),
    )
    if gathered.opened is not None:
        sensitivity = (*sensitivity, *least_favorable(context, *gathered.opened))
    left_out = left_out_rows(context, main)
    crossed, warned = interactions_told(context, main)
    curves: tuple[CurvePoint, ...] = ()
    if context.response.kind == "survival" and lives is not None:
        curves = curve_points(lives, context.units, context.confidence)
    return ResponseResult(
        name=context.response.name,
        kind=context.response.kind,
        measured_in=context.measured_in,
        model_scale="log" if main.log else "as measured",
        better=context.better,
        role=context.role,
        unit_summary=_unit_summary(context.units, main, line),
        strata=line.strata(_factor_levels(context)),
        tests=(*tests, *_tested(context, gathered)),
        means=(*means, *other_means),
        comparisons=(*comparisons, *other_comparisons),
        sensitivity=sensitivity,
        mixed_model=mixed_model(context, main),
        curves=curves,
        checks=(*checks_of(context, main, line, comparisons, paired, left_out), *crossed),
        cautions=(*cautions, *warned),
        extra_liters=extra_liters(context, main),
        left_out=left_out,
        plant_lives=plant_lives(context, season, lives.browsing, Primary(means, comparisons))
        if curves and lives
        else None,
        growth_rates=growth_rates(context, main, season),
        curve_fits=curve_fits(lives, context.units, context.confidence)
        if curves and lives
        else None,
    )


def empty_response(context: Context, reason: str) -> ResponseResult:
    """A response without numbers, in words."""
    return ResponseResult(
        name=context.response.name,
        kind=context.response.kind,
        measured_in=context.measured_in,
        model_scale=context.response.model_scale,
        better=context.better,
        role=context.role,
        unit_summary=UnitSummary(context.response.name, context.measured_in, ()),
        strata=(),
        tests=(),
        means=(),
        comparisons=(),
        sensitivity=(),
        mixed_model=None,
        curves=(),
        checks=(),
        cautions=(reason,),
    )


def _others(
    context: Context, gathered: Gathered
) -> tuple[tuple[Mean, ...], tuple[Comparison, ...]]:
    """Earlier dates and the restricted mean: compared, without a verdict."""
    means: list[Mean] = []
    comparisons: list[Comparison] = []
    for summary, line in _fitted(context, gathered.others):
        rho = bound_correlation(context, summary, line)
        means.extend(mean_rows(context, summary, line, rho=rho))
        comparisons.extend(compare(context, summary, line, with_verdict=False, rho=rho))
    return tuple(means), tuple(comparisons)


def _fitted(context: Context, summaries: tuple[Summary, ...]) -> Iterator[tuple[Summary, Line]]:
    for summary in summaries:
        line = fit_line(context.units, summary, context.confidence, by_arm=context.by_arm)
        if line is not None:
            yield summary, line


def _tested(context: Context, gathered: Gathered) -> tuple[TestRow, ...]:
    out: list[TestRow] = []
    for label, summary in gathered.tested:
        for _, line in _fitted(context, (summary,)):
            redrawer = _redrawer(context, summary)
            out.extend(term_tests(context, line, redrawer=redrawer, label=label))
    return tuple(out)


def _redrawer(context: Context, summary: Summary) -> Redrawer:
    return redrawer_for(
        context.units,
        summary,
        context.design,
        context.seed,
        context.response.name,
        context.allowed,
    )


def _paired(context: Context, main: Summary, line: Line) -> tuple[Comparison, ...]:
    """The paired rule beside another one."""
    if line.rule == "paired":
        return ()
    beside = paired_line(context.units, main, context.confidence)
    if beside is None:
        return ()
    return compare(context, main, beside, with_verdict=False, label=say("sensitivity paired"))


def _runs(context: Context, gathered: Gathered) -> tuple[Comparison, ...]:
    out: list[Comparison] = []
    for label, summary in gathered.sensitivity:
        for _, line in _fitted(context, (summary,)):
            rho = bound_correlation(context, summary, line)
            out.extend(
                compare(context, summary, line, with_verdict=False, rho=rho, label=label)
            )
    return tuple(out)


def _as_treated(context: Context, main: Summary, treated: AsTreated) -> tuple[Comparison, ...]:
    """The same comparison with the treatments that were given."""
    if treated.units is None:
        return ()
    line = fit_line(treated.units, main, context.confidence, by_arm=context.by_arm)
    if line is None:
        return ()
    moved = replace(context, units=treated.units)
    return compare(
        moved,
        main,
        line,
        with_verdict=False,
        rho=bound_correlation(moved, main, line),
        label=say("sensitivity as treated"),
    )


def _factor_levels(context: Context) -> tuple[tuple[str, int], ...]:
    """Names and numbers of levels, as the classical table names its rows."""
    units = context.units
    if units.n_cells == 1:  # a pilot has no row of treatments
        return ()
    if len(units.factors) == 1:
        return (("treatment", units.shape[0]),)
    return tuple(zip(units.factors, units.shape, strict=True))


def _unit_summary(units: Units, main: Summary, line: Line) -> UnitSummary:
    where = np.flatnonzero(main.used)
    place = {int(j): k for k, j in enumerate(where)}
    fitted, residuals = line.fitted, line.residuals
    plants = main.plants_behind(units.laid_plants)
    values = []
    for j in range(units.n):
        k = place.get(j)
        values.append(
            UnitValue(
                unit=units.names[j],
                block=units.block_of(j),
                whole_plot=units.whole_of(j),
                treatment=units.cell_names[int(units.cells[j])],
                value=None if k is None else float(main.values[j]),
                n_plants=int(plants[j]),
                fitted=None if k is None else float(fitted[k]),
                residual=None if k is None else float(residuals[k]),
                not_estimable=main.reasons[j],
                **units.places[j],
                covariate=None
                if k is None or main.covariate is None
                else float(main.covariate[j]),
            )
        )
    unit = main.measured_in
    if main.log and main.rule not in ("counts", "zero"):
        unit = f"log({unit})"
    return UnitSummary(main.name, unit, tuple(values), main.covariate_name)


def _disagreement(
    comparisons: tuple[Comparison, ...], tests: tuple[TestRow, ...]
) -> tuple[str, ...]:
    """Re-randomization against the first line, where it could have said something."""
    names = [row.term for row in tests if _disagrees(row)]
    names.extend(
        row.name if row.within is None else f"{row.name} ({row.within})"
        for row in comparisons
        if _disagrees(row)
    )
    if not names:
        return ()
    return (say("redraws disagree", names=", ".join(dict.fromkeys(names))),)


def _disagrees(row: Comparison | TestRow) -> bool:
    redraws = row.redraws
    if redraws is None or redraws.p is None or row.p is None:
        return False
    if redraws.reason is not None:  # among other layouts than all: told beside its p
        return False
    if redraws.smallest_possible_p is None or redraws.smallest_possible_p > DISAGREE_AT:
        return False
    if (row.p < DISAGREE_AT) == (redraws.p < DISAGREE_AT):
        return False
    room = 0.0
    if redraws.kind == "sampled":
        room = 3.0 * float(np.sqrt(redraws.p * (1.0 - redraws.p) / redraws.total))
    return abs(redraws.p - DISAGREE_AT) > room and abs(row.p - redraws.p) > room
