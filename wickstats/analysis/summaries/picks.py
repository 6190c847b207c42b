"""Picks over time by unit: the mean day of picking, the marketable part; and every pick.

    mean day of picking = sum of mass times day / sum of mass, over a unit's picks

Days count from planting, else from the first pick. A unit with a missing pick has neither.
Leans on totals, units, records.season and pandas.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.summaries.totals import kept_picks, pick_values, season_totals
from wickstats.analysis.summary import Summary, missing_reasons
from wickstats.analysis.units import Array, Units
from wickstats.core.water import PickedCounts, PickRow
from wickstats.core.words import say
from wickstats.design.trial import Response
from wickstats.records.ground import natural
from wickstats.records.pick_rounds import (
    NOT_PICKED,
    NOTHING_RIPE,
    pick_names,
    pick_statuses,
)
from wickstats.records.season import Season

Mask = NDArray[np.bool_]
ALL, SOLD = "mass_kg", "marketable_kg"


def read_picks(response: Response, season: Season, units: Units) -> pd.DataFrame | None:
    """Rows of the picks with ``value`` (kg), ``told``, ``name`` and ``unit``; None without."""
    frame, column = season.table("picks"), response.column or ALL
    if response.kind != "yield" or frame is None or column not in frame:
        return None
    held = kept_picks(frame, season, units).copy()
    if held.empty:
        return None
    held["told"] = pick_statuses(held)
    held["value"] = pick_values(held, column)
    held["name"] = pick_names(held)
    held["unit"] = [units.index[str(p)] for p in held["plot"]]
    return held


def pick_summaries(
    response: Response, season: Season, units: Units, held: pd.DataFrame
) -> tuple[Summary, ...]:
    """Mean day of picking and marketable percent, where the picks tell them."""
    totals = season_totals(response, season, units)
    if totals is None:
        return ()
    known = np.isfinite(totals.known) & (totals.known > 0.0)
    found = (
        _earliness(response, season, units, held, known),
        _marketable(response, season, units, held, known),
    )
    return tuple(replace(s, plants=totals.plants) for s in found if s is not None)


def _earliness(
    response: Response, season: Season, units: Units, held: pd.DataFrame, known: Mask
) -> Summary | None:
    if "date" not in held or held["date"].notna().sum() < 2:
        return None
    dated = held[(held["date"].notna() & (held["value"] > 0.0)).to_numpy()]
    if dated["date"].nunique() < 2:
        return None
    origin, said = _origin(season, dated)
    days = ((dated["date"] - origin) / pd.Timedelta(days=1)).to_numpy(dtype=float)
    mass, at = dated["value"].to_numpy(), dated["unit"].to_numpy(dtype=np.int64)
    total = np.bincount(at, weights=mass, minlength=units.n)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.bincount(at, weights=mass * days, minlength=units.n) / total
    values = np.where(known, values, np.nan)
    undated = (held["date"].isna() & (held["value"] > 0.0)).any()
    notes = (said, say("earliness no dates")) if undated else (said,)
    return _summary(
        response, season, units, values, "mean day of picking", "earliness name", "d", notes
    )


def _origin(season: Season, dated: pd.DataFrame) -> tuple[pd.Timestamp, str]:
    plants = season.table("plants")
    if plants is not None and "planted_on" in plants and plants["planted_on"].notna().any():
        origin = pd.Timestamp(plants["planted_on"].min())
    else:
        origin = pd.Timestamp(dated["date"].min())
    return origin, say("earliness from planting", day=origin.date().isoformat())


def _marketable(
    response: Response, season: Season, units: Units, held: pd.DataFrame, known: Mask
) -> Summary | None:
    if ALL not in held or SOLD not in held:
        return None
    both = held[(held[ALL].notna() & held[SOLD].notna()).to_numpy()]
    if both.empty:
        return None
    at = both["unit"].to_numpy(dtype=np.int64)
    whole = np.bincount(at, weights=both[ALL].to_numpy(dtype=float), minlength=units.n)
    sold = np.bincount(at, weights=both[SOLD].to_numpy(dtype=float), minlength=units.n)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(known & (whole > 0.0), 100.0 * sold / whole, np.nan)
    return _summary(
        response, season, units, values, "marketable percent", "marketable name", "%", ()
    )


def _summary(
    response: Response,
    season: Season,
    units: Units,
    values: Array,
    estimand: str,
    name: str,
    unit: str,
    notes: tuple[str, ...],
) -> Summary | None:
    used = np.isfinite(values)
    if not used.any():
        return None
    why = say("earliness not known" if unit == "d" else "marketable not known")
    return Summary(
        name=say(name, name=response.name),
        estimand=say(estimand),
        at=None,
        values=values,
        plants=used.astype(float),
        reasons=missing_reasons(used, units, dict(season.lost_plots), why),
        rule="paired",  # a treatment that bears late, or sells all, varies on its own
        measured_in=unit,
        guard=False,
        notes=notes,
    )


def pick_rows(held: pd.DataFrame, units: Units) -> tuple[PickRow, ...]:
    """Every pick by treatment, in the order of time."""
    table = pd.DataFrame(
        {
            "cell": units.cells[held["unit"].to_numpy(dtype=np.int64)],
            "pick": held["name"].astype(str).to_numpy(),
            "plot": held["plot"].astype(str).to_numpy(),
            "value": held["value"].to_numpy(dtype=float),
            "blank": held["value"].isna().to_numpy(),
            "missed": (held["told"] == NOT_PICKED).to_numpy(),
            "bare": (held["told"] == NOTHING_RIPE).to_numpy(),
            "day": held["date"].to_numpy() if "date" in held else np.datetime64("NaT", "ns"),
        }
    )
    by_plot = table.groupby(["cell", "pick", "plot"], sort=True).agg(
        value=("value", "sum"),
        blank=("blank", "any"),
        missed=("missed", "any"),
        bare=("bare", "all"),
        first=("day", "min"),
        last=("day", "max"),
    )
    # one blank row of a plot and pick leaves their sum unknown
    by_plot["value"] = by_plot["value"].where(~by_plot["blank"])
    picks = by_plot.groupby(["cell", "pick"], sort=True).agg(
        mean=("value", "mean"),
        plots=("value", "size"),
        missed=("missed", "sum"),
        bare=("bare", "sum"),
        first=("first", "min"),
        last=("last", "max"),
    )
    total = picks["mean"].groupby("cell").sum()
    rows = []
    for (cell, name), *numbers in picks.itertuples():
        mean, plots, missed, bare, first, last = numbers
        known, whole = bool(np.isfinite(mean)), float(total[cell])
        rows.append(
            (
                cell,
                PickRow(
                    treatment=units.cell_names[int(cell)],
                    pick=str(name),
                    first=None if pd.isna(first) else str(first)[:10],
                    last=None if pd.isna(last) else str(last)[:10],
                    picked=int(plots - missed - bare),
                    nothing_ripe=int(bare),
                    not_picked=int(missed),
                    mean=float(mean) if known else None,
                    share_of_season=float(mean) / whole if known and whole > 0.0 else None,
                ),
            )
        )
    rows.sort(key=lambda one: (one[0], one[1].first or "", natural(one[1].pick)))
    return tuple(row for _, row in rows)


def picked_counts(season: Season, units: Units) -> tuple[PickedCounts, ...]:
    """Fruits a unit by treatment with their dispersion; empty where none were counted."""
    frame = season.table("picks")
    if frame is None or "count" not in frame or frame["count"].isna().all():
        return ()
    fruits = Response(name="count", kind="count", column="count")
    totals = season_totals(fruits, season, units)
    if totals is None:
        return ()
    known, out = totals.known, []
    for code, arm in enumerate(units.cell_names):
        own = known[(units.cells == code) & np.isfinite(known)]
        if not own.size:
            continue
        mean = float(own.mean())
        variance = float(own.var(ddof=1)) if own.size > 1 else None
        out.append(
            PickedCounts(
                treatment=arm,
                n_units=int(own.size),
                mean=mean,
                variance=variance,
                dispersion=None if variance is None or mean <= 0.0 else variance / mean,
            )
        )
    return tuple(out)
