"""What is simulated to answer the questions of one trial, and what is solved from it.

Leans on ``seasons``, ``smallest``, ``what_if``; the trial's values and layout.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import exp

from wickstats.analysis.plan import Family
from wickstats.design.trial import Response, Trial
from wickstats.layout.plots import Layout
from wickstats.sizing.adapted import NONE, assumed_of
from wickstats.sizing.assumed import Expected
from wickstats.sizing.moved import Place, room_of
from wickstats.sizing.questions_told import Solved
from wickstats.sizing.run import Simulated, parts_for
from wickstats.sizing.seasons import Work, work_of
from wickstats.sizing.smallest import blocks_between, differences, smallest_between
from wickstats.sizing.what_if import Asked

MOST_SOLVED = 6  # comparisons whose smallest difference is simulated


@dataclass(slots=True)
class Wanted:
    """Works in the order in which they are done, and the parts of each."""

    works: list[Work] = field(default_factory=list)
    parts: list[int] = field(default_factory=list)

    def add(self, work: Work, seasons: int) -> int:
        """Where it stands."""
        self.works.append(work)
        self.parts.append(parts_for(seasons))
        return len(self.works) - 1

    def sized(
        self, found: tuple[Trial, Layout] | None, name: str, what: Expected, seasons: int
    ) -> int | None:
        """A response in a trial of another size; None where it cannot be simulated."""
        work = work_of(*found, name, what) if found is not None else ""
        return self.add(work, seasons) if isinstance(work, Work) else None


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One comparison at a few true differences, and where their works stand."""

    place: Place
    at: int  # of all planned comparisons
    sizes: tuple[float, ...]
    works: tuple[int | None, ...]


def curve_works(
    asked: Asked,
    response: Response,
    counts: tuple[int, ...],
    wanted: Wanted,
    here: tuple[int, int],
) -> dict[int, int]:
    """Where each number of blocks stands; ``here``: the planned work, seasons of others."""
    planned, seasons = here
    what = asked.expected[response.name]
    out: dict[int, int] = {}
    for count in counts if asked.sized else ():
        found: int | None = planned
        if count != asked.sizes.count:
            found = wanted.sized(asked.resized(count), response.name, what, seasons)
        if found is not None:
            out[count] = found
    return out


def tries(asked: Asked, response: Response, wanted: Wanted, seasons: int) -> tuple[Tried, ...]:
    """Every comparison of a response at differences about its smallest one."""
    target = asked.trial.power.target if asked.trial.power else 0.8
    what = asked.expected[response.name]
    out: list[Tried] = []
    for family in asked.families:
        for which in range(len(family.contrasts)):
            place = Place(asked.trial, response, asked.sizes, family, which, what)
            found = differences(place, target) if len(out) < MOST_SOLVED else ()
            works = tuple(
                wanted.sized((trial, asked.layout), response.name, what, seasons)
                for _, trial in found
            )
            at = place_in(asked.families, family, which)
            out.append(Tried(place, at, tuple(size for size, _ in found), works))
    return tuple(out)


def solved(
    tried: tuple[Tried, ...], done: Simulated, curve: Mapping[int, int], target: float
) -> tuple[Solved, ...]:
    """Smallest differences and blocks needed, read between the seasons that are done."""
    return tuple(_solved(one, done, curve, target) for one in tried)


def _solved(one: Tried, done: Simulated, curve: Mapping[int, int], target: float) -> Solved:
    place = one.place
    tallies = [None if w is None else done.tallies[w] for w in one.works]
    seen = [(s, t) for s, t in zip(one.sizes, tallies, strict=True) if t is not None]
    smallest = None
    if len(seen) > 1:
        sign = 1.0 if one.sizes[0] > 0.0 else -1.0
        most = None if place.what.ratio else room_of(place, sign)
        points = [(abs(size), tally.chance(one.at)) for size, tally in seen]
        found = smallest_between(points, target, most)
        smallest = None if found is None else sign * found
    main = place.response, place.family, place.which
    needed = None
    if abs(assumed_of(place.what, main)) > NONE:
        counted = {count: done.tallies[work] for count, work in curve.items()}
        chances = [(n, t.chance(one.at)) for n, t in counted.items() if t is not None]
        needed = blocks_between(chances, target)
    shown = exp(smallest) if smallest is not None and place.what.ratio else smallest
    seasons = min((t.seasons for _, t in seen), default=0)
    name = name_of(place.family, place.which)
    return Solved(place.response.name, name, shown, needed, seasons)


def name_of(family: Family, which: int) -> str:
    """A comparison's name, with the level inside which it is made."""
    name = family.contrasts[which].name
    return name if family.within is None else f"{name} ({family.within})"


def place_in(families: tuple[Family, ...], family: Family, which: int) -> int:
    """Where a comparison stands among all that are planned."""
    start = 0
    for one in families:
        if one is family:
            return start + which
        start += len(one.contrasts)
    raise KeyError(family.term)
