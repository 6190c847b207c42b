"""Growth, measurements and scores: one number a plant, then the unit's mean of its plants.

    growth       last size of plants alive (within 14 days of the last date), on a log
                 scale; or the least-squares slope of (log) size over days
    measurement  mean over plants at the plot's last date, or at the dates asked for
    score        the same, of an ordered score

Starting size is the plants table's start_cm, else the first measurement within 14 days of
planting; it enters as the unit's covariate where the plan says so. Leans on quantities.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from wickstats.analysis.quantities import (
    WHO_JOIN,
    WINDOW_DAYS,
    Rows,
    by_plant,
    measured_rows,
    plant_keys,
    plant_window,
    plot_window,
)
from wickstats.analysis.summary import PlantRows, Summary, missing_reasons, unit_means
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.design.trial import Response
from wickstats.records.season import Season


def size_summaries(
    response: Response, season: Season, units: Units, covariate: str | None
) -> tuple[Summary, ...]:
    """Summaries of a growth, measurement or score response, the one with the verdict last."""
    rows = measured_rows(season, units, response.column)
    if rows is None or rows.n == 0:
        return ()
    if response.kind == "growth" and response.measure == "slope":
        return (_slopes(response, rows, season, units),)
    return tuple(
        _sizes(response, rows, season, units, at, covariate) for at in response.at or (None,)
    )


def _day(rows: Rows, at: date | float | None) -> float | None:
    if at is None or rows.origin is None:
        return None
    if isinstance(at, int | float):
        return float(at)
    return float((pd.Timestamp(at) - rows.origin) / pd.Timedelta(days=1))


def _sizes(
    response: Response,
    rows: Rows,
    season: Season,
    units: Units,
    at: date | float | None,
    covariate: str | None,
) -> Summary:
    day = _day(rows, at)
    growth = response.kind == "growth"
    held = plant_window(rows, day) if growth else plot_window(rows, day)
    notes: list[str] = []
    if growth:
        held = living(held, season)
    log = response.model_scale == "log"
    held, dropped = logged(held, log=log)
    if dropped:
        notes.append(say("not above zero", n=dropped))
    plant_values, plant_units, _ = by_plant(held)
    values, count = unit_means(plant_values, plant_units, units.n)
    words = _when(held, at)
    cov, said = _covariate(covariate, season, units, response, held, log=log)
    notes.extend(said)
    return Summary(
        name=_name(response, words, log=log),
        estimand="mean",
        at=words,
        values=values,
        plants=count,
        reasons=missing_reasons(
            np.isfinite(values), units, dict(season.lost_plots), say("no measurement")
        ),
        rule="strata",
        counted=bool((held.plants >= 0).any()),
        measured_in=measured_in_of(response),
        log=log,
        covariate=cov,
        covariate_name=None if cov is None else "start size",
        rows=_rows(plant_values, plant_units),
        notes=tuple(notes),
    )


def _rows(values: Array, units: IntArray) -> PlantRows:
    return PlantRows(values, units, np.arange(values.size, dtype=np.int64))


def _name(response: Response, words: str | None, *, log: bool) -> str:
    key = "mean log of" if log else "mean of"
    name = say(key, name=response.name)
    return name if words is None else say("summary on date", what=name, at=words)


def _when(held: Rows, at: date | float | None) -> str | None:
    if at is not None:
        return at.isoformat() if isinstance(at, date) else f"{at:g} d"
    if held.origin is None or held.n == 0 or not np.isfinite(held.days).any():
        return None
    last = held.origin + pd.Timedelta(days=float(np.nanmax(held.days)))
    return str(last.date().isoformat())


def logged(rows: Rows, *, log: bool) -> tuple[Rows, int]:
    """Rows on the model's scale, and how many could not be brought there."""
    if not log:
        return rows, 0
    above = rows.values > 0
    kept = rows.take(above)
    return replace(kept, values=np.log(kept.values)), int((~above).sum())


