"""Flow through a piece of cord: one number a piece from volumes over time.

    flow       60 times the least-squares slope of volume on minutes, mL/h, less what the
               controls of the run lost (evaporation), times mu(T)/mu(20 degC) where asked
    change     slope of the logarithm of the flow between readings on time, per day (per hour
               where no piece was read for a day): below zero a cord that clogs
    by head    least-squares slope of flow on head where a piece was read at several, for
               each 100 mm

A piece read in several runs at the head asked for has their mean. Leans on readings and
core.capillary.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.summaries.readings import Series, line_slope
from wickstats.core.capillary import to_reference
from wickstats.core.words import say

CORRECTED = "to 20 degC"
DAY_MIN, HOUR_MIN = 1440.0, 60.0
FEWEST_RATES = 3
SAME_HEAD = 0.5  # mm


@dataclass(frozen=True, slots=True)
class Flow:
    """One series' flow, mL/h, and what was done to it."""

    value: float | None
    evaporation: float | None = None
    factor: float | None = None
    reason: str | None = None


def evaporation_of(controls: list[Series]) -> tuple[dict[str, float], float | None]:
    """mL/h lost by the controls of each run, and over all runs."""
    found: dict[str, list[float]] = {}
    for cup in controls:
        known = np.isfinite(cup.volume_ml)
        slope = line_slope(cup.minutes[known], cup.volume_ml[known])
        if slope is not None:
            found.setdefault(cup.run, []).append(60.0 * slope)
    by_run = {run: float(np.mean(rates)) for run, rates in found.items()}
    return by_run, float(np.mean(list(by_run.values()))) if by_run else None


def measure_flow(
    series: Series, evaporation: float | None, *, corrected: bool, head_mm: float | None
) -> Flow:
    """Reduce one series to a flow."""
    if series.heads.size > 1:
        return Flow(None, reason=say("flow mixed heads"))
    head = series.head_mm
    if head_mm is not None and head is not None and abs(head - head_mm) > SAME_HEAD:
        told = {"head": f"{head:g}", "asked": f"{head_mm:g}"}
        return Flow(None, reason=say("flow other head", **told))
    known = np.isfinite(series.volume_ml)
    slope = line_slope(series.minutes[known], series.volume_ml[known])
    if slope is None:
        return Flow(None, reason=say("flow nothing read"))
    factor = None
    if corrected:
        if series.temperature_c is None:
            return Flow(None, evaporation, reason=say("flow no temperature"))
        factor = to_reference(series.temperature_c)
    value = (60.0 * slope - (evaporation or 0.0)) * (factor or 1.0)
    return Flow(value, evaporation, factor)


def change_per_minute(series: Series, evaporation: float | None) -> float | None:
    """Relative change of the flow, 1/min; None with fewer than three rates above zero."""
    known = np.isfinite(series.volume_ml)
    minutes, volume = series.minutes[known], series.volume_ml[known]
    if minutes.size and minutes[0] > 0.0:
        minutes = np.concatenate([[0.0], minutes])
        volume = np.concatenate([[0.0], volume])
    if minutes.size < FEWEST_RATES + 1:
        return None
    rates = 60.0 * np.diff(volume) / np.diff(minutes) - (evaporation or 0.0)
    if (rates <= 0.0).any():
        return None
    middle = (minutes[1:] + minutes[:-1]) / 2.0
    return line_slope(middle, np.log(rates))
