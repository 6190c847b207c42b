"""The public functions: one season, from the trial file to the report.

The command line calls exactly these. Each loads what it needs when called.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from wickstats.core.notebook import load_at_first_show
from wickstats.core.results import Results
from wickstats.core.supply import Supply
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout

if TYPE_CHECKING:
    import pandas as pd

    from wickstats.recheck.findings import Audit
    from wickstats.records.season import Season
    from wickstats.road.rehearse import Rehearsal
    from wickstats.sizing.plan import PowerPlanned
    from wickstats.sizing.run import Means


def _load_forms() -> None:
    """What draws results for a notebook registers itself when it is loaded."""
    import wickstats.recheck.page
    import wickstats.report.notebook  # noqa: F401


load_at_first_show(_load_forms)


def read_trial(path: str | Path) -> Trial:
    """Read and check a trial file.

    Raises
    ------
    TrialError
        Holding every problem with its line and column.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> trial.trial.id, trial.factors[0].level_names
    ('beds', ('can', 'wick'))
    """
    from wickstats.design.read import read_trial as read

    return read(Path(path))


def randomize(trial: Trial, *, seed: int | None = None) -> Layout:
    """Lay out the plots at random; writes nothing (``layout.write()`` does).

    Raises
    ------
    LayoutError
        Where the design cannot be laid out.

    Examples
    --------
    >>> layout = ws.randomize(ws.read_trial("trial.yaml"), seed=7)
    >>> layout.to_frame()[["plot", "block", "watering"]].head(2).values.tolist()
    [['KH-C', '1', 'wick'], ['MG-M', '1', 'can']]
    """
    from wickstats.layout.randomize import randomize as draw

    return draw(trial, seed=seed)


def read_layout(trial: Trial, frame: "pd.DataFrame | None" = None) -> Layout:
    """Read the layout's file, or check a table of plots given in its place.

    Raises
    ------
    LayoutError
        Holding every problem with its row and column.

    Examples
    --------
    >>> layout = ws.read_layout(ws.read_trial("trial.yaml"))
    >>> len(layout.plots), layout.drawn
    (8, 'here')
    """
    from wickstats.layout.read import read_layout as read

    return read(trial, frame=frame)


def read_records(
    trial: Trial,
    *,
    tables: "Mapping[str, pd.DataFrame] | None" = None,
    layout: "Layout | pd.DataFrame | None" = None,
) -> "Season":
    """Read the season's tables and join them to the layout.

    Parameters
    ----------
    trial
        A checked trial.
    tables
        Table name to frame, in place of the files that the trial names.
    layout
        A layout, or a table of plots; read from the trial's file where left out.

    Raises
    ------
    LayoutError, RecordsError
        Holding every problem with its file, row and column.

    Examples
    --------
    >>> season = ws.read_records(ws.read_trial("trial.yaml"))
    >>> season.to_frame()[["kind", "file", "code"]].values.tolist()
    [['query', 'weather.csv', 'missing days']]
    >>> sorted(season.tables)
    ['visits', 'water', 'weather']
    """
    from wickstats.records.read import read_records as read

    if not isinstance(layout, Layout):
        layout = read_layout(trial, frame=layout)
    return read(trial, layout, tables=tables)


def analyze(trial: Trial, season: "Season") -> Results:
    """Analyze a season as it was randomized.

    Raises
    ------
    AnalysisError
        Where nothing can be analyzed, in words.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> results = ws.analyze(trial, ws.read_records(trial))
    >>> survival = results.response("survival")
    >>> survival.comparisons[0].verdict
    'better'
    >>> survival.to_frame("means").set_index("treatment")["estimate"].head(2).round(2).to_dict()
    {'can': 0.45, 'wick': 0.95}
    """
    from wickstats.road.season import compose

    return compose(trial, season)


def write_report(results: Results, folder: str | Path, *, language: str = "en") -> Path:
    """Write report.html, results.json, tables, figures, inputs and manifest.

    Parameters
    ----------
    results
        What ``analyze`` returned.
    folder
        Where they shall stand; an earlier report of ours is replaced.
    language
        "es" tells the advisor's part, its picture and the cautions in Spanish; all else,
        results.json too, stays in English.

    Raises
    ------
    ReportError
        Where the folder is not one of ours or is in use, or the language is not known.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> results = ws.analyze(trial, ws.read_records(trial))
    >>> folder = ws.write_report(results, "informe", language="es")
    >>> '<html lang="es">' in (folder / "report.html").read_text("utf-8")
    True
    """
    from wickstats.report.write import write_report as write

    return write(results, Path(folder), language)


def power(
    trial: Trial,
    *,
    past: "str | Path | None" = None,
    second_year: bool = False,
    seasons: int = 20_000,
    blocks: tuple[int, ...] = (),
    means: "Means | None" = None,
) -> "PowerPlanned":
    """Power, smallest detectable difference and blocks needed, before planting.

    Parameters
    ----------
    trial
        A checked trial.
    past
        A past season's report folder: its variances are used, with their uncertainty.
    second_year
        ``past`` is this trial's first year: its variance corrects the number of blocks,
        treatments not looked at.
    seasons
        Simulated seasons for shares and counts; 0: none.
    blocks
        Numbers of blocks of the power curve, each with ``seasons``; chosen where left out.
    means
        Who simulates: workers, a scheduler, a folder for finished parts.

    Raises
    ------
    TrialError
        Where the budget does not pay for two blocks.
    AnalysisError
        Where the trial file holds no assumptions to reckon with, in words.
    ReportError
        Where the past report cannot be read, or does not fit this trial.

    Examples
    --------
    >>> planned = ws.power(ws.read_trial("trial.yaml"), seasons=0)
    >>> planned.blocks, planned.word
    (4, 'blocks')
    >>> chance = planned.to_frame()["power"].iloc[0]
    >>> bool(0 < chance < 1)
    True
    """
    from wickstats.core.words.places import at_place
    from wickstats.road.past import read_past
    from wickstats.sizing.asked import power_asked

    with at_place(trial.trial.place):
        return power_asked(
            trial,
            None if past is None else read_past(Path(past)),
            second_year=second_year,
            seasons=seasons,
            blocks=blocks,
            means=means,
        )


def supply(trial: Trial, season: "Season | None" = None) -> Supply:
    """Water that plants need against what they got, reservoirs, and how often they run dry.

    Parameters
    ----------
    trial
        A checked trial.
    season
        Its records; where left out, the tables of weather and water are read.

    Raises
    ------
    TrialError
        Where latitude, elevation, crop coefficient, wetted area or all records are missing.
    LayoutError, RecordsError
        Where layout or tables cannot be read.

    Examples
    --------
    >>> supply = ws.supply(ws.read_trial("trial.yaml"))
    >>> supply.basis.route
    'Hargreaves'
    >>> len(supply.to_frame("days"))
    7
    """
    from wickstats.core.words.places import at_place
    from wickstats.road.supply import supply_of

    with at_place(trial.trial.place):
        return supply_of(trial, season)


def papers(trial: Trial, folder: str | Path, *, visits: int | None = None) -> Path:
    """Write map, field sheets, workbooks to type into, labels and checklist as a folder.

    Parameters
    ----------
    trial
        A checked trial that has its layout.
    folder
        Where they shall stand; papers that stand there and were not filled in are replaced.
    visits
        Visits that the workbooks have rows for; the planned ones where left out.

    Raises
    ------
    LayoutError
        Where there is no layout, or a plot's name tells a treatment that is to be hidden.
    ReportError
        Where something else stands there, or a workbook in it was filled in.

    Examples
    --------
    >>> folder = ws.papers(ws.read_trial("trial.yaml"), "papers")
    >>> (folder / "map.html").exists()
    True
    """
    from wickstats.crew.write import write_papers

    return write_papers(trial, read_layout(trial), Path(folder), visits=visits).folder


def rehearse(trial: Trial, seed: int = 1, *, past: str | Path | None = None) -> "Rehearsal":
    """Simulate a whole season under the trial's assumptions, and analyze it.

    ``write_report(rehearsal.results, folder)`` writes the tables and the marked report.

    Parameters
    ----------
    trial
        A checked trial.
    seed
        The same seed gives the same season.
    past
        A past season's report folder: how much units differ is taken from there.

    Raises
    ------
    TrialError
        Holding every assumption that is missing, each with an example to paste.
    LayoutError
        Where there is no layout and none can be drawn.
    ReportError
        Where the past report cannot be read, or does not fit this trial.

    Examples
    --------
    >>> rehearsal = ws.rehearse(ws.read_trial("trial.yaml"), seed=1)
    >>> rehearsal.results.simulated
    True
    """
    from wickstats.road.past import read_past
    from wickstats.road.rehearse import rehearse_season

    return rehearse_season(trial, seed, None if past is None else read_past(Path(past)))


def audit(folder: str | Path, *, against: str | Path | None = None) -> "Audit":
    """Recompute a report's folder, opened read-only.

    Raises
    ------
    ReportError
        Where the folder cannot be read as a report.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> results = ws.analyze(trial, ws.read_records(trial))
    >>> outcome = ws.audit(ws.write_report(results, "report"))
    >>> outcome.serious, list(outcome.to_frame())
    (0, ['weight', 'kind', 'place', 'sentence', 'ask'])
    """
    from wickstats.recheck.audit import audit_folder
    from wickstats.report.write import report_files

    other = None if against is None else Path(against)
    return audit_folder(Path(folder), rebuild=report_files, against=other)
