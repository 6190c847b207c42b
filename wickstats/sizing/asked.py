"""``power`` as it is asked: the plan, its questions, or a second year. Leans on all of them."""

from dataclasses import replace

from wickstats.analysis.units import lay_out_units
from wickstats.core.errors import AnalysisError
from wickstats.core.results import PowerRow
from wickstats.core.words import say
from wickstats.design.defaults import is_pilot
from wickstats.design.trial import Trial
from wickstats.sizing.from_past import PastPower
from wickstats.sizing.past import PastSeason
from wickstats.sizing.past_simulated import Next, by_seasons
from wickstats.sizing.plan import (
    DETECTABLE,
    NEEDED,
    NEEDED_MATTERS,
    POWER,
    PowerPlanned,
    layout_for,
    plan_power,
)
from wickstats.sizing.plots import sizes_of, with_sizes
from wickstats.sizing.questions import ask
from wickstats.sizing.questions_told import Questions
from wickstats.sizing.run import Means
from wickstats.sizing.seasons import planned_families
from wickstats.sizing.second_year import second_year as corrected
from wickstats.sizing.unsaid import unsaid


def power_asked(
    trial: Trial,
    past: PastSeason | None,
    *,
    second_year: bool,
    seasons: int,
    blocks: tuple[int, ...],
    means: Means | None,
) -> PowerPlanned:
    """Reckon the plan, and answer what else is asked.

    Raises
    ------
    AnalysisError
        Where nothing can be reckoned, in words.
    """
    if past is not None and means is not None and means.keep is not None:
        past.keep_in(means.keep)
    if second_year:
        return _second(trial, past)
    planned = plan_power(trial, past)
    planned = replace(planned, rows=_assumed_side(planned.rows))
    if is_pilot(trial):
        return planned
    if past is not None:
        return replace(planned, past=_past(trial, past, planned, seasons, means or Means()))
    for warning in planned.warnings:
        if means is not None and means.warn is not None:
            means.warn(warning)
    asked = ask(trial, seasons=seasons, counts=blocks, means=means)
    told = {row.response for row in planned.rows}
    rows = planned.rows if asked is None else _solved(planned.rows, asked)
    return replace(planned, rows=rows, questions=asked, problems=unsaid(trial, told))


def _assumed_side(rows: tuple[PowerRow, ...]) -> tuple[PowerRow, ...]:
    """Sizes that hold on both sides are told on the side where the difference is assumed."""

    def sign(row: PowerRow) -> float:
        none = 1.0 if row.measure == "ratio" else 0.0
        return 0.0 if row.difference is None else row.difference - none

    kinds = {(row.response, row.comparison, row.note.split("; ")[0]): row for row in rows}
    out = []
    for row in rows:
        kind = row.note.split("; ")[0]
        assumed = kinds.get((row.response, row.comparison, POWER))
        needed = kinds.get((row.response, row.comparison, NEEDED))
        about = {"response": row.response, "comparison": row.comparison}
        other = needed is not None and needed.not_estimable == say("power other side", **about)
        below = assumed is not None and sign(assumed) < 0.0 < sign(row)
        if row.difference is None or kind not in (DETECTABLE, NEEDED_MATTERS) or other:
            out.append(row)
        elif below:
            turned = 1.0 / row.difference if row.measure == "ratio" else -row.difference
            out.append(replace(row, difference=turned))
        else:
            out.append(row)
    return tuple(out)


def _past(
    trial: Trial, past: PastSeason, planned: PowerPlanned, seasons: int, means: Means
) -> PastPower | None:
    """The past season's chances, of shares and counts by simulated seasons."""
    layout = layout_for(trial)
    trial = with_sizes(trial, layout)
    sizes = sizes_of(trial, layout)
    if layout is None or isinstance(sizes, str) or planned.past is None:
        return planned.past
    families = planned_families(trial, lay_out_units(trial, layout))
    return by_seasons(planned.past, past, Next(trial, layout, sizes, families), seasons, means)


def _solved(rows: tuple[PowerRow, ...], asked: Questions) -> tuple[PowerRow, ...]:
    """Closed forms give way to what simulated seasons solved."""
    by_name = {(one.response, one.comparison): one for one in asked.solved}
    shown = {
        (c.response, c.comparison): c
        for c in asked.chances
        if c.seasons and c.error is not None
    }
    out = []
    for row in rows:
        kind = row.note.split("; ")[0]
        chance = shown.get((row.response, row.comparison))
        if kind == POWER and chance is not None and row.power is not None:
            note = say("power by seasons", response=row.response, seasons=f"{chance.seasons:,}")
            out.append(replace(row, power=chance.shown, note=f"{kind}; {note}"))
            continue
        one = by_name.get((row.response, row.comparison))
        if one is None or row.not_estimable == say("power no df"):
            out.append(row)
            continue
        note = say("power solved", response=one.response, seasons=f"{one.seasons:,}")
        told = replace(row, note=f"{kind}; {note}", not_estimable=None)
        if kind == DETECTABLE and one.smallest is not None:
            out.append(replace(told, difference=one.smallest))
        elif kind == NEEDED and one.needed is not None:
            out.append(replace(told, blocks=float(one.needed)))
        else:
            out.append(row)
    return tuple(out)


def _second(trial: Trial, past: PastSeason | None) -> PowerPlanned:
    if past is None:
        raise AnalysisError(say("second needs past"))
    if is_pilot(trial):
        raise AnalysisError(say("power pilot"))
    layout = layout_for(trial)
    trial = with_sizes(trial, layout)
    sizes = sizes_of(trial, layout)
    if layout is None or isinstance(sizes, str):
        raise AnalysisError(sizes if isinstance(sizes, str) else say("power no sizes"))
    planned = plan_power(trial.model_copy(update={"power": None}))
    target = trial.power.target if trial.power else 0.8
    families = planned_families(trial, lay_out_units(trial, layout))
    found = corrected(trial, past, sizes, families, target)
    return replace(planned, target=target, notes=past.notes, second_year=found)
