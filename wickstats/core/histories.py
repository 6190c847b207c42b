"""The shapes of what became of single plants: how each history was handled, and how many.

Counts are plants by treatment; shares are 0 to 1. Leans on nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass

Number = float | None


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One kind of history: what it is, how it was handled, how many plants by treatment.

    ``part``: ending (every plant planted first has exactly one), remark (of the same plants,
    may overlap), or beside (plants that are not among those planted first).
    ``observed``: exactly, between visits, from the left, from the right, or none.
    """

    part: str
    kind: str
    observed: str
    handled: str
    total: int
    by_treatment: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class CurveFit:
    """How a curve was reached, who was seen alive when, and a smooth curve beside it.

    ``kuhn_tucker``: largest violation, by plant, of the conditions that tell the maximum
    of the likelihood. ``seen_alive[k]``: plants last seen alive on day ``seen_days[k]`` or
    later, which holds back to the day before it in the list. ``shape``: the likelier of
    Weibull, exp(-(t/scale)^power), and log-logistic, 1/(1 + (t/scale)^power); drawn where
    it stays inside the curve's band at every visit, otherwise ``smooth_note`` says why not.
    """

    group: str
    plants: int
    deaths: int
    log_likelihood: Number
    kuhn_tucker: Number
    seen_days: tuple[float, ...]
    seen_alive: tuple[int, ...]
    shape: str | None
    scale: Number
    power: Number
    median: Number
    smooth_log_likelihood: Number
    drawn: bool
    smooth_note: str | None
    smooth_days: tuple[float, ...]
    smooth_shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class VisitSpacing:
    """Days between visits to the plots of one treatment."""

    treatment: str
    plots: int
    visits: Number  # mean number of visits to a plot
    median_days: Number
    mean_days: Number
    last_visit: str | None  # the last day on which all its plots were seen
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class EarlyDeaths:
    """Deaths in the first days after planting, told apart and not dropped.

    ``dead``: seen dead by ``days``; ``perhaps``: the death lies in an interval that begins
    before ``days`` and ends after it; ``rest``, ``rest_dead``: plants that were not dead by
    then, and how many of those died later.
    """

    treatment: str
    days: float
    plants: int
    dead: int
    perhaps: int
    share: Number
    rest: int
    rest_dead: int


@dataclass(frozen=True, slots=True)
class ConditionRow:
    """Plants that a visit noted leafless, resprouting, browsed or doubtful: no deaths.

    ``alive``, ``dead``, ``other``: what became of them by the end of the records.
    """

    condition: str
    treatment: str
    noted: int
    alive: int
    dead: int
    other: int


@dataclass(frozen=True, slots=True)
class IncidencePoint:
    """Cumulative incidence of one cause in one group, holding between two times (days)."""

    group: str
    cause: str
    time_low: Number
    time_high: Number
    share: Number
    low: Number
    high: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class StandRow:
    """Places of one treatment at a date: the plants first planted, and replacements."""

    treatment: str
    at: str
    places: int
    originals_alive: int
    replacements: int
    replacements_alive: int
    known: int  # places whose state is known
    share_originals: Number
    share_places: Number
