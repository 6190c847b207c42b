"""The trial file's values: frozen, strict, nothing unknown.

These types say what a checked trial is; reading text into them is the work of
the other modules of this package. Leans on pydantic and core.
"""

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from wickstats.design.kinds import AppliedTo, CauseName, DesignType, ResponseKind, TableName

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Share = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=1)]
Id = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]*$", max_length=64)]


class Value(BaseModel):
    """Base of every value here."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", populate_by_name=True)


class SeasonDates(Value):
    """First and last day of the season."""

    start: date
    end: date


class Site(Value):
    """Where the trial stands; ``share`` says how much of it the report may tell."""

    name: str | None = None
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    elevation_m: float | None = None
    soil: str | None = None
    share: Literal["exact", "rounded", "withheld"] = "rounded"


class Simulated(Value):
    """The mark that ``rehearse`` writes: nothing was grown; ``tables`` seals what it wrote."""

    seed: Annotated[int, Field(ge=0)]
    tables: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", max_length=64)] | None = None


class TrialHead(Value):
    """Name and question."""

    id: Id
    title: str | None = None
    question: str | None = None
    invented: bool = False
    simulated: Simulated | None = None
    place: Literal["field", "bench"] = "field"
    season: SeasonDates | None = None
    site: Site = Site()
    people: dict[str, str] = {}


class Level(Value):
    """One level of a factor: a way of watering, a rate, a variety."""

    name: Annotated[str, Field(min_length=1)]
    reference: bool = False
    detail: str | None = None
    amount: float | None = None


class Factor(Value):
    """A factor and what its levels are applied to."""

    name: Annotated[str, Field(min_length=1)]
    applied_to: AppliedTo = "plot"
    levels: Annotated[tuple[Level, ...], Field(min_length=1)]
    amount_in: str | None = None

    @property
    def level_names(self) -> tuple[str, ...]:
        """Names in the order of the file."""
        return tuple(level.name for level in self.levels)

    @property
    def reference(self) -> str | None:
        """The level that others are compared with, if one is named."""
        return next((level.name for level in self.levels if level.reference), None)


class FieldSize(Value):
    """Plot size, how blocks run, compass bearings of the map's top and of downhill."""

    plot_width_m: Positive | None = None
    plot_length_m: Positive | None = None
    blocks_run: str | None = None
    top_bearing_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    downhill_bearing_deg: Annotated[float, Field(ge=0, le=360)] | None = None


class Design(Value):
    """How plots are grouped and treatments were given to them."""

    type: DesignType
    blocks: Count | None = None
    replicates: Count | dict[str, Count] | None = None
    squares: Count | None = None
    block_size: Count | None = None
    resolvable: bool | None = None
    rows: Count | None = None
    columns: Count | None = None
    plants_per_plot: Count | None = None
    blocked_by: str | None = None
    guard_plants: Annotated[int, Field(ge=0)] | None = None
    plots_per_reservoir: dict[str, Count] = {}
    field: FieldSize = FieldSize()
    seed: Annotated[int, Field(ge=0)] | None = None
    layout: str
    drawn: Literal["here", "elsewhere", "not at random"] = "here"
    keep: tuple[str, ...] = ()
    evaporation_controls: Count | None = None


class ColumnSource(Value):
    """Where one of our columns comes from: their head, unit and a factor."""

    head: str
    measured_in: str | None = None
    times: Positive | None = None


class WideSource(Value):
    """A crosswise sheet: dates (or visits) as heads, one quantity in the cells."""

    heads_are: Literal["date"]
    cells_are: str


class TableSource(Value):
    """One file that holds rows of a record table."""

    file: str
    sheet: str | None = None
    header_row: Count | None = None
    delimiter: str | None = None
    decimal: Literal[".", ","] | None = None
    dates: str | None = None
    columns: dict[str, ColumnSource] = {}
    wide: WideSource | None = None


