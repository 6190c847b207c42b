"""Open-standard schemas: JSON Schema of the trial file, Table Schemas of the tables.

The JSON Schema (draft 2020-12) comes from the trial's types, its short forms added;
the Table Schemas (Frictionless, datapackage.org) from the registry of columns.
"""

from typing import Any

from wickstats.design.keep import MEANINGS
from wickstats.design.shapes import NOT_KEYS
from wickstats.design.tables import LAYOUT, RECORD_TABLES, Column, Table
from wickstats.design.trial import Trial


def trial_schema() -> dict[str, Any]:
    """JSON Schema of the trial file, long and short forms."""
    schema = Trial.model_json_schema(by_alias=True)
    for key in NOT_KEYS:
        schema["properties"].pop(key, None)
    parts = schema["$defs"]
    _factors(schema, parts)
    _records(schema, parts)
    _one_or_list(parts["Response"]["properties"], "at")
    _one_or_list(parts["CostItem"]["properties"], "for")
    _one_or_list(parts["Plan"]["properties"], "secondary")
    parts["Design"]["properties"]["keep"] = {
        "type": "array",
        "items": {"oneOf": [{"const": w, "description": d} for w, d in MEANINGS.items()]},
    }
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "A trial file of wickstats, format 1"
    return schema


def _factors(schema: dict[str, Any], parts: dict[str, Any]) -> None:
    level = {"anyOf": [{"type": "string"}, {"$ref": "#/$defs/Level"}]}
    levels = {"type": "array", "items": level, "minItems": 1}
    factor = parts["Factor"]
    factor["properties"].pop("name")
    factor["required"] = ["levels"]
    factor["properties"]["levels"] = levels
    schema["properties"]["factors"] = {
        "type": "object",
        "minProperties": 1,
        "additionalProperties": {"anyOf": [levels, {"$ref": "#/$defs/Factor"}]},
    }


def _records(schema: dict[str, Any], parts: dict[str, Any]) -> None:
    source = parts["TableSource"]["properties"]
    source["file"] = {"anyOf": [{"type": "string"}, _list_of({"type": "string"})]}
    source["columns"] = {
        "type": "object",
        "additionalProperties": {
            "anyOf": [{"type": "string"}, {"$ref": "#/$defs/ColumnSource"}]
        },
    }
    one = [{"type": "string"}, {"$ref": "#/$defs/TableSource"}]
    table = {"anyOf": [*one, _list_of({"anyOf": one})]}
    schema["properties"]["records"] = {
        "type": "object",
        "additionalProperties": False,
        "properties": dict.fromkeys(RECORD_TABLES, table),
    }


def _list_of(item: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": item, "minItems": 1}


def _one_or_list(properties: dict[str, Any], key: str) -> None:
    several = properties[key]
    lists = several.get("anyOf", [several])
    items = [part["items"] for part in lists if "items" in part]
    properties[key] = {"anyOf": [*items, *lists]}


def table_schemas() -> dict[str, Any]:
    """Table Schema of each record table and of the layout."""
    return {table.name: table_schema(table) for table in (*RECORD_TABLES.values(), LAYOUT)}


def table_schema(table: Table) -> dict[str, Any]:
    """Table Schema of one table; blank cells are missing values."""
    schema: dict[str, Any] = {
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "description": table.says,
        "fields": [_field(column) for column in table.columns],
        "missingValues": [""],
        # a file need not have every column, and may have columns of its own
        "fieldsMatch": "partial",
    }
    if table.name == "layout":
        schema["primaryKey"] = ["plot"]
    return schema


def _field(column: Column) -> dict[str, Any]:
    kinds = {"text": "string"}
    field: dict[str, Any] = {
        "name": column.name,
        "type": kinds.get(column.kind, column.kind),
        "description": column.says
        + (f" (in {column.measured_in})" if column.measured_in else ""),
    }
    constraints: dict[str, Any] = {}
    if column.required and column.name != "first_dead_d":
        constraints["required"] = True
    if column.words:
        constraints["enum"] = list(column.words)
    if column.minimum is not None:
        constraints["minimum"] = column.minimum
    if constraints:
        field["constraints"] = constraints
    return field
