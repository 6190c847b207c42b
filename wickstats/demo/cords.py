"""The bench's five cords: heights of the wet front and water delivered, piece by piece.

Model: a piece's rise and flow are the cord's, times a coil's and a piece's part. Height grows
with the root of time through the height at an hour and stops at the top; flow falls by a
share a day (algae, or air that thins in a sealed reservoir) and with the viscosity of its
water; what a cup without a cord loses evaporates everywhere. Leans on draws and capillary.
"""

import math
from collections.abc import Sequence
from typing import Any

from wickstats.core.capillary import to_reference
from wickstats.demo.draws import Draws
from wickstats.demo.oaks import Truth
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import Cell

READING_HEAD = (
    *("run", "plot", "minutes", "height_mm", "reached_top", "volume_ml"),
    *("head_mm", "vented", "temperature_c", "note"),
)
TOP_MM = 200.0
HEADS = {"over a rim": -30, "vented": 2000, "sealed": 2000}
Row = tuple[Cell, ...]


def reading_rows(plots: Sequence[Plot], truth: Truth) -> list[Row]:
    """Rows of the table of readings, run by run in walking order, controls last."""
    rows: list[Row] = []
    for run in dict.fromkeys(str(p.run) for p in plots):
        mine = [p for p in plots if p.run == run]
        for number, plot in enumerate(mine, start=1):
            rows += _piece(plot, number, truth)
        for cup in (1, 2):
            rows += _control(run, cup, truth)
    return rows


def _piece(plot: Plot, number: int, truth: Truth) -> list[Row]:
    seed, cord, setting = truth["seed"], plot.levels["cord"], plot.levels["setting"]
    of = truth["cords"][cord]
    coil = Draws(seed, f"coil {plot.coil}")
    draws = Draws(seed, f"piece {plot.run} {number}")
    warm = truth["run_c"][str(plot.run)] + draws.normal(truth["piece_c"])
    hour = of["rise_mm"] * coil.spread(truth["coil_rise_cv"])
    hour *= draws.spread(truth["piece_rise_cv"])
    per_hour = of[setting] * coil.spread(truth["coil_cv"]) * draws.spread(truth["piece_cv"])
    per_hour /= to_reference(warm)
    told = round(warm, 1)
    rows = _heights(plot, number, hour, told, draws, truth)
    return rows + _volumes(plot, number, per_hour, told, draws, truth)


def _heights(
    plot: Plot, number: int, hour: float, warm: float, draws: Draws, truth: Truth
) -> list[Row]:
    misread = truth["mess"]["misread"]
    rows: list[Row] = []
    for minute in truth["height_min"]:
        height = hour * math.sqrt(minute / 60.0) * draws.spread(truth["reading_cv"])
        top = height >= TOP_MM
        if _here(plot, number, misread) and minute == misread["minute"]:
            height -= misread["falls_mm"] + hour * (math.sqrt(2 / 3) - math.sqrt(1 / 3))
        shown = TOP_MM if top else round(height)
        flag = "yes" if top else "no"
        rows.append((plot.run, plot.plot, minute, shown, flag, None, None, None, warm, None))
        if top:
            break
    return rows


def _volumes(
    plot: Plot, number: int, per_hour: float, warm: float, draws: Draws, truth: Truth
) -> list[Row]:
    setting, mess = plot.levels["setting"], truth["mess"]
    falls, lost = truth["falls_per_day"][setting], truth["evaporation_ml_h"]
    vented = None if setting == "over a rim" else ("yes" if setting == "vented" else "no")
    rows: list[Row] = []
    for minute in truth["volume_min"]:
        if _here(plot, number, mess["spilled"]) and minute >= mess["spilled"]["from_min"]:
            note = "cup knocked over, not read again"
            rows[-1] = (*rows[-1][:-1], note)
            break
        days = minute / 1440.0
        volume = per_hour * 24.0 * (1.0 - math.exp(-falls * days)) / falls
        volume = volume * draws.spread(truth["reading_cv"] / 2) + lost * minute / 60.0
        told: Any = warm
        if _here(plot, number, mess["warm"]) and minute == truth["volume_min"][0]:
            told = mess["warm"]["temperature_c"]  # the point of 20.5 was left out
        shown = round(volume, 1 if volume < 1000 else 0)
        if rows and shown < float(str(rows[-1][5])):
            shown = float(str(rows[-1][5]))
        head = HEADS[setting]
        rows.append((plot.run, plot.plot, minute, None, None, shown, head, vented, told, None))
    return rows


def _control(run: str, cup: int, truth: Truth) -> list[Row]:
    draws = Draws(truth["seed"], f"control {run} {cup}")
    lost = truth["evaporation_ml_h"] * draws.spread(0.08)
    return [
        (run, f"control {cup}", m, None, None, round(lost * m / 60.0, 1), *[None] * 3, None)
        for m in truth["volume_min"]
    ]


def _here(plot: Plot, number: int, what: dict[str, Any]) -> bool:
    return bool(plot.run == what["run"] and number == what["number"])
