"""Season totals by unit: yield, counts, yield per liter.

Where a unit holds several plots, totals are per plot (ratios are not affected). A pick
that a plot misses leaves its total undefined; it is bounded by taking the missing pick as
nothing and as the largest of that pick. Leans on liters, units, records.season and
pandas.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from wickstats.analysis.quantities import measured_rows
from wickstats.analysis.summaries.liters import (
    calibration_notes,
    calibration_of,
    parted_reasons,
    water_liters,
    water_reasons,
)
from wickstats.analysis.summary import Summary, missing_reasons
from wickstats.analysis.units import Array, Units
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.design.trial import Response
from wickstats.records.pick_rounds import (
    NOT_PICKED,
    NOTHING_RIPE,
    pick_names,
    pick_statuses,
)
from wickstats.records.season import Season


@dataclass(frozen=True, slots=True, eq=False)
class Totals:
    """Season totals per unit: known (NaN where a pick is missing), lowest and highest."""

    known: Array
    low: Array
    high: Array
    missing: int  # units with a missing pick
    plants: Array


def season_totals(response: Response, season: Season, units: Units) -> Totals | None:
    """Totals of a column of the picks, else of the measurements; None where neither is."""
    frame = season.table("picks")
    column = response.column or ("count" if response.kind == "count" else "mass_kg")
    if frame is not None and column in frame:
        return _from_picks(frame, column, season, units)
    rows = measured_rows(season, units, response.column)
    if rows is None or rows.n == 0:
        return None
    total = np.bincount(rows.units, weights=rows.values, minlength=units.n)
    there = np.bincount(rows.units, minlength=units.n)
    known = np.where(there > 0, total / units.n_plots, np.nan)
    return Totals(known, known, known, 0, np.maximum(there, 0).astype(float))


def _from_picks(frame: pd.DataFrame, column: str, season: Season, units: Units) -> Totals:
    grid = _pick_grid(kept_picks(frame, season, units), column)
    plots = list(grid.index)
    mass = grid.to_numpy(dtype=float)
    missing = np.isnan(mass)
    with np.errstate(invalid="ignore"):
        largest = np.array([np.nanmax(c) if (~np.isnan(c)).any() else 0.0 for c in mass.T])
    low_plot = np.where(missing, 0.0, mass).sum(axis=1)
    high_plot = np.where(missing, largest, mass).sum(axis=1)
    where = np.array([units.index[str(p)] for p in plots], dtype=np.int64)
    seen = np.bincount(where, minlength=units.n)
    gaps = np.bincount(where, weights=missing.any(axis=1), minlength=units.n)
    lost = np.array(
        [sum(p in season.lost_plots for p in plots) for plots in units.plots], dtype=float
    )
    wanted = units.n_plots - lost
    low = _per_plot(low_plot, where, seen, units)
    high = _per_plot(high_plot, where, seen, units)
    whole = (gaps == 0) & (seen == wanted) & (seen > 0)
    return Totals(
        known=np.where(whole, low, np.nan),
        low=low,
        high=high,
        missing=int(((gaps > 0) & (seen > 0)).sum()),
        plants=seen.astype(float),
    )


def _per_plot(values: Array, where: "np.ndarray", seen: "np.ndarray", units: Units) -> Array:
    total = np.bincount(where, weights=values, minlength=units.n)
    with np.errstate(invalid="ignore", divide="ignore"):
        out: Array = np.where(seen > 0, total / seen, np.nan)
    return out


def _pick_grid(held: pd.DataFrame, column: str) -> pd.DataFrame:
    """Plots by picks: kg (or number), NaN where the pick is missing."""
    value = pick_values(held, column)
    pick = pick_names(held)
    table = pd.DataFrame({"plot": held["plot"].astype(str), "pick": pick, "value": value})
    # one blank row of a plot and pick leaves their sum unknown
    table["blank"] = table["value"].isna()
    grouped = table.groupby(["plot", "pick"], sort=False)
    sums = grouped["value"].sum().where(~grouped["blank"].any())
    grid = sums.unstack("pick")
    common = grid.columns[
        table.groupby("pick")["plot"].nunique()[grid.columns] * 2 >= len(grid)
    ]
    # a date on which only a few plots were picked is no pick of the others
    rare = grid.columns.difference(common)
    grid[rare] = grid[rare].fillna(0.0) if len(rare) else grid[rare]
    return grid


def kept_picks(frame: pd.DataFrame, season: Season, units: Units) -> pd.DataFrame:
    """Rows of the picks of plots that are not lost."""
    there = frame["plot"].isin(list(units.index))
    return frame.loc[there & ~frame["plot"].isin(list(season.lost_plots))]


def pick_values(held: pd.DataFrame, column: str) -> "pd.Series[float]":
    """Kg (or number) of every row: 0 where nothing was ripe, NaN where not picked."""
    value, status = pd.to_numeric(held[column], errors="coerce"), pick_statuses(held)
    value = value.where(status != NOTHING_RIPE, value.fillna(0.0))
    return value.where(status != NOT_PICKED)


def total_summaries(
    response: Response, season: Season, units: Units
) -> tuple[tuple[Summary, ...], tuple[Summary, ...]]:
    """Summary of a total, and its bounds where picks are missing."""
    totals = season_totals(response, season, units)
    if totals is None:
        return (), ()
    log = response.model_scale == "log"
    main = _total(response, totals.known, totals, season, units, log=log)
    if not totals.missing:
        return (main,), ()
    note = say("picks missing", n=totals.missing)
    main = replace(main, notes=(note,))
    cases = [(totals.low, say("missing as nothing")), (totals.high, say("missing as largest"))]
    bounds = tuple(
        replace(_total(response, value, totals, season, units, log=log), at=None, name=name)
        for value, name in cases
    )
    return (main,), bounds


def _total(
    response: Response, total: Array, totals: Totals, season: Season, units: Units, *, log: bool
) -> Summary:
    counted = response.kind == "count"
    known = np.isfinite(total)
    zero = bool((total[known] <= 0).any())
    rule = "counts" if counted and not log else "zero" if log and zero else "strata"
    values = np.where(known, total, np.nan)
    if rule == "strata" and log:
        values = np.log(np.where(known, total, np.nan))
    if rule == "strata" and units.uneven_reservoirs:
        rule = "paired"
    return Summary(
        name=say("log total of" if log and not zero else "total of", name=response.name),
        estimand="total",
        at=None,
        values=values,
        plants=totals.plants,
        reasons=missing_reasons(known, units, dict(season.lost_plots), say("total undefined")),
        rule=rule,
        measured_in=measured_in_of(response),
        log=log or rule == "counts",
        numerators=total,
        denominators=np.ones(units.n) if rule == "zero" else None,
        guard=False,
        notes=(say("zero rule"),) if rule == "zero" else (),
    )


def ratio_summaries(
    response: Response, of: Response, season: Season, units: Units
) -> tuple[Summary | None, tuple[Summary, ...]]:
    """Log ratio of unit totals to water (the zero rule where a yield is zero), and bounds.

    Bounds where picks are missing or a reservoir lost a plot.
    """
    totals = season_totals(of, season, units)
    if totals is None:
        return None, ()
    liters = water_liters(season, units, response.water or "delivered")
    main = _ratio(response, of, totals, (totals.known, liters.known), season, units)
    if main is None:
        return None, ()
    main = replace(main, reasons=parted_reasons(main.reasons, liters, season, units))
    cases: list[tuple[str, Array, Array]] = []
    notes = list(main.notes)
    if totals.missing:
        notes.append(say("picks missing", n=totals.missing))
        cases.append((say("missing as nothing"), totals.low, liters.known))
        cases.append((say("missing as largest"), totals.high, liters.known))
    notes.extend(liters.notes())
    cases.extend((name, totals.known, water) for name, water in liters.cases())
    bounds = []
    for name, total, water in cases:
        found = _ratio(response, of, totals, (total, water), season, units)
        if found is not None:
            bounds.append(replace(found, name=name))
    return replace(main, notes=tuple(notes)), tuple(bounds)


def _ratio(
    response: Response,
    of: Response,
    totals: Totals,
    values: tuple[Array, Array],
    season: Season,
    units: Units,
) -> Summary | None:
    which = response.water or "delivered"
    total, liters = values
    if not np.isfinite(liters).any():
        return None
    dry = np.isfinite(liters) & (liters <= 0)
    known = np.isfinite(total) & np.isfinite(liters) & ~dry
    zero = bool((total[known] <= 0).any())
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(known, total / liters, np.nan)
    notes = [say("zero rule")] if zero else []
    if dry.any():
        notes.append(say("no water no ratio", n=int(dry.sum())))
    rule = "zero" if zero else "paired" if units.uneven_reservoirs else "strata"
    calibration = None if which == "planned" else calibration_of(season, units, log=True)
    return Summary(
        name=say(
            "ratio of totals" if zero else "log ratio of totals", name=of.name, which=which
        ),
        estimand="ratio of totals",
        at=None,
        values=ratio if zero else np.log(ratio),
        plants=totals.plants,
        reasons=missing_reasons(
            known,
            units,
            dict(season.lost_plots),
            [
                say("no water given", which=which)
                if dry[j]
                else say("total undefined")
                if not np.isfinite(total[j])
                else water
                for j, water in enumerate(water_reasons(season, units, which))
            ],
        ),
        rule=rule,
        measured_in=measured_in_of(response),
        log=True,
        # units without water have no ratio, but count where liters are compared
        numerators=np.where(known | dry, total, np.nan),
        denominators=np.where(known | dry, liters, np.nan),
        denominator=say("water which", which=which),
        guard=False,
        notes=(*notes, *calibration_notes(season, calibration)),
        calibration=calibration,
    )
