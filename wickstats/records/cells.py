"""Arrays of cells become arrays of one kind: text, numbers, whole numbers, dates.

Every distinct value is looked at once, so that long columns cost little. A value that
cannot be read is returned with its place and never guessed. Leans on numpy and pandas.
"""

import re
import unicodedata
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any

import numpy as np
import pandas as pd

from wickstats.records.dates import DateStyle, plain_day

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_MARKS = dict.fromkeys(
    map(ord, "\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
)
LARGEST = 1e12  # no quantity of a trial comes near; sums of such numbers stay finite
NOT_AVAILABLE = "NA"  # how statistics programs write a blank


@dataclass(slots=True)
class Read:
    """Values of one kind; ``bad`` are places that could not be read, ``told`` what is said."""

    values: np.ndarray
    bad: np.ndarray
    found: dict[int, str]  # place -> what stood there
    not_available: np.ndarray  # places that say NA
    clipped: np.ndarray  # places where a time of day was dropped


_NOWHERE = np.empty(0, dtype=np.int64)


def _good(values: np.ndarray) -> Read:
    return Read(values, _NOWHERE, {}, _NOWHERE, _NOWHERE)


def _codes(cells: np.ndarray) -> tuple[np.ndarray, list[Any]]:
    """Codes and distinct values; True is not the number 1 here."""
    if cells.dtype == object:
        flags = np.fromiter((type(c) is bool for c in cells), dtype=bool, count=len(cells))
        if flags.any():
            cells = cells.copy()
            cells[flags] = [_Truth(bool(c)) for c in cells[flags]]
    try:
        codes, distinct = pd.factorize(cells, use_na_sentinel=True)
    except TypeError:  # a list or the like in a frame's cell: told as the text that it shows
        texts = np.empty(len(cells), dtype=object)
        texts[:] = [c if isinstance(c, Hashable) else str(c) for c in cells]
        codes, distinct = pd.factorize(texts, use_na_sentinel=True)
    return codes, list(distinct)


@dataclass(frozen=True, slots=True)
class _Truth:
    value: bool

    def __str__(self) -> str:
        return "TRUE" if self.value else "FALSE"


def shown(value: Any) -> str:
    """A cell as text for a message: short, on one line, without control characters."""
    if isinstance(value, float):
        text = repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    elif isinstance(value, datetime) and plain_day(value)[1]:
        text = value.isoformat(sep=" ")
    elif isinstance(value, datetime | date):
        text = value.isoformat()[:10]
    else:
        text = str(value)
    text = "".join(c if c.isprintable() else " " for c in text).strip()
    return text if len(text) <= 60 else text[:57] + "..."


def as_text(cells: np.ndarray) -> Read:
    """Text without outer space; 101.0 is "101"; blank is None."""
    codes, distinct = _codes(cells)
    texts = np.empty(len(distinct) + 1, dtype=object)
    for i, value in enumerate(distinct):
        texts[i] = _text(value)
    texts[-1] = None
    return _good(texts[codes])


def _text(value: Any) -> str | None:
    if isinstance(value, str):
        text = unicodedata.normalize("NFC", value.translate(_MARKS)).strip()
        return text or None
    if isinstance(value, np.generic):
        value = value.item()
    return shown(value)


def as_numbers(cells: np.ndarray, decimal: str, *, whole: bool = False) -> Read:
    """Floats, NaN where blank; with ``whole``, numbers with a fraction are not read."""
    if cells.dtype.kind in "iuf":
        values = cells.astype(np.float64)
        bad = np.flatnonzero(
            (np.abs(values) > LARGEST)
            | (whole & (values != np.floor(values)) & ~np.isnan(values))
        )
        found = {int(i): repr(float(values[i])) for i in bad}
        return Read(values, bad, found, _NOWHERE, _NOWHERE)
    codes, distinct = _codes(cells)
    numbers = np.full(len(distinct) + 1, np.nan)
    wrong = np.zeros(len(distinct) + 1, dtype=bool)
    absent = np.zeros(len(distinct) + 1, dtype=bool)
    for i, value in enumerate(distinct):
        number = _number(value, decimal)
        if number is None:
            text = value.strip() if isinstance(value, str) else value
            absent[i] = text == NOT_AVAILABLE
            wrong[i] = text not in ("", NOT_AVAILABLE)
        elif abs(number) > LARGEST or (whole and number != int(number)):
            wrong[i] = True
        else:
            numbers[i] = number
    return _result(codes, distinct, numbers, wrong, absent)


def _number(value: Any, decimal: str) -> float | None:
    if isinstance(value, str):
        text = value.strip()
        if decimal == ",":
            if "." in text:
                return None
            text = text.replace(",", ".", 1)
        return float(text) if _NUMBER.fullmatch(text) else None
    if isinstance(value, int | float | np.integer | np.floating):
        return float(value)
    return None


def as_days(cells: np.ndarray, style: DateStyle) -> Read:
    """Days as datetime64[ns], NaT where blank."""
    if cells.dtype.kind == "M":
        days = cells.astype("datetime64[D]").astype("datetime64[ns]")
        late = ~np.isnat(days) & (days != cells.astype("datetime64[ns]"))
        return Read(days, _NOWHERE, {}, _NOWHERE, np.flatnonzero(late))
    codes, distinct = _codes(cells)
    days = np.full(len(distinct) + 1, np.datetime64("NaT"), dtype="datetime64[ns]")
    wrong = np.zeros(len(distinct) + 1, dtype=bool)
    absent = np.zeros(len(distinct) + 1, dtype=bool)
    late = np.zeros(len(distinct) + 1, dtype=bool)
    for i, value in enumerate(distinct):
        day: date | None = None
        if isinstance(value, datetime | date):
            day, late[i] = plain_day(value)
        elif isinstance(value, str):
            text = value.strip()
            day = style.read(text)
            late[i] = (
                day is not None
                and len(text) > 10
                and not re.search(r"[T ]00:00(:00(\.0+)?)?Z?$", text)
            )
            absent[i] = text == NOT_AVAILABLE
            wrong[i] = day is None and text not in ("", NOT_AVAILABLE)
        else:
            wrong[i] = True
        if day is not None:
            if 1700 <= day.year <= 2200:
                days[i] = np.datetime64(day, "ns")
            else:
                wrong[i] = True
    read = _result(codes, distinct, days, wrong, absent)
    if late.any():
        read.clipped = np.flatnonzero(late[codes])
    return read


def as_words(cells: np.ndarray, words: tuple[str, ...]) -> Read:
    """One of the allowed words, whatever its capitals and spaces; None where blank."""
    codes, distinct = _codes(cells)
    texts = np.empty(len(distinct) + 1, dtype=object)
    wrong = np.zeros(len(distinct) + 1, dtype=bool)
    for i, value in enumerate(distinct):
        text = _text(value)
        word = " ".join(text.lower().split()) if text else None
        if word is None or word in words:
            texts[i] = word
        else:
            wrong[i] = True
    return _result(codes, distinct, texts, wrong, np.zeros(len(distinct) + 1, dtype=bool))


def _result(
    codes: np.ndarray,
    distinct: list[Any],
    values: np.ndarray,
    wrong: np.ndarray,
    absent: np.ndarray,
) -> Read:
    read = _good(values[codes])
    if wrong.any():
        read.bad = np.flatnonzero(wrong[codes])
        read.found = {int(i): shown(distinct[codes[i]]) for i in read.bad}
    if absent.any():
        read.not_available = np.flatnonzero(absent[codes])
    return read


def nearest(word: str, known: list[str] | tuple[str, ...], cutoff: float = 0.6) -> str | None:
    """The known word that is most like ``word``, if any is."""
    lowered = {k.lower(): k for k in reversed(known)}
    match = get_close_matches(word.lower(), list(lowered), n=1, cutoff=cutoff)
    return lowered[match[0]] if match else None
