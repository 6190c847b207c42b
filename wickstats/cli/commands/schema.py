"""``wickstats schema``: the open-standard schemas, for editors and programs."""

import click

from wickstats.cli.show import echo_json


@click.command("schema")
def command() -> int:
    """Print the JSON Schema of the trial file and the Table Schemas of the tables.

    Example: wickstats schema > schema.json
    """
    from wickstats.design.schema import table_schemas, trial_schema

    echo_json({"trial": trial_schema(), "tables": table_schemas()})
    return 0
