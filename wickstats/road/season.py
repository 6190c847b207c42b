"""One season from trial and records to results: analyzed, sized, computed twice.

Leans on analysis, sizing, ``second_opinion``, records, layout and core.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from importlib.metadata import version

from wickstats.analysis.season import AnalysisResults, analyze_season
from wickstats.core.errors import AnalysisError
from wickstats.core.looks import Looks
from wickstats.core.responses import ResponseResult
from wickstats.core.results import (
    RESULTS_FORMAT,
    Deviation,
    InputFile,
    PowerResults,
    PowerRow,
    Results,
)
from wickstats.core.supply import Supply
from wickstats.core.words import say
from wickstats.core.words.places import at_place
from wickstats.demand.bench import bench_supply
from wickstats.demand.season import season_supply
from wickstats.design.canonical import canonical_hash
from wickstats.design.defaults import plan_of
from wickstats.design.shared import as_shared
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.structure import degrees, layout_facts
from wickstats.layout.tell import efficiency_line
from wickstats.models.linear.contrasts import interaction_df
from wickstats.records.looks import looks_bytes, looks_name
from wickstats.records.mark import marked_rows
from wickstats.records.season import Season
from wickstats.road.dense_opinion import dense_opinion
from wickstats.road.looked import look_deviations, told_looks
from wickstats.road.material import material_of
from wickstats.road.second_opinion import second_opinion
from wickstats.sizing.curve import curve_points
from wickstats.sizing.pairs import MOST_PLOTS
from wickstats.sizing.pieces import SEVERAL_STRATA
from wickstats.sizing.plan import plan_power
from wickstats.sizing.season import next_rows, reached_rows


def compose(trial: Trial, season: Season) -> Results:
    """Analyze a season and bind everything into results.

    A season is simulated where the trial file says so, or any of its rows.

    Raises
    ------
    AnalysisError
        Where nothing can be analyzed, in words.
    """
    trial = as_shared(trial)
    with at_place(trial.trial.place):
        return _composed(trial, season)


def _composed(trial: Trial, season: Season) -> Results:
    layout = season.layout
    analyzed = analyze_season(trial, layout, season)
    looks = told_looks(trial, season)
    inputs, content = _inputs(trial, season, looks)
    results = Results(
        wickstats=version("wickstats"),
        results_format=RESULTS_FORMAT,
        simulated=_simulated(trial, season),
        trial=analyzed.trial,
        inputs=inputs,
        layout=replace(layout_facts(layout), keeps=_keeps(layout)),
        degrees_of_freedom=degrees(layout),
        accounting=analyzed.accounting,
        responses=analyzed.responses,
        water=analyzed.water,
        supply=_supply(trial, layout, season, analyzed),
        costs=analyzed.costs,
        power=_power(trial, layout, analyzed),
        queries=(*season.queries, *analyzed.queries),
        exclusions=season.exclusions,
        deviations=(
            *_changed_plan(trial, layout),
            *look_deviations(looks),
            *analyzed.deviations,
        ),
        second_engine=(),
        equal_water=analyzed.equal_water,
        cost_parts=analyzed.cost_parts,
        looks=looks,
        source_bytes=content,
    )
    material = material_of(results, trial, season)
    return replace(results, second_engine=(*second_opinion(material), *dense_opinion(material)))


def _supply(trial: Trial, layout: Layout, season: Season, analyzed: AnalysisResults) -> Supply:
    if trial.trial.place == "bench":
        return bench_supply(trial, analyzed.responses)
    return season_supply(trial, layout, season, to_archive=True)


def _simulated(trial: Trial, season: Season) -> bool:
    return trial.trial.simulated is not None or marked_rows(season.tables).marked > 0


def _keeps(layout: Layout) -> str | None:
    """What incomplete blocks, rows and columns keep of complete blocks, in words."""
    planned = layout.type in ("incomplete block", "row-column")
    return efficiency_line(layout) if planned and len(layout.plots) <= MOST_PLOTS else None


def _changed_plan(trial: Trial, layout: Layout) -> tuple[Deviation, ...]:
    """Say when design, factors, responses or plan are not what they were at the draw."""
    if layout.drawn == "here" and layout.hash is None:
        planned, done = say("no layout record planned"), say("no layout record done")
        return (Deviation(say("no layout record what"), planned, done, None),)
    if layout.hash is None or layout.hash == canonical_hash(trial):
        return ()
    return (
        Deviation(
            say("changed plan what"),
            say("changed plan planned"),
            say("changed plan done"),
            None,
        ),
    )


def _inputs(
    trial: Trial, season: Season, looks: Looks | None
) -> tuple[tuple[InputFile, ...], Mapping[str, bytes]]:
    """List everything that was read, the trial file first, each once."""
    content: dict[str, bytes] = {}
    if trial.source:
        content[trial.file] = trial.source
    content.update(season.layout.source_bytes)
    content.update(season.source_bytes)
    if looks is not None and len(looks.held) > 1:
        content[looks_name(trial)] = looks_bytes(trial, looks)
    known = {item.path: item for item in season.inputs}
    rows = [
        known.get(path) or InputFile(path, hashlib.sha256(data).hexdigest(), _rows(path, data))
        for path, data in content.items()
    ]
    rows.extend(item for path, item in known.items() if path not in content)
    return tuple(rows), content


def _rows(path: str, data: bytes) -> int:
    """Count data rows of a text table; 0 for files that are no tables."""
    if not path.lower().endswith(".csv"):
        return 0
    return max(sum(1 for line in data.splitlines() if line.strip()) - 1, 0)


def _power(trial: Trial, layout: Layout, analyzed: AnalysisResults) -> PowerResults:
    confidence = plan_of(trial).confidence
    target = trial.power.target if trial.power else 0.8
    blocks = {plot.block for plot in layout.plots if plot.block}
    whole = layout.type != "incomplete block"  # incomplete ones are counted in replicates
    units = (len(blocks) if whole else 0) or _fewest_units(layout)
    treatments = len({plot.treatment for plot in layout.plots})
    more_df = 0
    if layout.main_effects and layout.type not in SEVERAL_STRATA:
        more_df = interaction_df([len(factor.levels) for factor in trial.factors])
    planned: tuple[PowerRow, ...] = ()
    if trial.power is not None:
        try:
            planned = plan_power(trial).rows
        except AnalysisError:
            planned = ()
    told: list[ResponseResult] = [r for r in analyzed.responses if r.role != "exploratory"]
    chosen = told or list(analyzed.responses)
    return PowerResults(
        planned=planned,
        reached=tuple(
            row for r in chosen for row in reached_rows(r, confidence=confidence, target=target)
        ),
        next_season=tuple(
            row
            for r in chosen
            for row in next_rows(
                r,
                units=units,
                treatments=treatments,
                confidence=confidence,
                target=target,
                more_df=more_df,
            )
        ),
        curve=curve_points(
            trial,
            layout,
            next((r for r in chosen if r.role == "primary"), chosen[0]),
            units=units,
            confidence=confidence,
        )
        if chosen
        else (),
    )


def _fewest_units(layout: Layout) -> int:
    counts: dict[str, set[str]] = {}
    for plot in layout.plots:
        counts.setdefault(plot.treatment, set()).add(layout.unit_of[plot.plot])
    return min((len(units) for units in counts.values()), default=0)
