"""One season drawn whole: what became of every unit, plant, total and liter.

The same models and draws as the seasons in bulk, one season of them, with every plant.
Each response has its own stream. Leans on the other modules of this package.
"""

from dataclasses import dataclass, field

import numpy as np

from wickstats.simulate.assumed import Array, Counts, Quantity, Ratio, Shares
from wickstats.simulate.calendar import Calendar, calendar_of
from wickstats.simulate.counts import count_seasons
from wickstats.simulate.effects import plants_of_units
from wickstats.simulate.places import IntArray
from wickstats.simulate.quantities import plants_around, unit_levels
from wickstats.simulate.resolve import SeasonModel
from wickstats.simulate.seasons import chances
from wickstats.simulate.shares import times_of_death
from wickstats.simulate.streams import stream

NEVER = np.inf


@dataclass(frozen=True, slots=True, eq=False)
class OneSeason:
    """The truth behind the crew's tables.

    Attributes
    ----------
    names
        (N,) plot and plant number of each plant.
    units
        (N,) its unit.
    dies, causes
        (N,) day of death (infinite: none) and its cause.
    gone
        (N,) day on which a plant was lost without having died.
    chance
        (N,) its chance to live through the season.
    unit_lost
        (n,) day on which a unit was lost.
    sizes
        Response -> (N,) final size (or score) on the measured scale; (n,) where no plants.
    totals
        Response -> (n,) total or liters of a plot; counts of the whole unit.
    """

    model: SeasonModel
    seed: int
    calendar: Calendar
    names: tuple[tuple[str, int], ...]
    units: IntArray
    dies: Array
    causes: tuple[str | None, ...]
    gone: Array
    chance: Array
    unit_lost: Array
    sizes: dict[str, Array] = field(default_factory=dict)
    totals: dict[str, Array] = field(default_factory=dict)

    def stream(self, name: str) -> np.random.Generator:
        """A stream of this season."""
        return stream(self.seed, f"one season: {name}")

    @property
    def ends(self) -> Array:
        """(N,) day from which a plant cannot be seen any more: lost, alone or with its unit."""
        return np.minimum(self.gone, self.unit_lost[self.units])


def draw_one(model: SeasonModel, seed: int) -> OneSeason:
    """Draw a season of every response of the model."""
    places, crew = model.places, model.crew
    calendar = calendar_of(model.trial, crew, model.days)
    units = plants_of_units(places.plants)
    rng = stream(seed, "one season: losses")
    lost = _days(rng, rng.random(places.n) < crew.plots_lost, calendar.days)
    gone = _days(rng, rng.random(units.size) < crew.plants_lost, calendar.days)
    dies = np.full(units.size, NEVER)
    chance = np.ones(units.size)
    causes: tuple[str | None, ...] = (None,) * units.size
    sizes: dict[str, Array] = {}
    totals: dict[str, Array] = {}
    for name, what in model.models.items():
        own = stream(seed, f"one season: {name}")
        if isinstance(what, Shares):
            chance, dies, causes = _lives(own, what, model, units, calendar.days)
        elif isinstance(what, Counts):
            totals[name] = count_seasons(own, 1, what, places)[0]
        elif isinstance(what, Ratio):
            levels = unit_levels(own, 1, what.below, places)
            totals[name] = _measured(levels[0], what.below)
        else:
            levels = unit_levels(own, 1, what, places)
            if what.kind in ("growth", "measurement", "score") and units.size:
                sizes[name] = _measured(
                    plants_around(own, levels, what, places).values[0], what
                )
            elif what.kind in ("yield", "water used"):
                totals[name] = _measured(levels[0], what)
            else:
                sizes[name] = _measured(levels[0], what)
    return OneSeason(
        model,
        seed,
        calendar,
        _names(model),
        units,
        dies,
        causes,
        np.where(gone < dies, gone, NEVER),
        chance,
        lost,
        sizes,
        totals,
    )


def _names(model: SeasonModel) -> tuple[tuple[str, int], ...]:
    """Plants by plot, numbered from 1, in the order of units."""
    default = model.trial.design.plants_per_plot or 0
    return tuple(
        (plot.plot, k + 1)
        for plots in model.places.members
        for plot in plots
        for k in range(plot.plants or default)
    )


def _days(rng: np.random.Generator, happens: np.ndarray, days: int) -> Array:
    """Days of what happens, evenly over the season but for its ends; else never."""
    drawn = 1.0 + np.floor(rng.random(happens.size) * max(days - 2, 1))
    return np.where(happens, drawn, NEVER)


def _lives(
    rng: np.random.Generator, what: Shares, model: SeasonModel, units: IntArray, days: int
) -> tuple[Array, Array, tuple[str | None, ...]]:
    places = model.places
    chance = chances(rng, 1, what, places)
    most = int(places.plants.max())
    times = times_of_death(rng, chance, most, shape=what.shape)[0]
    held = times[np.arange(most) < places.plants[:, None]]
    own = chance[0][units]
    # the largest chance below 1 that a machine knows is a life for certain
    dies = np.where((held > 1.0) | (own >= 1.0), NEVER, held * days)
    names, shares = tuple(what.causes), np.array(list(what.causes.values()))
    drawn = rng.choice(len(names), size=units.size, p=shares / shares.sum())
    causes = tuple(names[c] if d < NEVER else None for c, d in zip(drawn, dies, strict=True))
    return own, dies, causes


def _measured(values: Array, what: Quantity) -> Array:
    return np.exp(values) if what.log else values
