"""``wickstats analyze``: check, analyze, write the report's folder."""

from pathlib import Path

import click

from wickstats.cli.show import beside, echo_primary, outcome_counts
from wickstats.core.language import ENGLISH, LANGUAGES

MOST_TOLD = 5  # places that are named one by one


@click.command("analyze")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where to write; report-<id> beside the trial when left out.",
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default=ENGLISH,
    show_default=True,
    help="Of the advisor's part and the cautions; all else stays in English.",
)
def command(trial_file: Path, *, out: Path | None, language: str) -> int:
    """Check and analyze the season; write report.html and everything behind it.

    Example: wickstats analyze trial.yaml --out report
    """
    from wickstats.api import analyze, read_records, read_trial, write_report
    from wickstats.cli.steps import Steps
    from wickstats.core.words import say
    from wickstats.design.shared import still_told
    from wickstats.records.looks import note_look

    unkept = ""
    with Steps(4) as steps:
        steps.start(say("step reading"))
        trial = read_trial(trial_file)
        season = read_records(trial)
        steps.start(say("step analyzing"))
        results = analyze(trial, season)
        folder = out if out is not None else beside(trial_file, f"report-{results.trial.id}")
        steps.start(say("step writing"))
        written = write_report(results, folder, language=language)
        try:
            note_look(trial, season)
        except OSError as error:
            unkept = say("looks not kept", why=error.strerror or "refused")
        steps.start(say("step done"))
    if unkept:
        click.echo(unkept, err=True)
    if results.simulated:
        click.echo(say("banner simulated"))
    echo_primary(results)
    counts = outcome_counts(results.queries, results.exclusions)
    click.echo(say("cli outcome", **counts))
    site = trial.trial.site
    if site.share == "withheld" or (site.share == "rounded" and site.latitude is not None):
        click.echo(say("site in inputs", share=site.share))
        told = still_told(trial, results.source_bytes)
        if told:
            more = f" +{len(told) - MOST_TOLD}" if len(told) > MOST_TOLD else ""
            click.echo(say("site still told", places=", ".join(told[:MOST_TOLD]) + more))
    click.echo((written / "report.html").resolve().as_uri())
    return 0
