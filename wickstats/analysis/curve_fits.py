"""Beside each curve: how well it is settled, who was seen when, and a smooth curve.

A smooth curve is the likelier of Weibull and log-logistic. It is drawn where it was reached,
rests on at least five deaths in at least three different intervals, and lies inside the
curve's own pointwise band on every day of a visit, up to the last; otherwise words say why
there is none. It is a picture: no number of the analysis rests on it. Leans on
models.lifetimes and analysis.curves.
"""

import numpy as np

from wickstats.analysis.curves import curve_groups
from wickstats.analysis.lives import Lives
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.histories import CurveFit
from wickstats.core.words import say
from wickstats.models.lifetimes.intervals import curve_intervals
from wickstats.models.lifetimes.smooth import SHAPES, SmoothCurve, fit_smooth
from wickstats.models.lifetimes.turnbull import interval_curve

FEWEST_DEATHS, FEWEST_INTERVALS = 5, 3
POINTS = 41
MOST_DAYS = 60  # days at which the band is asked for


def curve_fits(lives: Lives, units: Units, confidence: float) -> tuple[CurveFit, ...]:
    """One row a curve."""
    out = []
    for cells, group in curve_groups(units):
        mine = np.isin(units.cells[lives.units], cells)
        if mine.any():
            planted = lives.planted[mine]
            ends = lives.low[mine] - planted, lives.high[mine] - planted
            out.append(_fit(group, *ends, lives.units[mine], confidence))
    return tuple(out)


def _fit(group: str, low: Array, high: Array, unit: IntArray, confidence: float) -> CurveFit:
    curve = interval_curve(low, high)
    days, counts = np.unique(low, return_counts=True)
    found = smooth_curve(low, high)
    note = found if isinstance(found, str) else None
    times = shares = np.zeros(0)
    if isinstance(found, SmoothCurve):
        if stays_inside(found, low, high, unit, confidence):
            last = float(np.where(np.isfinite(high), high, low).max())
            times = np.linspace(0.0, last, POINTS)
            shares = found.share(times)
        else:
            note = say("smooth outside", shape=found.shape)
    smooth = found if isinstance(found, SmoothCurve) else None
    return CurveFit(
        group=group,
        plants=int(low.size),
        deaths=int(np.isfinite(high).sum()),
        log_likelihood=curve.log_likelihood,
        kuhn_tucker=max(curve.excess, 0.0),
        seen_days=tuple(days.tolist()),
        seen_alive=tuple(int(n) for n in np.cumsum(counts[::-1])[::-1]),
        shape=None if smooth is None else smooth.shape,
        scale=None if smooth is None else smooth.scale,
        power=None if smooth is None else smooth.power,
        median=None if smooth is None else smooth.median,
        smooth_log_likelihood=None if smooth is None else smooth.log_likelihood,
        drawn=bool(times.size),
        smooth_note=note,
        smooth_days=tuple(times.tolist()),
        smooth_shares=tuple(shares.tolist()),
    )


def smooth_curve(low: Array, high: Array) -> SmoothCurve | str:
    """The likelier of the shapes, or why there is none."""
    dead = np.isfinite(high)
    kinds = np.unique(np.stack([low[dead], high[dead]]), axis=1).shape[1]
    if int(dead.sum()) < FEWEST_DEATHS or kinds < FEWEST_INTERVALS:
        return say("smooth few deaths", deaths=FEWEST_DEATHS, intervals=FEWEST_INTERVALS)
    if (low < 0.0).any() or (high <= 0.0).any():
        return say("smooth first day")
    fits = [fit_smooth(low, high, shape) for shape in SHAPES]
    held = [fit for fit in fits if fit is not None]
    if not held:
        return say("smooth not reached")
    return max(held, key=lambda fit: fit.log_likelihood)


def stays_inside(
    smooth: SmoothCurve, low: Array, high: Array, unit: IntArray, confidence: float
) -> bool:
    """Whether it lies in the curve's pointwise band on every day of a visit."""
    days = np.unique(np.concatenate([low, high[np.isfinite(high)]]))
    days = days[days > 0.0]
    if days.size > MOST_DAYS:  # days known one by one: evenly chosen ones
        days = days[np.linspace(0, days.size - 1, MOST_DAYS).astype(int)]
    shares = smooth.share(days)
    bands = curve_intervals(low, high, unit, days, confidence)
    for share, band in zip(shares, bands, strict=True):
        if band.low is None or band.high is None or band.share is None:
            return False
        below = 0.0 if band.share <= 0.0 else band.low
        above = 1.0 if band.share >= 1.0 else band.high
        if not below <= share <= above:
            return False
    return True
