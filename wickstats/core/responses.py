"""The shape of one response's results: unit summaries, tests, means, comparisons.

Every number that cannot be given is None, and the row then says why in ``not_estimable``.
Shares are 0 to 1. ``estimate, low, high`` are on the reported scale, ``se, df`` on the
model's scale. Leans on core.codec, core.histories and core.words.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wickstats.core.bench import Bench
from wickstats.core.frames import frame_of
from wickstats.core.histories import (
    ConditionRow,
    CurveFit,
    EarlyDeaths,
    HistoryRow,
    IncidencePoint,
    StandRow,
    VisitSpacing,
)
from wickstats.core.notebook import Shown
from wickstats.core.share_models import ShareModel
from wickstats.core.water import AlongLine, PickedCounts, PickRow, Productivity
from wickstats.core.words import recorded

if TYPE_CHECKING:
    import pandas as pd

Number = float | None


@dataclass(frozen=True, slots=True)
class UnitValue:
    """One number per randomized unit (model scale: see UnitSummary)."""

    unit: str
    block: str | None
    whole_plot: str | None
    treatment: str
    value: Number
    n_plants: int
    fitted: Number
    residual: Number
    not_estimable: str | None = None
    square: str | None = None  # its place, where the design has such
    replicate: str | None = None
    row: str | None = None
    column: str | None = None
    row_strip: str | None = None
    column_strip: str | None = None
    covariate: Number = None  # where the plan names one and it was used


@dataclass(frozen=True, slots=True)
class UnitSummary:
    """The unit summary's name, the scale of its values, and the values."""

    name: str
    measured_in: str
    values: tuple[UnitValue, ...]
    covariate: str | None = None  # start size | position


@dataclass(frozen=True, slots=True)
class Redraws:
    """Re-randomization beside a test or a comparison."""

    p: Number
    kind: str  # exact | sampled | none
    total: int
    smallest_possible_p: Number
    reason: str | None


@dataclass(frozen=True, slots=True)
class TestRow:
    """One test of a term in its stratum."""

    __test__ = False  # not a test case

    term: str
    stratum: str
    unit_of_replication: str
    statistic: str  # F | t | chi-square
    value: Number
    df_num: Number
    df_den: Number
    p: Number
    redraws: Redraws | None
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class StrataRow:
    """A line of the classical analysis by strata (complete trials)."""

    stratum: str
    source: str
    df: int
    sum_of_squares: float
    mean_square: Number
    f: Number
    p: Number


@dataclass(frozen=True, slots=True)
class Mean:
    """An arm's estimated mean (or share, total, ratio of totals)."""

    term: str
    treatment: str
    within: str | None
    estimand: str
    at: str | None
    estimate: Number
    se: Number
    df: Number
    low: Number
    high: Number
    n_units: int
    n_plants: int
    not_estimable: str | None = None
    bound: str | None = None
    n_unseen: int = 0  # plants in no share, as nobody saw what became of them


@dataclass(frozen=True, slots=True)
class Absolute:
    """The effect in the units people use first."""

    estimate: Number
    low: Number
    high: Number
    per: str  # e.g. "more alive of 100 planted"


@dataclass(frozen=True, slots=True)
class Relative:
    """The effect as a ratio."""

    ratio: Number
    low: Number
    high: Number


@dataclass(frozen=True, slots=True)
class Comparison:
    """One contrast of treatments with everything a reader needs."""

    term: str
    name: str
    treatment: str
    versus: str
    within: str | None
    estimand: str
    at: str | None
    measure: str  # difference | ratio | odds ratio | hazard ratio
    rule: str  # strata | dispersion | paired | mixed
    unit_of_replication: str
    estimate: Number
    se: Number
    df: Number
    low: Number
    high: Number
    p: Number
    adjustment: str
    p_adjusted: Number
    low_adjusted: Number
    high_adjusted: Number
    p_equivalence: Number
    matters: Number
    verdict: str | None
    sentence: str | None
    redraws: Redraws | None
    absolute: Absolute | None
    relative: Relative | None
    denominator: str | None
    unbounded: str | None
    not_estimable: str | None = None
    bound: str | None = None
    p_adjusted_error: Number = None  # bound on the error of p_adjusted by a point set

    @property
    def unplanned(self) -> bool:
        """Whether its sentence calls it exploratory: no answer to what the plan asked."""
        head = recorded("exploratory", sentence="").strip()
        return (self.sentence or "").startswith(head)


@dataclass(frozen=True, slots=True)
class Extra:
    """Yield for each extra liter of one treatment over another, from the same units.

    ``estimate, low, high`` in ``measured_in`` (yield per liter); ``water`` and ``yield``
    the differences per plot and season, each with its own interval.
    """

    term: str
    name: str
    treatment: str
    versus: str
    within: str | None
    measure: str
    measured_in: str
    denominator: str
    estimate: Number
    df: Number
    low: Number
    high: Number
    n_blocks: int | None
    water_l: Number
    water_low_l: Number
    water_high_l: Number
    yield_difference: Number
    yield_low: Number
    yield_high: Number
    sentence: str
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One comparison refitted without one block, on the comparison's own scale."""

    block: str
    term: str
    name: str
    treatment: str
    versus: str
    within: str | None
    estimand: str
    at: str | None
    measure: str
    estimate: Number
    df: Number
    low_adjusted: Number
    high_adjusted: Number
    verdict: str | None
    not_estimable: str | None = None
    bound: str | None = None


