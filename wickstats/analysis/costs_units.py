"""What every unit cost in a season: items, work and travel.

    items    price x pieces / seasons that they last; per trial: shared by plots
    work     hours per plot and visit x visits x wage
    travel   kilometers x price, shared by the plots that were attended on that day

A unit's visits are the days on which its water was given or read, also where the row has no
amount (somebody was there, and wrote the day); without a table of water,
the season's days over visits_every_d. Leans on units, records.season, design's values.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.units import Array, Units
from wickstats.core.words import say
from wickstats.design.defaults import names_of, value_of
from wickstats.design.trial import CostItem, Costs, Trial
from wickstats.records.season import Season

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class UnitCosts:
    """(n,) money of every unit, its hours and visits; what had to be assumed, in words."""

    items: Array
    work: Array
    travel: Array
    hours: Array
    visits: Array
    notes: tuple[str, ...]

    @property
    def total(self) -> Array:
        """(n,) all of it."""
        out: Array = self.items + self.work + self.travel
        return out


def unit_costs(
    trial: Trial,
    units: Units,
    season: Season,
    *,
    wage: float = 1.0,
    years: float = 1.0,
    alone: bool = False,
) -> UnitCosts:
    """Cost of every unit.

    Parameters
    ----------
    wage, years
        Factors on the wage and on the seasons that items last.
    alone
        Every treatment bears the travel of its days as if there were no other.
    """
    costs = trial.costs
    if costs is None:
        raise ValueError("the trial has no costs")
    attended, notes = _attended(trial, units, season, costs)
    visits = attended.sum(axis=1)
    each = [value_of(costs.hours_per_visit, cell) or 0.0 for cell in units.cell_names]
    hours = np.array(each)[units.cells] * units.n_plots * visits
    travel = np.zeros(units.n)
    if costs.travel is not None:
        trip = costs.travel.km_per_visit * costs.travel.per_km
        travel = trip * _shares(attended, units, alone=alone)
    per_plant = [charged(item, units) for item in costs.items if item.per == "plant"]
    if any((mine & (planted(units, season) <= 0)).any() for mine in per_plant):
        notes = (*notes, say("cost plants unknown"))
    return UnitCosts(
        items=_items(costs, units, season, years),
        work=hours * (costs.wage_per_hour or 0.0) * wage,
        travel=travel,
        hours=hours,
        visits=visits,
        notes=notes,
    )


def _shares(attended: Array, units: Units, *, alone: bool) -> Array:
    """(n,) trips that a unit bears: a day's trip is shared by plots."""
    out = np.zeros(units.n)
    groups = [units.cells == c for c in range(units.n_cells)] if alone else [units.cells >= 0]
    for mine in groups:
        plots = attended[mine] * units.n_plots[mine, None]
        day = plots.sum(axis=0)
        out[mine] = (plots / np.where(day > 0, day, 1.0)).sum(axis=1)
    return out


def _attended(
    trial: Trial, units: Units, season: Season, costs: Costs
) -> tuple[Array, tuple[str, ...]]:
    """(n, days) 1 where a unit was attended on that day, and how that is known."""
    if not costs.hours_per_visit and costs.travel is None:
        return np.zeros((units.n, 1)), ()
    held = season.attended
    if held is not None and len(held):
        days = np.unique(held["date"].to_numpy())
        out = np.zeros((units.n, len(days)))
        place = {name: k for k, name in enumerate(units.names)}
        for unit, when in zip(held["unit"], held["date"].to_numpy(), strict=True):
            if unit in place:
                out[place[unit], np.searchsorted(days, when)] = 1.0
        return out, (say("cost visits seen"), *_without_amount(held, season, units))
    every = None if trial.water is None else trial.water.visits_every_d
    dates = trial.trial.season
    if every is None or dates is None:
        return np.zeros((units.n, 1)), (say("cost visits unknown"),)
    count = max(round((dates.end - dates.start).days / every), 1)
    return np.ones((units.n, count)), (say("cost visits planned", n=count),)


def _without_amount(held: pd.DataFrame, season: Season, units: Units) -> tuple[str, ...]:
    """How many of the visits the table of water tells without any amount that is used."""
    water = season.table("water")
    used: set[tuple[object, object]] = set()
    if water is not None:
        used = set(zip(water["unit"], water["date"], strict=True))
    mine = set(units.names)
    seen = zip(held["unit"], held["date"], strict=True)
    n = sum(unit in mine and (unit, date) not in used for unit, date in seen)
    return (say("cost visits without amount", n=n),) if n else ()


def _items(costs: Costs, units: Units, season: Season, years: float) -> Array:
    plants = planted(units, season)
    reservoirs = np.where(units.shared, 1, units.n_plots)
    out = np.zeros(units.n)
    for item in costs.items:
        mine = charged(item, units)
        pieces = {
            "plot": units.n_plots,
            "plant": plants,
            "reservoir": reservoirs,
            "trial": units.n_plots / max(int(units.n_plots[mine].sum()), 1),
        }[item.per]
        out += np.where(mine, item.each * pieces / (item.lasts_seasons * years), 0.0)
    return out


def planted(units: Units, season: Season) -> Array:
    """(n,) plants ever planted, replacements included; as laid out without records."""
    lives = season.lives
    if lives is None or lives.empty:
        return units.laid_plants.astype(np.float64)
    count = np.zeros(units.n)
    for plot in lives["plot"]:
        if plot in units.index:
            count[units.index[plot]] += 1.0
    return np.where(count > 0, count, units.laid_plants)


def charged(item: CostItem, units: Units) -> BoolArray:
    """(n,) whether an item is bought for a unit: by treatment or by one of its levels."""
    named = [bought_for(item, cell) for cell in units.cell_names]
    out: BoolArray = np.asarray(named)[units.cells]
    return out


def bought_for(item: CostItem, treatment: str) -> bool:
    """Whether an item is bought for a treatment; for all where the file names none."""
    return not item.for_ or bool(set(names_of(treatment)) & set(item.for_))
