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

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

MOST_ROWS = 5  # alike findings of a table's column that people see; programs get all
MOST_LINES = 25  # the same for lines of a text file, each of which may need a mind of its own


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


def rows_in_words(rows: Iterable[int], word: str = "row") -> str:
    """Row numbers as a person would say them: "row 5", "rows 5 to 8 and 11"."""
    numbers = sorted({int(r) for r in rows})
    cuts = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(numbers)) if b - a > 1)]
    runs = [numbers[i:j] for i, j in pairwise([*cuts, len(numbers)])]
    runs = [part for run in runs for part in ([run[:1], run[1:]] if len(run) == 2 else [run])]
    parts = [str(r[0]) if len(r) == 1 else f"{r[0]} to {r[-1]}" for r in runs]
    if len(parts) > 6:
        parts = [*parts[:5], f"{len(numbers) - sum(len(r) for r in runs[:5])} more"]
    head = word if len(numbers) == 1 else f"{word}s"
    if len(parts) == 1:
        return f"{head} {parts[0]}"
    return f"{head} {', '.join(parts[:-1])} and {parts[-1]}"


def gathered(problems: Sequence[Problem]) -> Iterator[tuple[Problem, str]]:
    """Problems for people: of many alike the first ones, the last of them with the rest.

    Yields
    ------
    A problem, and words for those like it that are not shown ("" where none is left out).
    """
    alike: dict[object, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(_kind(problem), []).append(problem)
    told: dict[object, int] = {}
    for problem in problems:
        kind = _kind(problem)
        many = alike[kind]
        most = MOST_LINES if problem.line is not None else MOST_ROWS
        shown = len(many) if len(many) <= most else most - 1
        told[kind] = told.get(kind, 0) + 1
        if told[kind] < shown or (told[kind] == shown == len(many)):
            yield problem, ""
        elif told[kind] == shown:
            yield problem, _rest(many[shown:])


def _kind(problem: Problem) -> tuple[object, ...]:
    column = problem.column if isinstance(problem.column, str) else None
    return problem.file, problem.code, column, problem.line is not None


def _rest(left: Sequence[Problem]) -> str:
    """What is not shown: how many, and where."""
    rows = [p.row for p in left if p.row is not None]
    lines = [p.line for p in left if p.line is not None]
    where = rows_in_words(rows) if rows else rows_in_words(lines, "line") if lines else ""
    return f"and {len(left)} more like this" + (f", in {where}" if where else "")


class WickstatsError(Exception):
    """Everything that wickstats raises on purpose.

    Examples
    --------
    >>> try:
    ...     ws.read_trial("nowhere.yaml")
    ... except ws.WickstatsError as error:
    ...     print(type(error).__name__)
    TrialError
    """


class ProblemsError(WickstatsError):
    """Holds every problem found, in the order of their places; the text gathers alike ones."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(
            "\n".join(
                f"{problem}\n{rest}" if rest else str(problem)
                for problem, rest in gathered(self.problems)
            )
        )


class TrialError(ProblemsError):
    """The trial file cannot be used.

    Examples
    --------
    >>> try:
    ...     ws.read_trial("nowhere.yaml")
    ... except ws.TrialError as error:
    ...     print(error.problems[0].code)
    missing file
    """


class LayoutError(ProblemsError):
    """The layout cannot be drawn or read.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> plots = ws.read_layout(trial).to_frame()
    >>> plots.loc[0, "watering"] = "cann"
    >>> try:
    ...     ws.read_layout(trial, plots)
    ... except ws.LayoutError as error:
    ...     print(error.problems[0].found)
    "cann" for watering
    """


class RecordsError(ProblemsError):
    """The season's tables cannot be used.

    ``queries`` are the doubts met until then: they often explain a problem.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> visits = ws.read_records(trial).table("visits").drop(columns=["file", "row"])
    >>> visits["plot"] = "nowhere"
    >>> try:
    ...     ws.read_records(trial, tables={"visits": visits})
    ... except ws.RecordsError as error:
    ...     print(error.problems[0].code)
    unknown plot
    """

    def __init__(self, problems: Iterable[Problem], queries: Iterable[Problem] = ()) -> None:
        super().__init__(problems)
        self.queries: tuple[Problem, ...] = tuple(queries)


class ReportError(ProblemsError):
    """A report's folder cannot be read or written.

    Examples
    --------
    >>> try:
    ...     ws.audit("nowhere")
    ... except ws.ReportError as error:
    ...     print(error.problems[0].code)
    not a report's folder
    """


class AnalysisError(WickstatsError):
    """The analysis cannot go on; the message says why and what to do.

    Examples
    --------
    >>> trial = ws.read_trial("trial.yaml")
    >>> nothing = trial.model_copy(update={"responses": ()})
    >>> try:
    ...     ws.analyze(nothing, ws.read_records(trial))
    ... except ws.AnalysisError as error:
    ...     print(error)
    the trial file names no response: there is nothing to analyze
    """
