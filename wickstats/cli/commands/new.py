"""``wickstats new``: a commented trial file and empty record tables."""

from pathlib import Path

import click


@click.command("new")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--like",
    type=click.Choice(["field", "garden", "bench"]),
    default="field",
    show_default=True,
    help="Plants on a dry site, a vegetable garden with picks, or cords on a bench.",
)
def command(folder: Path, *, like: str) -> int:
    """Write a commented trial file and empty record tables into DIR.

    Example: wickstats new my-trial --like garden
    """
    from wickstats.core.codec import write_whole
    from wickstats.core.words import say
    from wickstats.design.templates import template

    files = template(like, folder.resolve().name)
    if folder.exists() and not folder.is_dir():
        click.echo(say("cli new a file", folder=folder), err=True)
        return 1
    there = [name for name in files if (folder / name).exists()]
    if there:
        click.echo(say("cli new there", folder=folder, files=", ".join(there)), err=True)
        return 1
    for name, text in files.items():
        write_whole(folder / name, text.encode("utf-8"))
    click.echo(say("cli new written", folder=folder, files=", ".join(files)))
    click.echo(say("cli new next"))
    return 0
