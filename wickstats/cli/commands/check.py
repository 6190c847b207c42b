"""``wickstats check``: every problem of the trial and its records, with its place."""

from pathlib import Path
from typing import Any

import click

from wickstats.cli.show import (
    clean,
    echo_json,
    outcome_counts,
    refused,
    show_exclusions,
    show_problems,
    show_queries,
)
from wickstats.core.codec import to_plain
from wickstats.core.errors import Problem, ProblemsError
from wickstats.core.words import say
from wickstats.design.trial import Trial


@click.command("check")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the findings for programs.")
def command(trial_file: Path, *, as_json: bool) -> int:
    """Read the trial and whatever records exist; list every problem.

    Queries are doubts for a person to settle; they do not stop the analysis.

    Example: wickstats check trial.yaml
    """
    outcome = examine(trial_file)
    if as_json:
        echo_json(to_plain(outcome))
    else:
        _show(trial_file, outcome)
    return 1 if outcome["problems"] else 0


def examine(trial_file: Path) -> dict[str, list[Any]]:
    """Read everything that is there and collect what was found."""
    from wickstats.api import randomize, read_layout, read_records, read_trial
    from wickstats.design.notes import notes_on
    from wickstats.layout.notes import unused_in_layout, without_error
    from wickstats.layout.structure import degrees
    from wickstats.sizing.pairs import precision_lines

    found: dict[str, list[Any]] = {
        "problems": [],
        "queries": [],
        "exclusions": [],
        "notes": [],
        "missing": [],
        "layout": [],
    }
    try:
        trial = read_trial(trial_file)
        found["notes"].extend(_marked(trial))
        found["notes"].extend(notes_on(trial))
        if not (Path(trial.folder) / trial.design.layout).exists():
            found["missing"].append(trial.design.layout)
            if trial.design.drawn == "here":
                # what cannot be drawn is told before anybody tries
                drawn = randomize(trial, seed=0)
                found["notes"].extend(without_error(trial, degrees(drawn)))
                found["layout"].extend(precision_lines(trial, drawn))
            return found
        layout = read_layout(trial)
        found["layout"].extend(precision_lines(trial, layout))
        found["notes"].extend(unused_in_layout(layout))
        found["notes"].extend(without_error(trial, degrees(layout)))
        absent, present = _records(trial)
        if present:
            season = read_records(trial, layout=layout)
            found["queries"].extend(season.queries)
            found["exclusions"].extend(season.exclusions)
            found["notes"].extend(season.notes)
        else:
            found["missing"].extend(absent)
    except ProblemsError as error:
        found["problems"].extend(error.problems)
        found["queries"].extend(getattr(error, "queries", ()))
    except OSError as error:
        if not error.strerror:
            raise
        found["problems"].append(refused(error))
    return found


def _marked(trial: Trial) -> list[Problem]:
    """A note where the trial file is that of a rehearsal."""
    if trial.trial.simulated is None:
        return []
    return [
        Problem(
            trial.file,
            "simulated",
            say("simulated check", seed=trial.trial.simulated.seed),
            say("cli simulated expected"),
            say("cli simulated fix"),
        )
    ]


def _records(trial: Trial) -> tuple[list[str], list[str]]:
    files = [source.file for sources in trial.records.values() for source in sources]
    absent = [name for name in files if not (Path(trial.folder) / name).exists()]
    return absent, [name for name in files if name not in absent]


def _show(trial_file: Path, outcome: dict[str, list[Any]]) -> None:
    show_queries(outcome["queries"])
    show_exclusions(outcome["exclusions"])
    for note in outcome["notes"]:
        click.echo(clean(f"{note.place}: {note.code}: {note.found}; {note.fix}"))
    if outcome["missing"] and not outcome["problems"]:
        click.echo(say("cli not there", files=", ".join(outcome["missing"])))
    if outcome["problems"]:
        show_problems(outcome["problems"])
        return
    for line in outcome["layout"]:
        click.echo(clean(line))
    counts = outcome_counts(outcome["queries"], outcome["exclusions"])
    click.echo(say("cli no problems", file=trial_file, **counts))
