"""Restricted layouts: what ``keep`` allows, as conditions on the places of the units.

All restrictions reduce to three kinds of condition: pairs of places that may not hold the
same treatment; groups of places of which a treatment may not hold one in every group; and
groups of places in each of which every treatment must stand. Places are counted in units:
in a block a unit's place is its order, whatever the plots on its reservoir. Leans on
plots and the trial's values; numpy for many layouts at once.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.design.keep import (
    BOTH_HALVES,
    NOT_ACROSS,
    NOT_ALWAYS_END,
    NOT_BESIDE,
    NOT_TWICE,
)
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot

Ints = NDArray[np.int64]
Places = Sequence[tuple[int, int]]  # (line, place in the line) of each unit, from 0
Allowed = Callable[[Ints], NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class Restrictions:
    """Conditions on the treatments of n units in walking order.

    Attributes
    ----------
    differ
        Pairs of units that may not have the same treatment.
    not_in_every
        Groups of units; no treatment may have a unit in every one of them.
    in_each
        Groups of units; every treatment has a unit in each of them.
    """

    differ: tuple[tuple[int, int], ...] = ()
    not_in_every: tuple[tuple[int, ...], ...] = ()
    in_each: tuple[tuple[int, ...], ...] = ()

    def fit(self, treatments: Sequence[Hashable]) -> bool:
        """Whether one layout, given as the treatment of each unit, is allowed."""
        if any(treatments[i] == treatments[j] for i, j in self.differ):
            return False
        if self.not_in_every:
            groups = [{treatments[i] for i in group} for group in self.not_in_every]
            if set.intersection(*groups):
                return False
        if not self.in_each:
            return True
        every = set(treatments)
        return all({treatments[i] for i in group} >= every for group in self.in_each)

    def fit_all(self, codes: Ints) -> NDArray[np.bool_]:
        """(draws,) whether each of the (draws, n) layouts of treatment codes is allowed."""
        good = np.ones(len(codes), dtype=np.bool_)
        if self.differ:
            i, j = np.array(self.differ, dtype=np.int64).T
            good &= (codes[:, i] != codes[:, j]).all(axis=1)
        for code in np.unique(codes) if self.not_in_every or self.in_each else ():
            here = codes == code
            if self.not_in_every:
                ends = [here[:, list(group)].any(axis=1) for group in self.not_in_every]
                good &= ~np.logical_and.reduce(ends)
            present = here.any(axis=1)
            for group in self.in_each:
                good &= here[:, list(group)].any(axis=1) | ~present
        return good


def allowed(trial: Trial, layout: Layout) -> Allowed | None:
    """What the trial's ``keep`` allows, for re-randomization; None without restrictions.

    The callable takes (draws, n) treatment codes of the layout's n units in walking order
    and returns (draws,) booleans.
    """
    if not trial.design.keep:
        return None
    return restrictions(trial.design.keep, layout.type, places_of(layout)).fit_all


def restrictions(keep: Sequence[str], kind: str, places: Places) -> Restrictions:
    """Turn the words of ``keep`` into conditions on units at these places."""
    differ: dict[tuple[int, int], None] = {}
    lines: dict[int, list[int]] = {}
    for unit, (line, _) in enumerate(places):
        lines.setdefault(line, []).append(unit)
    at = {place: unit for unit, place in enumerate(places)}
    for unit, (line, place) in enumerate(places):
        beside: list[tuple[int, int]] = []
        if NOT_TWICE in keep:
            beside += [(other, place) for other in lines if other > line]
        if NOT_ACROSS in keep or NOT_BESIDE in keep:
            beside.append((line + 1, place))
        if NOT_BESIDE in keep:
            beside.append((line, place + 1))
        for spot in beside:
            if spot in at:
                differ.setdefault((unit, at[spot]))
    ends: tuple[tuple[int, ...], ...] = ()
    if NOT_ALWAYS_END in keep and kind != "completely randomized":
        ends = tuple((held[0], held[-1]) for held in lines.values())
    halves: tuple[tuple[int, ...], ...] = ()
    if BOTH_HALVES in keep:
        width = max(place for _, place in places) + 1
        left = tuple(u for u, (_, place) in enumerate(places) if 2 * (place + 1) <= width)
        right = tuple(u for u, (_, place) in enumerate(places) if 2 * place >= width)
        halves = (left, right)
    return Restrictions(tuple(differ), ends, halves)


def places_of(layout: Layout) -> list[tuple[int, int]]:
    """(line, place) of every unit in walking order: block and order in it, or the ground's.

    Without rows and columns a completely randomized layout counts as one line.
    """
    first: dict[str, Plot] = {}
    for plot in layout.plots:
        first.setdefault(layout.unit_of[plot.plot], plot)
    units = list(first.values())
    if layout.type in ("randomized complete block", "incomplete block"):
        return _in_blocks(units)
    lines: dict[tuple[str | None, int | None], int] = {}
    for plot in units:
        # two lines apart, so that arrays that follow each other are no neighbors
        step = 2 if any(key[0] != plot.replicate for key in lines) else 1
        last = max(lines.values(), default=-step)
        lines.setdefault((plot.replicate, plot.row), last + step)
    if any(plot.column is None for plot in units):
        return [(0, k) for k in range(len(units))]
    columns = sorted({plot.column or 0 for plot in units})
    place = {column: k for k, column in enumerate(columns)}
    return [(lines[p.replicate, p.row], place[p.column or 0]) for p in units]


def _in_blocks(units: list[Plot]) -> list[tuple[int, int]]:
    blocks: dict[tuple[str | None, str | None], list[int]] = {}
    for k, plot in enumerate(units):
        blocks.setdefault((plot.replicate, plot.block), []).append(k)
    out = [(0, 0)] * len(units)
    for line, held in enumerate(blocks.values()):
        if all(units[k].column is not None for k in held):
            held.sort(key=lambda k: units[k].column or 0)
        for place, k in enumerate(held):
            out[k] = (line, place)
    return out
