"""A trial's demand, its supply and its reservoirs, from the weather and the water log.

Leans on the modules of this package, records, layout and core.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.core.supply import Supply, SupplyBasis, SupplyRow
from wickstats.core.words import say
from wickstats.demand.days import daily_et0, rows_of_weather
from wickstats.demand.demand import (
    Days,
    Given,
    enough,
    given_by_day,
    season_days,
    supply_table,
)
from wickstats.demand.losses import EVERY_D, in_order, losses_of, planned_reservoirs
from wickstats.demand.place import missing_for_demand
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.ledger import planned_liters
from wickstats.records.season import Season

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Demand:
    """By day of the season: evapotranspiration, demand a plant, rain on its area."""

    rows: tuple[SupplyRow, ...]
    basis: SupplyBasis | None
    days: Days
    et0: FloatArray
    liters: FloatArray
    rain_l: FloatArray
    notes: tuple[str, ...]


def season_supply(trial: Trial, layout: Layout, season: Season, *, to_archive: bool) -> Supply:
    """Reckon everything that the trial's records allow; what they do not is noted.

    Parameters
    ----------
    to_archive
        The trial is told as its owner shares it, and what that does is noted.
    """
    weather = season.table("weather")
    if weather is not None and not len(weather):
        weather = None
    days = _days(trial, weather, season)
    if days is None:
        return Supply()
    demand = _demand(trial, weather, season, days, to_archive=to_archive)
    units = plants_of_units(trial, layout)
    by_unit = given_by_day(season.table("water"), _seen(season), units, days)
    given = _given(trial, layout, units, by_unit, days)
    table: tuple[SupplyRow, ...] = ()
    notes = list(demand.notes)
    if demand.rows:
        table = supply_table(days, demand.et0, demand.liters, demand.rain_l, given)
        if len(units) < len(set(layout.unit_of.values())):
            notes.append(say("supply plants unknown"))
    losses = losses_of(trial, layout, units, _seen(season), days, demand.liters)
    plan = planned_reservoirs(trial, losses)
    if plan is not None:
        notes += _reservoir_notes(trial, season)
    if not demand.rows and plan is None:
        return Supply(supply_notes=tuple(notes) or None)
    return Supply(demand.rows, table, demand.basis, plan, tuple(notes) or None)


def _days(trial: Trial, weather: pd.DataFrame | None, season: Season) -> Days | None:
    """The season's days, else those from the first to the last record of weather or water."""
    dates = trial.trial.season
    if dates is not None:
        return season_days(np.datetime64(dates.start), np.datetime64(dates.end))
    for frame in (weather, season.table("water")):
        if frame is not None and len(frame):
            when = frame["date"].to_numpy()
            return season_days(when.min(), when.max())
    return None


def _demand(
    trial: Trial,
    weather: pd.DataFrame | None,
    season: Season,
    days: Days,
    *,
    to_archive: bool,
) -> _Demand:
    nothing = np.full(len(days), np.nan)
    missing = missing_for_demand(trial)
    water, site = trial.water, trial.trial.site
    if weather is None or missing or water is None:
        notes: tuple[str, ...] = ()
        if weather is not None and to_archive and site.share == "withheld":
            notes = (say("supply place withheld"),)
        elif weather is not None:
            notes = (say("supply not reckoned", what="; ".join(m.what for m in missing)),)
        elif (n := refused_rows(trial, season)) > 0:
            notes = (
                say(
                    "supply days too few",
                    known=0,
                    total=len(days),
                    refused=say("supply days refused", n=n),
                ),
            )
        elif water is not None and water.crop_coefficient is not None:
            notes = (say("supply no weather"),)
        return _Demand((), None, days, nothing, nothing, nothing, notes)
    latitude, elevation = site.latitude or 0.0, site.elevation_m or 0.0
    rows = rows_of_weather(weather, latitude, elevation)
    et0 = daily_et0(rows, days)
    area, crop = water.wetted_m2 or 0.0, water.crop_coefficient or 0.0
    routes = {str(row["route"]) for row in rows}
    basis = SupplyBasis(
        latitude=latitude,
        elevation_m=elevation,
        crop_coefficient=crop,
        wetted_m2=area,
        share=site.share,
        route=next(iter(routes)) if len(routes) == 1 else "both",
    )
    told = [say("supply demand note", crop=f"{crop:g}", area=f"{area:g}")]
    gone = int((~np.isfinite(et0)).sum())
    if not enough(np.isfinite(et0)):
        n = refused_rows(trial, season)
        refused = say("supply days refused", n=n) if n else ""
        few = len(days) - gone
        told.append(say("supply days too few", known=few, total=len(days), refused=refused))
    elif gone:
        told.append(say("supply days missing", n=gone, total=len(days)))
    if to_archive and site.share != "exact":
        told.append(say("supply place rounded"))
    rain = daily_et0(rows, days, "rain_mm") * area
    return _Demand(rows, basis, days, et0, et0 * crop * area, rain, tuple(told))


def refused_rows(trial: Trial, season: Season) -> int:
    """Rows of the table of weather that were not used."""
    files = {source.file for source in trial.records.get("weather", ())}
    return sum(row.file.split(",")[0] in files for row in season.exclusions)


def plants_of_units(trial: Trial, layout: Layout) -> dict[str, float]:
    """Unit -> plants laid out on its plots; without those of which it is not known."""
    default = trial.design.plants_per_plot
    counts: dict[str, float] = {}
    unknown = set()
    for plot in layout.plots:
        unit, plants = layout.unit_of[plot.plot], plot.plants or default
        if plants is None:
            unknown.add(unit)
        counts[unit] = counts.get(unit, 0.0) + float(plants or 0)
    return {u: n for u, n in counts.items() if u not in unknown and n > 0}


def _seen(season: Season) -> pd.DataFrame | None:
    """Periods between two visits of reservoirs whose levels were read."""
    periods = season.water_periods
    if periods is None or not len(periods):
        return None
    levels = periods[(periods["by"] == "levels").to_numpy()]
    return levels if len(levels) else None


def _given(
    trial: Trial,
    layout: Layout,
    units: dict[str, float],
    by_unit: dict[str, FloatArray],
    days: Days,
) -> list[Given]:
    plots: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        plots.setdefault(plot.treatment, []).append(plot)
    out = []
    for treatment in in_order(trial, layout):
        own = plots[treatment]
        mine = dict.fromkeys(layout.unit_of[p.plot] for p in own)
        planned = planned_liters(own[0].levels, trial)
        plants = own[0].plants or trial.design.plants_per_plot
        rate = None if planned is None or not plants else planned / plants / len(days)
        told = [by_unit[u] for u in mine if u in by_unit and u in units]
        table = np.vstack(told) if told else np.empty((0, len(days)))
        out.append(Given(treatment, rate, table))
    return out


def _reservoir_notes(trial: Trial, season: Season) -> list[str]:
    water = trial.water
    out = [say("supply chance note")]
    if water is None or water.visits_every_d is None:
        out.append(say("supply visits assumed", days=EVERY_D))
    seen = _seen(season)
    if seen is not None and bool(seen["emptied"].to_numpy(dtype=bool).any()):
        out.append(say("supply emptied"))
    return out
