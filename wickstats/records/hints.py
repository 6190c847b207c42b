"""What to do about a cell that could not be read, looking at it and at its column.

A hint never guesses a value: it says how the writer can say what was meant. Leans on
cells and dates.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from wickstats.core.units import unit_of_name
from wickstats.design.tables import Column
from wickstats.records.cells import LARGEST, nearest, shown
from wickstats.records.dates import ISO, DateStyle

_DAY = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})")
_NOTHING = frozenset(
    (
        *("n/a", "n.a.", "na", "nan", "none", "null", "nil", "nd", "n.d.", "missing", "x", "?"),
        *("-", "--", "---", "\u2013", "\u2014", ".", ".."),
        *("no data", "not measured", "not recorded"),
    )
)
_GROUPED = re.compile(
    r"[+-]?(\d{1,3}([ '\u2019\u00a0\u202f]\d{3})+([.,]\d+)?|\d{1,3}(,\d{3})+\.\d+"
    r"|\d{1,3}(\.\d{3})+,\d+|\d{1,3}(,\d{3}){2,}|\d{1,3}(\.\d{3}){2,})"
)
_COMMA = re.compile(r"[+-]?\d*,\d+")
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")  # 1,033: thousands or a decimal comma
_WITH_UNIT = re.compile(r"[+-]?\d[\d.,]*\s*([^\W\d_]\D*|[%°\"']+.{0,3})")
NEAR_HEAD = 0.7  # heads must be nearer than words are: each stands for a column
_FIRST_DAY = date(1899, 12, 30)  # day 0 of the spreadsheets' calendar


@dataclass(frozen=True, slots=True)
class Beside:
    """What else the column holds: texts that cannot be read, one that can, and how many."""

    wrong: frozenset[str]
    good: str | None
    n_wrong: int
    n_good: int

    @property
    def mostly_good(self) -> bool:
        """Most cells of the column can be read: the odd ones are to be mended."""
        return self.n_good >= self.n_wrong


def how_to_mend(
    found: str,
    column: Column,
    decimal: str,
    style: DateStyle,
    beside: Beside,
    *,
    style_given: bool,
) -> str:
    """What the writer can do, in words."""
    nothing = found.lower() in _NOTHING
    if column.words:
        near = nearest(found, column.words)
        if near and not nothing:
            return f"write {near}"
        more = "; leave the cell blank where nothing was recorded" if nothing else ""
        return f"use one of these words, and the note for the rest{more}"
    if nothing:
        return "leave the cell blank where nothing was recorded, and say why in a note"
    if found.startswith("#"):
        return "the cell holds a spreadsheet's error: mend its formula, or leave it blank"
    if found.startswith("="):
        return "a formula stands here as text: save its value instead"
    if column.kind == "date":
        return _date(found, style, beside, style_given=style_given)
    return _number(found, decimal, beside)


def of_missing_column(ours: str, heads: Sequence[str], unit: str | None) -> str:
    """What to do where a column of ours is not among a sheet's heads.

    Parameters
    ----------
    heads
        Heads that are nobody else's.
    unit
        The unit in which we hold the column.
    """
    near = nearest(ours, list(heads), cutoff=NEAR_HEAD)
    if near is None:
        days = [h for h in heads if ISO.read(h)]
        if days and unit is not None:
            return f"days stand as heads: add `wide: {{heads_are: date, cells_are: {ours}}}`"
        return (
            f"add the column, or say which one it is with `columns: {{{ours}: {{head: ...}}}}`"
        )
    theirs = unit_of_name(near)
    if unit is not None and theirs is not None and theirs != unit:
        return f'write `columns: {{{ours}: {{head: "{shown(near)}", measured_in: {theirs}}}}}`'
    return f'rename {shown(near)}, or write `columns: {{{ours}: {{head: "{shown(near)}"}}}}`'


def _date(found: str, style: DateStyle, beside: Beside, *, style_given: bool) -> str:
    if style.pattern.fullmatch(found):
        return "there is no such day: correct it"
    if re.fullmatch(r"\d{5}(\.\d+)?", found) and 20_000 <= float(found) <= 80_000:
        day = _FIRST_DAY + timedelta(days=int(float(found)))
        return (
            f"format the column as dates in the spreadsheet: {found} is how most of them "
            f"keep {day.isoformat()}"
        )
    if not re.search(r"\d", found):
        return "correct the date; or delete the row if it is a title, a sum or a remark"
    if re.search(r"[^\W\d]{3,}", found):
        return f"write the date in digits, like {style.example}"
    if not _DAY.fullmatch(found):
        return "correct the date"
    if beside.mostly_good and beside.good:
        return f"write it like the other dates of this column, such as {beside.good}"
    return _say_style(found, beside.wrong, style_given=style_given)


def _say_style(found: str, wrong: Iterable[str], *, style_given: bool) -> str:
    """The line that says how the file writes dates, as far as its dates tell."""
    match = _DAY.fullmatch(found)
    if match is None:
        return "correct the date"
    sign = match[2]
    of_table = "for this table in the trial file"
    if len(match[1]) == 4:
        if sign == "-" and style_given:
            return "take `dates` out: the file writes its dates year first, as is usual"
        return f"write `dates: 2025{sign}12{sign}31` {of_table}"
    year = "2025" if len(match[4]) == 4 else "25"
    by_day, by_month = f"31{sign}12{sign}{year}", f"12{sign}31{sign}{year}"
    firsts = [m for m in map(_DAY.fullmatch, wrong) if m and len(m[1]) < 3]
    day_first = any(int(m[1]) > 12 for m in firsts)
    month_first = any(int(m[3]) > 12 for m in firsts)
    if day_first and month_first:
        return "some dates begin with the day, others with the month: write all of them one way"
    if day_first or month_first:
        shown = by_day if day_first else by_month
        return f"write `dates: {shown}` {of_table}"
    return (
        f"write `dates: {by_day}` {of_table} if the day comes first, "
        f"`dates: {by_month}` if the month does"
    )


def _number(found: str, decimal: str, beside: Beside) -> str:
    comma = 'add `decimal: ","` to this table in the trial file'
    if decimal == "." and _COMMA.fullmatch(found):
        points = beside.good is not None and "." in beside.good
        commas = any(_COMMA.fullmatch(w) and not _EITHER.fullmatch(w) for w in beside.wrong)
        if _EITHER.fullmatch(found) and not commas:
            plain = found.replace(",", "")
            return (
                f"write {plain} if thousands are meant; if the comma is a decimal sign, {comma}"
            )
        return f"write {found.replace(',', '.')}, with a point" if points else comma
    if _GROUPED.fullmatch(found):
        return "write the number without any sign between the thousands"
    if re.fullmatch(r"[+-]?\d+\.\d+", found) and decimal == ",":
        return "write the number with a decimal comma, as `decimal` says"
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", found):
        return "the spreadsheet took it for a date: format the column as numbers, type it again"
    if _WITH_UNIT.fullmatch(found):
        return "write the number alone; the unit belongs into `measured_in`"
    if re.match(r"[<>≤≥~≈±]|ca\.? |about ", found):
        return "write a number; that it is a limit or a guess belongs into the note"
    if found.startswith(("\u2212", "\u2013")):
        return "write the minus sign as - (a hyphen)"
    if re.fullmatch(r"[+-]?\d{13,}(\.\d*)?|[+-]?\d+(\.\d*)?[eE]\+?\d+", found):
        return f"correct it: nothing beyond {LARGEST:.0e} is taken for a quantity"
    return "correct it, or leave the cell blank and say why in a note"
