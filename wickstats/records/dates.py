"""Dates as people write them: ISO 8601, or as the trial file shows by an example.

``31/12/2025``, ``31.12.2025``, ``12/31/2025`` and ``31/12/25`` each show by their own
digits where the day, the month and the year stand: 31 is the day, 12 the month, the
rest the year. Leans on the standard library only.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, time

_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?)?")


@dataclass(frozen=True, slots=True)
class DateStyle:
    """A pattern and the order of its three parts ("year", "month", "day")."""

    example: str
    pattern: re.Pattern[str]
    order: tuple[str, ...]

    def read(self, text: str) -> date | None:
        """The day that ``text`` says, or None where it does not follow the style."""
        match = self.pattern.fullmatch(text)
        if match is None:
            return None
        parts = {name: int(match.group(i + 1)) for i, name in enumerate(self.order)}
        if len(match.group(self.order.index("year") + 1)) == 2:
            parts["year"] += 2000
        try:
            return date(parts["year"], parts["month"], parts["day"])
        except ValueError:
            return None


ISO = DateStyle("2025-12-31", _ISO, ("year", "month", "day"))


def style_from_example(example: str | None) -> DateStyle:
    """Read off the style from the last day of a year, written the file's way.

    Raises
    ------
    ValueError
        Where the example does not show where day, month and year stand.
    """
    if example is None:
        return ISO
    parts = re.findall(r"\d+|\D+", example.strip())
    numbers = [p for p in parts if p.isdigit()]
    order: list[str] = []
    pattern = ""
    for part in parts:
        if not part.isdigit():
            pattern += re.escape(part)
            continue
        name = {"31": "day", "12": "month"}.get(part, "year")
        order.append(name)
        pattern += rf"(\d{{{len(part)}}})" if name == "year" else r"(\d{1,2})"
    shown = sorted(order) == ["day", "month", "year"] and len(numbers) == 3
    year = next((n for n, name in zip(numbers, order, strict=True) if name == "year"), "")
    if not shown or len(year) not in (2, 4) or any(not p.strip() for p in parts if len(p) > 3):
        raise ValueError("write the last day of a year the way the file writes dates")
    return DateStyle(example.strip(), re.compile(pattern), tuple(order))


def plain_day(value: datetime | date) -> tuple[date, bool]:
    """The day of a date cell, and whether a time of day was dropped."""
    if isinstance(value, datetime):
        return value.date(), value.time() != time(0)
    return value, False
