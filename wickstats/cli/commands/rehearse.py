"""``wickstats rehearse``: a simulated season and its report, before anything is planted."""

from pathlib import Path

import click

from wickstats.cli.show import beside, clean, echo_primary, outcome_counts


@click.command("rehearse")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--seed",
    metavar="N",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="The same number gives the same season.",
)
@click.option(
    "--from",
    "past",
    metavar="REPORT_DIR",
    type=click.Path(path_type=Path),
    help="A past season's report: take how much units differed there, as uncertain as it is.",
)
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where to write; rehearsal-<id> beside the trial when left out.",
)
def command(trial_file: Path, *, seed: int, past: Path | None, out: Path | None) -> int:
    """Simulate a season under the power assumptions; write its tables and its report.

    The crew's tables stand under inputs/, as they would be filled in: check and
    analyze read them like those of a real season. Everything is marked SIMULATED.

    Example: wickstats rehearse trial.yaml --seed 1
    """
    from wickstats.api import read_trial, rehearse, write_report
    from wickstats.cli.steps import Steps
    from wickstats.core.words import say

    with Steps(3) as steps:
        steps.start(say("step simulating"))
        rehearsal = rehearse(read_trial(trial_file), seed, past=past)
        results = rehearsal.results
        folder = out if out is not None else beside(trial_file, f"rehearsal-{results.trial.id}")
        steps.start(say("step writing"))
        written = write_report(results, folder)
        steps.start(say("step done"))
    click.echo(say("banner simulated"))
    click.echo(say("simulated rests"))
    for line in rehearsal.assumed:
        click.echo(clean(f"  {line}"))
    if rehearsal.own_layout:
        click.echo(say("simulated own layout"))
    echo_primary(results)
    counts = outcome_counts(results.queries, results.exclusions)
    click.echo(say("cli outcome", **counts))
    click.echo((written / "report.html").resolve().as_uri())
    return 0
