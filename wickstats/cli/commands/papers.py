"""``wickstats papers``: map, field sheets, labels and checklist for the crew."""

from pathlib import Path

import click

from wickstats.cli.show import beside


@click.command("papers")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where to write; papers-<id> beside the trial when left out.",
)
@click.option(
    "--visits",
    metavar="N",
    type=click.IntRange(1, 400),
    help="Visits that the workbooks have rows for; planned ones when left out.",
)
def command(trial_file: Path, *, out: Path | None, visits: int | None) -> int:
    """Write map, field sheets, workbooks to type into, labels and a checklist.

    Needs a layout. Sheets follow the walking order of the map. With blind: true in the plan,
    treatments stand only in the folder key. Never replaces a folder that is not its own or
    in which something was filled in. Before driving stakes or digging, have buried services
    marked, and follow local law and code.

    Example: wickstats papers trial.yaml --out papers
    """
    from wickstats.api import read_layout, read_trial
    from wickstats.core.words import say
    from wickstats.crew.write import FIRST, write_papers

    trial = read_trial(trial_file)
    layout = read_layout(trial)
    folder = out if out is not None else beside(trial_file, f"papers-{trial.trial.id}")
    written = write_papers(trial, layout, folder, visits=visits)
    papers = sum(name.endswith(".html") for name in written.files)
    books = sum(name.endswith((".xlsx", ".xlsm")) for name in written.files)
    click.echo(
        say(
            "papers written",
            papers=say("count papers", n=papers),
            books=say("count workbooks", n=books),
            plots=say("count plots", n=len(layout.plots)),
        )
    )
    if written.seal is not None:
        click.echo(say("papers hidden", digest=written.seal))
    if written.record is not None:
        click.echo(say("papers record", record=written.record))
    click.echo((written.folder / FIRST).resolve().as_uri())
    return 0
