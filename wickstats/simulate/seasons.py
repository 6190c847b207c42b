"""Seasons in bulk: unit summaries (and plants) of one response as arrays.

The very draws of the crew's tables, many at a time, in the shapes that the batch engine
takes. Units stand in walking order, as the analysis lays them out. Leans on the other
modules of this package.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.simulate.assumed import Array, Counts, Quantity, Ratio, Shares
from wickstats.simulate.counts import count_seasons
from wickstats.simulate.places import IntArray, Places
from wickstats.simulate.quantities import (
    PlantSeasons,
    groups_of,
    mean_of_plants,
    plants_around,
    rounded,
    unit_levels,
)
from wickstats.simulate.resolve import SeasonModel
from wickstats.simulate.shares import (
    alive_at_end,
    deaths_by_visit,
    split_by_cause,
    tied_chances,
)
from wickstats.simulate.streams import stream

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class UnitSeasons:
    """S seasons of n units.

    Attributes
    ----------
    kind
        Kind of response.
    log
        Whether ``values`` are logarithms.
    values
        (S, n) unit summaries on the model's scale: means of sizes, plot totals, log ratios,
        counts, plants alive at the end.
    plants
        (S, n) plants behind each (1 for totals, counts and liters).
    present
        (S, n) whether the unit has a value; ``values`` are finite everywhere.
    by_plant
        (S, N) plants one by one, where they were asked for; ``found`` (S, N) says which of
        them were there.
    ended
        (S, n, V + 1) plants found dead at each visit and alive at the last (survival).
    by_cause
        (S, n, V, C) the deaths by cause, in the order of ``causes``.
    liters
        (S, n) water of a plot, as measured (yield per liter).
    """

    kind: str
    values: Array
    plants: Array
    present: Flags
    log: bool = False
    by_plant: PlantSeasons | None = None
    found: Flags | None = None
    ended: Array | None = None
    by_cause: Array | None = None
    causes: tuple[str, ...] = ()
    liters: Array | None = None


def draw_seasons(
    model: SeasonModel,
    name: str,
    seasons: int,
    *,
    seed: int,
    chunk: int = 0,
    plants: bool = False,
    visits: ArrayLike | None = None,
    alive: Array | None = None,
) -> UnitSeasons:
    """Draw seasons of one response.

    The same seed, chunk and arguments give the same bytes.

    Parameters
    ----------
    name
        Of the response.
    seed, chunk
        Streams are named after the response and the chunk, so that chunks may be drawn in
        any order and anywhere.
    plants
        Sizes: draw every plant. Scores always are.
    visits
        Survival: days of the visits, increasing; deaths are then counted visit by visit.
    alive
        (S, n) plants that lived, for sizes of survivors.

    Raises
    ------
    KeyError
        For a response without a model.
    """
    what = model.models[name]
    rng = stream(seed, f"{name}: seasons, chunk {chunk}")
    places = model.places
    present = rng.random((seasons, places.n)) >= model.crew.plots_lost
    if isinstance(what, Shares):
        return _lives(rng, seasons, what, model, present, visits)
    if isinstance(what, Counts):
        per_plot = count_seasons(rng, seasons, what, places) / places.n_plots
        return UnitSeasons("count", per_plot, np.ones_like(per_plot), present)
    if isinstance(what, Ratio):
        return _ratios(rng, seasons, what, places, present)
    if what.kind in ("growth", "measurement", "score") and places.plants.any():
        return _sizes(rng, seasons, what, model, present, alive, plants=plants)
    y = unit_levels(rng, seasons, what, places)
    return UnitSeasons(what.kind, y, np.ones_like(y), present, log=what.log)


def _kept(
    rng: np.random.Generator, seasons: int, model: SeasonModel, alive: Array | None
) -> Array:
    """(S, n) plants that are there to be looked at."""
    m = np.broadcast_to(model.places.plants.astype(float), (seasons, model.places.n))
    held = m if alive is None else alive
    if model.crew.plants_lost <= 0.0:
        return np.array(held)
    return rng.binomial(held.astype(np.int64), 1.0 - model.crew.plants_lost).astype(float)


def _lives(
    rng: np.random.Generator,
    seasons: int,
    what: Shares,
    model: SeasonModel,
    present: Flags,
    visits: ArrayLike | None,
) -> UnitSeasons:
    places = model.places
    m = _kept(rng, seasons, model, None)
    chance = chances(rng, seasons, what, places)
    present = present & (m > 0)
    if visits is None:
        return UnitSeasons("survival", alive_at_end(rng, chance, m), m, present)
    parts = np.asarray(visits, dtype=float) / model.days
    ended = deaths_by_visit(rng, chance, m, parts, shape=what.shape)
    causes = tuple(what.causes)
    shares = list(what.causes.values())
    by_cause = split_by_cause(rng, ended[:, :, :-1], shares) if len(causes) > 1 else None
    return UnitSeasons(
        "survival",
        ended[:, :, -1],
        m,
        present,
        ended=ended,
        by_cause=by_cause,
        causes=causes,
    )


def chances(rng: np.random.Generator, seasons: int, what: Shares, places: Places) -> Array:
    """(S, n) chances of units to keep a plant alive to the end."""
    groups = groups_of(places, what.ground_correlation, what.piece_correlation)
    return tied_chances(rng, seasons, what.alive, places.cells, what.plot_correlation, groups)


def _ratios(
    rng: np.random.Generator, seasons: int, what: Ratio, places: Places, present: Flags
) -> UnitSeasons:
    above = unit_levels(rng, seasons, what.above, places)
    below = unit_levels(rng, seasons, what.below, places)
    if what.above.log:
        values = above - below
    else:
        # a normal total at or below zero is no yield: kept just above
        values = np.log(np.maximum(above, 1e-6 * what.above.means.mean())) - below
    ones = np.ones_like(values)
    liters = np.exp(below)
    return UnitSeasons("yield per liter", values, ones, present, log=True, liters=liters)


def _sizes(
    rng: np.random.Generator,
    seasons: int,
    what: Quantity,
    model: SeasonModel,
    present: Flags,
    alive: Array | None,
    *,
    plants: bool,
) -> UnitSeasons:
    places = model.places
    levels = unit_levels(rng, seasons, what, places)
    if not plants and what.kind != "score":
        m = _kept(rng, seasons, model, alive)
        y = mean_of_plants(rng, levels, what, places, m)
        return UnitSeasons(what.kind, y, m, present & (m > 0), log=what.log)
    drawn = plants_around(rng, levels, what, places)
    starts = np.concatenate([[0], np.cumsum(places.plants)[:-1]])
    there = _there(rng, drawn, starts, model.crew.plants_lost, alive)
    m = np.add.reduceat(there.astype(float), starts, axis=1)
    y = np.add.reduceat(drawn.values * there, starts, axis=1) / np.maximum(m, 1.0)
    y = np.where(m > 0, y, rounded(levels, what))
    held = present & (m > 0)
    return UnitSeasons(what.kind, y, m, held, log=what.log, by_plant=drawn, found=there)


def _there(
    rng: np.random.Generator,
    drawn: PlantSeasons,
    starts: IntArray,
    lost: float,
    alive: Array | None,
) -> Flags:
    """Which plants are there: of the survivors the first ones, since plants are alike.

    ``starts`` (n,): each unit's first plant.
    """
    there: Flags = np.ones(drawn.values.shape, dtype=bool)
    if alive is not None:
        order = np.arange(drawn.units.size) - starts[drawn.units]
        there &= order < alive[:, drawn.units]
    if lost > 0.0:
        there &= rng.random(there.shape) >= lost
    return there
