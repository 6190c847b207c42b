"""``wickstats demo``: the invented trials, and the whole road on them."""

from pathlib import Path

import click

from wickstats.cli.show import count


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
    from wickstats.demo.trials import copy_demo

    folders = copy_demo(out)
    outcome: list[str] = []
    with Steps(4 * len(folders)) as steps:
        for folder in folders:
            steps.start(f"{folder.name}: reading")
            trial = read_trial(folder / "trial.yaml")
            season = read_records(trial)
            steps.start(f"{folder.name}: analyzing")
            results = analyze(trial, season)
            steps.start(f"{folder.name}: drawing and writing")
            written = write_report(results, out / f"report-{folder.name}")
            steps.start(f"{folder.name}: auditing")
            serious = audit(written).serious
            outcome.append(
                f"{folder.name}: {count(len(results.queries), 'query', 'queries')}, "
                f"{count(len(results.exclusions), 'row')} not used, "
                f"audit: {count(serious, 'serious finding')}"
            )
            outcome.append(f"  {(written / 'report.html').resolve().as_uri()}")
    click.echo("All data here are invented, for demonstration.")
    for line in outcome:
        click.echo(line)
    return 0
