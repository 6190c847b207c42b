"""Text becomes a number, a date, a yes or no, a word: as the writer meant it.

Every function returns the value, or a sentence that says what to do. Leans on the
standard library.
"""

import math
import re
from collections.abc import Sequence
from datetime import date

from wickstats.design.findings import listing, nearest

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,4})?")
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_NUMBER_AND_UNIT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*(%|[A-Za-z].*)")
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_OTHER_DATE = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}")
_YES = frozenset({"true", "yes", "on"})
_NO = frozenset({"false", "no", "off"})
MAX_DIGITS = 40


class Unread(str):
    """Why a text could not be read: what to do about it."""

    __slots__ = ()


def number(text: str) -> float | Unread:
    """A decimal number with a point; no separators, units, infinities."""
    if len(text) <= MAX_DIGITS and _NUMBER.fullmatch(text):
        value = float(text)
        if math.isfinite(value):
            return value
    if _COMMA_NUMBER.fullmatch(text):
        return Unread(f"write the decimal sign as a point: {text.replace(',', '.')}")
    unit = _NUMBER_AND_UNIT.fullmatch(text)
    if unit:
        return Unread(f"write the number alone: {unit[1]}")
    return Unread("write digits, with a point as decimal sign")


def whole(text: str) -> int | Unread:
    """A whole number; 0123 is 123 and 1e3 is 1000."""
    if re.fullmatch(r"[+-]?\d+", text) and len(text) <= MAX_DIGITS:
        return int(text)
    value = number(text)
    if isinstance(value, Unread):
        return value
    if value != math.floor(value):
        return Unread("write a number without decimals")
    return int(value)


def day(text: str) -> date | Unread:
    """An ISO 8601 date."""
    if not _ISO_DATE.fullmatch(text):
        if _OTHER_DATE.fullmatch(text):
            return Unread("write year, month, day as in 2025-03-17")
        return Unread("write a date as in 2025-03-17")
    try:
        return date.fromisoformat(text)
    except ValueError:
        return Unread("correct the date: the calendar has no such day")


def truth(text: str) -> bool | Unread:
    """True or false; yes, no, on and off are understood."""
    plain = text.casefold()
    if plain in _YES:
        return True
    if plain in _NO:
        return False
    return Unread("write true or false")


def word(text: str, words: Sequence[str]) -> str | Unread:
    """One of the words allowed, exactly."""
    if text in words:
        return text
    near = nearest(text, words)
    if near or len(words) == 1:
        return Unread(f"write {near or words[0]}")
    return Unread(f"choose one of: {listing(words)}")
