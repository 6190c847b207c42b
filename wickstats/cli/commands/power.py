"""``wickstats power``: say before planting whether this trial will be able to tell."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wickstats.cli.app import PROBLEMS
from wickstats.cli.show import clean, echo_json, show_problems

if TYPE_CHECKING:
    from wickstats.sizing.run import Cost, Progress

LONG_S = 10.0
TOLD_EVERY = 4  # parts between two lines of progress


def _address(ctx: click.Context, param: click.Parameter, value: str | None) -> str | None:
    del ctx, param
    if value is None:
        return None
    from wickstats.sizing.cluster import checked_address

    try:
        return checked_address(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from error


def _counts(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[int, ...]:
    del ctx, param
    if not value:
        return ()
    parts = [part.strip() for part in value.split(",")]
    if not all(part.isdigit() and 2 <= int(part) <= 400 for part in parts):
        raise click.BadParameter("numbers from 2 to 400 with commas between, as in 4,6,8")
    return tuple(sorted({int(part) for part in parts}))


@click.command("power")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "past",
    metavar="REPORT_DIR",
    type=click.Path(path_type=Path),
    help="A past season's report: use how much units differed there.",
)
@click.option(
    "--second-year",
    is_flag=True,
    help="--from is this trial's first year: correct the number of blocks, treatments unseen.",
)
@click.option(
    "--seasons",
    type=click.IntRange(min=0),
    default=20_000,
    show_default=True,
    help="Simulated seasons for shares and counts; 0: closed forms only.",
)
@click.option("--blocks", callback=_counts, metavar="4,6,8", help="Sizes of the power curve.")
@click.option(
    "--workers",
    type=click.IntRange(min=1, max=512),
    default=1,
    show_default=True,
    help="Processes that simulate; the numbers are the same for any.",
)
@click.option(
    "--scheduler",
    callback=_address,
    metavar="ADDRESS",
    help="Simulate on a Dask cluster: a scheduler of this machine, or tls://.",
)
@click.option(
    "--keep",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Keep finished parts, and a past season's results.json, in this folder; the same "
    "question goes on from there.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the result for programs.")
def command(
    trial_file: Path,
    *,
    past: Path | None,
    second_year: bool,
    seasons: int,
    blocks: tuple[int, ...],
    workers: int,
    scheduler: str | None,
    keep: Path | None,
    as_json: bool,
) -> int:
    """Power, blocks needed and smallest detectable difference, before planting.

    Works from the assumptions under power: in the trial file, or from how much units
    differed in a past season, for the differences that the plan says matter.

    Example: wickstats power trial.yaml
    """
    from wickstats.api import power, read_trial
    from wickstats.core.codec import to_plain
    from wickstats.sizing.run import Means

    watching = sys.stderr.isatty()
    warned: list[str] = []

    def warn(line: str) -> None:
        """Said at once, before a long simulation; not again in what follows."""
        warned.append(line)
        click.echo(clean(line))

    means = Means(
        workers=workers,
        scheduler=scheduler,
        keep=keep,
        watch=_watch if watching else None,
        announce=lambda cost: _announce(cost, keep),
        warn=None if as_json else warn,
    )
    trial = read_trial(trial_file)
    planned = power(
        trial,
        past=past,
        second_year=second_year,
        seasons=seasons,
        blocks=blocks,
        means=means,
    )
    if watching:
        click.echo("\r\033[K", nl=False, err=True)
    if as_json:
        echo_json(to_plain(planned))
        return PROBLEMS if planned.problems else 0
    if warned:
        click.echo()
        planned = replace(planned, warnings=())
    for line in planned.lines():
        click.echo(clean(line))
    if planned.problems:
        click.echo()
        show_problems(planned.problems)
        return PROBLEMS
    return 0


def _watch(progress: "Progress") -> None:
    """One line that is written over: the first comparison so far."""
    from wickstats.core.words import say
    from wickstats.sizing.seasons import PART

    if progress.first is None or progress.done // PART % TOLD_EVERY:
        return
    tally = progress.first
    error = 200.0 * tally.error(0)
    text = say(
        "cli seasons so far",
        done=f"{progress.done:,}",
        wanted=f"{progress.wanted:,}",
        chance=f"{100.0 * tally.chance(0):.1f}",
        error=f"{error:.1f}",
    )
    click.echo(f"\r\033[K{text}", nl=False, err=True)


def _announce(cost: "Cost", keep: Path | None) -> None:
    """What a long simulation will cost, before it starts."""
    from wickstats.core.words import say

    if cost.seconds < LONG_S:
        return
    kept = say("power ahead kept", kept=f"{cost.kept:,}") if cost.kept else ""
    resume = say("power ahead resume", folder=keep) if keep is not None else ""
    processes = say("count processes", n=cost.workers or 1)
    if not cost.workers:
        processes = say("power ahead shared", processes=processes)
    click.echo(
        clean(
            say(
                "power ahead",
                seasons=f"{cost.seasons:,}",
                parts=f"{cost.parts:,}",
                kept=kept,
                time=_duration(cost.seconds),
                processes=processes,
                resume=resume,
            )
        ),
        err=True,
    )


def _duration(seconds: float) -> str:
    from wickstats.core.words import say

    if seconds < 90:
        return say("cli seconds", n=f"{seconds:.0f}")
    if seconds < 5_400:
        return say("cli minutes", n=f"{seconds / 60:.0f}")
    return say("cli hours", n=f"{seconds / 3600:.1f}")
