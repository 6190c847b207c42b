"""The shape of one season's results; ``results.json`` is exactly this tree.

Every number that cannot be given is None, and the row then says why in
``not_estimable``. Shares are 0 to 1. ``estimate, low, high`` are on the
reported scale, ``se, df`` on the model's scale. Leans on core.errors.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from wickstats.core.errors import Exclusion, Problem

RESULTS_FORMAT = 1

Number = float | None


@dataclass(frozen=True, slots=True)
class InputFile:
    """A file that was read: name in the archive, digest, number of data rows."""

    path: str
    sha256: str
    rows: int


@dataclass(frozen=True, slots=True)
class PlannedComparison:
    """One family of comparisons, as the plan (or the default) says."""

    factor: str
    name: str
    compare: str  # each with the reference | all pairs | weights
    adjustment: str  # dunnett | tukey | single-step | holm | none
    within: str | None
    weights: Mapping[str, float] | None


@dataclass(frozen=True, slots=True)
class TrialFacts:
    """What the page says about the trial before any number."""

    id: str
    title: str
    question: str | None
    invented: bool
    place: str
    season_start: str | None
    season_end: str | None
    site: Mapping[str, str | float]
    people: Mapping[str, str]
    factors: Mapping[str, tuple[str, ...]]
    references: Mapping[str, str]
    details: Mapping[str, str]  # level -> detail
    confidence: float
    planned: bool  # a plan was written before planting
    primary: str | None
    secondary: tuple[str, ...]
    comparisons: tuple[PlannedComparison, ...]
    matters: Mapping[str, Mapping[str, float]]
    browsing: str


@dataclass(frozen=True, slots=True)
class LayoutFacts:
    """How the plots were laid out."""

    type: str
    seed: int | None
    scheme: str | None
    hash: str | None
    drawn: str  # here | elsewhere | not at random
    units: Mapping[str, int]  # term -> number of independently set up units


@dataclass(frozen=True, slots=True)
class StratumDf:
    """A line of the degrees-of-freedom table, known before any data."""

    stratum: str
    term: str
    df: int


@dataclass(frozen=True, slots=True)
class LostUnit:
    """A plant or plot that was planted and is not in the analysis."""

    plot: str
    plant: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class ArmCount:
    """Accounting of one treatment."""

    treatment: str
    planned: int
    planted: int
    analyzed: int
    plots_planned: int
    plots_analyzed: int


@dataclass(frozen=True, slots=True)
class Accounting:
    """Plants planned, planted, analyzed, lost with reasons."""

    planned: int
    planted: int
    analyzed: int
    by_treatment: tuple[ArmCount, ...]
    lost: tuple[LostUnit, ...]


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


@dataclass(frozen=True, slots=True)
class UnitSummary:
    """The unit summary's name, the scale of its values, and the values."""

    name: str
    measured_in: str
    values: tuple[UnitValue, ...]


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
class Check:
    """A diagnostic by unit: name, finding in words, figure's file name if drawn."""

    name: str
    finding: str
    figure: str | None


@dataclass(frozen=True, slots=True)
class ResponseResult:
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


@dataclass(frozen=True, slots=True)
class DryPeriod:
    """A reservoir ran dry between two dates; ``to`` None: still dry at the end."""

    from_low: str
    from_high: str
    to: str | None


@dataclass(frozen=True, slots=True)
class WaterUnit:
    """One unit's water in liters over the season."""

    unit: str
    treatment: str
    planned_l: Number
    applied_l: Number
    delivered_l: Number
    low: Number
    high: Number
    dry: tuple[DryPeriod, ...]
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """Reference evapotranspiration and reservoirs (nothing yet)."""

    days: tuple[Mapping[str, float | str | None], ...] = ()
    table: tuple[Mapping[str, float | str | None], ...] = ()


@dataclass(frozen=True, slots=True)
class Cost:
    """Cost of one treatment per survivor, kg or m3."""

    treatment: str
    per: str
    estimate: Number
    low: Number
    high: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class PowerRow:
    """One line of planned or reached power, or of the next season's needs."""

    response: str
    comparison: str
    difference: Number
    blocks: Number
    power: Number
    low: Number
    high: Number
    measure: str  # difference | ratio
    note: str
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class PowerResults:
    """Power before, precision reached, what the next season needs."""

    planned: tuple[PowerRow, ...] = ()
    reached: tuple[PowerRow, ...] = ()
    next_season: tuple[PowerRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Deviation:
    """A departure from the plan; the date is claimed, never proven."""

    what: str
    planned: str
    done: str
    claimed_on: str | None


@dataclass(frozen=True, slots=True)
class SecondEngineRow:
    """One number computed twice, by code that shares nothing."""

    what: str
    ours: Number
    theirs: Number
    agrees: bool | None
    not_checked: str | None


@dataclass(frozen=True, slots=True)
class Results:
    """One analyzed season."""

    wickstats: str
    results_format: int
    simulated: bool
    trial: TrialFacts
    inputs: tuple[InputFile, ...]
    layout: LayoutFacts
    degrees_of_freedom: tuple[StratumDf, ...]
    accounting: Accounting
    responses: tuple[ResponseResult, ...]
    water: tuple[WaterUnit, ...]
    supply: Supply
    costs: tuple[Cost, ...]
    power: PowerResults
    queries: tuple[Problem, ...]
    exclusions: tuple[Exclusion, ...]
    deviations: tuple[Deviation, ...]
    second_engine: tuple[SecondEngineRow, ...]
    # exact bytes of everything read, for the archive; not part of results.json
    source_bytes: Mapping[str, bytes] = field(
        default_factory=dict, repr=False, compare=False, metadata={"json": False}
    )
