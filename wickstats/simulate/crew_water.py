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
SOURCE = "tank by the track"
MOST_USED = 0.85  # of what a reservoir can give, between two refills
FILLED = 0.95  # of what it holds


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
    rng = season.stream("water")
    rows: list[tuple[int, Row]] = []
    for unit, plots in enumerate(season.model.places.members):
        total = max(float(liters[unit]), 0.0) * len(plots)
        reservoir = plots[0].reservoir
        where: tuple[Cell, Cell] = (None, reservoir) if reservoir else (plots[0].plot, None)
        write = _by_reservoir if reservoir else _by_hand
        for day, *amounts in write(season, total, rng):
            if day < season.unit_lost[unit]:
                row = (season.calendar.on(day), *where, *amounts, SOURCE, note)
                rows.append((day, row))
    return HEADS, [row for _, row in sorted(rows, key=lambda item: item[0])]


Told = list[tuple[int, float, float | None, float | None]]


def _by_hand(season: OneSeason, total: float, rng: np.random.Generator) -> Told:
    days = season.calendar.weeks
    used = course(rng, len(days)) * total
    error = season.model.crew.reading_cv * rng.standard_normal(len(days))
    places = 2 if total < 100 else 1
    read = np.round(used * np.exp(error), places)
    return [(day, float(amount), None, None) for day, amount in zip(days, read, strict=True)]


def _by_reservoir(season: OneSeason, total: float, rng: np.random.Generator) -> Told:
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
    out: Told = [(0, round(vessel.full, 1), 0.0, round(vessel.full, 1))]
    for k, (day, amount) in enumerate(zip(days[1:], used, strict=True)):
        before = round(vessel.full - float(amount), 1)
        if day == season.calendar.days:
            out.append((day, 0.0, before, before))
        else:
            given = round(float(amount * np.exp(error[k])), 1)
            out.append((day, given, before, round(vessel.full, 1)))
    return out


def _vessel(trial: Trial, total: float) -> _Vessel:
    """As the trial file says; else one that holds a fifth of the season's water."""
    size = trial.water.reservoirs if trial.water else None
    holds = size.holds_l if size is not None and size.holds_l else total / 5
    unusable = (size.unusable_l or 0.0) if size is not None else 0.0
    return _Vessel(FILLED * holds, max(FILLED * holds - unusable, 0.1 * holds))
