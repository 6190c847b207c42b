"""What holds where the trial file is silent.

Leans on the trial's values and on core.results.
"""

from collections.abc import Mapping
from itertools import product
from typing import Literal, TypeVar

from wickstats.core.results import PlannedComparison
from wickstats.design.trial import ComparisonPlan, Factor, Plan, Response, Trial

Better = Literal["more", "less", "neither"]
Role = Literal["primary", "secondary", "exploratory"]
T = TypeVar("T")

JOIN = " x "
REFERENCE, PAIRS = "each with the reference", "all pairs"
TREND = "trend over amount"

# the unit that a column's own name ends in
_ENDINGS = {
    "cm": "cm",
    "mm": "mm",
    "m": "m",
    "kg": "kg",
    "g": "g",
    "l": "L",
    "ml": "mL",
    "mpa": "MPa",
    "kg_per_ha": "kg/ha",
    "t_per_ha": "t/ha",
    "cm2": "cm2",
    "m2": "m2",
}
FIXED_UNITS = {
    "survival": "share",
    "score": "points",
    "yield": "kg",
    "yield per liter": "kg/L",
    "count": "{fruit}",
    "water used": "L",
    "rise": "mm",
    "flow": "mL/h",
}


def plan_of(trial: Trial) -> Plan:
    """Return the plan, or an empty one (confidence 0.95, everything exploratory)."""
    return trial.plan if trial.plan is not None else Plan()


def is_planned(trial: Trial) -> bool:
    """Say whether a plan was written."""
    return trial.plan is not None


def is_pilot(trial: Trial) -> bool:
    """Say whether all plots get one treatment: nothing is compared, variation is measured."""
    return all(len(factor.levels) == 1 for factor in trial.factors)


def main_effects_only(trial: Trial) -> bool:
    """Say whether the plan leaves out the interactions of several factors."""
    return plan_of(trial).interactions == "left out" and len(trial.factors) > 1


def better_of(response: Response) -> Better:
    """Which direction is better: less water used; neither for measurement and score; else more.

    A bench trial's rise and flow have no better direction of their own.
    """
    if response.better is not None:
        return response.better
    return usual_better(response.kind)


def usual_better(kind: str) -> Better:
    """The direction that is better for a kind of response that does not say it."""
    if kind == "water used":
        return "less"
    return "neither" if kind in ("measurement", "score", "rise", "flow") else "more"


def side_of(better: Better, *, one_sided: bool) -> int:
    """Which side a question asks about: 1 more, -1 less; 0 both."""
    return {"more": 1, "less": -1, "neither": 0}[better] if one_sided else 0


def role_of(trial: Trial, response: Response) -> Role:
    """Primary, secondary or exploratory, by the plan."""
    plan = plan_of(trial)
    if plan.primary == response.name:
        return "primary"
    return "secondary" if response.name in plan.secondary else "exploratory"


def comparisons_of(trial: Trial) -> tuple[PlannedComparison, ...]:
    """Return the families of comparisons: the plan's, or the default for every factor.

    Default: each with the reference where the factor names one, else all pairs. Each
    carries its adjustment (dunnett, tukey; single-step for trends and differences of
    differences; none for a single contrast). ``name`` is the entry's name, else words made
    from factor and compare. A pilot compares nothing.
    """
    entries = plan_of(trial).comparisons
    if not entries:
        compared = (factor.name for factor in trial.factors if len(factor.levels) > 1)
        entries = tuple(ComparisonPlan(factor=name) for name in compared)
    return tuple(_resolve(trial, entry) for entry in entries)


def _resolve(trial: Trial, entry: ComparisonPlan) -> PlannedComparison:
    if entry.weights is not None:
        return PlannedComparison(
            factor=entry.factor,
            name=entry.name or _contrast_name(entry.weights),
            compare="weights",
            adjustment=entry.adjustment or _joint(_pairs_of(trial, entry.differs_by)),
            within=entry.within,
            weights=dict(entry.weights),
            differs_by=entry.differs_by,
            asks=entry.asks,
        )
    reference = trial.factor(entry.factor).reference
    compare = entry.compare or (PAIRS if reference is None else REFERENCE)
    words = f"each with {reference}" if compare == REFERENCE else compare
    if entry.differs_by is not None:
        words = f"{words}, differing by {entry.differs_by}"
    adjustment = "dunnett" if compare == REFERENCE else "tukey"
    if compare == TREND or entry.differs_by is not None:
        own = _contrasts_of(trial, entry.factor, compare)
        adjustment = _joint(own * _pairs_of(trial, entry.differs_by))
    return PlannedComparison(
        factor=entry.factor,
        name=entry.name or f"{entry.factor}: {words}",
        compare=compare,
        adjustment=entry.adjustment or adjustment,
        within=entry.within,
        weights=None,
        differs_by=entry.differs_by,
        asks=entry.asks,
    )


def _joint(contrasts: int) -> str:
    return "single-step" if contrasts > 1 else "none"


def _contrasts_of(trial: Trial, factor: str, compare: str) -> int:
    levels = trial.factor(factor).levels
    if compare == TREND:
        return min(2, len({level.amount for level in levels}) - 1)
    return len(levels) - 1 if compare == REFERENCE else len(levels) * (len(levels) - 1) // 2


def _pairs_of(trial: Trial, factor: str | None) -> int:
    """Pairs of levels between which a comparison may differ; one where it is not asked."""
    if factor is None:
        return 1
    reference = trial.factor(factor).reference
    return _contrasts_of(trial, factor, PAIRS if reference is None else REFERENCE)


def _contrast_name(weights: Mapping[str, float]) -> str:
    plus = " and ".join(name for name, weight in weights.items() if weight > 0)
    minus = " and ".join(name for name, weight in weights.items() if weight < 0)
    return f"{plus} against {minus}"


def cells_of(factors: tuple[Factor, ...]) -> tuple[str, ...]:
    """All treatments: levels of all factors joined by " x ", last factor fastest."""
    return tuple(JOIN.join(levels) for levels in product(*(f.level_names for f in factors)))


def value_for(values: Mapping[str, T], levels: Mapping[str, str]) -> T | None:
    """What a mapping by treatment says for one treatment, or None.

    Keys are whole treatments, or levels of one factor that hold whatever the other
    factors are. ``levels``: factor -> level, in the trial's order.
    """
    return value_of(values, JOIN.join(levels.values()))


def value_of(values: Mapping[str, T], treatment: str) -> T | None:
    """The same for a treatment's name."""
    return next((values[name] for name in names_of(treatment) if name in values), None)


def names_of(treatment: str) -> tuple[str, ...]:
    """What may stand for a treatment: its whole name, then each of its levels."""
    return (treatment, *treatment.split(JOIN))


def measured_in_of(response: Response) -> str:
    """Return the unit: as given, else its kind's, else its column's ending, else 1."""
    if response.measured_in is not None:
        return response.measured_in
    if response.kind in FIXED_UNITS:
        return FIXED_UNITS[response.kind]
    name = (response.column or "").casefold()
    endings = [e for e in _ENDINGS if name.endswith(f"_{e}")]
    return _ENDINGS[max(endings, key=len)] if endings else "1"
