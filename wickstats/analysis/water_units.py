"""The ledger's lines as results: every unit's water, a plant, a day, between visits.

Leans on units, records.season and core.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from wickstats.analysis.units import Units
from wickstats.core.results import DryPeriod, WaterUnit
from wickstats.core.water import UnitLedger, WaterPeriod, WaterPlot
from wickstats.core.words import say
from wickstats.records.season import Season

Line = Mapping[Any, Any]


def water_rows(season: Season, units: Units) -> tuple[WaterUnit, ...]:
    """Liters of each unit with its dry periods; empty without a ledger."""
    frame = season.ledger
    if frame is None or frame.empty:
        return ()
    known = {str(line["unit"]): line for line in frame.to_dict("records")}
    periods, plots = _periods(season), _plots(season)
    out = []
    for j, unit in enumerate(units.names):
        line = known.get(unit)
        if line is None:
            continue
        delivered = _number(line, "delivered_l")
        shared = plots.get(unit, ()) if len(units.plots[j]) > 1 else ()
        gone = all(plot in season.lost_plots for plot in units.plots[j])
        out.append(
            WaterUnit(
                unit=unit,
                treatment=units.cell_names[int(units.cells[j])],
                planned_l=_number(line, "planned_l"),
                applied_l=_number(line, "applied_l"),
                delivered_l=delivered,
                low=_number(line, "delivered_low_l"),
                high=_number(line, "delivered_high_l"),
                dry=tuple(DryPeriod(*period) for period in season.dry.get(unit, ())),
                not_estimable=_note(line) if delivered is None else None,
                ledger=_ledger(line, shared, periods.get(unit, ()), gone=gone),
            )
        )
    return tuple(out)


def _ledger(
    line: Line,
    plots: tuple[WaterPlot, ...],
    periods: tuple[WaterPeriod, ...],
    *,
    gone: bool,
) -> UnitLedger | None:
    if "rain_l" not in line:
        return None  # a ledger made elsewhere
    plants, days = _number(line, "plants"), _number(line, "days")
    delivered = _number(line, "delivered_l")
    per_plant = _over(delivered, plants)
    note = line.get("note")
    told = [note] if isinstance(note, str) and note else []
    if gone and delivered is not None:
        told.append(say("water until lost"))
    return UnitLedger(
        rain_l=_number(line, "rain_l"),
        stored_change_l=_number(line, "stored_change_l"),
        leaked_l=_number(line, "leaked_l"),
        left_l=_number(line, "left_l"),
        by_can_l=_number(line, "by_can_l"),
        by_meter_l=_number(line, "by_meter_l"),
        refills=int(line["refills"]),
        plants=None if plants is None else int(plants),
        days=days,
        per_plant_l=per_plant,
        per_plant_low=_over(_number(line, "delivered_low_l"), plants),
        per_plant_high=_over(_number(line, "delivered_high_l"), plants),
        per_day_l=_over(delivered, days),
        per_plant_and_day_l=_over(per_plant, days),
        note="; ".join(told) or None,
        plots=plots,
        periods=periods,
    )


def _over(value: float | None, by: float | None) -> float | None:
    return None if value is None or not by else value / by


def _periods(season: Season) -> dict[str, tuple[WaterPeriod, ...]]:
    frame = season.water_periods
    if frame is None or frame.empty:
        return {}
    since, to = _days(frame["from"]), _days(frame["to"])
    out: dict[str, list[WaterPeriod]] = {}
    columns = [frame[c].tolist() for c in ("unit", "vessel", "lost_l", "days", "rain_l", "by")]
    for a, b, unit, vessel, lost, days, rain, by in zip(since, to, *columns, strict=True):
        out.setdefault(str(unit), []).append(
            WaterPeriod(
                vessel=str(vessel),
                since=a,
                to=b,
                lost_l=float(lost),
                per_day_l=float(lost) / float(days),
                rain_l=float(rain),
                by=str(by),
            )
        )
    return {unit: tuple(rows) for unit, rows in out.items()}


def _days(column: "pd.Series[Any]") -> list[str]:
    days: list[str] = column.to_numpy().astype("datetime64[D]").astype(str).tolist()
    return days


def _plots(season: Season) -> dict[str, tuple[WaterPlot, ...]]:
    frame = season.ledger_by_plot
    if frame is None or frame.empty:
        return {}
    out: dict[str, list[WaterPlot]] = {}
    for line in frame.to_dict("records"):
        out.setdefault(str(line["unit"]), []).append(
            WaterPlot(
                plot=str(line["plot"]),
                share=float(line["share"]),
                planned_l=_number(line, "planned_l"),
                applied_l=_number(line, "applied_l"),
                delivered_l=_number(line, "delivered_l"),
            )
        )
    return {unit: tuple(rows) for unit, rows in out.items()}


def _number(line: Line, column: str) -> float | None:
    value = line.get(column)
    return None if value is None or not np.isfinite(float(value)) else float(value)


def _note(line: Line) -> str:
    note = line.get("note")
    given = isinstance(note, str) and note
    return str(note) if given else say("water unknown", which="delivered")
