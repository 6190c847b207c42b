"""What a layout's scheme could have drawn, stratum by stratum.

In each stratum the labels set up on its pieces move inside the larger pieces they lie in,
while all else stays; Latin squares are drawn anew; blocks and arrays of a plan, and what
stands inside them, change places (see models.redraw). ``alike`` outcomes share any value of
an overall statistic with a given one: exchanging the names of treatments that are alike
changes no such statistic (Edgington 1980, Randomization Tests). Where a plan is moved they
are counted: all outcomes where these are at most 65,536, else 10,000 seeded ones.
Leans on strata and models.redraw.
"""

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from math import factorial, prod

import numpy as np
from numpy.typing import NDArray

from wickstats.layout.plots import PLANNED, Layout, Plot
from wickstats.layout.strata import Strata, Tier, strata_of
from wickstats.models.redraw.latin import MOST_UNIFORM
from wickstats.models.redraw.moves import arrays_move, block_steps
from wickstats.models.redraw.scheme import (
    DRAWS,
    EXACT_LIMIT,
    all_layouts,
    count_layouts,
    generator,
    sample_layouts,
)
from wickstats.models.redraw.whole import Scheme, latin_scheme, moves_scheme

Ints = NDArray[np.int64]
Allowed = Callable[[Ints], NDArray[np.bool_]]


@dataclass(frozen=True, slots=True, eq=False)
class StratumScheme:
    """What could have been laid out in one stratum, all else as it is.

    Attributes
    ----------
    name
        Of the stratum.
    scheme
        Its outcomes, as (draws, n) codes of the units' treatments: levels of the factors
        counted with the last factor fastest.
    alike
        Share of outcomes with the same overall statistic as any given one, at least.
    largest
        Its pieces lie in no larger ones with treatments of their own.
    """

    name: str
    scheme: Scheme
    alike: float
    largest: bool = True

    def smallest_p(self, allowed: Allowed | None = None) -> float | None:
        """Smallest p of a test of the stratum's treatments; None where too few are allowed.

        ``allowed`` takes (draws, n) codes and says which layouts are allowed.
        """
        if allowed is None:
            return min(1.0, self.alike)
        share = float(allowed(outcomes(self.scheme)).mean())
        return min(1.0, self.alike / share) if share > 0 else None


def outcomes(scheme: Scheme) -> Ints:
    """All outcomes where they are at most 65,536, else 10,000 seeded draws."""
    if scheme.total is not None and scheme.total <= EXACT_LIMIT:
        return scheme.every()
    return scheme.sample(DRAWS, generator(1, "outcomes"))


def ways_alike(times: Iterable[int]) -> int:
    """Ways to exchange the names of treatments that stand equally often."""
    return prod(factorial(many) for many in Counter(times).values())


def schemes_of(
    layout: Layout, levels: Sequence[Sequence[str]] | None = None
) -> tuple[StratumScheme, ...]:
    """Of every stratum in which labels were drawn; none where the scheme is not counted.

    ``levels``: of each factor, in the order in which codes count them; None: as they are met.
    """
    strata = strata_of(layout)
    if strata.tiers[0].name == "coil":
        return ()  # which cord a coil is of was not drawn: nothing is redrawn
    names = levels or [
        list(dict.fromkeys(plot.levels[factor] for plot in strata.units))
        for factor in layout.factors
    ]
    if layout.type == "Latin square":
        return _latin(strata, _cells(layout, strata.units, names))
    if layout.type in PLANNED:
        return _planned(layout, strata, _cells(layout, strata.units, names))
    found = (_of_tier(layout, strata, tier, names) for tier in strata.tiers)
    return tuple(scheme for scheme in found if scheme is not None)


def all_together(layout: Layout, levels: Sequence[Sequence[str]]) -> Scheme | None:
    """What could have been laid out in all strata at once; None where it is not counted."""
    found = schemes_of(layout, levels)
    if len(found) == 1:
        return found[0].scheme
    totals = [held.scheme.total for held in found]
    if not found or None in totals:
        return None
    # each stratum's outcomes differ from the layout in the digits of its own factors only
    here = _cells(layout, strata_of(layout).units, levels)

    def every() -> Ints:
        layouts: Ints = here[None, :]
        for held in found:
            change = held.scheme.every() - here
            layouts = (layouts[:, None, :] + change[None, :, :]).reshape(-1, here.size)
        return layouts

    def sample(draws: int, rng: np.random.Generator) -> Ints:
        layouts: Ints = np.tile(here, (draws, 1))
        for held in found:
            layouts += held.scheme.sample(draws, rng) - here
        return layouts

    return Scheme(prod(total for total in totals if total is not None), every, sample)