class Response(Value):
    """What is compared between treatments."""

    name: Annotated[str, Field(min_length=1)]
    kind: ResponseKind
    column: str | None = None
    measured_in: str | None = None
    scale: Literal["log", "as measured"] | None = None
    range: tuple[float, float] | None = None
    better: Literal["more", "less", "neither"] | None = None
    at: tuple[date, ...] | tuple[float, ...] = ()
    measure: str | None = None
    yield_of: Annotated[str | None, Field(alias="yield")] = None
    water: Literal["planned", "applied", "delivered"] | None = None
    head_mm: Positive | None = None
    top_mm: Positive | None = None
    temperature: str | None = None

    @property
    def model_scale(self) -> Literal["log", "as measured"]:
        """The scale of the model: log for sizes, totals and water unless said otherwise."""
        if self.scale is not None:
            return self.scale
        log_kinds = ("growth", "yield", "yield per liter", "water used")
        return "log" if self.kind in log_kinds else "as measured"


class ComparisonPlan(Value):
    """One family of comparisons in words, or one named contrast by weights.

    ``within``: in each level of that factor; ``differs_by``: how much the comparison
    differs between the levels of that factor. ``asks``: only whether better gives one-sided
    limits, on the side that is better for the response.
    """

    factor: str
    name: str | None = None
    compare: Literal["each with the reference", "all pairs", "trend over amount"] | None = None
    weights: dict[str, float] | None = None
    adjustment: Literal["dunnett", "tukey", "single-step", "holm", "none"] | None = None
    within: str | None = None
    differs_by: str | None = None
    asks: Literal["whether different", "only whether better"] = "whether different"


class Matters(Value):
    """The smallest difference (or ratio) considered important."""

    difference: Positive | None = None
    ratio: Annotated[float, Field(gt=1)] | None = None


class EqualWater(Value):
    """The claim that every arm got its water, to be tested."""

    ratio: Annotated[float, Field(gt=1)]
    against: Literal["planned", "reference"] = "planned"


class GrowthOverVisits(Value):
    """How the sizes of one plant hang together over the visits, beside its unit's own line.

    ``correlation``: lines gives every plant a line and free scatter about it; serial makes
    two visits of a plant the more alike the closer they are. ``variance`` of that scatter:
    one for all, or one for each arm or each visit. ``course``: what all arms share over the
    visits, each date's own level or a straight line.
    """

    correlation: Literal["lines", "serial"] = "lines"
    variance: Literal["pooled", "by arm", "by visit"] = "pooled"
    course: Literal["by date", "straight"] = "by date"


class Plan(Value):
    """What was decided before planting."""

    primary: str | None = None
    secondary: tuple[str, ...] = ()
    confidence: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    comparisons: tuple[ComparisonPlan, ...] = ()
    matters: dict[str, Matters] = {}
    equal_water: EqualWater | None = None
    variance: dict[str, Literal["pooled", "by arm"]] = {}
    growth_over_visits: dict[str, GrowthOverVisits] = {}
    browsing: Literal["as seen", "counts as death", "competing cause", "set aside"] = "as seen"
    covariates: dict[str, Literal["start size", "position"]] = {}
    blind: bool = False
    interactions: Literal["kept", "left out"] = "kept"
    recovery: bool = False


class Reservoirs(Value):
    """Size of a reservoir, in liters."""

    holds_l: Positive | None = None
    unusable_l: NotNegative | None = None
    liters_per_cm: Positive | None = None


class BenchFlow(Value):
    """What one wick was found to give at the bench, and where that is written.

    ``ml_h``: its mean; ``cv``: how much wicks differ; ``wicks``: on one reservoir.
    """

    ml_h: Positive
    found_in: Annotated[str, Field(min_length=1)]
    cv: NotNegative | None = None
    wicks: Annotated[int, Field(ge=1)] = 1


class Water(Value):
    """What was planned about water; ``planned_l`` is per plot and season."""

    planned_l: dict[str, NotNegative] = {}
    can_within_percent: NotNegative | None = None
    meter_within_percent: NotNegative | None = None
    reservoirs: Reservoirs = Reservoirs()
    shared: Literal["by plants", "equally"] = "by plants"
    rain_catch_m2: NotNegative | None = None
    crop_coefficient: Annotated[float, Field(gt=0, le=3)] | None = None  # crops: below 1.5
    wetted_m2: Positive | None = None
    visits_every_d: Positive | None = None
    bench_flow: dict[str, BenchFlow] = {}


