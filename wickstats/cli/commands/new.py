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
    from wickstats.design.templates import template

    files = template(like, folder.resolve().name)
    if folder.exists() and not folder.is_dir():
        click.echo(f"{folder} is a file: name a folder, which may be new.", err=True)
        return 1
    there = [name for name in files if (folder / name).exists()]
    if there:
        click.echo(f"{folder} already holds {', '.join(there)}; nothing was written.", err=True)
        return 1
    for name, text in files.items():
        write_whole(folder / name, text.encode("utf-8"))
    click.echo(f"Written to {folder}: {', '.join(files)}")
    click.echo(
        "Next: edit trial.yaml, then wickstats check and wickstats power, before planting."
    )
    return 0