def _cells(layout: Layout, units: Sequence[Plot], names: Sequence[Sequence[str]]) -> Ints:
    code: Ints = np.zeros(len(units), dtype=np.int64)
    for factor, held in zip(layout.factors, names, strict=True):
        at = {name: k for k, name in enumerate(held)}
        own = np.array([at[plot.levels[factor]] for plot in units], dtype=np.int64)
        code = code * len(held) + own
    return code


def _latin(strata: Strata, cells: Ints) -> tuple[StratumScheme, ...]:
    tables: dict[str | None, list[int]] = {}
    squares: list[Ints] = []
    for k, plot in enumerate(strata.units):
        tables.setdefault(plot.square, []).append(k)
    order = len(set(cells.tolist()))
    if not 2 <= order <= MOST_UNIFORM:
        return ()
    for held in tables.values():
        held.sort(key=lambda k: (strata.units[k].row or 0, strata.units[k].column or 0))
        if len(held) != order * order:
            return ()
        squares.append(np.array(held, dtype=np.int64).reshape(order, order))
    scheme = latin_scheme(cells, squares)
    return (StratumScheme("plot", scheme, factorial(order) / (scheme.total or 1)),)


def _planned(layout: Layout, strata: Strata, cells: Ints) -> tuple[StratumScheme, ...]:
    codes = {}
    for ground in strata.grounds:
        if (ground.shares.max(axis=1) < 1.0 - 1e-9).any():
            return ()
        codes[ground.name] = ground.shares.argmax(axis=1).astype(np.int64)
    array = codes.get("replicate")
    if layout.type == "incomplete block":
        if "block" not in codes:
            return ()
        steps = block_steps(codes["block"], array)
    else:
        whole = np.zeros(cells.size, dtype=np.int64) if array is None else array
        moved = arrays_move(codes["row"], codes["column"], whole)
        if moved is None:
            return ()
        steps = list(moved)
    scheme = moves_scheme(cells, steps)
    found = _renamed(outcomes(scheme))
    same = int(np.count_nonzero((found == _renamed(cells[None, :])).all(axis=1)))
    exact = scheme.total is not None and scheme.total <= EXACT_LIMIT
    share = same / len(found) if exact else (1 + same) / (1 + len(found))
    return (StratumScheme(strata.tiers[-1].name, scheme, share),)


def _renamed(layouts: Ints) -> Ints:
    """Treatments called by the order in which they are met."""
    codes = np.unique(layouts)
    first = np.stack([(layouts == code).argmax(axis=1) for code in codes], axis=1)
    rank = np.argsort(np.argsort(first, axis=1), axis=1)
    product: Ints = np.take_along_axis(rank, np.searchsorted(codes, layouts), axis=1)
    return product


def _of_tier(
    layout: Layout, strata: Strata, tier: Tier, names: Sequence[Sequence[str]]
) -> StratumScheme | None:
    """Labels set up on the tier's own pieces; None where there are none (crossing strips)."""
    around = {
        f for t in strata.tiers if t.name in tier.within for _, held in t.terms for f in held
    }
    own = [f for f in layout.factors if f not in around]
    own = [f for f in own if any(f in held for _, held in tier.terms)]
    if not own:
        return None
    first = np.unique(tier.codes, return_index=True)[1]
    groups: list[Hashable] = [(strata.units[k].replicate, strata.units[k].block) for k in first]
    if tier.within:
        larger = next(t for t in strata.tiers if t.name == tier.within[-1])
        groups = larger.codes[first].tolist()
    at = {group: k for k, group in enumerate(dict.fromkeys(groups))}
    inside = np.array([at[group] for group in groups], dtype=np.int64)
    here = _cells(layout, strata.units, names)
    step = np.ones(len(names), dtype=np.int64)  # what one level more of a factor adds
    for k in range(len(names) - 2, -1, -1):
        step[k] = step[k + 1] * len(names[k + 1])
    mine = np.zeros(len(strata.units), dtype=np.int64)
    for factor, held, size in zip(layout.factors, names, step, strict=True):
        if factor in own:
            at_level = {name: k for k, name in enumerate(held)}
            mine += size * np.array([at_level[plot.levels[factor]] for plot in strata.units])
    labels, rest = mine[first], here - mine

    def laid(moved: Ints) -> Ints:
        product: Ints = rest + moved[:, tier.codes]
        return product

    total = count_layouts(labels, inside)
    scheme = Scheme(
        total,
        lambda: laid(all_layouts(labels, inside)),
        lambda draws, rng: laid(sample_layouts(labels, inside, draws, rng)),
    )
    alike = ways_alike(Counter(labels.tolist()).values())
    return StratumScheme(tier.name, scheme, alike / total, not tier.within)
