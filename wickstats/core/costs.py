"""Result types of costs: what a plot of every treatment cost, and what that bought.

Money is in the trial file's currency. Leans on nothing.
"""

from dataclasses import dataclass

Number = float | None


@dataclass(frozen=True, slots=True)
class Cost:
    """Cost of one treatment per survivor, kg or m3 saved.

    ``versus`` where it is set against another treatment: then the extra cost for one more
    survivor, one more kg, or one m3 saved.
    """

    treatment: str
    per: str
    estimate: Number
    low: Number
    high: Number
    not_estimable: str | None = None
    versus: str | None = None
    method: str | None = None
    df: Number = None
    blocks_used: int | None = None


@dataclass(frozen=True, slots=True)
class CostArm:
    """A treatment's cost and what it gave, per plot and season, means over its plots."""

    treatment: str
    n_plots: int
    items: float
    work: float
    travel: float
    total: float
    hours: float
    visits: float
    survivors: Number
    kg: Number
    liters: Number


@dataclass(frozen=True, slots=True)
class BlockDifference:
    """One block: the treatment less the other, per plot."""

    block: str
    cost: float
    effect: float


@dataclass(frozen=True, slots=True)
class CostDifference:
    """Cost difference beside effect difference, per plot, with 95 % (or planned) limits.

    ``shares`` are those of the uncertainty that lie in the four quadrants, in the order
    dearer and better, dearer and worse, cheaper and better, cheaper and worse; empty with
    ``no_shares`` where there are too few blocks.
    """

    treatment: str
    versus: str
    effect_of: str
    cost: float
    cost_low: Number
    cost_high: Number
    effect: float
    effect_low: Number
    effect_high: Number
    points: tuple[BlockDifference, ...]
    shares: tuple[float, ...]
    no_shares: str | None
    sentence: str


@dataclass(frozen=True, slots=True)
class CostScenario:
    """The estimate with another wage, other years of use, or travel borne alone."""

    scenario: str
    treatment: str
    per: str
    estimate: Number


@dataclass(frozen=True, slots=True)
class CostParts:
    """What costs are made of, pairs of treatments, and how much assumptions matter."""

    currency: str
    arms: tuple[CostArm, ...]
    differences: tuple[CostDifference, ...]
    scenarios: tuple[CostScenario, ...]
    notes: tuple[str, ...]