class Assumption(Value):
    """What is assumed about one response before planting."""

    alive_at_end: dict[str, Share] = {}
    mean: dict[str, float] = {}
    liters: dict[str, Positive] = {}
    plot_correlation: Annotated[float, Field(ge=0, lt=1)] | None = None
    plot_cv: NotNegative | None = None
    plant_cv: NotNegative | None = None
    plot_sd: NotNegative | None = None
    plant_sd: NotNegative | None = None
    liters_cv: NotNegative | None = None
    spread_df: Annotated[float, Field(gt=0)] | None = None  # of what the spread is known by
    # the ground and the course of a season: simulated seasons only; larger pieces: power too
    block_cv: NotNegative | None = None
    block_sd: NotNegative | None = None
    block_correlation: Annotated[float, Field(ge=0, lt=1)] | None = None
    whole_plot_cv: NotNegative | None = None
    whole_plot_sd: NotNegative | None = None
    whole_plot_correlation: Annotated[float, Field(ge=0, lt=1)] | None = None
    start_size: Positive | None = None
    causes: dict[CauseName, Share] = {}
    death_shape: Annotated[float, Field(ge=0.2, le=5)] | None = None


class CrewAssumed(Value):
    """What is assumed about the crew's season where seasons are simulated."""

    plots_lost: Annotated[float, Field(ge=0, le=0.5)] | None = None
    plants_lost: Annotated[float, Field(ge=0, le=0.5)] | None = None
    not_found: Annotated[float, Field(ge=0, le=0.5)] | None = None
    replaced: Share | None = None
    doubtful: Share | None = None
    browsed: Annotated[float, Field(ge=0, le=0.5)] | None = None
    leaks: Share | None = None
    visits_every_d: Annotated[int, Field(ge=1)] | None = None
    visits_spread_d: Annotated[int, Field(ge=0, le=60)] | None = None
    reading_cv: Annotated[float, Field(ge=0, le=0.5)] | None = None


class PowerPlan(Value):
    """Assumptions and target for the power calculation."""

    target: Annotated[float, Field(gt=0, lt=1)] = 0.80
    assume: dict[str, Assumption] = {}
    crew: CrewAssumed | None = None
    budget: Positive | None = None


class CostItem(Value):
    """Something that was bought."""

    what: str
    for_: Annotated[tuple[str, ...], Field(alias="for")] = ()
    each: NotNegative
    per: Literal["plot", "plant", "reservoir", "trial"] = "plot"
    lasts_seasons: Positive = 1.0


class Travel(Value):
    """Travel for one visit."""

    km_per_visit: NotNegative
    per_km: NotNegative


class Costs(Value):
    """Prices and hours."""

    currency: str
    wage_per_hour: NotNegative | None = None
    items: tuple[CostItem, ...] = ()
    hours_per_visit: dict[str, NotNegative] = {}
    travel: Travel | None = None


class Trial(Value):
    """A checked trial file. ``file`` and ``folder`` say where it was read from."""

    format: Literal[1]
    trial: TrialHead
    factors: Annotated[tuple[Factor, ...], Field(min_length=1)]
    design: Design
    records: dict[TableName, tuple[TableSource, ...]] = {}
    responses: tuple[Response, ...] = ()
    plan: Plan | None = None
    water: Water | None = None
    power: PowerPlan | None = None
    costs: Costs | None = None
    # where it was read from (not keys of the file)
    file: str = ""
    folder: str = ""
    source: bytes = b""

    def factor(self, name: str) -> Factor:
        """Return the factor of that name (KeyError where there is none)."""
        for factor in self.factors:
            if factor.name == name:
                return factor
        raise KeyError(name)

    def response(self, name: str) -> Response:
        """Return the response of that name (KeyError where there is none)."""
        for response in self.responses:
            if response.name == name:
                return response
        raise KeyError(name)
