"""Splits and what-ifs of one planned trial: which changes are asked about.

Each holds its closed form and, where it can be laid out, the trial and layout by which
``questions`` simulates it. Leans on ``adapted``, ``prices``, ``plots``; the trial's values and
layout.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.plan import Family
from wickstats.core.errors import WickstatsError
from wickstats.core.words import say
from wickstats.design.defaults import names_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import draw
from wickstats.sizing.adapted import Main, adapted, chance_of
from wickstats.sizing.assumed import Expected
from wickstats.sizing.plots import Sizes
from wickstats.sizing.prices import Prices
from wickstats.sizing.questions_told import Split

PLANTS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24)
MOST_UNITS = 400  # of a change that is simulated
Told = tuple[float | None, float | None]  # a chance, and its Monte Carlo error
PER_PLANT = ("survival", "growth", "measurement", "score")


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One trial's questions as they are put."""

    trial: Trial
    layout: Layout
    sizes: Sizes
    families: tuple[Family, ...]
    prices: Prices | None
    expected: dict[str, Expected]  # by response

    @property
    def sized(self) -> bool:
        """Whether the design can be drawn at any number of blocks or replicates."""
        if self.sizes.pieces is not None:
            return self.sizes.word == "blocks"
        return self.sizes.ground is None

    def resized(self, count: int) -> tuple[Trial, Layout] | None:
        """The trial and a layout with so many blocks (or replicates)."""
        design = self.trial.design
        size: dict[str, object] = {"blocks": count}
        if design.type == "completely randomized":
            units = self.sizes.units_at(count).tolist()
            size = {"replicates": dict(zip(self.sizes.cells, units, strict=True))}
            if len(self.trial.factors) > 1:
                size = {"replicates": count}
        changed = design.model_copy(update={**size, "drawn": "here", "keep": ()})
        trial = self.trial.model_copy(update={"design": changed})
        try:
            return trial, draw(trial, 1)
        except WickstatsError:
            return None


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One change: in words, its size, and the chance by the closed form.

    ``asked`` is the trial of that change at any size, None where only the closed form can tell.
    ``plants``, ``cost``: of a split.
    """

    what: str
    blocks: int
    closed: float | None
    asked: Asked | None = None
    tied: bool = False  # two blocks on each reservoir
    plants: int | None = None
    cost: float | None = None

    def judged_by(self, what: Expected) -> Expected:
        """The rule of the analysis where reservoirs of part of the arms feed several plots."""
        return replace(what, rule="paired") if self.tied and what.rule == "strata" else what

    def laid_out(self) -> tuple[Trial, Layout] | None:
        """The trial and a layout to simulate it with; None where it is too large or none."""
        if self.asked is None or self.blocks * len(self.asked.sizes.cells) > MOST_UNITS:
            return None
        found = self.asked.resized(self.blocks)
        if found is None or not self.tied:
            return found
        return found[0], tied(found[1], set(found[0].design.plots_per_reservoir))


def tied(layout: Layout, fed: set[str]) -> Layout:
    """The same with the plots of these treatments on one reservoir in every two blocks."""
    order = {name: k for k, name in enumerate(dict.fromkeys(p.block for p in layout.plots))}
    plots = tuple(
        replace(p, reservoir=f"{p.treatment} {order[p.block] // 2 + 1}")
        if fed & set(p.levels.values())
        else p
        for p in layout.plots
    )
    return replace(layout, plots=plots)


def split_changes(asked: Asked, main: Main) -> tuple[Change, ...]:
    """Plants a plot against blocks, at the plan's cost (or its number of plants)."""
    response = main[0]
    trial, sizes, prices = asked.trial, asked.sizes, asked.prices
    plants = trial.design.plants_per_plot
    if plants is None or response.kind not in PER_PLANT or not asked.sized:
        return ()
    budget = trial.power.budget if trial.power else None
    money = 0.0 if prices is None else prices.cost(sizes.count, plants)
    money = min(money, budget or money)
    found = []
    for m in sorted({*PLANTS, plants}):
        blocks = sizes.count * plants // m if prices is None else prices.blocks(money, m)
        if blocks < 2:
            continue
        changed = trial.model_copy(
            update={"design": trial.design.model_copy(update={"plants_per_plot": m})}
        )
        of_m = replace(sizes, plants=np.asarray(sizes.plots * m, dtype=np.float64))
        what = adapted(changed, response, of_m)
        if isinstance(what, str):
            continue
        power = chance_of(changed, what, of_m, blocks, main)
        cost = None if prices is None else prices.cost(blocks, m)
        if power is not None:
            of_it = replace(asked, trial=changed, sizes=of_m)
            found.append(Change("", blocks, power, of_it, plants=m, cost=cost))
    return tuple(found)


