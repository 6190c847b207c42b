"""``wickstats randomize``: lay out the plots, once; again only with a reason."""

from pathlib import Path

import click

from wickstats.cli.show import clean
from wickstats.cli.steps import Steps


@click.command("randomize")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--redraw", is_flag=True, help="Draw again with a new seed; earlier layouts are kept."
)
@click.option(
    "--reason", metavar="TEXT", help="Why the layout is drawn again (kept in the record)."
)
def command(trial_file: Path, *, redraw: bool, reason: str | None) -> int:
    """Lay out the plots at random; write layout.csv and layout.record.json.

    Refuses where a layout exists: a layout that is drawn again until it looks nice
    is no longer random. Before driving stakes or digging, have buried services
    marked, and follow local law and code.

    Example: wickstats randomize trial.yaml
    """
    from wickstats.api import read_trial
    from wickstats.core.words import say
    from wickstats.layout.notes import without_error
    from wickstats.layout.structure import degrees
    from wickstats.layout.tell import layout_lines
    from wickstats.layout.write import draw_and_write
    from wickstats.sizing.pairs import pair_lines

    if redraw != bool(reason):
        raise click.UsageError("--redraw and --reason TEXT go together.")
    trial = read_trial(trial_file)
    with Steps(1) as steps:
        steps.start(say("step laying out"))
        layout = draw_and_write(trial, reason=reason)
    plots = say("count plots", n=len(layout.plots))
    click.echo(say("cli laid out", plots=plots, seed=layout.seed, file=layout.file))
    for line in (*layout_lines(layout), *pair_lines(trial, layout)):
        click.echo(clean(line))
    for note in without_error(trial, degrees(layout)):
        click.echo(f"{note.code}: {note.found}; {note.fix}")
    return 0
