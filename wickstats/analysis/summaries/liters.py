"""Liters by unit: planned, applied or delivered, and water used as a response.

Where a unit holds several plots, liters are per plot. Leans on units, records.season and
pandas.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.summary import Calibration, Summary, missing_reasons
from wickstats.analysis.units import Array, Units
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.design.trial import Response
from wickstats.records.season import Season


@dataclass(frozen=True, slots=True, eq=False)
class Liters:
    """(n,) liters per plot: known, and the lowest and highest where they are not.

    A reservoir that lost some of its plots and went on: the plots that are left got
    between their share of all plots and all of its water. ``parted`` marks it.
    """

    known: Array
    low: Array
    high: Array
    parted: NDArray[np.bool_]
    tight: Array  # known, less what looks like leaks that nobody noted

    @property
    def leaky(self) -> NDArray[np.bool_]:
        """(n,) units with such losses."""
        found: NDArray[np.bool_] = self.tight < self.known  # NaN compares as no
        return found

    def cases(self) -> list[tuple[str, Array]]:
        """Other liters to repeat a comparison with: reservoirs that lost plots, leaks."""
        out: list[tuple[str, Array]] = []
        if self.parted.any():
            out.append((say("water shared to the end"), self.low))
            out.append((say("water to those left"), self.high))
        if self.leaky.any():
            out.append((say("leaks taken off"), self.tight))
        return out

    def notes(self) -> tuple[str, ...]:
        """What is said of such units."""
        out = []
        if self.parted.any():
            out.append(say("reservoirs lost plots", n=int(self.parted.sum())))
        if self.leaky.any():
            out.append(say("losses like leaks", n=int(self.leaky.sum())))
        return tuple(out)


def calibration_of(season: Season, units: Units, *, log: bool) -> Calibration | None:
    """How cans and meters that read wrong would move each unit's liters; None if told exact.

    On a log scale by each instrument's share of what was given, else by its liters a plot.
    """
    frame = season.ledger
    if frame is None or not (season.can_within or season.meter_within):
        return None
    if "by_can_l" not in frame or "by_meter_l" not in frame:
        return None
    index = {name: j for j, name in enumerate(units.names)}
    parts = np.full((units.n, 2), np.nan)
    columns = ("unit", "by_can_l", "by_meter_l", "applied_l")
    for name, can, meter, applied in zip(*(frame[c] for c in columns), strict=True):
        j = index.get(str(name))
        if j is None or not applied > 0.0:
            continue
        scale = applied if log else float(units.n_plots[j])
        parts[j] = can / scale, meter / scale
    bounds = np.array([season.can_within, season.meter_within])
    return Calibration(parts, -np.log1p(-bounds) if log else bounds)


def calibration_notes(season: Season, calibration: Calibration | None) -> tuple[str, ...]:
    """What the shared error does to intervals, in words; nothing where there is none."""
    if calibration is None:
        return ()
    told = [
        say(f"calibration {what}", percent=number(100.0 * share))
        for what, share in (("can", season.can_within), ("meter", season.meter_within))
        if share > 0.0
    ]
    return (say("calibration shared", told=", ".join(told)),)


def water_liters(season: Season, units: Units, which: str) -> Liters:
    """Liters per plot: planned, applied or delivered; NaN where not known.

    Water given to a unit until all its plots were lost is no season's water: not known.
    """
    whole = np.full(units.n, np.nan)
    gone = np.array([sum(p in season.lost_plots for p in plots) for plots in units.plots])
    left = units.n_plots - gone
    parted = np.zeros(units.n, dtype=bool)
    doubtful = np.zeros(units.n)
    frame = season.ledger
    column = f"{which}_l"
    if frame is not None and column in frame:
        index = {name: j for j, name in enumerate(units.names)}
        seeping = which == "delivered" and "doubtful_l" in frame
        lost = frame["doubtful_l"] if seeping else [0.0] * len(frame)
        for name, value, extra in zip(
            frame["unit"].astype(str), frame[column], lost, strict=True
        ):
            if name in index:
                whole[index[name]] = float(value) if pd.notna(value) else np.nan
                doubtful[index[name]] = float(extra) if pd.notna(extra) else 0.0
    shared = whole / units.n_plots
    if which == "planned":
        return Liters(shared, shared, shared, parted, shared)
    parted = (gone > 0) & (left > 0) & np.isfinite(whole)
    shared = np.where(left > 0, shared, np.nan)
    most = np.where(left > 0, whole / np.maximum(left, 1), np.nan)
    known = np.where(parted, np.nan, shared)
    tight = known - doubtful / units.n_plots
    return Liters(known, shared, most, parted, tight)


def water_reasons(season: Season, units: Units, which: str) -> list[str]:
    """Why each unit's liters would not be known: the ledger's note, else that they are not."""
    told = dict.fromkeys(units.names, say("water unknown", which=which))
    frame = season.ledger
    if frame is not None and f"{which}_l" in frame and "note" in frame:
        for name, value, note in zip(
            frame["unit"].astype(str), frame[f"{which}_l"], frame["note"], strict=True
        ):
            if name in told and pd.isna(value) and isinstance(note, str):
                told[name] = say("water told", which=which, note=note)
    return [told[name] for name in units.names]


def parted_reasons(
    reasons: tuple[str | None, ...], liters: Liters, season: Season, units: Units
) -> tuple[str | None, ...]:
    """Say of a reservoir that lost a plot why its water is not known."""
    out = list(reasons)
    for j in np.flatnonzero(liters.parted):
        lost = [p for p in units.plots[int(j)] if p in season.lost_plots]
        out[int(j)] = say("reservoir lost a plot", plots=", ".join(lost))
    return tuple(out)


def water_summaries(
    response: Response, season: Season, units: Units
) -> tuple[Summary | None, tuple[Summary, ...]]:
    """Liters per plot over the season, judged by arm (differences within blocks).

    Bounds where a reservoir lost a plot, or lost water that looks like a leak.
    """
    which = response.water or "delivered"
    liters = water_liters(season, units, which)
    main = _water(response, liters.known, season, units)
    cases = liters.cases()
    if main is None or not cases:
        return main, ()
    found = [(name, _water(response, water, season, units)) for name, water in cases]
    main = replace(
        main,
        reasons=parted_reasons(main.reasons, liters, season, units),
        notes=(*main.notes, *liters.notes()),
    )
    return main, tuple(replace(b, name=name) for name, b in found if b is not None)


def _water(response: Response, liters: Array, season: Season, units: Units) -> Summary | None:
    which = response.water or "delivered"
    known = np.isfinite(liters)
    if not known.any():
        return None
    log = response.model_scale == "log"
    zero = log and bool((liters[known] <= 0).any())
    usable = known & (liters > 0) if zero else known
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.log(np.where(usable, liters, np.nan)) if log else liters
    calibration = None if which == "planned" else calibration_of(season, units, log=log)
    told = (say("water zero", n=int((known & ~usable).sum())),) if zero else ()
    return Summary(
        name=say("log water" if log else "water used", which=which),
        estimand="total",
        at=None,
        values=values,
        plants=known.astype(float),
        reasons=missing_reasons(
            usable, units, dict(season.lost_plots), water_reasons(season, units, which)
        ),
        rule="paired",
        measured_in=measured_in_of(response),
        log=log,
        denominator=None,
        guard=False,
        notes=(*told, *calibration_notes(season, calibration)),
        calibration=calibration,
    )
