"""Plans for row-column designs: labels in arrays of rows x columns, searched.

Two places of one array change labels; the change is kept when it does not worsen the plan
by more than a threshold that sinks to zero (threshold accepting: Dueck & Scheuer 1990,
Journal of Computational Physics 90, 161-175; from memory), judged by ``Criterion``. Where
rows and columns are both multiples of the labels, Latin squares side by side keep
everything; where one of them is, a plan of blocks is ordered into complete rows. All
are taken on whole numbers with our own stream. Leans on blocks, criterion, youden, stream.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.layout.search.blocks import search_blocks
from wickstats.layout.search.criterion import Criterion, Ints
from wickstats.layout.search.youden import complete_rows
from wickstats.layout.stream import Stream

Plan = list[list[int]]
Change = tuple[int, tuple[int, int], tuple[int, int]]
# thresholds in hundredths of a usual change; starts take the first two in turn
COARSE = ((15, 8, 4, 2, 0), (100, 60, 30, 10, 0))
FINE = (6, 3, 1, 0)
SAMPLE = 41


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search: starts, changes tried in each, and how many are refined how long."""

    starts: int = 16
    tries: int = 1_500
    refined: int = 2
    fine: int = 3_000

    @classmethod
    def for_labels(cls, labels: int) -> "Effort":
        """Less for many labels: a value costs as much as their third power."""
        share = max(30, labels) ** 3
        return cls(
            tries=max(100, 1_500 * 30**3 // share), fine=max(100, 3_000 * 30**3 // share)
        )


def search_arrays(
    labels: int, rows: int, columns: int, arrays: int = 1, *, effort: Effort | None = None
) -> Plan:
    """Rows of the arrays, one after another; every label equally often.

    Where an array has room for every label equally often, each is a complete replicate.

    Raises
    ------
    ValueError
        Where the plots are no multiple of the labels, or labels stay unconnected.
    """
    plots = rows * columns * arrays
    if plots % labels:
        raise ValueError("the plots are no multiple of the treatments")
    if rows % labels == 0 and columns % labels == 0:
        one = [[(i + j) % labels for j in range(columns)] for i in range(rows)]
        return [list(row) for _ in range(arrays) for row in one]
    if arrays == 1 and columns % labels == 0:
        return _ordered(labels, rows, columns)
    if arrays == 1 and rows % labels == 0:
        turned = _ordered(labels, columns, rows)
        return [list(line) for line in zip(*turned, strict=True)]
    effort = effort or Effort.for_labels(labels)
    stream = Stream(0, f"search:arrays:{labels}:{rows}:{columns}:{arrays}")
    judge = Criterion([plots // labels] * labels, rows * columns)
    found: list[tuple[int, Ints]] = []
    for start in range(effort.starts):
        state = _Arrays(_start(labels, rows, columns, arrays, stream), labels)
        parts = COARSE[start % len(COARSE)]
        found.append(state.settle(stream, parts, effort.tries, judge))
    found.sort(key=lambda item: item[0])
    for _, grid in list(found[: effort.refined]):
        found.append(_Arrays(grid.copy(), labels).settle(stream, FINE, effort.fine, judge))
    _, best = min(found, key=lambda item: item[0])
    plan: Plan = best.reshape(arrays * rows, columns).tolist()
    return plan


def _ordered(labels: int, rows: int, columns: int) -> Plan:
    """Complete rows, the columns a plan of blocks."""
    if rows % labels == 0:
        raise ValueError("rows and columns are both multiples of the labels")
    whole, rest = divmod(rows, labels)
    copies = columns // labels
    if rest == 1:
        blocks = [[j % labels] for j in range(columns)]
    else:
        blocks = search_blocks([rest * copies] * labels, rest, resolvable=False)
    full = [[*block, *list(range(labels)) * whole] for block in blocks]
    return complete_rows(full, labels)


def _start(labels: int, rows: int, columns: int, arrays: int, stream: Stream) -> Ints:
    """A random grid; where it goes, every array holds every label equally often."""
    each = rows * columns
    if each % labels == 0:
        parts = [stream.shuffled(list(range(labels)) * (each // labels)) for _ in range(arrays)]
        order = [label for part in parts for label in part]
    else:
        order = stream.shuffled(list(range(labels)) * (each * arrays // labels))
    return np.array(order, dtype=np.int64).reshape(arrays, rows, columns)


class _Arrays:
    """(arrays, rows, columns) labels with their counts in rows, columns and arrays."""

    def __init__(self, grid: Ints, labels: int) -> None:
        self.grid = grid
        arrays, rows, columns = grid.shape
        self._in_rows = np.zeros((labels, arrays, rows), dtype=np.int64)
        self._in_columns = np.zeros((labels, arrays, columns), dtype=np.int64)
        for (a, i, j), label in np.ndenumerate(grid):
            self._in_rows[label, a, i] += 1
            self._in_columns[label, a, j] += 1

    def shared(self) -> Ints:
        """Rows x columns times what is lost to rows and columns; whole numbers."""
        labels = self._in_rows.shape[0]
        _, rows, columns = self.grid.shape
        by_row = self._in_rows.reshape(labels, -1)
        by_column = self._in_columns.reshape(labels, -1)
        whole = self._in_rows.sum(axis=2)
        out: Ints = (
            rows * (by_row @ by_row.T) + columns * (by_column @ by_column.T) - whole @ whole.T
        )
        return out

    def settle(
        self, stream: Stream, parts: tuple[int, ...], tries: int, judge: Criterion
    ) -> tuple[int, Ints]:
        """Change places; the least value met on the way, and its grid."""
        now = least = judge.value(self.shared())
        best = self.grid.copy()
        usual = self._usual_change(stream, judge)
        for part in parts:
            for _ in range(tries // len(parts)):
                change = self._propose(stream)
                if change is None:
                    continue
                self._swap(*change)
                new = judge.value(self.shared())
                if new > now + usual * part // 100:
                    self._swap(*change)
                    continue
                now = new
                if new < least:
                    least, best = new, self.grid.copy()
        return least, best

    def _propose(self, stream: Stream) -> Change | None:
        """Array and two places with different labels, or None."""
        arrays, rows, columns = self.grid.shape
        a = stream.below(arrays)
        one = divmod(stream.below(rows * columns), columns)
        two = divmod(stream.below(rows * columns), columns)
        return None if self.grid[(a, *one)] == self.grid[(a, *two)] else (a, one, two)

    def _usual_change(self, stream: Stream, judge: Criterion) -> int:
        """Median of what a change does to the value, up or down."""
        now = judge.value(self.shared())
        sizes = []
        for _ in range(SAMPLE):
            change = self._propose(stream)
            if change is not None:
                self._swap(*change)
                sizes.append(abs(judge.value(self.shared()) - now))
                self._swap(*change)
        return sorted(sizes)[len(sizes) // 2] if sizes else 0

    def _swap(self, a: int, one: tuple[int, int], two: tuple[int, int]) -> None:
        x, y = int(self.grid[(a, *one)]), int(self.grid[(a, *two)])
        for (i, j), old, new in ((one, x, y), (two, y, x)):
            self._in_rows[old, a, i] -= 1
            self._in_rows[new, a, i] += 1
            self._in_columns[old, a, j] -= 1
            self._in_columns[new, a, j] += 1
            self.grid[a, i, j] = new
