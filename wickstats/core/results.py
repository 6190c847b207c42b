"""The shape of one season's results; ``results.json`` is exactly this tree.

One response's part is in ``core.responses``. Leans on core.codec and core.errors.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wickstats.core.codec import to_plain
from wickstats.core.costs import Cost, CostParts
from wickstats.core.errors import Exclusion, Problem
from wickstats.core.looks import Looks
from wickstats.core.notebook import Shown
from wickstats.core.responses import Number, ResponseResult
from wickstats.core.supply import Supply
from wickstats.core.water import EqualWaterResult, UnitLedger

if TYPE_CHECKING:
    import pandas as pd

RESULTS_FORMAT = 1


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
    compare: str  # each with the reference | all pairs | trend over amount | weights
    adjustment: str  # dunnett | tukey | single-step | holm | none
    within: str | None
    weights: Mapping[str, float] | None
    differs_by: str | None = None  # how much it differs between the levels of that factor
    asks: str = "whether different"  # or: only whether better

    @property
    def one_sided(self) -> bool:
        """Whether it asks about the better side alone."""
        return self.asks == "only whether better"


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
    interactions: str = "kept"  # kept | left out


@dataclass(frozen=True, slots=True)
class LayoutFacts:
    """How the plots were laid out."""

    type: str
    seed: int | None
    scheme: str | None
    hash: str | None
    drawn: str  # here | elsewhere | not at random
    units: Mapping[str, int]  # term -> number of independently set up units
    keeps: str | None = None  # what blocks, rows and columns keep, in words


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
    ledger: UnitLedger | None = None


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
class PowerPoint:
    """Chance to show what matters in a trial of so many blocks, as planned or as reached.

    ``kind`` "reached": units scatter as in this season; ``low`` and ``high`` at the one-sided
    80 % limits of their variance. ``now``: this season's own number of blocks.
    """

    response: str
    comparison: str
    kind: str  # planned | reached
    difference: Number
    measure: str  # difference | ratio
    blocks: int
    power: Number
    low: Number
    high: Number
    now: bool = False


@dataclass(frozen=True, slots=True)
class PowerResults:
    """Power before, precision reached, what the next season needs."""

    planned: tuple[PowerRow, ...] = ()
    reached: tuple[PowerRow, ...] = ()
    next_season: tuple[PowerRow, ...] = ()
    curve: tuple[PowerPoint, ...] = ()


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
class Results(Shown):
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
    equal_water: EqualWaterResult | None = None  # where water was recorded
    cost_parts: CostParts | None = None  # where the trial file has prices
    looks: Looks | None = None  # where the season was looked at early, or more than once
    # exact bytes of everything read, for the archive; not part of results.json
    source_bytes: Mapping[str, bytes] = field(
        default_factory=dict, repr=False, compare=False, metadata={"json": False}
    )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values: exactly what ``results.json`` holds."""
        plain: dict[str, Any] = to_plain(self)
        return plain

    def to_frame(self, table: str = "comparisons") -> "pd.DataFrame":
        """Return one table of all responses, one row each, the response's name first.

        ``table``: as of ``ResponseResult.to_frame``.

        Raises
        ------
        KeyError
            Naming the tables there are.
        """
        import pandas as pd

        frames = []
        for response in self.responses:
            frame = response.to_frame(table)
            if len(frame):
                frame.insert(0, "response", response.name)
                frames.append(frame)
        if not frames:
            return pd.DataFrame(columns=["response"])
        columns = dict.fromkeys(name for frame in frames for name in frame.columns)
        rows = [row for frame in frames for row in frame.to_dict("records")]
        return pd.DataFrame(rows, columns=list(columns))

    def response(self, name: str) -> ResponseResult:
        """Return the response of that name.

        Raises
        ------
        KeyError
            Naming the responses there are.
        """
        for response in self.responses:
            if response.name == name:
                return response
        raise KeyError(f"no response {name!r}; there are {[r.name for r in self.responses]}")
