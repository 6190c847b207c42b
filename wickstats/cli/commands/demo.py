"""``wickstats demo``: the invented trials, and the whole road on them."""

from pathlib import Path

import click

from wickstats.cli.show import outcome_counts


@click.command("demo")
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("wickstats-demo"),
    show_default=True,
    help="Folder for the demo trials and their reports.",
)
def command(out: Path) -> int:
    """Write the invented demo trials with their records and run the whole road on them.

    Example: wickstats demo --out demo
    """
    from wickstats.api import analyze, audit, read_records, read_trial, write_report
    from wickstats.cli.steps import Steps
    from wickstats.core.words import say
    from wickstats.demo.trials import copy_demo

    folders = copy_demo(out)
    outcome: list[str] = []
    with Steps(4 * len(folders)) as steps:
        for folder in folders:
            name = folder.name
            steps.start(say("step demo", name=name, step=say("step demo reading")))
            trial = read_trial(folder / "trial.yaml")
            season = read_records(trial)
            steps.start(say("step demo", name=name, step=say("step analyzing")))
            results = analyze(trial, season)
            steps.start(say("step demo", name=name, step=say("step writing")))
            written = write_report(results, out / f"report-{folder.name}")
            steps.start(say("step demo", name=name, step=say("step auditing")))
            serious = audit(written).serious
            counts = outcome_counts(results.queries, results.exclusions)
            found = say("count serious", n=serious)
            outcome.append(say("cli demo outcome", name=name, serious=found, **counts))
            outcome.append(f"  {(written / 'report.html').resolve().as_uri()}")
    click.echo(say("cli demo invented"))
    for line in outcome:
        click.echo(line)
    return 0
