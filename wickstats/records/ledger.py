"""The water ledger: planned, applied and delivered, one line a unit.

    delivered = applied - stored change - leaked

applied: the sum of what was given. Stored change: what the reservoir held when it was
last seen, less what it held before the first refill. Leaked: what was noted as lost.
A can or meter that reads p percent wrong does so every time: it moves applied by that
share, and low and high show it, as an error that all units share. A leak without an
amount makes delivered an upper limit; low then takes off the largest loss that the levels
allow. Leans on numpy and pandas.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from wickstats.design.trial import Trial
from wickstats.layout.plots import TREATMENT_JOIN
from wickstats.records.ground import Ground, day

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
    "refills",
    "note",
)


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
    incomplete: frozenset[str],
    ground: Ground,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Ledger by unit, and the same told to plots.

    Parameters
    ----------
    water
        Checked rows with ``unit`` and ``given_l``.
    incomplete
        Units whose conflicting rows were left out: their sums are not known.
    """
    unit_of = ground.layout.unit_of
    plots_of: dict[str, list[Any]] = {}
    for plot in ground.layout.plots:
        plots_of.setdefault(unit_of[plot.plot], []).append(plot)
    by_unit = dict(list(water.groupby("unit", sort=False)))
    leaks = _unmeasured_leaks(events, ground)
    rows = []
    for unit, plots in plots_of.items():
        planned = [planned_liters(p.levels, ground.trial) for p in plots]
        total = None if None in planned else float(sum(p for p in planned if p is not None))
        line = _line(by_unit.get(unit), total, leaks.get(unit, []), ground)
        if unit in incomplete:
            line = {**_unknown("rows that contradict each other were left out"), "refills": 0}
        if any(p.reservoir for p in plots) and unit in by_unit and unit not in incomplete:
            line = _without_levels(line, by_unit[unit], ground)
        treatments = list(dict.fromkeys(p.treatment for p in plots))
        rows.append(
            {
                "unit": unit,
                "treatment": treatments[0],
                "planned_l": np.nan if total is None else total,
                **line,
            }
        )
    ledger = pd.DataFrame(rows, columns=list(UNIT_COLUMNS))
    return ledger, _by_plot(ledger, plots_of, ground)


def _unknown(note: str) -> dict[str, Any]:
    names = (
        "applied_l",
        "delivered_l",
        "delivered_low_l",
        "delivered_high_l",
        "stored_change_l",
        "leaked_l",
    )
    return {**dict.fromkeys(names, np.nan), "refills": 0, "note": note}


def _line(
    rows: pd.DataFrame | None, planned: float | None, leaks: list[Any], ground: Ground
) -> dict[str, Any]:
    if rows is None:
        if planned == 0:
            return {**dict.fromkeys(_unknown(""), 0.0), "refills": 0, "note": None}
        return _unknown("no water rows")
    given = rows["given_l"].to_numpy()
    applied = float(np.nansum(given))
    notes: list[str] = []
    stored, slack = _stored_change(rows)
    leaked = float(np.nansum(rows["leaked_l"].to_numpy()))
    delivered = applied - stored - leaked
    share = (ground.trial.water.can_within_percent or 0.0) / 100 if ground.trial.water else 0.0
    metered = rows["applied_l"].isna() & rows["meter_end_l"].notna()
    error = share * float(np.nansum(given[~metered.to_numpy()]))
    low, high = delivered - error, delivered + error
    noted = rows["leaked_l"].notna().to_numpy()
    for when in sorted(leaks):
        if noted[(rows["date"] >= when).to_numpy()].any():
            continue  # the visit after it told how much
        largest = _largest_loss(rows, when)
        low -= largest
        notes.append(f"a leak without an amount on {day(when)}: delivered is an upper limit")
    if slack:
        notes.append(slack)
    return {
        "applied_l": applied,
        "delivered_l": delivered,
        "delivered_low_l": max(low, 0.0),
        "delivered_high_l": high,
        "stored_change_l": stored,
        "leaked_l": leaked,
        "refills": int(np.sum(given > 0)),
        "note": "; ".join(notes) or None,
    }


def _vessels(rows: pd.DataFrame) -> list[pd.DataFrame]:
    """Rows by reservoir (or plot), each in the order of time."""
    vessel = rows["reservoir"].where(rows["reservoir"].notna(), rows["plot"])
    ordered = rows.assign(vessel=vessel).sort_values(
        ["vessel", "date", "source", "row"], kind="stable"
    )
    return [group for _, group in ordered.groupby("vessel", sort=True)]


def _stored_change(rows: pd.DataFrame) -> tuple[float, str | None]:
    """Last level seen less the first; zero where no level was ever noted."""
    before, after = rows["level_before_l"].to_numpy(), rows["level_after_l"].to_numpy()
    if np.isnan(before).all() and np.isnan(after).all():
        return 0.0, None
    change, unknown = 0.0, False
    for group in _vessels(rows):
        before = group["level_before_l"].to_numpy()
        after = group["level_after_l"].to_numpy()
        given = group["given_l"].to_numpy()
        opening = np.where(np.isnan(before), after - np.nan_to_num(given), before)
        closing = np.where(np.isnan(after), before + np.nan_to_num(given), after)
        if np.isnan(opening[0]) or np.isnan(closing[-1]):
            unknown = True
        opened, closed = opening[~np.isnan(opening)], closing[~np.isnan(closing)]
        if len(opened) and len(closed):
            change += float(closed[-1] - max(opened[0], 0.0))
    note = "the first or the last visit has no level; the nearest one is taken"
    return change, note if unknown else None


def _without_levels(line: dict[str, Any], rows: pd.DataFrame, ground: Ground) -> dict[str, Any]:
    """A reservoir whose level was never noted may still be full, or have been empty."""
    levels = rows[["level_before_l", "level_after_l"]].notna().to_numpy()
    if levels.any():
        return line
    reservoirs = ground.trial.water.reservoirs if ground.trial.water else None
    holds = reservoirs.holds_l if reservoirs else None
    line = dict(line, delivered_l=np.nan, stored_change_l=np.nan)
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
    for group in _vessels(rows):
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