def living(rows: Rows, season: Season) -> Rows:
    """Leave out rows of plants that were seen dead on or before the day of measuring."""
    frame = season.lives
    if frame is None or rows.origin is None or season.days_not_dates:
        return rows
    dead = frame.loc[frame["first_dead"].notna()]
    if dead.empty:
        return rows
    days = (pd.to_datetime(dead["first_dead"]) - rows.origin) / pd.Timedelta(days=1)
    who = dead["plot"].astype(str) + WHO_JOIN + dead["plant"].astype(str)
    died = dict(zip(who, days, strict=True))
    ends = np.array([died.get(name, np.inf) for name in rows.who], dtype=float)
    return rows.take(ends > rows.days)


def _covariate(
    asked: str | None,
    season: Season,
    units: Units,
    response: Response,
    held: Rows,
    *,
    log: bool,
) -> tuple[Array | None, tuple[str, ...]]:
    """Mean starting size of the plants measured, by unit; or why it is not used."""
    if asked != "start size":  # position is added to whatever the summary is
        return None, ()
    sizes = start_sizes(season, units, response)
    known = np.array([sizes.get(name, np.nan) for name in held.who], dtype=float)
    if log:
        known = np.where(known > 0, known, np.nan)
        known = np.log(known)
    has = np.isfinite(known)
    means, _ = unit_means(known[has], held.units[has], units.n)
    there = np.bincount(held.units, minlength=units.n) > 0
    if not np.isfinite(means[there]).all():
        return None, (say("start size not known"),)
    return means, ()


def start_sizes(season: Season, units: Units, response: Response) -> dict[str, float]:
    """Starting size of each plant that has one."""
    out: dict[str, float] = {}
    plants = season.table("plants")
    if plants is not None and "start_cm" in plants and plants["start_cm"].notna().any():
        held = plants.loc[plants["start_cm"].notna()]
        who = held["plot"].astype(str) + WHO_JOIN + held["plant"].astype(str)
        return dict(zip(who, held["start_cm"].astype(float), strict=True))
    rows = measured_rows(season, units, response.column)
    if rows is None or rows.origin is None or season.lives is None or season.days_not_dates:
        return out
    planted = season.lives.loc[season.lives["planted_on"].notna()]
    who = planted["plot"].astype(str) + WHO_JOIN + planted["plant"].astype(str)
    days = (pd.to_datetime(planted["planted_on"]) - rows.origin) / pd.Timedelta(days=1)
    since = dict(zip(who, days, strict=True))
    for name, day, value in sorted(zip(rows.who, rows.days, rows.values, strict=True)):
        start = since.get(name)
        if start is not None and 0 <= day - start <= WINDOW_DAYS:
            out.setdefault(name, float(value))
    return out


def _slopes(response: Response, rows: Rows, season: Season, units: Units) -> Summary:
    """Least-squares slope of (log) size over days, of each plant with two dates or more."""
    log = response.model_scale == "log"
    held, dropped = logged(living(rows, season), log=log)
    key = plant_keys(held)
    count = np.bincount(key)
    day_mean = np.bincount(key, weights=held.days) / count
    centered = held.days - day_mean[key]
    spread = np.bincount(key, weights=centered**2)
    product = np.bincount(key, weights=centered * held.values)
    first = np.unique(key, return_index=True)[1]
    sloped = spread > 0
    slopes = product[sloped] / spread[sloped]
    plant_units = held.units[first][sloped]
    values, number = unit_means(slopes, plant_units, units.n)
    notes = [say("not above zero", n=dropped)] if dropped else []
    if (~sloped).any():
        notes.append(say("no slope", n=int((~sloped).sum())))
    return Summary(
        name=say("slope of log" if log else "slope of", name=response.name),
        estimand="growth rate",
        at=None,
        values=values,
        plants=number,
        reasons=missing_reasons(
            np.isfinite(values), units, dict(season.lost_plots), say("no slope of a unit")
        ),
        rule="strata",
        counted=bool((held.plants >= 0).any()),
        measured_in="1/d" if log else f"{measured_in_of(response)}/d",
        rows=_rows(slopes, plant_units),
        notes=tuple(notes),
    )
