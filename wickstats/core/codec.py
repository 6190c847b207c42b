"""Frozen dataclasses to plain JSON values and back; files written whole or not at all.

JSON out: sorted only where the type is a mapping, two-space indent, full
precision, never NaN or Infinity. JSON in: duplicate keys, NaN, Infinity and
nesting over 50 levels are refused. Leans on the standard library only.
"""

import dataclasses
import functools
import hashlib
import json
import math
import os
import tempfile
import types
import typing
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

MAX_DEPTH = 50

# Written only when they say something.
DROPPED_WHEN_NONE = frozenset(
    {"not_estimable", "bound", "line", "row", "column", "extra_liters", "left_out"}
    | {"square", "replicate", "row_strip", "column_strip", "differs_by", "covariate"}
    | {"base_plan", "drawn_how", "restricted", "p_adjusted_error", "growth_rates"}
    | {"keeps", "plant_lives", "ledger", "equal_water", "productivity", "harvest", "along_line"}
    | {"basis", "reservoirs", "supply_notes", "bench", "sealed_key", "looks"}
    | {"curve_fits", "language", "in_stratum", "share_model"}
)


def to_plain(value: Any) -> Any:
    """Turn a frozen dataclass tree into dicts, lists, numbers, text and None.

    Fields with metadata {"json": False} are left out.

    Raises
    ------
    ValueError
        For a NaN or infinite number: those must have become None with a reason.
    """
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"a number that is not finite reached the results: {value}")
        return float(value)
    if isinstance(value, date):
        return value.isoformat()[:10]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        out: dict[str, Any] = {}
        for field in dataclasses.fields(value):
            if field.metadata.get("json") is False:
                continue
            item = getattr(value, field.name)
            if item is None and field.name in DROPPED_WHEN_NONE:
                continue
            out[field.metadata.get("key", field.name)] = to_plain(item)
        return out
    if isinstance(value, Mapping):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [to_plain(item) for item in value]
    if hasattr(value, "item"):  # a numpy scalar
        return to_plain(value.item())
    raise TypeError(f"no JSON form for {type(value).__name__}")


def from_plain(kind: Any, value: Any, path: str = "") -> Any:
    """Rebuild a value of type ``kind`` from plain JSON values.

    Raises
    ------
    ValueError
        Naming the path (e.g. ``responses[0].means[2].estimate``) where the value
        does not fit its type, is missing, or is unknown.
    """
    origin = typing.get_origin(kind)
    if kind is Any:
        return value
    if origin in (types.UnionType, typing.Union):
        return _from_union(kind, value, path)
    if origin is tuple:
        if not isinstance(value, list):
            raise ValueError(f"{path}: expected a list")
        (item_kind, *_rest) = typing.get_args(kind)
        return tuple(from_plain(item_kind, v, f"{path}[{i}]") for i, v in enumerate(value))
    if origin in (dict, Mapping):
        if not isinstance(value, dict):
            raise ValueError(f"{path}: expected an object")
        _, item_kind = typing.get_args(kind)
        return {k: from_plain(item_kind, v, f"{path}.{k}") for k, v in value.items()}
    if origin is typing.Literal:
        if value not in typing.get_args(kind):
            raise ValueError(
                f"{path}: expected one of {typing.get_args(kind)}, found {value!r}"
            )
        return value
    if dataclasses.is_dataclass(kind):
        return _from_object(kind, value, path)
    return _from_scalar(kind, value, path)


def _from_union(kind: Any, value: Any, path: str) -> Any:
    options = typing.get_args(kind)
    if value is None and type(None) in options:
        return None
    last = ValueError(f"{path}: no type fits")
    if type(value) in options:  # 3 stays 3 where both int and float would take it
        return value
    for option in options:
        if option is type(None):
            continue
        try:
            return from_plain(option, value, path)
        except ValueError as error:
            last = error
    raise last


def _from_object(kind: Any, value: Any, path: str) -> Any:
    if not isinstance(value, dict):
        raise ValueError(f"{path}: expected an object")
    hints = _hints(kind)
    known: dict[str, Any] = {}
    left = dict(value)
    for field in dataclasses.fields(kind):
        if field.metadata.get("json") is False:
            continue
        key = field.metadata.get("key", field.name)
        if key in left:
            known[field.name] = from_plain(hints[field.name], left.pop(key), f"{path}.{key}")
        elif field.name in DROPPED_WHEN_NONE:
            known[field.name] = None
        else:
            raise ValueError(f"{path}.{key}: missing")
    if left:
        raise ValueError(f"{path}.{next(iter(left))}: unknown key")
    return kind(**known)


@functools.cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _from_scalar(kind: Any, value: Any, path: str) -> Any:
    if kind is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if kind is int and isinstance(value, int) and not isinstance(value, bool):
        return value
    if kind in (str, bool) and isinstance(value, kind):
        return value
    if kind is date and isinstance(value, str):
        return date.fromisoformat(value)
    raise ValueError(f"{path}: expected {getattr(kind, '__name__', kind)}, found {value!r}")


def dump_json(value: Any) -> bytes:
    """UTF-8 bytes of the value, the same every time, ending in a newline."""
    plain = to_plain(value)
    text = json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8")


def parse_json(data: bytes) -> Any:
    """Read JSON strictly.

    Raises
    ------
    ValueError
        For bytes that are not UTF-8 JSON, duplicate keys, NaN, Infinity, or
        nesting over ``MAX_DEPTH``.
    """
    text = data.decode("utf-8")
    depth = deepest = 0
    in_string = escaped = False
    for char in text:
        if in_string:
            if escaped:
                escaped = False
            elif char == "\\":
                escaped = True
            elif char == '"':
                in_string = False
        elif char == '"':
            in_string = True
        elif char in "[{":
            depth += 1
            deepest = max(deepest, depth)
            if deepest > MAX_DEPTH:
                raise ValueError(f"nested deeper than {MAX_DEPTH} levels")
        elif char in "]}":
            depth -= 1
    return json.loads(
        text, object_pairs_hook=_no_duplicates, parse_constant=_no_constant, parse_float=_finite
    )


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"number out of range: {text}")
    return number


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is not allowed")


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, value in pairs:
        if key in out:
            raise ValueError(f"the key {key!r} stands twice")
        out[key] = value
    return out


def canonical_sha256(value: Any) -> str:
    """SHA-256 of the value's JSON with sorted keys and no spaces."""
    plain = to_plain(value)
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def write_whole(path: Path, data: bytes) -> None:
    """Write under a temporary name beside ``path``, then rename."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".partial", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
