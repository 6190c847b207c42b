"""Problems with their places, and the exceptions that carry them.

A problem is code + place + found + expected + fix; problems are collected and
reported together. Leans on the standard library only.

    WickstatsError
      ProblemsError        one or more problems, each with its place
        TrialError         the trial file
        LayoutError        the layout, drawn or read
        RecordsError       the season's tables
        ReportError        a report's folder
      AnalysisError        the analysis cannot go on, in words
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, or doubtful (then it is called a query).

    Attributes
    ----------
    file
        Name relative to the trial's folder.
    code
        Short stable words, e.g. "unknown key".
    found, expected, fix
        Plain sentences without a full stop.
    line
        Line of a text file, from 1 (trial file).
    row
        Row of a table, from 1, where row 1 is the header.
    column
        Column number in a text file, column head in a table.
    """

    file: str
    code: str
    found: str
    expected: str
    fix: str
    line: int | None = None
    row: int | None = None
    column: str | int | None = None

    @property
    def place(self) -> str:
        """File, then line or row, then column, as a person would say it."""
        parts = [self.file]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.column is not None:
            parts.append(f"column {self.column}")
        return ", ".join(parts)

    def __str__(self) -> str:
        return (
            f"{self.place}: {self.code}: found {self.found}; expected {self.expected}; "
            f"to mend it: {self.fix}"
        )


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A row that is not used, and why."""

    file: str
    row: int
    reason: str


class WickstatsError(Exception):
    """Everything that wickstats raises on purpose."""


class ProblemsError(WickstatsError):
    """Holds every problem found, in the order of their places."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class TrialError(ProblemsError):
    """The trial file cannot be used."""


class LayoutError(ProblemsError):
    """The layout cannot be drawn or read."""


class RecordsError(ProblemsError):
    """The season's tables cannot be used."""


class ReportError(ProblemsError):
    """A report's folder cannot be read or written."""


class AnalysisError(WickstatsError):
    """The analysis cannot go on; the message says why and what to do."""
