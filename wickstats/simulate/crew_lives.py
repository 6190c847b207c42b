"""What the crew writes of plants: planting, visits, lifetimes, events.

A plant is written down until it was seen dead twice; a plant that was lost is not found
from then on; a plot that was taken by a flood has no rows after it. Leans on ``one``.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.simulate.one import NEVER, OneSeason
from wickstats.simulate.sheets import Row

PLANT_HEADS = ("plot", "plant", "planted_on", "replaces", "note")
VISIT_HEADS = ("date", "plot", "plant", "status", "cause", "observer", "note")
CONDITION_HEADS = (*VISIT_HEADS[:4], "condition", *VISIT_HEADS[4:])
LIFETIME_HEADS = ("plot", "plant", "last_alive_d", "first_dead_d", "cause", "note")
EVENT_HEADS = ("date", "plot", "what", "plant", "new_plant", "note")
OBSERVERS = ("A. Example", "B. Example")


@dataclass(frozen=True, slots=True)
class Life:
    """One plant: from which day it stands there, when it dies and why, when it is gone."""

    plot: str
    plant: int
    unit: int
    from_day: int
    dies: float
    cause: str | None
    gone: float
    replaces: int | None = None


@dataclass(frozen=True, slots=True)
class Written:
    """Rows of the tables about plants."""

    plants: list[Row]
    visits: list[Row]
    lifetimes: list[Row]
    events: list[Row]


def write_lives(season: OneSeason, note: str) -> Written:
    """Rows of plants, visits, lifetimes and events."""
    rounds = _rounds(season)
    lives, replaced = _with_replacements(season, rounds)
    on = season.calendar.on
    plants: list[Row] = [
        (life.plot, life.plant, on(life.from_day), life.replaces, note) for life in lives
    ]
    return Written(
        plants,
        _visits(season, lives, rounds, note),
        _lifetimes(season, lives, note),
        _events(season, replaced, note),
    )


def _rounds(season: OneSeason) -> np.ndarray:
    """(rounds, n) day on which each unit is visited: its block's day of the round."""
    rng = season.stream("rounds")
    places, spread = season.model.places, season.model.crew.visits_spread_d
    blocks = places.grounds[0][1] if places.grounds else np.zeros(places.n, dtype=np.int64)
    count = int(blocks.max(initial=0)) + 1
    ends = np.array(season.calendar.rounds)
    days = ends[:, None] - rng.integers(0, spread + 1, size=(ends.size, count))
    return np.maximum(days, 1)[:, blocks]


def _with_replacements(
    season: OneSeason, rounds: np.ndarray
) -> tuple[list[Life], list[tuple[int, Life]]]:
    """Plants of the season, and (day, new plant) of every replacement."""
    rng = season.stream("replacements")
    lives = [
        Life(plot, number, int(unit), 0, float(dies), cause, float(gone))
        for (plot, number), unit, dies, cause, gone in zip(
            season.names, season.units, season.dies, season.causes, season.ends, strict=True
        )
    ]
    crew, days = season.model.crew, season.calendar.days
    if crew.replaced <= 0.0:
        return lives, []
    numbers: dict[str, int] = {}
    for life in lives:
        numbers[life.plot] = max(numbers.get(life.plot, 0), life.plant)
    new: list[tuple[int, Life]] = []
    for life, chance in zip(tuple(lives), season.chance, strict=True):
        seen = [int(d) for d in rounds[:, life.unit] if d >= life.dies]
        lost = float(season.unit_lost[life.unit])
        draws = rng.random(2)
        if not seen or seen[0] > days / 4 or seen[0] >= lost or draws[0] >= crew.replaced:
            continue
        numbers[life.plot] += 1
        rate = -np.log(np.clip(chance, 1e-300, 1.0 - 1e-16))
        dies = seen[0] - np.log1p(-draws[1]) / rate * days
        planted = Life(
            *(life.plot, numbers[life.plot], life.unit, seen[0]),
            *(float(dies) if dies <= days else NEVER, life.cause, lost),
            replaces=life.plant,
        )
        new.append((seen[0], planted))
    return [*lives, *(life for _, life in new)], new


def _visits(season: OneSeason, lives: list[Life], rounds: np.ndarray, note: str) -> list[Row]:
    rng = season.stream("visits")
    doubts, eaten = season.stream("doubtful"), season.stream("browsed")
    crew = season.model.crew
    doubted = set(np.flatnonzero(doubts.random(len(lives)) < crew.doubtful).tolist())
    on, missed = season.calendar.on, season.model.crew.not_found
    dead_rows = dict.fromkeys(range(len(lives)), 0)
    rows: list[Row] = []
    for number, days in enumerate(rounds):
        observer = OBSERVERS[number % 2]
        hidden = rng.random(len(lives)) < missed
        browsed = eaten.random(len(lives)) < crew.browsed
        for k, life in enumerate(lives):
            day = int(days[life.unit])
            if day <= life.from_day or day >= season.unit_lost[life.unit]:
                continue
            if dead_rows[k] >= 2:
                continue
            status, cause = "alive", None
            if life.gone <= day:
                status = "not found"
            elif life.dies <= day and k in doubted:
                doubted.remove(k)  # the next visit is sure
                status = "doubtful"
            elif life.dies <= day:
                status = "dead"
                cause = life.cause if dead_rows[k] == 0 else None
                dead_rows[k] += 1
            elif hidden[k]:
                status = "not found"
            condition = "browsed" if browsed[k] and status == "alive" else None
            seen = (condition,) if crew.browsed > 0.0 else ()
            where = (on(day), life.plot, life.plant, status)
            rows.append((*where, *seen, cause, observer, note))
    return rows


def _lifetimes(season: OneSeason, lives: list[Life], note: str) -> list[Row]:
    """Intervals between visits, in days from planting; plants lost are open from then on."""
    rows: list[Row] = []
    rounds = np.array(season.calendar.rounds)
    for life in lives:
        if life.replaces is not None:
            continue
        before = rounds[rounds < min(life.dies, life.gone)]
        last = int(before[-1]) if before.size else 0
        after = rounds[rounds >= life.dies]
        died = after.size > 0 and life.dies <= life.gone and after[0] < life.gone
        first = int(after[0]) if died else None
        cause = life.cause if died else None
        rows.append((life.plot, life.plant, last, first, cause, note))
    return rows


def _events(season: OneSeason, replaced: list[tuple[int, Life]], note: str) -> list[Row]:
    on, places = season.calendar.on, season.model.places
    rows: list[tuple[float, Row]] = []
    for plots, day in zip(places.members, season.unit_lost, strict=True):
        if day < NEVER:
            rows.extend(
                (day, (on(day), plot.plot, "flood damage", None, None, note)) for plot in plots
            )
    for planted_on, life in replaced:
        row = (on(planted_on), life.plot, "replaced", life.replaces, life.plant, note)
        rows.append((planted_on, row))
    return [row for _, row in sorted(rows, key=lambda item: item[0])]
