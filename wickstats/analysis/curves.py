"""Survival curves by treatment: shares with intervals from units, and numbers at risk.

Nonparametric maximum likelihood for deaths in (last seen alive, first seen dead]; with
common visits and nobody lost it is Kaplan-Meier's. A curve is given at the ends of its own
steps; intervals are pointwise. Leans on models.lifetimes.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.lives import Lives
from wickstats.analysis.plan import factor_term
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import CurvePoint
from wickstats.models.lifetimes.intervals import curve_intervals
from wickstats.models.lifetimes.turnbull import interval_curve


def curve_points(lives: Lives, units: Units, confidence: float) -> tuple[CurvePoint, ...]:
    """Curves of every treatment; with two factors also of each level of each."""
    out: list[CurvePoint] = []
    for cells, group in curve_groups(units):
        out.extend(_curve(lives, units, cells, group, confidence))
    return tuple(out)


def curve_groups(units: Units) -> list[tuple[IntArray, str]]:
    """Cells and name of everything that has a curve."""
    out = [
        (np.array([code], dtype=np.int64), name) for code, name in enumerate(units.cell_names)
    ]
    if len(units.factors) > 1:
        for k, levels in enumerate(units.levels):
            codes = units.level_codes(k)
            for level, name in enumerate(levels):
                cells = np.flatnonzero(codes == level).astype(np.int64)
                out.append((cells, f"{factor_term(units, k)}: {name}"))
    return out


def _curve(
    lives: Lives, units: Units, cells: IntArray, group: str, confidence: float
) -> list[CurvePoint]:
    mine = np.isin(units.cells[lives.units], cells)
    if not mine.any():
        return []
    low, high = lives.low[mine] - lives.planted[mine], lives.high[mine] - lives.planted[mine]
    curve = interval_curve(low, high)
    starts, ends, shares = curve.steps()
    last = float(np.max(np.where(np.isfinite(high), high, low)))
    ends = np.minimum(ends, last)
    found = curve_intervals(low, high, lives.units[mine], starts, confidence)
    out = [
        CurvePoint(
            group=group,
            time_low=float(start),
            time_high=float(max(end, start)),
            share=float(share),
            low=None if k == 0 and share == 1.0 else interval.low,
            high=None if k == 0 and share == 1.0 else interval.high,
            at_risk=_at_risk(low, float(start), first=k == 0),
        )
        for k, (start, end, share, interval) in enumerate(
            zip(starts, ends, shares, found, strict=True)
        )
    ]
    if len(out) == 1 and last > starts[0]:
        # nobody died: the line is level, but its band widens from none to the last day
        at_end = curve_intervals(low, high, lives.units[mine], [last], confidence)[0]
        seen = int(np.sum(low >= last))
        first = replace(out[0], time_high=out[0].time_low)
        end = replace(out[0], time_low=last, low=at_end.low, high=1.0, at_risk=seen)
        out = [first, end]
    return out


def _at_risk(low: Array, day: float, *, first: bool) -> int:
    """Plants seen alive on ``day`` or later (all of them at the start).

    One that died between two sightings around the day is not counted: nobody saw it then.
    """
    return int(low.size if first else np.sum(low >= day))
