"""What a planned trial costs: so much in any case, so much a block.

Items by plot, plant and reservoir, work by visit and plot, travel by visit; as the season's
costs are reckoned (analysis.costs_units), before there are any records. Leans on the trial's
values and ``plots``.
"""

from dataclasses import dataclass

from wickstats.analysis.costs_units import bought_for
from wickstats.core.errors import Problem, TrialError
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.defaults import value_of
from wickstats.design.places import place_of
from wickstats.design.trial import Trial
from wickstats.sizing.plots import Sizes


@dataclass(frozen=True, slots=True)
class Prices:
    """Money.

    Attributes
    ----------
    currency
        Its name.
    fixed
        Whatever the size: travel, items for the trial.
    block
        A block (or one replicate of every treatment) without its plants.
    plant
        One plant more in every plot of a block.
    """

    currency: str
    fixed: float
    block: float
    plant: float

    def cost(self, blocks: float, plants: float) -> float:
        """Of a trial of that size."""
        return self.fixed + blocks * (self.block + plants * self.plant)

    def blocks(self, money: float, plants: float) -> int:
        """Most blocks that can be paid."""
        each = self.block + plants * self.plant
        return max(int((money - self.fixed) / each + 1e-9), 0) if each > 0.0 else 0


def prices_of(trial: Trial, sizes: Sizes) -> Prices | None:
    """Prices, where the trial file has any that grow with the number of blocks."""
    costs = trial.costs
    if costs is None:
        return None
    visits = _visits(trial)
    fixed, block, plant = 0.0, 0.0, 0.0
    if costs.travel is not None:
        fixed += visits * costs.travel.km_per_visit * costs.travel.per_km
    for cell, plots in zip(sizes.cells, sizes.plots, strict=True):
        hours = (value_of(costs.hours_per_visit, cell) or 0.0) * float(plots) * visits
        block += hours * (costs.wage_per_hour or 0.0)
    for item in costs.items:
        each = item.each / item.lasts_seasons
        if item.per == "trial":
            fixed += each
            continue
        for cell, plots in zip(sizes.cells, sizes.plots, strict=True):
            if not bought_for(item, cell):
                continue
            if item.per == "plant":
                plant += each * float(plots)
            else:
                block += each * (float(plots) if item.per == "plot" else 1.0)
    if block + plant <= 0.0:
        return None
    return Prices(costs.currency, fixed, block, plant)


def check_budget(trial: Trial, prices: Prices | None) -> None:
    """Refuse a budget that does not pay for two blocks.

    Raises
    ------
    TrialError
        Saying what two blocks cost.
    """
    budget = trial.power.budget if trial.power else None
    if budget is None or prices is None:
        return
    least = prices.cost(2, trial.design.plants_per_plot or 0)
    if budget >= least:
        return
    place = place_of(trial, ("power", "budget"))
    raise TrialError(
        [
            Problem(
                file=trial.file,
                code="budget too small",
                found=say("budget found", budget=number(budget), currency=prices.currency),
                expected=say("budget expected", least=number(least), currency=prices.currency),
                fix=say("budget fix"),
                line=place.line if place else None,
                column=place.column if place else None,
            )
        ]
    )


def _visits(trial: Trial) -> float:
    season = trial.trial.season
    every = trial.water.visits_every_d if trial.water else None
    crew = trial.power.crew if trial.power else None
    if every is None and crew is not None:
        every = crew.visits_every_d
    if season is None or every is None:
        return 0.0
    return float(max(round((season.end - season.start).days / every), 1))
