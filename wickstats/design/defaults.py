"""What holds where the trial file is silent.

Leans on the trial's values and on core.results.
"""

from typing import Literal

from wickstats.core.results import PlannedComparison
from wickstats.design.trial import Factor, Plan, Response, Trial

Better = Literal["more", "less", "neither"]
Role = Literal["primary", "secondary", "exploratory"]


def plan_of(trial: Trial) -> Plan:
    """The plan, or an empty one (confidence 0.95, everything exploratory)."""
    return trial.plan if trial.plan is not None else Plan()


def is_planned(trial: Trial) -> bool:
    """Whether a plan was written."""
    return trial.plan is not None


def better_of(response: Response) -> Better:
    """Which direction is better: water used: less; measurement, score: neither; else more."""
    raise NotImplementedError


def role_of(trial: Trial, response: Response) -> Role:
    """Primary, secondary or exploratory, by the plan."""
    raise NotImplementedError


def comparisons_of(trial: Trial) -> tuple[PlannedComparison, ...]:
    """The families of comparisons, resolved: the plan's, or the default for every factor.

    Default: each with the reference where the factor names one, else all pairs. Each
    carries its adjustment (default dunnett, tukey; none for a single contrast).
    ``name`` is the entry's name, else words made from factor and compare.
    """
    raise NotImplementedError


def cells_of(factors: tuple[Factor, ...]) -> tuple[str, ...]:
    """All treatments: levels of all factors joined by " x ", last factor fastest."""
    raise NotImplementedError


def measured_in_of(response: Response) -> str:
    """The response's unit in words, with the defaults of its kind (kg, L, kg/m3, ...)."""
    raise NotImplementedError
