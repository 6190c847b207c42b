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
already in their scatter and is not added again (analysis). Leans on vessels, rain, numpy
and pandas.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from wickstats.design.trial import Trial
from wickstats.layout.plots import TREATMENT_JOIN
from wickstats.records.ground import Ground, day
from wickstats.records.rain import Rain, rain_on_reservoirs
from wickstats.records.vessels import (
    Reading,
    has_levels,
    in_time,
    levels_at,
    ordered_vessels,
    reading_error,
    water_periods,
)
from wickstats.records.water_losses import Loss, doubtful_losses

AMOUNTS_L = (
    "applied_l",
    "delivered_l",
    "delivered_low_l",
    "delivered_high_l",
    "stored_change_l",
    "leaked_l",
    "rain_l",
    "left_l",
    "by_can_l",
    "by_meter_l",
)
UNIT_COLUMNS = (
    "unit",
    "treatment",
    "planned_l",
    "applied_l",
    "delivered_l",
    "delivered_low_l",
    "delivered_high_l",
    "stored_change_l",
    "leaked_l",
    "rain_l",
    "left_l",
    "by_can_l",
    "by_meter_l",
    "refills",
    "plants",
    "days",
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
    """

    units: pd.DataFrame
    plots: pd.DataFrame
    periods: pd.DataFrame
    losses: tuple[Loss, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """What every unit's line shares: how well water was measured, and rain."""

    can: float  # shares
    meter: float
    reading: Reading
    quantile: float
    rain: Rain | None
    holds: float | None


def planned_liters(levels: Mapping[str, str], trial: Trial) -> float | None:
    """Planned liters of a plot, by its treatment or by one of its levels."""
    if trial.water is None:
        return None
    planned = trial.water.planned_l
    for name in (TREATMENT_JOIN.join(levels.values()), *levels.values()):
        if name in planned:
            return planned[name]
    return None


def water_ledger(
    water: pd.DataFrame,
    events: pd.DataFrame | None,
    weather: pd.DataFrame | None,
    incomplete: frozenset[str],
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
        Units whose conflicting rows were left out: their sums are not known.
    """
    unit_of = ground.layout.unit_of
    plots_of: dict[str, list[Any]] = {}
    for plot in ground.layout.plots:
        plots_of.setdefault(unit_of[plot.plot], []).append(plot)
    by_unit = dict(list(in_time(water).groupby("unit", sort=False)))
    leaks = _unmeasured_leaks(events, ground)
    errors = _errors(water, rain_on_reservoirs(weather, ground), ground)
    planted, days = ground.planted(), _season_days(water, ground)
    known = {unit: by_unit[unit] for unit in plots_of if unit in by_unit}
    periods = water_periods(known, errors.rain, _unusable(ground))
    losses = doubtful_losses(periods, events, ground)
    rows = []
    for unit, plots in plots_of.items():
        planned = [planned_liters(p.levels, ground.trial) for p in plots]
        total = None if None in planned else float(sum(p for p in planned if p is not None))
        line = _line(by_unit.get(unit), total, leaks.get(unit, []), errors)
        if unit in incomplete:
            line = {**_unknown("rows that contradict each other were left out"), "refills": 0}
        if any(p.reservoir for p in plots) and unit in by_unit and unit not in incomplete:
            line = _without_levels(line, by_unit[unit], errors.holds)
        line = _with_doubts(line, [loss for loss in losses if loss.unit == unit])
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
    return Ledger(ledger, _by_plot(ledger, plots_of, ground), periods, losses)


def _with_doubts(line: dict[str, Any], losses: list[Loss]) -> dict[str, Any]:
    """What may have leaked unseen comes off the lower limit."""
    extra = sum(loss.extra_l for loss in losses)
    if extra <= 0.0:
        return line
    days = ", ".join(f"{loss.since} to {loss.to}" for loss in losses if loss.extra_l > 0.0)
    note = f"a loss that looks like a leak ({days}): delivered is an upper limit"
    return {
        **line,
        "delivered_low_l": max(line["delivered_low_l"] - extra, 0.0),
        "note": "; ".join(filter(None, (line["note"], note))),
    }


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


def _unknown(note: str) -> dict[str, Any]:
    return {**dict.fromkeys(AMOUNTS_L, np.nan), "refills": 0, "note": note}


def _line(
    rows: pd.DataFrame | None, planned: float | None, leaks: list[Any], errors: Errors
) -> dict[str, Any]:
    if rows is None:
        if planned == 0:
            return {**dict.fromkeys(AMOUNTS_L, 0.0), "refills": 0, "note": None}
        return _unknown("no water rows")
    given, instrument = rows["given_l"].to_numpy(), rows["instrument"].to_numpy()
    applied = float(np.nansum(given))
    by_can = float(np.nansum(given[instrument == "can"]))
    by_meter = float(np.nansum(given[instrument == "meter"]))
    leaked = float(np.nansum(rows["leaked_l"].to_numpy()))
    stored = _stored(rows, errors)
    delivered = applied + stored.rain - stored.change - leaked
    shared = errors.can * by_can + errors.meter * by_meter
    scatter = errors.quantile * float(np.sqrt(stored.variance))
    low, high = delivered - shared - scatter, delivered + shared + scatter
    notes = list(stored.notes)
    noted = rows["leaked_l"].notna().to_numpy()
    for when in sorted(leaks):
        if noted[(rows["date"] >= when).to_numpy()].any():
            continue  # the visit after it told how much
        low -= _largest_loss(rows, when)
        notes.append(f"a leak without an amount on {day(when)}: delivered is an upper limit")
    twice = float(np.nansum(rows["twice_l"].to_numpy()))
    if twice > 0.0:
        low -= twice
        notes.append("two logs of the same days: delivered is an upper limit")
    if stored.over > 0.0:
        low -= stored.over
        notes.append("rain may have run over: delivered is an upper limit")
    return {
        "applied_l": applied,
        "delivered_l": delivered,
        "delivered_low_l": max(low, 0.0),
        "delivered_high_l": max(high, 0.0),
        "stored_change_l": stored.change,
        "leaked_l": leaked,
        "rain_l": stored.rain,
        "left_l": stored.left,
        "by_can_l": by_can,
        "by_meter_l": by_meter,
        "refills": int(np.sum(given > 0)),
        "note": "; ".join(dict.fromkeys(notes)) or None,
    }


@dataclass(frozen=True, slots=True)
class _Stored:
    """What a unit's vessels kept, caught and may have spilled; variance of delivered."""

    change: float = 0.0
    left: float = 0.0
    rain: float = 0.0
    over: float = 0.0
    variance: float = 0.0
    notes: tuple[str, ...] = ()


def _stored(rows: pd.DataFrame, errors: Errors) -> _Stored:
    """Over all vessels with levels: the last level less the first, rain, error of reading."""
    change = left = caught = over = variance = 0.0
    notes: list[str] = []
    for group in ordered_vessels(rows):
        if not has_levels(group):
            continue
        opening, closing = levels_at(group)
        if np.isnan(opening[0]) or np.isnan(closing[-1]):
            notes.append("the first or the last visit has no level; the nearest one is taken")
        opened, closed = opening[~np.isnan(opening)], closing[~np.isnan(closing)]
        if not len(opened) or not len(closed):
            continue
        change += float(closed[-1] - opened[0])
        left += float(closed[-1])
        variance += _variance(group, (opened[0], closed[-1]), errors.reading)
        if errors.rain is not None:
            days = group["date"].to_numpy().astype("datetime64[D]")
            fallen, unknown = errors.rain.between(days[:-1], days[1:])
            caught += float(fallen.sum())
            if unknown.sum() > 0:
                notes.append(f"rain not known on {int(unknown.sum())} days: counted as none")
            if errors.holds is not None:
                over += float(np.nansum(np.maximum(closing[:-1] + fallen - errors.holds, 0.0)))
    return _Stored(change, left, caught, min(over, caught), variance, tuple(notes))


def _variance(group: pd.DataFrame, ends: tuple[float, float], reading: Reading) -> float:
    """Of one vessel's delivered water by reading: first and last level, every refill.

    Levels in between cancel, unless the water given is itself told by two levels. An empty
    reservoir is seen without error.
    """
    level = reading.level_l**2
    own = sum(level for value in ends if value > 0.0)
    told = (group["instrument"] == "levels").to_numpy()
    refills = (group["instrument"] == "can").to_numpy() & (group["given_l"] > 0).to_numpy()
    return own + 2.0 * level * int(told.sum()) + reading.refill_l**2 * int(refills.sum())


def _without_levels(
    line: dict[str, Any], rows: pd.DataFrame, holds: float | None
) -> dict[str, Any]:
    """A reservoir whose level was never noted may still be full, or have been empty."""
    if has_levels(rows):
        return line
    line = dict(line, delivered_l=np.nan, stored_change_l=np.nan, left_l=np.nan)
    if holds is None:
        line.update(delivered_low_l=np.nan, delivered_high_l=np.nan)
    else:
        line["delivered_low_l"] = max(line["delivered_low_l"] - holds, 0.0)
        line["delivered_high_l"] += holds
    line["note"] = "; ".join(
        filter(
            None,
            (line["note"], "no level was noted: what is left in the reservoir is not known"),
        )
    )
    return line


def _unmeasured_leaks(events: pd.DataFrame | None, ground: Ground) -> dict[str, list[Any]]:
    """Unit to the days of its leaks."""
    out: dict[str, list[Any]] = {}
    if events is None:
        return out
    unit_of = ground.layout.unit_of
    by_reservoir = {p.reservoir: unit_of[p.plot] for p in ground.layout.plots if p.reservoir}
    leaks = events[(events["what"] == "leak").to_numpy()]
    for plot, reservoir, when in zip(
        leaks["plot"], leaks["reservoir"], leaks["date"], strict=True
    ):
        unit = unit_of.get(plot) if plot is not None else by_reservoir.get(reservoir)
        if unit is not None:
            out.setdefault(unit, []).append(when)
    return out


def _largest_loss(rows: pd.DataFrame, when: Any) -> float:
    """What disappeared between the visits around a day; all that was given if unknown."""
    largest = 0.0
    for group in ordered_vessels(rows):
        days = group["date"].to_numpy()
        after = group["level_after_l"].to_numpy()
        before = group["level_before_l"].to_numpy()
        earlier = np.flatnonzero(days < np.datetime64(when))
        later = np.flatnonzero(days >= np.datetime64(when))
        if len(earlier) and len(later) and not np.isnan(after[earlier[-1]] + before[later[0]]):
            largest += max(float(after[earlier[-1]] - before[later[0]]), 0.0)
        else:
            largest += float(np.nansum(group["given_l"].to_numpy()))
    return largest


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