@dataclass(frozen=True, slots=True)
class VarianceComponent:
    """A variance component of the mixed model, on the model's scale."""

    term: str
    estimate: Number
    low: Number
    high: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class MixedModel:
    """The second line: the mixed model beside the first line."""

    terms: tuple[str, ...]
    variance_components: tuple[VarianceComponent, ...]
    tests: tuple[TestRow, ...]
    comparisons: tuple[Comparison, ...]
    df_method: str
    converged: bool
    objective: Number
    diary: Mapping[str, str | float | int]
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A share on a survival curve with its interval, between two times."""

    group: str
    time_low: Number
    time_high: Number
    share: Number
    low: Number
    high: Number
    at_risk: int


@dataclass(frozen=True, slots=True)
class Strategy:
    """Survival under one way of taking browsed plants; ``primary``: the plan's."""

    name: str  # as seen | counts as death | competing cause | set aside
    primary: bool
    says: str
    changed: int  # plants that it changes from what was seen
    means: tuple[Mean, ...]
    comparisons: tuple[Comparison, ...]
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class PlantLives:
    """What became of the plants, beside a response of survival.

    ``incidence``: cumulative incidence of every cause by treatment; ``cause_comparisons``:
    shares dead by a cause at the last date, not adjusted for many comparisons;
    ``strategies``: browsed plants taken four ways, empty where nothing was browsed;
    ``stand``, ``late_curves``: with replacements, which enter when they are planted.
    """

    histories: tuple[HistoryRow, ...]
    visit_spacing: tuple[VisitSpacing, ...]
    early_deaths: tuple[EarlyDeaths, ...]
    conditions: tuple[ConditionRow, ...]
    incidence: tuple[IncidencePoint, ...]
    cause_means: tuple[Mean, ...]
    cause_comparisons: tuple[Comparison, ...]
    strategies: tuple[Strategy, ...]
    stand: tuple[StandRow, ...]
    late_curves: tuple[CurvePoint, ...]
    cause_notes: tuple[str, ...]
    stand_notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Harvest:
    """Picks over time, beside a yield: for description, without a verdict.

    ``means, comparisons``: mass-weighted mean day of picking and marketable percent, by unit.
    """

    measured_in: str
    picks: tuple[PickRow, ...]
    counts: tuple[PickedCounts, ...]
    means: tuple[Mean, ...]
    comparisons: tuple[Comparison, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A diagnostic by unit: name, finding in words, figure's file name if drawn."""

    name: str
    finding: str
    figure: str | None


@dataclass(frozen=True, slots=True)
class ResponseResult(Shown):
    """Everything about one response."""

    name: str
    kind: str
    measured_in: str
    model_scale: str  # log | as measured
    better: str
    role: str  # primary | secondary | exploratory
    unit_summary: UnitSummary
    strata: tuple[StrataRow, ...]
    tests: tuple[TestRow, ...]
    means: tuple[Mean, ...]
    comparisons: tuple[Comparison, ...]
    sensitivity: tuple[Comparison, ...]  # the paired rule, worst and best case, per protocol
    mixed_model: MixedModel | None
    curves: tuple[CurvePoint, ...]
    checks: tuple[Check, ...]
    cautions: tuple[str, ...]
    extra_liters: tuple[Extra, ...] | None = None  # yield per liter only
    left_out: tuple[LeftOut, ...] | None = None  # blocked trials
    plant_lives: PlantLives | None = None  # survival only
    growth_rates: MixedModel | None = None  # growth measured on three dates or more
    productivity: Productivity | None = None  # yield per liter only
    harvest: Harvest | None = None  # yields with a table of picks
    along_line: AlongLine | None = None  # plants with a numbered position
    bench: Bench | None = None  # rise and flow only
    curve_fits: tuple[CurveFit, ...] | None = None  # survival only
    share_model: ShareModel | None = None  # shares only

    def tables(self) -> Mapping[str, Sequence[object]]:
        """Name -> rows of the tables that ``to_frame`` gives."""
        return {
            "comparisons": self.comparisons,
            "means": self.means,
            "units": self.unit_summary.values,
            "tests": self.tests,
            "strata": self.strata,
            "sensitivity": self.sensitivity,
            "left out": self.left_out or (),
            "curves": self.curves,
        }

    def to_frame(self, table: str = "comparisons") -> "pd.DataFrame":
        """Return the comparisons, or another of ``tables``, one row each.

        Raises
        ------
        KeyError
            Naming the tables there are.
        """
        known = self.tables()
        if table not in known:
            raise KeyError(f"no table {table!r}; there are {list(known)}")
        return frame_of(known[table])
