"""The command line: read, call, print, exit code."""

import click


@click.group()
@click.version_option(package_name="wickstats")
def main() -> None:
    """Statistical analysis for irrigation comparison trials."""
