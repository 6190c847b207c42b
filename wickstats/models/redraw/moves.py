"""Schemes as moves of ground: whole rows, blocks or single units change places.

A scheme that puts a fixed design on the ground permutes blocks among places, the order
inside blocks, rows and columns of an array, strips inside a block (Nelder 1965, Proc. R.
Soc. A 283:147: the group of permutations that keep the structure). Each ``Moves`` permutes
some equally large groups of positions as wholes; a scheme is a sequence of such moves,
every outcome equally likely. Relabeling moves the names of treatments that stand equally
often. Leans on scheme; numpy.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from wickstats.models.redraw.scheme import IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Groups of positions that change places with one another.

    Attributes
    ----------
    groups
        (g, m) positions; row k of the table may come to stand where row j stood.
    """

    groups: IntArray

    @property
    def total(self) -> int:
        """How many orders there are."""
        return math.factorial(len(self.groups))

    def orders(self) -> IntArray:
        """(g!, g) every order of the groups."""
        return np.array(list(permutations(range(len(self.groups)))), dtype=np.int64)

    def sample(self, draws: int, rng: np.random.Generator) -> IntArray:
        """(draws, g) orders, each equally likely."""
        keys = rng.random((draws, len(self.groups)))
        return np.argsort(keys, axis=1, kind="stable").astype(np.int64)

    def apply(self, layouts: IntArray, orders: IntArray) -> IntArray:
        """Layouts (d, n) with the groups in the given orders (d, g)."""
        out = layouts.copy()
        d = np.arange(len(layouts))[:, None, None]
        out[:, self.groups] = layouts[d, self.groups[orders]]
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Relabel:
    """Codes of treatments that change names with one another."""

    codes: IntArray
    n_cells: int

    @property
    def total(self) -> int:
        """How many orders there are."""
        return math.factorial(self.codes.size)

    def orders(self) -> IntArray:
        """(k!, k) every order of the codes."""
        return np.array(list(permutations(range(self.codes.size))), dtype=np.int64)

    def sample(self, draws: int, rng: np.random.Generator) -> IntArray:
        """(draws, k) orders, each equally likely."""
        keys = rng.random((draws, self.codes.size))
        return np.argsort(keys, axis=1, kind="stable").astype(np.int64)

    def apply(self, layouts: IntArray, orders: IntArray) -> IntArray:
        """Layouts (d, n) with the treatments renamed."""
        names = np.tile(np.arange(self.n_cells), (len(layouts), 1))
        names[:, self.codes] = self.codes[orders]
        return np.take_along_axis(names, layouts, axis=1)


Step = Moves | Relabel


def singles(groups: IntArray, which: Sequence[int] | None = None) -> list[Moves]:
    """One move a group of positions with that code: its units change places."""
    codes = range(int(groups.max(initial=-1)) + 1) if which is None else which
    spots = [np.flatnonzero(groups == code) for code in codes]
    return [Moves(spot[:, None]) for spot in spots if spot.size > 1]


def blocks_move(blocks: IntArray, within: IntArray | None = None) -> list[Moves]:
    """Blocks of one size change places, inside ``within`` (replicates) where given."""
    out = []
    outer = np.zeros(blocks.size, dtype=np.int64) if within is None else within
    for group in np.unique(outer):
        inside = np.unique(blocks[outer == group])
        spots = [np.flatnonzero((blocks == b) & (outer == group)) for b in inside]
        for size in sorted({spot.size for spot in spots}):
            same = [spot for spot in spots if spot.size == size]
            if len(same) > 1:
                out.append(Moves(np.array(same)))
    return out


def replicates_move(blocks: IntArray, replicates: IntArray) -> list[Moves]:
    """Replicates change places as wholes, block for block, where all are built alike."""
    spots, sizes = [], []
    for replicate in np.unique(replicates):
        inside = np.flatnonzero(replicates == replicate)
        order = np.argsort(blocks[inside], kind="stable")
        spots.append(inside[order])
        sizes.append(tuple(np.unique(blocks[inside], return_counts=True)[1].tolist()))
    alike = len(set(sizes)) == 1 and len(spots) > 1
    return [Moves(np.array(spots))] if alike else []


def block_steps(blocks: IntArray, replicates: IntArray | None = None) -> list[Step]:
    """Replicates, their blocks, and what stands in each block change places."""
    out: list[Step] = []
    if replicates is not None:
        out.extend(replicates_move(blocks, replicates))
    out.extend(blocks_move(blocks, replicates))
    out.extend(singles(blocks))
    return out


def arrays_move(
    rows: IntArray, columns: IntArray, arrays: IntArray, *, whole: bool = True
) -> list[Moves] | None:
    """Rows and columns of each array change places; None where an array has holes.

    ``whole``: arrays of one shape change places as wholes first.
    """
    out: list[Moves] = []
    tables: list[IntArray] = []
    for array in np.unique(arrays):
        spots = np.flatnonzero(arrays == array)
        r = np.unique(rows[spots], return_inverse=True)[1].reshape(-1)
        c = np.unique(columns[spots], return_inverse=True)[1].reshape(-1)
        height, width = int(r.max()) + 1, int(c.max()) + 1
        table = np.full((height, width), -1, dtype=np.int64)
        table[r, c] = spots
        if spots.size != height * width or (table < 0).any():
            return None
        out.extend(Moves(part) for part in (table, table.T.copy()) if len(part) > 1)
        tables.append(table)
    if whole and len(tables) > 1 and len({table.shape for table in tables}) == 1:
        out.insert(0, Moves(np.array([table.reshape(-1) for table in tables])))
    return out


def relabelings(cells: IntArray, n_cells: int) -> list[Relabel]:
    """Treatments that stand equally often change names."""
    counts = np.bincount(cells, minlength=n_cells)
    out = []
    for count in np.unique(counts[counts > 0]):
        codes = np.flatnonzero(counts == count).astype(np.int64)
        if codes.size > 1:
            out.append(Relabel(codes, n_cells))
    return out


def count_outcomes(steps: Sequence[Step]) -> int:
    """Number of outcomes of all steps, each equally likely."""
    return math.prod(step.total for step in steps)


def all_outcomes(cells: IntArray, steps: Sequence[Step]) -> IntArray:
    """(total, n) every outcome; the same layout may come out several times."""
    layouts = cells[None, :].astype(np.int64)
    for step in steps:
        orders = step.orders()
        many = np.repeat(layouts, len(orders), axis=0)
        layouts = step.apply(many, np.tile(orders, (len(layouts), 1)))
    return layouts


def sample_outcomes(
    cells: IntArray, steps: Sequence[Step], draws: int, rng: np.random.Generator
) -> IntArray:
    """(draws, n) outcomes, each equally likely."""
    layouts = np.tile(cells.astype(np.int64), (draws, 1))
    for step in steps:
        layouts = step.apply(layouts, step.sample(draws, rng))
    return layouts
