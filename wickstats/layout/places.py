"""Where the pieces of ground of a layout lie: in their block, and beside one another.

A layout has pieces of one or several sizes (tiers): units; whole plots and plots around them;
row and column strips. Every unit has a place on the ground, a line and a column; a piece
covers the places of its units. In its block a piece has an order. Without rows and columns
the order of walking stands for them. Leans on plots and strata.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from wickstats.layout.plots import Layout, Plot
from wickstats.layout.strata import Tier, strata_of

Spot = tuple[int, int]
Pair = tuple[int, int]

BLOCKED = ("randomized complete block", "incomplete block")


@dataclass(frozen=True, slots=True)
class TierPlaces:
    """The pieces of one tier, in walking order.

    Attributes
    ----------
    name
        whole plot, plot, subplot, row strip, ...
    factors
        Positions of the factors whose levels together are a piece's treatment.
    units
        A unit in each piece.
    spots
        (line, order) of each piece: its block, or row of the ground, and its order there.
    areas
        What each line belongs to: blocks all to one, rows to their square or array.
    beside, corners
        Pairs of pieces that touch along a side; that touch only at a corner.
    halves
        Whether each piece stands in the left, and in the right half of the columns; a middle
        column belongs to neither.
    """

    name: str
    factors: tuple[int, ...]
    units: tuple[int, ...]
    spots: tuple[Spot, ...]
    areas: tuple[int, ...]
    beside: tuple[Pair, ...]
    corners: tuple[Pair, ...]
    halves: tuple[tuple[bool, bool], ...]


def tier_places(layout: Layout) -> tuple[TierPlaces, ...]:
    """Places of all pieces, the largest first."""
    strata = strata_of(layout)
    units, ground, areas = strata.units, *_ground(layout, strata.units)
    width = max((column for _, column in ground), default=0) + 1
    out = []
    for tier in strata.tiers:
        codes = [int(code) for code in tier.codes]
        first = [codes.index(code) for code in range(max(codes) + 1)]
        spots, held = _spots(layout, strata.tiers, tier, units, ground, areas)
        at = {(line, column): k for k, (line, column) in enumerate(ground)}
        columns: list[set[int]] = [set() for _ in first]
        for code, (_, column) in zip(codes, ground, strict=True):
            columns[code].add(column)
        beside = _touching(codes, at, ((0, 1), (1, 0)))
        out.append(
            TierPlaces(
                name=tier.name,
                factors=_treatment_of(layout, strata.tiers, tier),
                units=tuple(first),
                spots=tuple(spots),
                areas=tuple(held),
                beside=beside,
                corners=tuple(
                    pair
                    for pair in _touching(codes, at, ((1, 1), (1, -1)))
                    if pair not in beside
                ),
                halves=tuple(
                    (
                        any(2 * (column + 1) <= width for column in own),
                        any(2 * column >= width for column in own),
                    )
                    for own in columns
                ),
            )
        )
    return tuple(out)


def _treatment_of(layout: Layout, tiers: Sequence[Tier], tier: Tier) -> tuple[int, ...]:
    """Factors set up on the tier's pieces or on larger ones around them."""
    if tier is tiers[-1]:
        return tuple(range(len(layout.factors)))
    around = [other for other in tiers if other is tier or other.name in tier.within]
    held = {name for other in around for _, names in other.terms for name in names}
    return tuple(k for k, name in enumerate(layout.factors) if name in held)


def _ground(layout: Layout, units: Sequence[Plot]) -> tuple[list[Spot], list[int]]:
    """(line, column) of every unit, and the area of every unit's line."""
    keys: list[tuple[Hashable, Hashable]]
    if layout.type in BLOCKED:
        keys = [(None, (p.replicate, p.block)) for p in units]
    elif layout.type == "split-plot":
        keys = [(None, p.block if p.block is not None else p.whole_plot) for p in units]
    elif layout.type == "strip-plot":
        keys = [(None, (p.block, p.row_strip)) for p in units]
    else:
        return _by_rows(units)
    lines = {key: k for k, key in enumerate(dict.fromkeys(keys))}
    held: dict[int, list[int]] = {}
    for k, key in enumerate(keys):
        held.setdefault(lines[key], []).append(k)
    out = [(0, 0)] * len(units)
    for line, members in held.items():
        if all(units[k].column is not None for k in members):
            members.sort(key=lambda k: units[k].column or 0)
        for place, k in enumerate(members):
            out[k] = (line, place)
    return out, [0] * len(units)


def _by_rows(units: Sequence[Plot]) -> tuple[list[Spot], list[int]]:
    """By rows and columns; one line where they are not known."""
    if any(p.column is None or p.row is None for p in units):
        return [(0, k) for k in range(len(units))], [0] * len(units)
    names = [(p.replicate, p.square) for p in units]
    areas = {name: k for k, name in enumerate(dict.fromkeys(names))}
    lines: dict[tuple[int, int], int] = {}
    last = -1
    for name, area in areas.items():
        rows = {p.row or 0 for p, own in zip(units, names, strict=True) if own == name}
        for row in sorted(rows):
            last += 1
            lines[area, row] = last
        last += 1  # a line apart: areas that follow each other are no neighbors
    columns = {c: k for k, c in enumerate(sorted({p.column or 0 for p in units}))}
    held = [areas[name] for name in names]
    out = [
        (lines[area, p.row or 0], columns[p.column or 0])
        for area, p in zip(held, units, strict=True)
    ]
    return out, held


def _spots(
    layout: Layout,
    tiers: Sequence[Tier],
    tier: Tier,
    units: Sequence[Plot],
    ground: Sequence[Spot],
    areas: Sequence[int],
) -> tuple[list[Spot], list[int]]:
    """(line, order) of each piece, and the area of its line."""
    if len(tiers) == 1:
        return list(ground), list(areas)
    first = np.unique(tier.codes, return_index=True)[1].tolist()
    smallest = [
        min(ground[k] for k in np.flatnonzero(tier.codes == code).tolist())
        for code in range(len(first))
    ]
    if tier.name == "column strip":
        smallest = [(column, line) for line, column in smallest]
    unblocked = all(plot.block is None for plot in units)
    if unblocked and layout.type == "split-plot" and tier is not tiers[0]:
        names: list[Hashable] = [units[k].whole_plot for k in first]
    else:
        names = [units[k].block for k in first]
    lines = {name: k for k, name in enumerate(dict.fromkeys(names))}
    out = [(0, 0)] * len(first)
    for name, line in lines.items():
        members = [k for k, own in enumerate(names) if own == name]
        for order, k in enumerate(sorted(members, key=lambda k: smallest[k])):
            out[k] = (line, order)
    return out, [0] * len(first)


def _touching(
    codes: Sequence[int], at: dict[Spot, int], ways: Sequence[Spot]
) -> tuple[Pair, ...]:
    """Pairs of pieces with units at places that lie so apart."""
    found: dict[Pair, None] = {}
    for (line, column), k in at.items():
        for down, right in ways:
            other = at.get((line + down, column + right))
            if other is not None and codes[other] != codes[k]:
                found.setdefault(tuple(sorted((codes[k], codes[other]))))  # type: ignore[arg-type]
    return tuple(found)
