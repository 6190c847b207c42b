"""The water ledger: planned, applied and delivered, one line a unit.

    delivered = applied + rain caught - stored change - leaked

applied: the sum of what was given. Rain: what fell on a reservoir's catching area. Stored
change: what the reservoir held when it was last seen, less what it held before the first
refill. Leaked: what was noted as lost.

low and high hold this unit's own delivered water: a can or meter that reads p percent wrong
does so every time, so it moves applied by that share (added as it stands, a bound); the
reading of levels and refills adds its scatter (normal quantile). A leak without an amount,
two logs of one day and rain that may have run over make delivered an upper limit; low then
takes off the largest loss that the records allow. Between units the error of reading is
already in their scatter and is not added again (analysis). Leans on unit_water,
vessels, rain, numpy and pandas.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from wickstats.design.defaults import value_for
from wickstats.design.trial import Trial
from wickstats.records.ground import Ground
from wickstats.records.rain import Rain, rain_on_reservoirs
from wickstats.records.unit_water import (
    AMOUNTS_L,
    Errors,
    unit_line,
    unmeasured_leaks,
    untold,
    with_doubts,
    without_levels,
)
from wickstats.records.vessels import in_time, reading_error, water_periods
from wickstats.records.water_losses import Loss, doubtful_losses

UNIT_COLUMNS = (
    "unit",
    "treatment",
    "planned_l",
    *AMOUNTS_L,
    "refills",
    "plants",
    "days",
    "doubtful_l",
    "note",
)


@dataclass(frozen=True, slots=True, eq=False)
class Ledger:
    """All of the water.

    Attributes
    ----------
    units
        One row a unit (``UNIT_COLUMNS``), NaN where not known; the note then says why.
    plots
        The same told to plots by the trial's stated rule.
    periods
        One row a vessel and time between two visits (``vessels.PERIOD_COLUMNS``).
    losses
        Losses that look like leaks or blocked wicks.
    can_within, meter_within
        Shares by which every can and meter may read wrong, every time.
    """

    units: pd.DataFrame
    plots: pd.DataFrame
    periods: pd.DataFrame
    losses: tuple[Loss, ...]
    can_within: float
    meter_within: float


def planned_liters(levels: Mapping[str, str], trial: Trial) -> float | None:
    """Planned liters of a plot, by its treatment or by one of its levels."""
    if trial.water is None:
        return None
    return value_for(trial.water.planned_l, levels)


def water_ledger(
    water: pd.DataFrame,
    events: pd.DataFrame | None,
    weather: pd.DataFrame | None,
    incomplete: Mapping[str, str],
    ground: Ground,
) -> Ledger:
    """Ledger by unit, the same told to plots, and what left every vessel between visits.

    Parameters
    ----------
    water
        Checked rows with ``unit``, ``given_l``, ``instrument`` and ``twice_l``.
    weather
        Checked rows, for the rain.
    incomplete
        Units whose sums are not known, and why.
    """
    unit_of = ground.layout.unit_of
    plots_of: dict[str, list[Any]] = {}
    for plot in ground.layout.plots:
        plots_of.setdefault(unit_of[plot.plot], []).append(plot)
    by_unit = dict(list(in_time(water).groupby("unit", sort=False)))
    leaks = unmeasured_leaks(events, ground)
    errors = _errors(water, rain_on_reservoirs(weather, water, ground), ground)
    planted, days = ground.planted(), _season_days(water, ground)
    known = {unit: by_unit[unit] for unit in plots_of if unit in by_unit}
    periods = water_periods(known, errors.rain, _unusable(ground))
    losses = doubtful_losses(periods, events, ground)
    rows = []
    for unit, plots in plots_of.items():
        planned = [planned_liters(p.levels, ground.trial) for p in plots]
        total = None if None in planned else float(sum(p for p in planned if p is not None))
        line = unit_line(by_unit.get(unit), total, leaks.get(unit, []), errors)
        if unit in incomplete:
            line = untold(incomplete[unit], by_unit.get(unit))
        if any(p.reservoir for p in plots) and unit in by_unit and unit not in incomplete:
            line = without_levels(line, by_unit[unit], errors.holds)
        line = with_doubts(line, [loss for loss in losses if loss.unit == unit])
        plants = [planted.get(p.plot) for p in plots]
        rows.append(
            {
                "unit": unit,
                "treatment": plots[0].treatment,
                "planned_l": np.nan if total is None else total,
                "plants": np.nan if None in plants else float(sum(n or 0 for n in plants)),
                "days": days,
                **line,
            }
        )
    ledger = pd.DataFrame(rows, columns=list(UNIT_COLUMNS))
    by_plot = _by_plot(ledger, plots_of, ground)
    return Ledger(ledger, by_plot, periods, losses, errors.can, errors.meter)


def _unusable(ground: Ground) -> float:
    water = ground.trial.water
    return 0.0 if water is None else water.reservoirs.unusable_l or 0.0


def _errors(water: pd.DataFrame, rain: Rain | None, ground: Ground) -> Errors:
    told, plan = ground.trial.water, ground.trial.plan
    confidence = 0.95 if plan is None else plan.confidence
    return Errors(
        can=0.0 if told is None else (told.can_within_percent or 0.0) / 100.0,
        meter=0.0 if told is None else (told.meter_within_percent or 0.0) / 100.0,
        reading=reading_error(water),
        quantile=float(ndtri(0.5 + 0.5 * confidence)),
        rain=rain,
        holds=None if told is None else told.reservoirs.holds_l,
        rain_untold=rain is None and told is not None and bool(told.rain_catch_m2),
    )


def _season_days(water: pd.DataFrame, ground: Ground) -> float:
    """Days of the season, else from the first to the last record of water; NaT as unknown."""
    first, last = ground.season_start, ground.season_end
    if np.isnat(first) or np.isnat(last):
        days = water["date"].to_numpy()
        if not len(days):
            return float("nan")
        first, last = days.min(), days.max()
    count = float((last - first) / np.timedelta64(1, "D"))
    return count if count > 0 else float("nan")


def _by_plot(
    ledger: pd.DataFrame, plots_of: Mapping[str, list[Any]], ground: Ground
) -> pd.DataFrame:
    """A shared reservoir's water told to its plots by plants, or equally."""
    water = ground.trial.water
    planted = ground.planted()
    equally = water is not None and water.shared == "equally"
    rows = []
    for line in ledger.to_dict("records"):
        plots = plots_of[line["unit"]]
        weights = np.asarray([float(planted.get(p.plot, 0)) for p in plots])
        if equally or (weights == 0).any():
            weights = np.ones(len(plots))
        for plot, share in zip(plots, weights / weights.sum(), strict=True):
            planned = planned_liters(plot.levels, ground.trial)
            rows.append(
                {
                    "plot": plot.plot,
                    "unit": line["unit"],
                    "treatment": plot.treatment,
                    "share": float(share),
                    "planned_l": np.nan if planned is None else planned,
                    **{
                        name: line[name] * share
                        for name in (
                            "applied_l",
                            "delivered_l",
                            "delivered_low_l",
                            "delivered_high_l",
                        )
                    },
                }
            )
    return pd.DataFrame(rows)
