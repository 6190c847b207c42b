"""What is read at the bench: height of the wet front, volume delivered.

Height rises with the root of time (Washburn 1921) through the height drawn for the minute
that the response asks for, and stops at the top of the piece; volume grows evenly at the
rate drawn. Leans on ``one``.
"""

import re

import numpy as np

from wickstats.design.trial import Response
from wickstats.layout.plots import Plot
from wickstats.simulate.one import NEVER, OneSeason
from wickstats.simulate.sheets import Cell, Row

HEADS = (
    *("run", "plot", "minutes", "height_mm", "reached_top", "volume_ml"),
    *("head_mm", "temperature_c", "note"),
)
EVAPORATED = 0.05  # mL an hour, of every cup
MINUTES = (1, 2, 5, 10, 20, 30, 60, 120)
_AT = re.compile(r"height at (\d+(?:\.\d+)?) min")


def write_readings(season: OneSeason, note: str) -> list[Row]:
    """Rows of the readings, by piece and minute."""
    trial = season.model.trial
    rise = next((r for r in trial.responses if r.kind == "rise"), None)
    flow = next((r for r in trial.responses if r.kind == "flow"), None)
    found = re.fullmatch(_AT, (rise.measure or "") if rise else "")
    at = float(found.group(1)) if found else 60.0
    minutes = sorted({*map(float, MINUTES), at})
    rows: list[Row] = []
    for unit, plots in enumerate(season.model.places.members):
        if season.unit_lost[unit] < NEVER:
            continue
        rng = season.stream(f"readings of unit {unit}")
        for plot in plots:
            run = _run_of(plot)
            for minute in minutes:
                error = season.model.crew.reading_cv * rng.standard_normal(2)
                height, top = _height(season, rise, unit, minute / at, float(error[0]))
                volume = _volume(season, flow, unit, minute, float(error[1]))
                head = flow.head_mm if flow is not None else None
                rows.append((run, plot.plot, minute, height, top, volume, head, 20.0, note))
    if flow is not None:
        rows.extend(_controls(season, minutes, note))
    return rows


def _run_of(plot: Plot) -> str:
    return plot.run or plot.block or "1"


def _controls(season: OneSeason, minutes: list[float], note: str) -> list[Row]:
    """Cups without a cord lose a little: what evaporates is in every volume."""
    rng = season.stream("controls")
    cups = season.model.trial.design.evaporation_controls or 0
    runs = dict.fromkeys(_run_of(plot) for plot in season.model.places.layout.plots)
    rows: list[Row] = []
    for run in runs:
        for cup in range(1, cups + 1):
            rate = EVAPORATED * float(np.exp(0.1 * rng.standard_normal()))
            for minute in minutes:
                lost = round(rate * minute / 60.0, 2)
                rows.append((run, f"control {cup}", minute, None, None, lost, None, None, note))
    return rows


def _height(
    season: OneSeason, rise: Response | None, unit: int, part: float, error: float
) -> tuple[Cell, Cell]:
    if rise is None or rise.name not in season.sizes:
        return None, None
    drawn = float(season.sizes[rise.name][unit])
    height = max(drawn, 0.0) * float(np.sqrt(part)) * float(np.exp(error))
    if rise.top_mm is not None and height >= rise.top_mm:
        return rise.top_mm, "TRUE"
    return round(height, 1), "FALSE"


def _volume(
    season: OneSeason, flow: Response | None, unit: int, minute: float, error: float
) -> Cell:
    if flow is None or flow.name not in season.sizes:
        return None
    per_hour = max(float(season.sizes[flow.name][unit]), 0.0)
    cups = season.model.trial.design.evaporation_controls
    evaporated = EVAPORATED if cups else 0.0
    return round((per_hour * float(np.exp(error)) + evaporated) * minute / 60.0, 2)
