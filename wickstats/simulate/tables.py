"""A simulated season as the crew's record tables, in our own columns and units.

Which tables: those that the responses are read from, and all that the trial file names.
Leans on the other modules of this package.
"""

from dataclasses import dataclass, replace

from wickstats.core.words import say
from wickstats.design.tables import RECORD_TABLES
from wickstats.design.trial import Trial
from wickstats.simulate.calendar import by_days
from wickstats.simulate.crew_bench import HEADS as READING_HEADS
from wickstats.simulate.crew_bench import write_readings
from wickstats.simulate.crew_harvest import write_picks
from wickstats.simulate.crew_lives import (
    CONDITION_HEADS,
    EVENT_HEADS,
    LIFETIME_HEADS,
    PLANT_HEADS,
    VISIT_HEADS,
    Written,
    write_lives,
)
from wickstats.simulate.crew_sizes import write_sizes
from wickstats.simulate.crew_water import leak_events, write_water
from wickstats.simulate.crew_weather import HEADS as WEATHER_HEADS
from wickstats.simulate.crew_weather import write_weather
from wickstats.simulate.one import OneSeason, draw_one
from wickstats.simulate.resolve import SeasonModel
from wickstats.simulate.sheets import Row

_READ_FROM = {
    "survival": ("plants", "visits"),
    "growth": ("measurements",),
    "measurement": ("measurements",),
    "score": ("measurements",),
    "yield": ("picks",),
    "count": ("picks",),
    "yield per liter": ("picks", "water"),
    "water used": ("water",),
    "rise": ("readings",),
    "flow": ("readings",),
}


@dataclass(frozen=True, slots=True)
class CrewTable:
    """One record table: heads in our names, rows of cells."""

    heads: tuple[str, ...]
    rows: list[Row]


def needed_tables(trial: Trial, *, losses: bool) -> tuple[str, ...]:
    """Names of the tables of a rehearsal, in the order of the registry."""
    wanted: set[str] = set(trial.records)
    for response in trial.responses:
        held = _READ_FROM[response.kind]
        if response.kind == "survival" and by_days(trial):
            held = ("lifetimes",)
        if response.kind in ("yield per liter", "water used") and response.water == "planned":
            held = tuple(name for name in held if name != "water")
        wanted.update(held)
    if losses and trial.trial.season is not None:
        wanted.add("events")
    return tuple(name for name in RECORD_TABLES if name in wanted)


def crew_tables(model: SeasonModel, seed: int) -> dict[str, CrewTable]:
    """Draw one season and write it down.

    Returns
    -------
    Table name -> heads and rows; every row says that it is simulated where the table has a
    column for notes.

    Raises
    ------
    TrialError
        Where dates are needed and the trial has no season.
    """
    season = draw_one(model, seed)
    note = say("simulated note", seed=seed)
    lives = write_lives(season, note)
    leaks = leak_events(season, note)
    events = sorted([*lives.events, *leaks], key=lambda row: str(row[0]))
    lives = replace(lives, events=events)
    losses = bool(lives.events)
    out: dict[str, CrewTable] = {}
    for name in needed_tables(model.trial, losses=losses):
        out[name] = _table(name, season, lives, note)
    return out


def _table(name: str, season: OneSeason, lives: Written, note: str) -> CrewTable:
    if name == "plants":
        return CrewTable(PLANT_HEADS, lives.plants)
    if name == "visits":
        browsed = season.model.crew.browsed > 0.0
        return CrewTable(CONDITION_HEADS if browsed else VISIT_HEADS, lives.visits)
    if name == "lifetimes":
        return CrewTable(LIFETIME_HEADS, lives.lifetimes)
    if name == "events":
        return CrewTable(EVENT_HEADS, lives.events)
    if name == "measurements":
        return CrewTable(*write_sizes(season, note))
    if name == "picks":
        return CrewTable(*write_picks(season, note))
    if name == "water":
        return CrewTable(*write_water(season, note))
    if name == "weather":
        return CrewTable(WEATHER_HEADS, write_weather(season))
    return CrewTable(READING_HEADS, write_readings(season, note))
