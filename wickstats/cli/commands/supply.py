"""``wickstats supply``: what plants need, how large a reservoir, how often a visit."""

from pathlib import Path

import click

from wickstats.cli.show import clean, echo_json


@click.command("supply")
@click.argument("trial_file", metavar="TRIAL.yaml", type=click.Path(path_type=Path))
@click.option("--days", is_flag=True, help="Show every day's steps, not the first ones.")
@click.option("--json", "as_json", is_flag=True, help="Print the result for programs.")
def command(trial_file: Path, *, days: bool, as_json: bool) -> int:
    """Water that plants need, reservoirs, and the chance that they run dry.

    Works from the table of weather (Penman-Monteith, or Hargreaves where only temperatures
    were measured), and from reservoirs whose levels were read. Needs latitude and elevation
    of the site, crop_coefficient and wetted_m2 (per plant). Writes nothing.

    Example: wickstats supply trial.yaml
    """
    from wickstats.api import read_trial, supply
    from wickstats.core.codec import to_plain
    from wickstats.core.words.cautions import cautions_of
    from wickstats.demand.lines import supply_lines

    found = supply(read_trial(trial_file))
    if as_json:
        echo_json(to_plain(found))
        return 0
    for line in supply_lines(found, all_days=days):
        click.echo(clean(line))
    click.echo("")
    for caution in cautions_of("supply"):
        click.echo(caution)
    return 0
