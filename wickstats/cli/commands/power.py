"""``wickstats power``: say before planting whether this trial will be able to tell."""

from pathlib import Path

import click

from wickstats.cli.show import clean, echo_json


@click.command("power")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option(
    "--from",
    "past",
    metavar="REPORT_DIR",
    type=click.Path(path_type=Path),
    help="A past season's report: use how much units differed there.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the result for programs.")
def command(trial_file: Path, *, past: Path | None, as_json: bool) -> int:
    """Power, blocks needed and smallest detectable difference, before planting.

    Works from the assumptions under ``power`` in the trial file, or from how much units
    differed in a past season, for the differences that the plan says matter.

    Example: wickstats power trial.yaml
    """
    from wickstats.api import power, read_trial
    from wickstats.core.codec import to_plain

    planned = power(read_trial(trial_file), past=past)
    if as_json:
        echo_json(to_plain(planned))
        return 0
    for line in planned.lines():
        click.echo(clean(line))
    return 0
