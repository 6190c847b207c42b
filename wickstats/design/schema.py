"""Open-standard schemas: JSON Schema of the trial file, Table Schemas of the tables."""

from typing import Any


def trial_schema() -> dict[str, Any]:
    """JSON Schema of the trial file."""
    raise NotImplementedError


def table_schemas() -> dict[str, Any]:
    """Table Schema (Frictionless, datapackage.org) of each record table and the layout."""
    raise NotImplementedError
