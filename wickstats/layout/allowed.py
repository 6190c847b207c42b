"""Restricted layouts: what ``keep`` allows, as conditions on the places of the pieces.

All restrictions reduce to three kinds of condition: pairs of pieces that may not hold the
same treatment; groups of pieces of which a treatment may not hold one in every group; and
groups of pieces in each of which every treatment must stand. Where a layout has pieces of
several sizes (whole plots and subplots, strips) the conditions hold for each size, with what
was set up on it as treatment. Leans on places and the trial's values; numpy for many layouts
at once.
"""

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wickstats.design.keep import (
    BOTH_HALVES,
    NOT_ACROSS,
    NOT_ALWAYS_END,
    NOT_BESIDE,
    NOT_CORNERS,
    NOT_TWICE,
)
from wickstats.design.trial import Trial
from wickstats.layout.places import TierPlaces, tier_places
from wickstats.layout.plots import TREATMENT_JOIN, Layout

Ints = NDArray[np.int64]
Allowed = Callable[[Ints], NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class Restrictions:
    """Conditions on the treatments of n pieces in walking order.

    Attributes
    ----------
    differ
        Pairs of pieces that may not have the same treatment.
    not_in_every
        Groups of pieces; no treatment may have a piece in every one of them.
    in_each
        Groups of pieces; every treatment has a piece in each of them.
    """

    differ: tuple[tuple[int, int], ...] = ()
    not_in_every: tuple[tuple[int, ...], ...] = ()
    in_each: tuple[tuple[int, ...], ...] = ()

    def fit(self, treatments: Sequence[Hashable]) -> bool:
        """Whether one layout, given as the treatment of each piece, is allowed."""
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


@dataclass(frozen=True, slots=True)
class TierRule:
    """The conditions on the pieces of one size.

    Attributes
    ----------
    name
        Of the tier.
    units
        A unit in each piece.
    factors
        Positions of the factors that are its treatment; None: all.
    most
        Pieces that must all differ, at most so many at once.
    """

    name: str
    units: tuple[int, ...]
    factors: tuple[int, ...] | None
    conditions: Restrictions
    most: int


@dataclass(frozen=True)
class Rule:
    """What ``keep`` allows in a layout with pieces of one or several sizes.

    Codes of treatments are counted as in ``shape``, the numbers of levels of the factors,
    the last factor fastest; with pieces of one size any codes do.
    """

    tiers: tuple[TierRule, ...]
    shape: tuple[int, ...]

    def fit(self, cells: Sequence[str]) -> bool:
        """Whether one layout, given as the treatment of each unit, is allowed."""
        for tier in self.tiers:
            held: list[Hashable] = [cells[k] for k in tier.units]
            if tier.factors is not None:
                parts = [str(cell).split(TREATMENT_JOIN) for cell in held]
                held = [tuple(part[f] for f in tier.factors) for part in parts]
            if not tier.conditions.fit(held):
                return False
        return True

    def fit_all(self, codes: Ints) -> NDArray[np.bool_]:
        """(draws,) whether each of the (draws, n) layouts of treatment codes is allowed."""
        good = np.ones(len(codes), dtype=np.bool_)
        for tier in self.tiers:
            held = codes[:, list(tier.units)]
            if tier.factors is not None:
                held = self._parts[tier.factors][held]
            good &= tier.conditions.fit_all(held)
        return good

    def impossible(self) -> bool:
        """Whether more pieces of a size must differ at once than it has treatments."""
        for tier in self.tiers:
            factors = range(len(self.shape)) if tier.factors is None else tier.factors
            if tier.most > int(np.prod([self.shape[f] for f in factors])):
                return True
        return False

    def of(self, name: str) -> "Rule":
        """The conditions on the pieces of one size alone."""
        return Rule(tuple(tier for tier in self.tiers if tier.name == name), self.shape)

    @cached_property
    def _parts(self) -> dict[tuple[int, ...], Ints]:
        """Code of a treatment to the code of its part, for each size of piece."""
        grid = np.unravel_index(np.arange(int(np.prod(self.shape))), self.shape)
        out = {}
        for tier in self.tiers:
            if tier.factors is not None:
                code = np.zeros(grid[0].size, dtype=np.int64)
                for f in tier.factors:
                    code = code * self.shape[f] + grid[f]
                out[tier.factors] = code
        return out


def allowed(trial: Trial, layout: Layout) -> Allowed | None:
    """What the trial's ``keep`` allows, for re-randomization; None without restrictions.

    The callable takes (draws, n) treatment codes of the layout's n units in walking order
    and returns (draws,) booleans.
    """
    return rule_of(trial, layout).fit_all if trial.design.keep else None


def rule_of(trial: Trial, layout: Layout) -> Rule:
    """What the trial's ``keep`` asks of a layout of its design."""
    places = tier_places(layout)
    whole = tuple(range(len(layout.factors)))
    return Rule(
        tuple(
            TierRule(
                tier.name,
                tier.units,
                None if tier.factors == whole else tier.factors,
                restrictions(trial.design.keep, tier),
                _most(tier) if NOT_TWICE in trial.design.keep else 1,
            )
            for tier in places
        ),
        tuple(len(trial.factor(name).levels) for name in layout.factors),
    )


def restrictions(keep: Sequence[str], places: TierPlaces) -> Restrictions:
    """Turn the words of ``keep`` into conditions on the pieces of one size."""
    differ: dict[tuple[int, int], None] = {}
    at = {spot: k for k, spot in enumerate(places.spots)}
    lines: dict[int, list[int]] = {}
    for k, (line, _) in enumerate(places.spots):
        lines.setdefault(line, []).append(k)
    for k, (line, order) in enumerate(places.spots):
        after = [other for other in lines if other > line]
        if NOT_TWICE not in keep:
            after = [line + 1] if NOT_ACROSS in keep and line + 1 in lines else []
        for other in after:
            spot = at.get((other, order))
            if spot is not None and places.areas[spot] == places.areas[k]:
                differ.setdefault((k, spot))
    if NOT_BESIDE in keep or NOT_CORNERS in keep:
        differ.update(dict.fromkeys(places.beside))
    if NOT_CORNERS in keep:
        differ.update(dict.fromkeys(places.corners))
    ends: tuple[tuple[int, ...], ...] = ()
    if NOT_ALWAYS_END in keep and len(lines) > 1:
        in_order = [sorted(held, key=lambda k: places.spots[k][1]) for held in lines.values()]
        ends = tuple((held[0], held[-1]) for held in in_order)
    halves: tuple[tuple[int, ...], ...] = ()
    if BOTH_HALVES in keep:
        halves = tuple(
            tuple(k for k, held in enumerate(places.halves) if held[side]) for side in (0, 1)
        )
    return Restrictions(tuple(differ), ends, halves)


def _most(places: TierPlaces) -> int:
    """Most pieces at the same place of different blocks or rows."""
    spots = zip(places.areas, places.spots, strict=True)
    return max(Counter((area, order) for area, (_, order) in spots).values(), default=1)
