"""Result types of bench trials: every piece's readings, and how pieces differ.

They stand in results.json under ``bench`` of a rise or flow and are left out elsewhere.
Leans on nothing.
"""

from dataclasses import dataclass

Number = float | None


@dataclass(frozen=True, slots=True)
class BenchReading:
    """One reading as used: minutes from the start, height in mm or volume in mL."""

    minutes: float
    value: float


@dataclass(frozen=True, slots=True)
class BenchPiece:
    """One piece in one run.

    ``value`` on the reported scale; ``at_least``: the water stood at the top, the true value
    is no smaller; ``reached_top``: it stood there by the last reading.
    ``evaporation_ml_h`` was taken off; ``flow_factor`` turned the flow to
    20 degC.
    """

    piece: str
    coil: str | None
    run: str
    treatment: str
    value: Number
    at_least: bool
    reached_top: bool
    head_mm: Number
    temperature_c: Number
    evaporation_ml_h: Number
    flow_factor: Number
    readings: tuple[BenchReading, ...]
    reason: str | None


@dataclass(frozen=True, slots=True)
class BenchSpread:
    """Pieces of one treatment: mean, and what nine of ten further pieces stay below."""

    treatment: str
    pieces: int
    coils: int
    at_top: int
    mean: Number
    nine_in_ten_below: Number


@dataclass(frozen=True, slots=True)
class Bench:
    """What stands beside a rise or flow.

    ``piece_cv, low, high``: coefficient of variation between pieces of one treatment (runs,
    and coils where they were cut more than once, taken out) with its interval; ``df`` behind
    it. Volumes and flows in mL and mL/h.
    """

    quantity: str  # height | volume
    measured_in: str
    pieces: tuple[BenchPiece, ...]
    spread: tuple[BenchSpread, ...]
    piece_cv: Number
    piece_cv_low: Number
    piece_cv_high: Number
    df: int
    spread_not_estimable: str | None
    notes: tuple[str, ...]
