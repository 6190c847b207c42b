"""Everything found while reading a season: problems, queries, rows not used.

One collector walks through all tables. A thing that a whole column repeats is told
a limited number of times and then counted. Leans on core.errors.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from wickstats.core.errors import Exclusion, Problem

MOST_ALIKE = 25  # alike findings of one column that are listed one by one


@dataclass(slots=True)
class Findings:
    """Problems stop the reading at its end; queries and exclusions travel on."""

    problems: list[Problem] = field(default_factory=list)
    queries: list[Problem] = field(default_factory=list)
    exclusions: list[Exclusion] = field(default_factory=list)

    def problem(
        self,
        file: str,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        """Note something that makes the tables unusable."""
        self.problems.append(Problem(file, code, found, expected, fix, None, row, column))

    def query(
        self,
        file: str,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
        column: str | None = None,
    ) -> None:
        """Note something doubtful that a person should look at."""
        self.queries.append(Problem(file, code, found, expected, fix, None, row, column))

    def exclude(self, file: str, row: int, reason: str) -> None:
        """Note a row that is not used."""
        self.exclusions.append(Exclusion(file, int(row), reason))

    def sorted_problems(self, order: Iterable[str]) -> list[Problem]:
        """Problems by file in the order given, then row, in the order found."""
        return _in_order(self.problems, order)

    def sorted_queries(self, order: Iterable[str]) -> tuple[Problem, ...]:
        """Queries by file in the order given, then row; none twice."""
        return tuple(dict.fromkeys(_in_order(self.queries, order)))

    def sorted_exclusions(self, order: Iterable[str]) -> tuple[Exclusion, ...]:
        """Exclusions by file in the order given, then row; none twice."""
        rank = {name: i for i, name in enumerate(order)}
        unique = dict.fromkeys(self.exclusions)
        return tuple(
            sorted(unique, key=lambda e: (rank.get(e.file, len(rank)), e.row, e.reason))
        )


def _in_order(items: list[Problem], order: Iterable[str]) -> list[Problem]:
    rank = {name: i for i, name in enumerate(order)}
    return sorted(items, key=lambda p: (rank.get(p.file, len(rank)), p.row or 0))


def rows_in_words(rows: Iterable[int]) -> str:
    """Row numbers as a person would say them: "row 5", "rows 5 to 8 and 11"."""
    numbers = sorted({int(r) for r in rows})
    cuts = np.flatnonzero(np.diff(numbers) != 1) + 1
    runs = [
        part
        for run in np.split(np.asarray(numbers), cuts)
        for part in ([run[:1], run[1:]] if len(run) == 2 else [run])
    ]
    parts = [str(r[0]) if len(r) == 1 else f"{r[0]} to {r[-1]}" for r in runs]
    if len(parts) > 6:
        parts = [*parts[:5], f"{len(numbers) - sum(len(r) for r in runs[:5])} more"]
    head = "row" if len(numbers) == 1 else "rows"
    if len(parts) == 1:
        return f"{head} {parts[0]}"
    return f"{head} {', '.join(parts[:-1])} and {parts[-1]}"
