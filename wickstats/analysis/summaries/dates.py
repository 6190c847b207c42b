"""The days to which shares alive and mean lifetimes are reckoned.

A date that no visit serves moves to the last visit before it, a day of lifetimes to the
last one on which every treatment was in sight; both are told. Leans on the lives.
"""

import numpy as np

from wickstats.analysis.lives import GONE, Lives
from wickstats.analysis.units import Units
from wickstats.core.words import say
from wickstats.design.trial import Response


def _watched(lives: Lives) -> list[tuple[float, float]]:
    """Of every unit with living plants: the last day watched, its last planting of them."""
    out = []
    gone = np.isin(np.array(lives.fate, dtype=object), GONE)
    for unit in np.unique(lives.units):
        mine = lives.units == unit
        living = mine & ~lives.dead & ~gone
        if living.any():
            out.append((float(lives.last_seen[mine].max()), float(lives.planted[living].max())))
    return out


def last_common_day(lives: Lives) -> float:
    """The last day up to which every unit with living plants was watched."""
    watched = _watched(lives)
    if watched:
        return min(end for end, _ in watched)
    seen = np.concatenate([lives.last_seen, lives.high[lives.dead]])
    return float(seen.max()) if seen.size else 0.0


def curve_reach(lives: Lives, units: Units) -> float:
    """The last day on which every treatment still has living plants of two units in sight.

    Infinite where all plants are dead.
    """
    arms, out = units.cells[lives.units], [np.inf]
    living = ~lives.dead
    for code in np.unique(arms[living]):
        ends = np.full(units.n, -np.inf)
        mine = living & (arms == code)
        np.maximum.at(ends, lives.units[mine], lives.low[mine])
        seen = np.sort(ends[np.isfinite(ends)])
        out.append(float(seen[-2] if seen.size > 1 else seen[-1]))
    return min(out)


def horizon_day(day: float, lives: Lives, units: Units) -> float:
    """How far restricted means go: to ``day``, or as far towards it as can be known.

    Visits: as far as every unit was watched. Lifetimes: as far as every treatment was,
    since pseudo-values make up for single lives that were followed for less.
    """
    reach = last_common_day(lives)
    if lives.origin is None:
        reach = max(reach, curve_reach(lives, units))
    return min(day, reach)


def horizon_days(asked: float, lives: Lives) -> float:
    """Days after planting to which every unit was watched, until the day ``asked``.

    A plant set late shortens the horizon only where its own unit was watched for less.
    """
    watched = _watched(lives)
    if not watched:
        return min(asked, last_common_day(lives)) - float(lives.planted.max())
    return min(min(asked, end) - start for end, start in watched)


def _asked(response: Response, lives: Lives) -> tuple[float, ...]:
    """Days of ``at`` in order, or the last day seen; dates cannot meet lives in days."""
    asked = [
        lives.day(at) for at in response.at if (lives.origin is None) == isinstance(at, float)
    ]
    seen = np.concatenate([lives.last_seen, lives.high[lives.dead], lives.low])
    return tuple(sorted(asked)) or (float(seen.max()),)


def _served(day: float, lives: Lives, units: Units) -> float | None:
    """The day itself, or the earlier one that stands for it; None where there is none."""
    if lives.origin is not None:
        return lives.rounds.effective(day)
    return min(day, curve_reach(lives, units))


def days_asked(response: Response, lives: Lives, units: Units) -> tuple[float, ...]:
    """Days at which shares can be told, in order, each once; empty where there is none."""
    served = (_served(day, lives, units) for day in _asked(response, lives))
    return tuple(sorted({day for day in served if day is not None}))


def last_day_asked(response: Response, lives: Lives) -> float:
    """The last day asked for, whether it can be told or not."""
    return _asked(response, lives)[-1]


def moved_days(response: Response, lives: Lives, units: Units) -> tuple[str, ...]:
    """Sentences on days that were moved, or cannot be told."""
    out = []
    for day in _asked(response, lives):
        served = _served(day, lives, units)
        if served is None:
            first = lives.rounds.days[:1]
            key = "date before visits" if first.size else "date without visits"
            told = {"first": lives.words(float(first[0]))} if first.size else {}
            out.append(say(key, asked=lives.words(day), **told))
        elif served != day:
            key = "date moved lifetimes" if lives.origin is None else "date moved"
            out.append(say(key, asked=lives.words(day), at=lives.words(served)))
    return tuple(out)