def splits(
    changes: Sequence[Change], told: Sequence[Told], plants: int | None
) -> tuple[Split, ...]:
    """The splits with their chances, the best one marked."""
    if not changes:
        return ()
    found = [
        Split(
            plants=c.plants or 0,
            blocks=c.blocks,
            cost=c.cost,
            power=power or 0.0,
            best=False,
            planned=c.plants == plants,
            error=error,
        )
        for c, (power, error) in zip(changes, told, strict=True)
    ]
    # of splits that are as good, as far as is known, the one with fewer plots
    first = max(found, key=lambda s: s.power)
    top = first.power - max(0.001, 2.0 * (first.error or 0.0))
    best = max((s for s in found if s.power >= top), key=lambda s: s.plants)
    return tuple(replace(s, best=s is best) for s in found)


def what_if_changes(asked: Asked, main: Main) -> tuple[Change, ...]:
    """The changes, with the chance of each by the closed form; the first: as planned."""
    response = main[0]
    trial, sizes = asked.trial, asked.sizes
    what = asked.expected[response.name]

    def change(words: str, count: int) -> Change:
        closed = chance_of(trial, what, sizes, count, main)
        return Change(words, count, closed, asked if asked.sized else None)

    out = [change(say("what if planned"), sizes.count)]
    if sizes.count > 2:
        out.append(change(say(f"what if lost {sizes.word}"), sizes.count - 1))
    budget = trial.power.budget if trial.power else None
    if asked.prices is not None and budget is not None:
        whole = asked.prices.blocks(budget, trial.design.plants_per_plot or 0)
        if whole != sizes.count and whole >= 2:
            out.append(change(say("what if whole"), whole))
    half, words = _half(asked)
    if half >= 2:
        out.append(change(words, half))
    if (shared := _shared(asked, main)) is not None:
        out.append(shared)
    return tuple(out)


def _half(asked: Asked) -> tuple[int, str]:
    prices, budget = asked.prices, asked.trial.power.budget if asked.trial.power else None
    plants = asked.trial.design.plants_per_plot or 0
    if prices is None:
        return asked.sizes.count // 2, say("what if half blocks", word=asked.sizes.word)
    key = "what if half" if budget else "what if half cost"
    money = (budget or prices.cost(asked.sizes.count, plants)) / 2.0
    return prices.blocks(money, plants), say(key)


def _shared(asked: Asked, main: Main) -> Change | None:
    """Two blocks on one reservoir: half as many units of those treatments, twice as large."""
    response, family, which = main
    trial, sizes = asked.trial, asked.sizes
    fed = set(trial.design.plots_per_reservoir)
    mine = np.array([bool(set(names_of(c)) & fed) for c in sizes.cells])
    used = family.contrasts[which].weights != 0.0
    if not (mine & used).any() or not asked.sized or sizes.plants is None or sizes.count < 4:
        return None
    if sizes.pieces is not None:
        return None  # a reservoir over blocks would tie whole plots together
    units = np.where(mine, -(-sizes.units // 2), sizes.units)
    plants = np.where(mine, 2.0, 1.0) * sizes.plants
    changed = replace(sizes, units=units, plants=plants, blocked=False)
    what = adapted(trial, response, changed)
    if isinstance(what, str):
        return None
    power = chance_of(trial, what, changed, changed.count, main)
    return Change(say("what if shared closed"), sizes.count, power, asked, tied=True)
