"""Complete blocks kept to restrictions that hardly any layout fulfills: block after block.

Each block's order is drawn among those that fit the blocks before it, N_b in number, which
alone would prefer some layouts: a layout comes out with chance 1 / (N_1 N_2 ...). So after
each block the attempt goes on with chance N_b / U_b only and starts anew otherwise; U_b is
at least N_b whatever stands before. All allowed layouts are then equally likely (rejection
sampling: von Neumann 1951; from memory). U_b is Bregman's bound of a permanent (1973, Dokl.
Akad. Nauk SSSR 211:27; from memory): with r_j treatments left at place j at most the product
of (r_j!)^(1/r_j) orders fit. The mean of N_1 N_2 ... over attempts without that chance is the
number of allowed layouts (Knuth 1975, Mathematics of Computation 29:121; from memory).
Leans on allowed and stream.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from math import exp, floor, lgamma, prod

import numpy as np
from numpy.typing import NDArray

from wickstats.layout.allowed import Restrictions
from wickstats.layout.stream import Stream

MOST_TREATMENTS = 7  # all orders of a block are listed
LOOKS = 400

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Complete blocks of t units each in walking order, and what they are kept to.

    Attributes
    ----------
    orders
        (t!, t) every order of a block.
    before
        Of each block and place: the earlier units that must hold another treatment.
    most
        U_b of each block.
    conditions
        All of them.
    """

    orders: Ints
    before: tuple[tuple[tuple[int, ...], ...], ...]
    most: tuple[int, ...]
    conditions: Restrictions


def lay_blocks(conditions: Restrictions, blocks: int, treatments: int) -> Blocks:
    """Sort the conditions by block and place."""
    held: list[list[list[int]]] = [[[] for _ in range(treatments)] for _ in range(blocks)]
    for one, other in conditions.differ:
        low, high = sorted((one, other))
        if low // treatments != high // treatments:
            held[high // treatments][high % treatments].append(low)
    orders = np.array(list(permutations(range(treatments))), dtype=np.int64)
    differ = {(min(pair), max(pair)) for pair in conditions.differ}
    most = tuple(_bound(block, treatments, differ) for block in held)
    before = tuple(tuple(tuple(place) for place in block) for block in held)
    return Blocks(orders, before, most, conditions)


def _bound(places: Sequence[Sequence[int]], t: int, differ: set[tuple[int, int]]) -> int:
    """Most orders that can fit, whatever stands before."""
    log = 0.0
    for units in places:
        groups = [[u for u in units if u // t == b] for b in {u // t for u in units}]
        groups += [[u for u in units if u % t == j] for j in {u % t for u in units}]
        # treatments that surely are taken: of units that all differ from one another
        apart = [
            len(group)
            for group in groups
            if all(x // t == y // t or (x, y) in differ for x, y in combinations(group, 2))
        ]
        left = max(t - max(apart, default=0), 1)
        log += lgamma(left + 1) / left
    return max(1, floor(exp(log) * (1.0 + 1e-12)))


def draw_by_blocks(blocks: Blocks, stream: Stream, tries: int) -> list[int] | None:
    """Treatment of each unit in walking order; None where no attempt came to an end."""
    for _ in range(tries):
        labels: list[int] = []
        for before, most in zip(blocks.before, blocks.most, strict=True):
            fits = _fitting(blocks, before, labels)
            if fits.size == 0 or stream.below(most) >= fits.size:
                break
            labels += blocks.orders[fits[stream.below(int(fits.size))]].tolist()
        else:
            if blocks.conditions.fit(labels):
                return labels
    return None


def count_by_blocks(blocks: Blocks, seed: int) -> float:
    """About how many layouts are allowed, by 400 seeded attempts."""
    stream = Stream(seed, "share by blocks")
    total = 0
    for _ in range(LOOKS):
        labels: list[int] = []
        ways: list[int] = []
        for before in blocks.before:
            fits = _fitting(blocks, before, labels)
            ways.append(int(fits.size))
            if not fits.size:
                break
            labels += blocks.orders[fits[stream.below(int(fits.size))]].tolist()
        if 0 not in ways and blocks.conditions.fit(labels):
            total += prod(ways)
    return total / LOOKS


def _fitting(blocks: Blocks, before: tuple[tuple[int, ...], ...], labels: list[int]) -> Ints:
    """Positions of the orders that fit what stands."""
    good = np.ones(len(blocks.orders), dtype=np.bool_)
    for place, units in enumerate(before):
        for taken in {labels[unit] for unit in units}:
            good &= blocks.orders[:, place] != taken
    return np.flatnonzero(good)
