"""Tables given in memory: cells as text, the CSV that archives them, and the way back.

A frame is turned into text before it is read, so that what is archived is exactly what was
analyzed. Whole numbers lose their ``.0``, dates are ISO 8601, blanks are empty. Leans on
numpy and pandas.
"""

import csv
import io
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd

from wickstats.design.tables import RECORD_TABLES

_LONGEST = 2**31 - 1
_WHOLE = 2.0**53


def in_order_of_tables(names: Iterable[str]) -> list[str]:
    """Tables in the order in which they are always read, unknown ones last."""
    known = list(RECORD_TABLES)
    return sorted(names, key=lambda n: known.index(n) if n in RECORD_TABLES else len(known))


def text_columns(frame: pd.DataFrame) -> tuple[list[str], list[np.ndarray]]:
    """Heads and cells of a frame as text."""
    heads = [h.strip() if isinstance(h, str) else _text(h) for h in frame.columns]
    columns = []
    for place in range(frame.shape[1]):
        cells = np.empty(len(frame), dtype=object)
        cells[:] = [_text(value) for value in frame.iloc[:, place].tolist()]
        columns.append(cells)
    return heads, columns


def csv_bytes(heads: list[str], columns: list[np.ndarray]) -> bytes:
    """The CSV of a table of text."""
    lines = [heads, *(list(row) for row in zip(*columns, strict=True))]
    bare = any("\r" in cell for line in lines for cell in line)
    out = io.StringIO(newline="")
    if bare:  # readers take a bare carriage return for a line's end, unless it is quoted
        csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(lines)
    else:
        csv.writer(out, lineterminator="\n").writerows(lines)
    return out.getvalue().encode("utf-8")


def frame_of_csv(data: bytes) -> pd.DataFrame:
    """The frame of text that an archived table was.

    Raises
    ------
    ValueError
        Where the bytes are not such a table any more.
    """
    before = csv.field_size_limit(_LONGEST)
    try:
        text = io.StringIO(data.decode("utf-8"), newline="")
        heads, *lines = list(csv.reader(text, strict=True)) or [[]]
    except csv.Error as error:
        raise ValueError(str(error)) from error
    finally:
        csv.field_size_limit(before)
    width = len(heads)
    rows = [line[:width] + [""] * (width - len(line)) for line in lines]
    if any(len(line) > width for line in lines):
        raise ValueError("a row has more cells than there are heads")
    return pd.DataFrame(rows, columns=heads, dtype=object)


def _text(value: Any) -> str:
    if isinstance(value, np.generic):
        value = pd.Timestamp(value) if isinstance(value, np.datetime64) else value.item()
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        if np.isnan(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < _WHOLE else repr(value)
    if value is None or value is pd.NA or value is pd.NaT:
        return ""
    if isinstance(value, datetime):
        plain = value.time() == datetime.min.time()
        return value.date().isoformat() if plain else value.replace(tzinfo=None).isoformat(" ")
    return value.isoformat() if isinstance(value, date) else str(value)
