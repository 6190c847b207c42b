"""Where plots lie, and the order in which to walk them.

Rows and columns are taken from the layout where every plot has both and no two plots of one
part share a place; else every block becomes a strip in the order of the table, or, where
treatments are hidden, in the order of the plots' names: tables are often sorted by treatment.
Walking goes block by block, along rows, turning round at each end; each block is entered at
the corner that is nearest to where the last one was left. Leans on layout.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from wickstats.layout.plots import Layout, Plot

T = TypeVar("T")

STRIP = 10  # plots of a strip beside each other where places are not known
_PARTS = ("square", "replicate", "run", "block", "whole_plot")


@dataclass(frozen=True, slots=True)
class Spot:
    """A plot with its place (row and column from 1) in its part, and its step of the walk."""

    plot: Plot
    part: int
    row: int
    column: int
    step: int


@dataclass(frozen=True, slots=True)
class Ground:
    """All plots in walking order; ``parts`` are names of parts, None for a single one."""

    walk: tuple[Spot, ...]
    parts: tuple[str | None, ...]
    known: bool  # whether rows and columns are those of the layout

    @property
    def plots(self) -> tuple[Plot, ...]:
        """The plots in walking order."""
        return tuple(spot.plot for spot in self.walk)


_Placed = tuple[Plot, int, int, int]  # plot, part, row, column


def ground_of(layout: Layout, *, by_name: bool = False) -> Ground:
    """Find places and the walking order of a layout.

    ``by_name``: where places are not known, plots of a block stand by their names.
    """
    found = _known(layout.plots)
    placed, parts = found if found is not None else _strips(layout.plots, by_name=by_name)
    walk: list[Spot] = []
    at: tuple[int, int] | None = None
    for part in range(len(parts)):
        here = [p for p in placed if p[1] == part]
        for group in _groups(here, lambda p: p[0].block or p[0].run):
            for plot, _, row, column in _serpentine(group, at):
                walk.append(Spot(plot, part, row, column, len(walk) + 1))
                at = row, column
        at = None  # parts lie somewhere else
    return Ground(tuple(walk), parts, found is not None)


def _known(plots: Sequence[Plot]) -> tuple[list[_Placed], tuple[str | None, ...]] | None:
    if any(p.row is None or p.column is None for p in plots):
        return None
    for name in (None, *_PARTS):
        groups = _groups(list(plots), lambda p: getattr(p, name) if name else None)  # noqa: B023 - called at once
        if name and any(getattr(p, name) is None for p in plots):
            continue
        if any(len({(p.row, p.column) for p in g}) < len(g) for g in groups):
            continue
        placed = [
            (p, k, int(p.row or 0), int(p.column or 0)) for k, g in enumerate(groups) for p in g
        ]
        word = (name or "").replace("_", " ")
        return placed, tuple(
            f"{word} {getattr(g[0], name)}" if name and len(groups) > 1 else None
            for g in groups
        )
    return None


def _strips(
    plots: Sequence[Plot], *, by_name: bool
) -> tuple[list[_Placed], tuple[str | None, ...]]:
    placed: list[_Placed] = []
    row = 0
    for group in _groups(list(plots), lambda p: p.block or p.replicate or p.run):
        for k, plot in enumerate(sorted(group, key=_as_read) if by_name else group):
            placed.append((plot, 0, row + k // STRIP + 1, k % STRIP + 1))
        row += (len(group) - 1) // STRIP + 1
    return placed, (None,)


def _as_read(plot: Plot) -> list[tuple[int, str]]:
    """A name in the order in which people list names: P2 before P10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", plot.plot)
    return [(int(part), "") if part[0] in "0123456789" else (-1, part) for part in parts]


def _groups(items: list[T], key: Callable[[T], str | None]) -> list[list[T]]:
    """Items by key, in the order in which keys first come."""
    out: dict[str | None, list[T]] = {}
    for item in items:
        out.setdefault(key(item), []).append(item)
    return list(out.values())


def _serpentine(group: list[_Placed], at: tuple[int, int] | None) -> list[_Placed]:
    """Rows up or down, to and fro, from the corner nearest to where the walk stands."""
    best: list[_Placed] = []
    least: int | None = None
    for up in (False, True):
        for back in (False, True):
            way = _rows(group, up=up, back=back)
            far = 0 if at is None else abs(way[0][2] - at[0]) + abs(way[0][3] - at[1])
            if least is None or far < least:
                best, least = way, far
    return best


def _rows(group: list[_Placed], *, up: bool, back: bool) -> list[_Placed]:
    out: list[_Placed] = []
    for row in sorted({p[2] for p in group}, reverse=up):
        line = sorted((p for p in group if p[2] == row), key=lambda p: p[3], reverse=back)
        out.extend(line)
        back = not back
    return out
