"""Frozen rows as tidy tables: one row each, nested values in columns of their own.

Leans on core.codec; pandas is loaded where a frame is made.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from wickstats.core.codec import to_plain

if TYPE_CHECKING:
    import pandas as pd


def flat(row: Any) -> dict[str, Any]:
    """One row as plain values; nested values become keys joined by a dot, lists text."""
    return _flatten(to_plain(row), "")


def frame_of(rows: Iterable[Any], columns: Iterable[str] = ()) -> "pd.DataFrame":
    """Rows as a frame; a number that cannot be given is NaN there, its reason beside it.

    ``columns``: those that the frame has without any row.
    """
    import pandas as pd

    told = [flat(row) for row in rows]
    names = dict.fromkeys((*columns, *(name for row in told for name in row)))
    return pd.DataFrame(told, columns=list(names))


def _flatten(row: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, value in row.items():
        if isinstance(value, dict):
            out.update(_flatten(value, f"{prefix}{key}."))
        elif isinstance(value, list):
            out[prefix + key] = "; ".join(_item_text(item) for item in value)
        else:
            out[prefix + key] = value
    return out


def _item_text(item: Any) -> str:
    if isinstance(item, dict):
        return " ".join(f"{k} {v}" for k, v in item.items() if v is not None)
    return str(item)
