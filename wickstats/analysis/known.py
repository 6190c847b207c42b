"""What is known of every unit at a date: its share alive, or why there is none.

A unit counts when it was visited around the date and something was seen of the plants that
lived before. Any other unit is left out whole, its dead plants too: they stay known while
living ones drop out, so that their treatment would seem to lose more. Units left out at
random then move no share. A unit whose plants were all seen dead before needs no visit: it
counts as dead, unless most others of its treatment were not visited, when it would stand
for them. Leans on lives, rounds and models.lifetimes.shares.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.lives import BROWSING, COMPETING, Lives
from wickstats.analysis.rounds import GRACE_DAYS
from wickstats.analysis.units import Array, Units
from wickstats.core.words import say
from wickstats.models.lifetimes.restricted import AliveCounts
from wickstats.models.lifetimes.shares import unit_shares

BoolArray = NDArray[np.bool_]
ENOUGH = 0.5  # share of a treatment's other units visited, for its dead ones to count


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """Units at a date, all arrays (n units,).

    Attributes
    ----------
    day
        The date in days after the origin.
    until
        The day up to which a unit's deaths count: the date, or the visit after that serves.
    counts
        Plants alive, dead and open as they were seen; spared ones are dead here.
    spared
        Plants dead of browsing where that is a competing cause.
    share
        Share alive (or spared); NaN where the unit is not known.
    plants
        Plants known behind each share; 0 where the unit is not known.
    after
        Served by a visit after the date.
    missed
        Plants, but no visit that serves the date.
    unseen
        Visited, but nothing seen of the plants that lived before.
    quiet
        All dead before and not visited since, counted as dead.
    """

    day: float
    until: Array
    counts: AliveCounts
    spared: Array
    share: Array
    plants: Array
    after: BoolArray
    missed: BoolArray
    unseen: BoolArray
    quiet: BoolArray

    @property
    def used(self) -> BoolArray:
        """(n,) the unit is known."""
        return np.isfinite(self.share)

    def reasons(self, at: str) -> tuple[str, ...]:
        """Why a unit without a share has none."""
        words = np.full(self.share.size, say("no plant known", at=at), dtype=object)
        words[self.missed] = say("unit not visited", at=at)
        words[self.unseen] = say("unit not seen", at=at)
        return tuple(str(word) for word in words)


def known_at(day: float, lives: Lives, units: Units, *, curves: bool = True) -> Known:
    """What the visits tell of every unit at one day; lifetimes are counted as they are.

    ``curves`` as in ``unit_shares``.
    """
    n = units.n
    visits = lives.rounds.served(day, n)
    dated = lives.origin is not None
    visited = np.isfinite(visits) if dated else np.ones(n, dtype=bool)
    until = np.where(visits > day, visits, day)
    eaten = lives.dead_by(BROWSING) if lives.browsing == COMPETING else None
    found = unit_shares(
        lives.low,
        lives.high,
        lives.units,
        n,
        until,
        grace=GRACE_DAYS,
        spared=eaten,
        curves=curves,
    )
    counts, there = found.counts, found.counts.plants > 0
    known = visited & found.seen
    early = np.bincount(lives.units[lives.high < day - GRACE_DAYS], minlength=n)
    quiet = there & (early == counts.plants) & ~visited
    quiet &= _enough(known, there & ~quiet, units)[units.cells]
    used = known | quiet
    return Known(
        day=day,
        until=until,
        counts=counts,
        spared=found.spared,
        share=np.where(used, found.share, np.nan),
        plants=np.where(used, (counts.alive + counts.dead).astype(float), 0.0),
        after=visits > day,
        missed=there & ~visited & ~quiet,
        unseen=there & visited & ~known & dated,
        quiet=quiet,
    )


def _enough(known: BoolArray, others: BoolArray, units: Units) -> BoolArray:
    """(cells,) whether enough of the units not all dead before are known."""
    many = np.bincount(units.cells[others], minlength=units.n_cells)
    of_them = np.bincount(units.cells[others & known], minlength=units.n_cells)
    return np.asarray(of_them >= ENOUGH * many)


def known_notes(
    found: Known, lives: Lives, units: Units, better: tuple[float, int] | None
) -> tuple[str, ...]:
    """Sentences on units and plants not known at the date; empty where all are.

    ``better``: a day on which more units are known, and how many.
    """
    at, out = lives.words(found.day), []
    lost = found.missed | found.unseen  # none where lives count days
    total = int((found.counts.plants > 0).sum())
    if lost.any():
        words = say(
            "units unknown", at=at, n=int(lost.sum()), total=total, told=_told(lost, units)
        )
        if better is None:
            advice = say("units unknown visit")
        else:
            advice = say(
                "units unknown date", at=lives.words(better[0]), n=better[1], total=total
            )
        out.append(f"{words} {advice}")
    beside = np.zeros(units.n_cells, dtype=bool)
    beside[units.cells[lost]] = True
    heavy = found.quiet & beside[units.cells]
    if heavy.any():
        out.append(say("units dead before", at=at, told=_told(heavy, units)))
    after = found.after & found.used
    if after.any():
        out.append(say("units seen after", at=at, n=int(after.sum()), total=total))
    opened = int(found.counts.open[found.used].sum())
    if opened:
        key = "plants open" if lives.origin is not None else "lives open"
        out.append(say(key, n=opened, at=at))
    return tuple(out)


def better_day(found: Known, lives: Lives, units: Units) -> tuple[float, int] | None:
    """The last visit day with at most half as many unknown units, and how many are known."""
    total = int((found.counts.plants > 0).sum())
    unknown = total - int(found.used.sum())
    for day in np.unique(lives.rounds.days)[::-1]:
        known = int(known_at(float(day), lives, units, curves=False).used.sum())
        if 2 * (total - known) <= unknown:
            return float(day), known
    return None


def _told(which: BoolArray, units: Units) -> str:
    """How many of each treatment's units."""
    many = np.bincount(units.cells[which], minlength=units.n_cells)
    of = np.bincount(units.cells, minlength=units.n_cells)
    return ", ".join(
        say("n of treatment", name=units.cell_names[k], n=int(many[k]), total=int(of[k]))
        for k in np.flatnonzero(many)
    )
