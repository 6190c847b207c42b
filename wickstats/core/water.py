"""Result types of water, yield and place: the ledger of a unit, equal water, productivity.

Each stands in results.json under the field that holds it and is left out where a season has
none. Leans on nothing.
"""

from dataclasses import dataclass, field

Number = float | None


@dataclass(frozen=True, slots=True)
class WaterPlot:
    """A shared reservoir's water told to one of its plots by the stated rule."""

    plot: str
    share: float
    planned_l: Number
    applied_l: Number
    delivered_l: Number


@dataclass(frozen=True, slots=True)
class WaterPeriod:
    """What left one reservoir (or ran through one meter) between two visits."""

    vessel: str
    since: str = field(metadata={"key": "from"})
    to: str
    lost_l: float
    per_day_l: float
    rain_l: float
    by: str  # levels | meter


@dataclass(frozen=True, slots=True)
class UnitLedger:
    """How a unit's delivered water came about, and what it is a plant and a day.

    delivered = applied + rain - stored change - leaked; ``left_l`` stands in the reservoir
    at the end. A day's water is that of the season's ``days``.
    """

    rain_l: Number
    stored_change_l: Number
    leaked_l: Number
    left_l: Number
    by_can_l: Number
    by_meter_l: Number
    refills: int
    plants: int | None
    days: Number
    per_plant_l: Number
    per_plant_low: Number
    per_plant_high: Number
    per_day_l: Number
    per_plant_and_day_l: Number
    note: str | None
    plots: tuple[WaterPlot, ...]
    periods: tuple[WaterPeriod, ...]


@dataclass(frozen=True, slots=True)
class EqualWaterRow:
    """One treatment's water against what it is set against, as ratios at 90 % confidence.

    ``claimed`` where it is the plan's claim; the other rows stand beside it. ``attainable``
    is the factor of the interval's half-width: above ``bound`` no season like this one could
    have shown equality.
    """

    treatment: str
    against: str  # planned, or a treatment
    claimed: bool
    ratio: Number
    low: Number
    high: Number
    df: Number
    p: Number
    bound: Number
    attainable: Number
    could_show: bool | None
    equal: bool | None
    n_units: int
    sentence: str
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class EqualWaterResult:
    """Whether the water was equal, and what its supply does to the reading of yields."""

    bound: Number
    against: str | None
    rows: tuple[EqualWaterRow, ...]
    reading: str


@dataclass(frozen=True, slots=True)
class ProductivityUnit:
    """One unit's yield, water and yield per liter, per plot and season."""

    unit: str
    block: str | None
    treatment: str
    yield_total: Number
    water_l: Number
    per_liter: Number
    per_cubic_meter: Number


@dataclass(frozen=True, slots=True)
class ProductivityArm:
    """A treatment's sums over its units that have both, divided."""

    treatment: str
    n_units: int
    yield_mean: Number
    water_mean_l: Number
    per_liter: Number
    per_cubic_meter: Number


@dataclass(frozen=True, slots=True)
class Productivity:
    """Yield, water and ratio side by side; ``yield_in`` kg: per cubic meter in kg/m3."""

    yield_of: str
    denominator: str
    yield_in: str
    units: tuple[ProductivityUnit, ...]
    arms: tuple[ProductivityArm, ...]


@dataclass(frozen=True, slots=True)
class PickRow:
    """One treatment's pick: plots picked, with nothing ripe and not picked; means a plot."""

    treatment: str
    pick: str
    first: str | None
    last: str | None
    picked: int
    nothing_ripe: int
    not_picked: int
    mean: Number
    share_of_season: Number


@dataclass(frozen=True, slots=True)
class PickedCounts:
    """Fruits a unit and season by treatment; ``dispersion`` is variance over mean."""

    treatment: str
    n_units: int
    mean: Number
    variance: Number
    dispersion: Number


@dataclass(frozen=True, slots=True)
class LineSlope:
    """One line: how its plants' values change with each place further along it.

    ``ratio`` is the factor a place; ``last_to_first`` what it comes to over the line;
    ``least`` the plant with the least.
    """

    unit: str
    plot: str
    treatment: str
    block: str | None
    plants: int
    first: Number
    last: Number
    ratio: Number
    last_to_first: Number
    least: str | None
    least_position: Number
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class AlongArm:
    """A treatment's lines: the mean factor a place, from one number a unit."""

    treatment: str
    n_units: int
    n_lines: int
    ratio: Number
    se: Number
    df: Number
    low: Number
    high: Number
    p: Number
    last_to_first: Number
    least_position: Number
    sentence: str
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class AlongLine:
    """The fall along lines on which several plants hang (logarithm of ``measured_in``)."""

    measured_in: str
    lines: tuple[LineSlope, ...]
    arms: tuple[AlongArm, ...]
    notes: tuple[str, ...]
