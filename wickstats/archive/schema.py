"""The JSON Schema of results.json, made from the types themselves.

A committed copy ships beside this module (``results.schema.json``); a test says
that the two agree. Draft 2020-12. Leans on core.
"""

import dataclasses
import types
import typing
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from wickstats.core.codec import DROPPED_WHEN_NONE, dump_json
from wickstats.core.results import RESULTS_FORMAT, Results

SCHEMA_NAME = "results.schema.json"


def results_schema() -> dict[str, Any]:
    """Return the JSON Schema of results.json as plain values."""
    defs: dict[str, Any] = {}
    root = _of(Results, defs)
    defs["Results"]["properties"]["results_format"] = {"const": RESULTS_FORMAT}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "wickstats results.json",
        "description": (
            "One analyzed season. Shares are 0 to 1; a number that cannot be given is null "
            "and not_estimable says why; bound says that an interval is one-sided."
        ),
        **root,
        "$defs": dict(sorted(defs.items())),
    }


def schema_bytes() -> bytes:
    """Return the bytes of the schema file."""
    return dump_json(results_schema())


def shipped_schema() -> bytes:
    """Return the bytes of the copy that ships in the package."""
    return files("wickstats.archive").joinpath(SCHEMA_NAME).read_bytes()


def _of(kind: Any, defs: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of one type; dataclasses go to ``defs`` and are referred to."""
    origin = typing.get_origin(kind)
    arguments = typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return _union(arguments, defs)
    if origin is tuple:
        return {"type": "array", "items": _of(arguments[0], defs)}
    if origin in (dict, Mapping):
        return {"type": "object", "additionalProperties": _of(arguments[1], defs)}
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _object(kind, defs)
    names = {str: "string", bool: "boolean", int: "integer", float: "number"}
    return {"type": names[kind]}


def _union(options: tuple[Any, ...], defs: dict[str, Any]) -> dict[str, Any]:
    parts = [{"type": "null"} if o is type(None) else _of(o, defs) for o in options]
    if all(set(part) == {"type"} for part in parts):
        return {"type": [part["type"] for part in parts]}
    return {"anyOf": parts}


def _object(kind: type, defs: dict[str, Any]) -> dict[str, Any]:
    reference = {"$ref": f"#/$defs/{kind.__name__}"}
    if kind.__name__ in defs:
        return reference
    defs[kind.__name__] = {}
    hints = typing.get_type_hints(kind)
    properties: dict[str, Any] = {}
    required: list[str] = []
    for field in dataclasses.fields(kind):
        if field.metadata.get("json") is False:
            continue
        key = field.metadata.get("key", field.name)
        properties[key] = _of(hints[field.name], defs)
        if field.name not in DROPPED_WHEN_NONE:
            required.append(key)
    defs[kind.__name__] = {
        "description": (kind.__doc__ or "").strip().splitlines()[0],
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }
    return reference
