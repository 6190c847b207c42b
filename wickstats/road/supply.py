"""Supply of a trial: the tables that it needs are read, the rest of the season is not.

Leans on demand, analysis, records, layout and core.
"""

from pathlib import Path

from wickstats.analysis.season import analyze_season
from wickstats.core.errors import Problem, TrialError
from wickstats.core.supply import Supply
from wickstats.core.words import say
from wickstats.demand.bench import bench_supply
from wickstats.demand.place import missing_for_demand
from wickstats.demand.season import refused_rows, season_supply
from wickstats.design.places import places
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.read import read_layout
from wickstats.records.read import read_records
from wickstats.records.season import Season
from wickstats.sizing.plan import layout_for

TABLES = ("weather", "water", "events", "plants")


def supply_of(trial: Trial, season: Season | None = None) -> Supply:
    """Demand, supply and reservoirs, at the exact place: for its owner's own screen.

    Raises
    ------
    TrialError
        Where keys of the trial file are missing, each with what to write.
    LayoutError, RecordsError, AnalysisError
        Where layout or tables cannot be read, or a bench trial not analyzed.
    """
    if trial.trial.place == "bench":
        return _at_the_bench(trial, season)
    if season is None:
        _refuse_lacking(trial, has_weather="weather" in trial.records)
        needed = _with_tables(trial)
        season = read_records(needed, _layout(trial))
    weather = season.table("weather")
    _refuse_lacking(trial, has_weather=weather is not None and len(weather) > 0)
    found = season_supply(trial, season.layout, season, to_archive=False)
    if not found.days and found.reservoirs is None:
        raise TrialError([_nothing(trial, refused_rows(trial, season))])
    return found


def _at_the_bench(trial: Trial, season: Season | None) -> Supply:
    """Volumes for the cords of a bench trial, by their flow."""
    if season is None:
        season = read_records(trial, read_layout(trial))
    analyzed = analyze_season(trial, season.layout, season)
    found = bench_supply(trial, analyzed.responses)
    if found.reservoirs is None:
        raise TrialError([_nothing(trial)])
    return found


def _with_tables(trial: Trial) -> Trial:
    """The trial with the tables that supply reads, as far as their files are there."""
    folder = Path(trial.folder)
    kept = {
        name: sources
        for name, sources in trial.records.items()
        if name == "weather"
        or (name in TABLES and all((folder / source.file).exists() for source in sources))
    }
    return trial.model_copy(update={"records": kept})


def _layout(trial: Trial) -> Layout:
    """The trial's layout, or one laid out in memory to learn what is fed by what."""
    found = layout_for(trial)
    return read_layout(trial) if found is None else found


def _refuse_lacking(trial: Trial, *, has_weather: bool) -> None:
    """Weather cannot become liters without place, coefficient and area."""
    missing = missing_for_demand(trial)
    if not has_weather or not missing:
        return
    out, _ = places(trial)
    problems = []
    for item in missing:
        parent = ".".join(item.path[:-1])
        place = out.place(item.path)
        problems.append(
            Problem(
                file=trial.file,
                code="missing key",
                found=say("supply lacks found", what=item.path[-1]),
                expected=item.what,
                fix=say("supply lacks fix", example=item.example, parent=parent),
                line=place.line,
                column=place.column,
            )
        )
    raise TrialError(problems)


def _nothing(trial: Trial, refused: int = 0) -> Problem:
    empty = "weather" in trial.records
    place = places(trial)[0].place(("records", "weather") if refused or empty else ("records",))
    found, fix = say("supply nothing found"), say("supply nothing fix")
    if empty:
        found, fix = say("supply no row found"), say("supply no row fix")
    if refused:
        found, fix = say("supply all refused found", n=refused), say("supply all refused fix")
    return Problem(
        file=trial.file,
        code="no weather",
        found=found,
        expected=say("supply nothing expected"),
        fix=fix,
        line=place.line,
        column=place.column,
    )
