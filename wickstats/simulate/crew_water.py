"""What the crew writes of water: every refill, with levels where there is a reservoir.

A plot without a reservoir gets its liters week by week. A reservoir is filled at planting,
refilled to the same mark before it can run dry, and read at the season's end, so that what
was given less what is left is the liters drawn but for the readings' error. Leans on
``one`` and ``crew_harvest``.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.design.trial import Trial
from wickstats.simulate.assumed import Array, Ratio
from wickstats.simulate.calendar import WEEK
from wickstats.simulate.crew_harvest import course
from wickstats.simulate.one import OneSeason
from wickstats.simulate.sheets import Cell, Row

HEADS = (
    *("date", "plot", "reservoir", "applied_l", "level_before_l", "level_after_l"),
    *("source", "note"),
)
LEAK_HEADS = (*HEADS[:6], "leaked_l", *HEADS[6:])
SOURCE = "tank by the track"
MOST_USED = 0.85  # of what a reservoir can give, between two refills
FILLED = 0.95  # of what it holds


@dataclass(frozen=True, slots=True)
class _Leak:
    """A leak that a refill found: which refill, and its share of what was left to leak."""

    at: float
    share: float


@dataclass(frozen=True, slots=True)
class _Vessel:
    """What a reservoir holds after a refill, and what it can give of that."""

    full: float
    gives: float


def liters_of(season: OneSeason) -> Array | None:
    """(n,) liters of a plot: the water response's, else those under the ratio."""
    models = season.model.models
    for response in season.model.trial.responses:
        if response.kind == "water used" and response.name in season.totals:
            return season.totals[response.name]
    for name, what in models.items():
        if isinstance(what, Ratio):
            return season.totals[name]
    return None


def write_water(season: OneSeason, note: str) -> tuple[tuple[str, ...], list[Row]]:
    """Heads and rows of the water log."""
    liters = liters_of(season)
    if liters is None:
        return HEADS, []
    heads = LEAK_HEADS if season.model.crew.leaks > 0.0 else HEADS
    rows = [(day, row) for _, day, row in _written(season, liters, note)]
    return heads, [row for _, row in sorted(rows, key=lambda item: item[0])]


def leak_events(season: OneSeason, note: str) -> list[Row]:
    """One event a leak, on the day of the refill that found it."""
    liters = liters_of(season)
    if liters is None or season.model.crew.leaks <= 0.0:
        return []
    found: list[Row] = []
    for unit, _, row in _written(season, liters, note):
        if row[6]:
            plot = season.model.places.members[unit][0].plot
            found.append((row[0], plot, "leak", None, None, note))
    return found


def _written(season: OneSeason, liters: Array, note: str) -> list[tuple[int, int, Row]]:
    """Unit, day and row of every refill."""
    rng = season.stream("water")
    leaks = _leaks(season)
    leaky = season.model.crew.leaks > 0.0
    rows: list[tuple[int, int, Row]] = []
    for unit, plots in enumerate(season.model.places.members):
        total = max(float(liters[unit]), 0.0) * len(plots)
        reservoir = plots[0].reservoir
        where: tuple[Cell, Cell] = (None, reservoir) if reservoir else (plots[0].plot, None)
        told = (
            _by_reservoir(season, total, rng, leaks.get(unit))
            if reservoir
            else _by_hand(season, total, rng)
        )
        for day, *amounts, leaked in told:
            if day < season.unit_lost[unit]:
                lost = (leaked,) if leaky else ()
                row = (season.calendar.on(day), *where, *amounts, *lost, SOURCE, note)
                rows.append((unit, day, row))
    return rows


def _leaks(season: OneSeason) -> dict[int, _Leak]:
    """Unit -> its leak. A stream of its own: seasons without leaks stay as they were."""
    rng = season.stream("leaks")
    draws = rng.random((season.model.places.n, 3))
    return {
        int(unit): _Leak(float(draws[unit, 1]), 0.3 + 0.6 * float(draws[unit, 2]))
        for unit in np.flatnonzero(draws[:, 0] < season.model.crew.leaks)
    }


Told = list[tuple[int, float, float | None, float | None, float | None]]


def _by_hand(season: OneSeason, total: float, rng: np.random.Generator) -> Told:
    days = season.calendar.weeks
    used = course(rng, len(days)) * total
    error = season.model.crew.reading_cv * rng.standard_normal(len(days))
    places = 2 if total < 100 else 1
    read = np.round(used * np.exp(error), places)
    return [
        (day, float(amount), None, None, None) for day, amount in zip(days, read, strict=True)
    ]


def _by_reservoir(
    season: OneSeason, total: float, rng: np.random.Generator, leak: _Leak | None
) -> Told:
    vessel = _vessel(season.model.trial, total)
    every = WEEK
    shape = course(rng, 64) * 64 / season.calendar.days  # per day, at 64 times of the season
    while every > 1 and every * float(shape.max()) * total > MOST_USED * vessel.gives:
        every -= 1
    days = [*range(0, season.calendar.days, every), season.calendar.days]
    edges = np.interp(
        np.array(days) / season.calendar.days,
        np.linspace(0, 1, 65),
        np.concatenate([[0.0], np.cumsum(shape) * season.calendar.days / 64]),
    )
    used = np.diff(edges) * total
    error = season.model.crew.reading_cv * rng.standard_normal(len(days))
    out: Told = [(0, round(vessel.full, 1), 0.0, round(vessel.full, 1), None)]
    found = -1 if leak is None else int(leak.at * (len(used) - 1))
    for k, (day, amount) in enumerate(zip(days[1:], used, strict=True)):
        spare = max(vessel.gives - float(amount), 0.0)
        leaked = round(leak.share * spare, 1) if leak is not None and k == found else 0.0
        before = round(vessel.full - float(amount) - leaked, 1)
        if day == season.calendar.days:
            out.append((day, 0.0, before, before, None))
        else:
            given = round(float((amount + leaked) * np.exp(error[k])), 1)
            out.append((day, given, before, round(vessel.full, 1), leaked or None))
    return out


def _vessel(trial: Trial, total: float) -> _Vessel:
    """As the trial file says; else one that holds a fifth of the season's water."""
    size = trial.water.reservoirs if trial.water else None
    holds = size.holds_l if size is not None and size.holds_l else total / 5
    unusable = (size.unusable_l or 0.0) if size is not None else 0.0
    return _Vessel(FILLED * holds, max(FILLED * holds - unusable, 0.1 * holds))
