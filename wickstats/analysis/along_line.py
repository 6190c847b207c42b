"""Plants along a line or wick: how much less those further along get, and who gets least.

A line is a plot whose plants have a numbered position. Values are a plant's last size, its
measurement, or what was picked from it, on the logarithm; a plant with nothing has none and
is not in the slope, but got least. Leans on quantities,
models.linear.along and models.linear.paired.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
import pandas as pd

from wickstats.analysis.context import Context
from wickstats.analysis.quantities import (
    WHO_JOIN,
    Rows,
    measured_rows,
    plant_keys,
    plant_window,
    plot_window,
    rows_of,
)
from wickstats.analysis.summaries.sizes import living
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.numbers import confidence_level, number
from wickstats.core.numbers import place as place_words
from wickstats.core.water import AlongArm, AlongLine, LineSlope
from wickstats.core.words import say
from wickstats.models.linear.along import line_slopes
from wickstats.models.linear.estimates import Estimate, only_estimate
from wickstats.models.linear.paired import welch_contrast
from wickstats.records.season import Season

KINDS = ("growth", "measurement", "yield")


@dataclass(frozen=True, slots=True, eq=False)
class _Plants:
    """Plants with a value and a place: value, place, plot, unit, number."""

    values: Array  # zeros too
    places: Array
    lines: IntArray
    names: tuple[str, ...]  # plants
    plots: tuple[str, ...]  # of the lines
    units: IntArray  # of the lines


def along_line(context: Context, season: Season) -> AlongLine | None:
    """The fall along lines; None where no plant has a numbered position or a value."""
    places, odd = _places(season)
    if not places or context.response.kind not in KINDS or context.response.measure == "slope":
        return None
    rows = _rows(context, season)
    if rows is None or rows.n == 0:
        return None
    plants = _plants(rows, places, context.units, summed=context.response.kind == "yield")
    if plants is None:
        return None
    above = plants.values > 0.0
    slopes, counts = line_slopes(
        np.log(plants.values[above]),
        plants.places[above],
        plants.lines[above],
        len(plants.plots),
    )
    if not np.isfinite(slopes).any():
        return None
    notes = [] if above.all() else [say("along not above zero", n=int((~above).sum()))]
    of_lines = sum(who.split(WHO_JOIN, 1)[0] in set(plants.plots) for who in places)
    if of_lines > plants.values.size:
        notes.append(say("along without value", n=of_lines - plants.values.size))
    if odd:
        notes.append(say("along not numbers", n=odd))
    lines = tuple(
        _line(context.units, plants, int(k), float(slopes[k]), int(counts[k]))
        for k in range(len(plants.plots))
    )
    arms = tuple(
        _arm(context, plants, slopes, code)
        for code in range(context.units.n_cells)
        if np.isfinite(slopes[context.units.cells[plants.units] == code]).any()
    )
    return AlongLine(context.measured_in, lines, arms, tuple(notes))


def _places(season: Season) -> tuple[dict[str, float], int]:
    """Plot and plant to its place, and how many positions are no numbers."""
    frame = season.table("plants")
    if frame is None or "position" not in frame:
        return {}, 0
    told = frame[frame["position"].notna()]
    places = pd.to_numeric(told["position"], errors="coerce").to_numpy(dtype=float)
    who = (told["plot"].astype(str) + WHO_JOIN + told["plant"].astype(str)).tolist()
    good = np.isfinite(places)
    known = {w: float(x) for w, x, ok in zip(who, places, good, strict=True) if ok}
    return known, int((~good).sum())


def _rows(context: Context, season: Season) -> Rows | None:
    """One row a plant and quantity: the last size or measurement, every pick."""
    response, units = context.response, context.units
    if response.kind != "yield":
        rows = measured_rows(season, units, response.column)
        if rows is None or rows.n == 0:
            return None
        if response.kind == "growth":
            return living(plant_window(rows, None), season)
        return plot_window(rows, None)
    frame = season.table("picks")
    column = response.column or "mass_kg"
    if frame is None or column not in frame or "plant" not in frame:
        return None
    named = frame[frame["plant"].notna()]
    return rows_of(named, column, season, units) if len(named) else None


def _plants(
    rows: Rows, places: dict[str, float], units: Units, *, summed: bool
) -> _Plants | None:
    """One value a plant: the mean of its measurements, the sum of its picks."""
    key = plant_keys(rows)
    first = np.unique(key, return_index=True)[1]
    total: Array = np.bincount(key, weights=rows.values).astype(float)
    if not summed:
        total = total / np.bincount(key)
    who = rows.who[first]
    place = np.array([places.get(str(name), np.nan) for name in who])
    known = np.isfinite(place) & (total >= 0.0)
    if (known & (total > 0.0)).sum() < 2:
        return None
    named = [str(name).split(WHO_JOIN, 1) for name in who[known]]
    at = {plot: k for k, plot in enumerate(dict.fromkeys(plot for plot, _ in named))}
    return _Plants(
        values=total[known],
        places=place[known],
        lines=np.array([at[plot] for plot, _ in named], dtype=np.int64),
        names=tuple(plant for _, plant in named),
        plots=tuple(at),
        units=np.array([units.index[plot] for plot in at], dtype=np.int64),
    )


def _line(units: Units, plants: _Plants, k: int, slope: float, count: int) -> LineSlope:
    mine = np.flatnonzero(plants.lines == k)
    where = plants.places[mine]
    # of several with nothing, the one furthest along
    least = int(mine[np.lexsort((-where, plants.values[mine]))[0]])
    unit = int(plants.units[k])
    codes = units.block_codes
    known = np.isfinite(slope)
    return LineSlope(
        unit=units.names[unit],
        plot=plants.plots[k],
        treatment=units.cell_names[int(units.cells[unit])],
        block=None if codes is None else units.block_names[int(codes[unit])],
        plants=count,
        first=float(where.min()),
        last=float(where.max()),
        ratio=exp(slope) if known else None,
        last_to_first=exp(slope * float(np.ptp(where))) if known else None,
        least=plants.names[least],
        least_position=float(plants.places[least]),
        not_estimable=None if known else say("along few places"),
    )


def _arm(context: Context, plants: _Plants, slopes: Array, code: int) -> AlongArm:
    units = context.units
    mine = (units.cells[plants.units] == code) & np.isfinite(slopes)
    of = plants.units[mine]
    held = np.unique(of)
    values = np.array([slopes[mine][of == unit].mean() for unit in held])
    found = _mean(values, context.confidence)
    spans = [np.ptp(plants.places[plants.lines == k]) for k in np.flatnonzero(mine)]
    slope = float(values.mean())
    name = units.cell_names[code]
    place = _least_place(plants, np.flatnonzero(mine))
    last = exp(slope * float(np.mean(spans)))
    return AlongArm(
        treatment=name,
        n_units=int(held.size),
        n_lines=int(mine.sum()),
        ratio=exp(slope),
        se=found.se,
        df=found.df,
        low=None if found.low is None else exp(found.low),
        high=None if found.high is None else exp(found.high),
        p=found.p,
        last_to_first=last,
        least_position=place,
        sentence=_sentence(context, name, found, slope, last, place),
        not_estimable=found.not_estimable,
    )


def _mean(values: Array, confidence: float) -> Estimate:
    if values.size < 2:
        return only_estimate(float(values[0]), say("along one unit"))
    found = welch_contrast(
        values, np.zeros(values.size, dtype=np.int64), [1.0], confidence=confidence
    )
    if found.se is None:
        return only_estimate(found.estimate, say("along no scatter"))
    return found


def _least_place(plants: _Plants, lines: IntArray) -> float:
    """The place with the lowest mean of values relative to their line's mean."""
    mine = np.isin(plants.lines, lines)
    code = np.unique(plants.lines[mine], return_inverse=True)[1]
    means = np.bincount(code, weights=plants.values[mine]) / np.bincount(code)
    relative = plants.values[mine] / means[code]
    places, at = np.unique(plants.places[mine], return_inverse=True)
    average = np.bincount(at, weights=relative) / np.bincount(at)
    return float(places[int(np.argmin(average))])


def _sentence(
    context: Context, name: str, found: Estimate, slope: float, last: float, place: float
) -> str:
    if found.low is None or found.high is None:
        reason = found.not_estimable or ""
        return say(
            "along no inference", treatment=name, value=number(exp(slope)), reason=reason
        )
    clear = found.low > 0.0 or found.high < 0.0
    key = "along open" if not clear else "along less" if slope < 0.0 else "along more"
    return say(
        key,
        treatment=name,
        name=context.response.name,
        value=number(exp(slope)),
        percent=number(100.0 * abs(exp(slope) - 1.0), 2),
        confidence=confidence_level(context.confidence),
        low=number(exp(found.low)),
        high=number(exp(found.high)),
        last=number(last),
        place=place_words(place),
    )
