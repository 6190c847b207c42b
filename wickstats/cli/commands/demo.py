"""``wickstats demo``: the invented trials, and the whole road on them."""

from pathlib import Path

import click


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
    from wickstats.report.index import write_index

    pages: list[tuple[str, Path]] = []
    folders = copy_demo(out)
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
            click.echo(
                f"{folder.name}: report written; audit found {serious or 'nothing'} serious"
            )
            pages.append((trial.trial.title or folder.name, written / "report.html"))
    index = write_index(out, pages)
    click.echo("All data here are invented, for demonstration.")
    click.echo(index.resolve().as_uri())
    return 0
