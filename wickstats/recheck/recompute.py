"""The archived season analyzed again, from copies of the archived inputs.

Nothing in the report's folder is opened for writing: its inputs are copied to a
temporary folder and read there. Tables that were given in memory are archived as CSV and
given in memory again. Leans on the whole road below.
"""

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wickstats.core.codec import to_plain
from wickstats.core.errors import WickstatsError
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.design.trial import Simulated, Trial
from wickstats.recheck.findings import Finding
from wickstats.records.mark import MarkedRows, marked_rows
from wickstats.records.season import Season

INPUTS = "inputs/"
Rebuild = Callable[[Results], Mapping[str, bytes]]


@dataclass(frozen=True)
class Recomputed:
    """The results of a second run, as plain values, and the files they give."""

    plain: dict[str, Any] | None
    files: Mapping[str, bytes] = field(default_factory=dict)
    why_not: str | None = None
    mark: Simulated | None = None  # of the archived trial file
    rows: MarkedRows = field(default_factory=MarkedRows)
    redrawn: Mapping[str, bytes] = field(default_factory=dict)  # a rehearsal simulated again
    asked: tuple[Finding, ...] = ()  # about plan, layout and records
    looked_at: tuple[str, ...] = ()  # what gave no question, in words


def recompute(
    files: Mapping[str, bytes], trial_file: str | None, rebuild: Rebuild
) -> Recomputed:
    """Analyze the archived inputs again.

    Parameters
    ----------
    files
        Every file of the report's folder.
    trial_file
        Name of the trial file among the inputs, as results.json gives it.
    rebuild
        Turns results into the files of a report's folder.
    """
    inputs = {
        name.removeprefix(INPUTS): data
        for name, data in files.items()
        if name.startswith(INPUTS)
    }
    name = trial_file if trial_file in inputs else _only_yaml(inputs)
    if name is None:
        return Recomputed(None, why_not=say("audit input missing"))
    with tempfile.TemporaryDirectory(prefix="audit-") as temporary:
        folder = Path(temporary).resolve()
        for path, data in inputs.items():
            target = (folder / path).resolve()
            if not target.is_relative_to(folder):
                return Recomputed(None, why_not=path)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        try:
            trial, season, results = _run(folder / name, inputs)
            asked, looked_at = _questions(trial, season, results)
            mark, rows = trial.trial.simulated, marked_rows(season.tables)
            redrawn = _simulated_again(folder / name, mark)
        except (WickstatsError, ValueError) as error:
            return Recomputed(None, why_not=str(error))
    return Recomputed(
        to_plain(results),
        rebuild(results),
        mark=mark,
        rows=rows,
        redrawn=redrawn,
        asked=asked,
        looked_at=looked_at,
    )


def _questions(
    trial: Trial, season: Season, results: Results
) -> tuple[tuple[Finding, ...], tuple[str, ...]]:
    """What the plan's lock, the layout and the records give to ask."""
    from wickstats.recheck.chance import chance_findings
    from wickstats.recheck.habits import habit_findings
    from wickstats.recheck.looked import look_findings
    from wickstats.recheck.plan_lock import plan_findings

    found, words = plan_findings(trial, season)
    chance, told = chance_findings(trial, season)
    habits = habit_findings(season)
    asked = (*found, *look_findings(results), *chance, *habits)
    none = any(f.weight == "question" for f in (*chance, *habits))
    return asked, (*words, *told, *(() if none else (say("audit questions none"),)))


def _simulated_again(trial_file: Path, mark: Simulated | None) -> Mapping[str, bytes]:
    """The tables that a rehearsal's seed gives; none for a real season."""
    if mark is None:
        return {}
    from wickstats.design.read import read_trial
    from wickstats.road.rehearse import rehearse_tables

    try:
        files = rehearse_tables(read_trial(trial_file), mark.seed)
    except WickstatsError:
        return {}
    return {name: data for name, data in files.items() if name != trial_file.name}


def _only_yaml(inputs: Mapping[str, bytes]) -> str | None:
    found = [name for name in inputs if name.endswith((".yaml", ".yml"))]
    return found[0] if len(found) == 1 else None


def _run(trial_file: Path, inputs: Mapping[str, bytes]) -> tuple[Trial, Season, Results]:
    from wickstats.design.read import read_trial
    from wickstats.design.tables import RECORD_TABLES
    from wickstats.layout.memory import LAYOUT_TABLE, memory_name
    from wickstats.layout.read import read_layout
    from wickstats.records.memory import frame_of_csv
    from wickstats.records.read import read_records
    from wickstats.road.season import compose

    trial = read_trial(trial_file)
    given = {
        table: frame_of_csv(inputs[memory_name(trial, table)])
        for table in (LAYOUT_TABLE, *RECORD_TABLES)
        if memory_name(trial, table) in inputs
    }
    layout = read_layout(trial, frame=given.pop(LAYOUT_TABLE, None))
    season = read_records(trial, layout, tables=given or None)
    return trial, season, compose(trial, season)
