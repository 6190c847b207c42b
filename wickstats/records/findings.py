"""Everything found while reading a season: problems, queries, rows not used.

One collector walks through all tables. Programs get every finding, up to a number that
only a column of the wrong kind reaches; the rest of it is counted. What people see of
many alike findings is shortened where it is shown. Leans on core.errors.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from wickstats.core.errors import Exclusion, Problem, rows_in_words

__all__ = ["MOST_ALIKE", "Findings", "rows_in_words"]

MOST_ALIKE = 5_000  # alike findings of one column that are listed one by one


@dataclass(slots=True)
class Findings:
    """Problems stop the reading at its end; queries, notes and exclusions travel on.

    ``merged`` holds cells that a workbook joined with others and left blank: (file, row,
    column) to the area, so that a blank that matters is told for what it is.
    """

    problems: list[Problem] = field(default_factory=list)
    queries: list[Problem] = field(default_factory=list)
    notes: list[Problem] = field(default_factory=list)
    exclusions: list[Exclusion] = field(default_factory=list)
    merged: dict[tuple[str, int, str], str] = field(default_factory=dict)
    _counts: dict[tuple[str, ...], int] = field(default_factory=dict)

    def problem(
        self,
        file: str,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
        column: str | int | None = None,
        line: int | None = None,
    ) -> None:
        """Note something that makes the tables unusable."""
        area = self.merged.get((file, row or 0, str(column)))
        if area and found == "a blank":
            code, found = "merged cells", f"a blank, since the cells {area} are merged into one"
            fix = "split the merged cells and write the value into every one of them"
        item = Problem(file, code, found, expected, fix, line, row, column)
        self._keep("problem", self.problems, item)

    def query(
        self,
        file: str,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
        column: str | int | None = None,
        line: int | None = None,
    ) -> None:
        """Note something doubtful that a person should look at."""
        self._keep(
            "query", self.queries, Problem(file, code, found, expected, fix, line, row, column)
        )

    def note(
        self,
        file: str,
        code: str,
        *,
        found: str,
        expected: str,
        fix: str,
        row: int | None = None,
    ) -> None:
        """Note something to know, about which nothing needs to be done."""
        self._keep("note", self.notes, Problem(file, code, found, expected, fix, None, row))

    @staticmethod
    def rest(items: list[Problem], left: int, row: int) -> None:
        """Count findings like the last one that were not made one by one: ``left`` of them."""
        if left > 0:
            found = f"{left} more of this kind, the last one in this row"
            fix = "mend the ones above first"
            items.append(replace(items[-1], found=found, fix=fix, row=row))

    def _keep(self, what: str, items: list[Problem], item: Problem) -> None:
        kind = (what, item.file, item.code, str(item.column))
        n = self._counts[kind] = self._counts.get(kind, 0) + 1
        if n <= MOST_ALIKE:
            items.append(item)
            return
        found = f"{n - MOST_ALIKE} more of this kind, the last one in this row"
        rest = replace(item, found=found, fix="mend the ones above first")
        if n == MOST_ALIKE + 1:
            self._counts[(*kind, "place")] = len(items)
            items.append(rest)
        else:
            items[self._counts[(*kind, "place")]] = rest

    def sorted_notes(self, order: Iterable[str]) -> tuple[Problem, ...]:
        """Notes by file in the order given, then row; none twice."""
        return tuple(dict.fromkeys(_in_order(self.notes, order)))

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
