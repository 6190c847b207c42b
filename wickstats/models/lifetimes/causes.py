"""Cumulative incidence of causes of death, each beside the others, never one minus a curve.

Model: with masses p_j of deaths on regions j, the incidence of cause k by the end of a
region is the sum of p_j q_jk, q_jk the part of the deaths expected in region j that noted
cause k. With known days this is Aalen & Johansen (1978, Scand. J. Statist. 5:141-150), sum
of S(t-) d_k / n; with common visits it is the same on the visits. Where the intervals of
deaths overlap in part, the masses are those of all deaths together (Turnbull 1976), so
that the causes and the share alive add up to one at every time (after Hudgens, Satten &
Longini 2001, Biometrics 57:74-80, with the common masses kept).

Interval at a time: logit of (x + 0.5)/(n + 1), x = incidence times n plants of known
status, half-width the larger of t(units - 1) times the leave-one-unit-out standard error
and the normal quantile times the binomial one, as for shares alive. Leans on numpy,
models.lifetimes.turnbull and models.lifetimes.intervals.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.lifetimes.intervals import ShareInterval, interval_of_shares
from wickstats.models.lifetimes.turnbull import IntervalCurve, interval_curve

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Incidence:
    """Masses of deaths by region and cause.

    Attributes
    ----------
    curve
        The curve of all deaths together.
    mass
        (causes, regions) mass of each cause; over the causes they sum to the curve's masses,
        without what outlives all visits.
    """

    curve: IntervalCurve
    mass: Array

    def at(self, times: ArrayLike) -> Array:
        """(causes, times) incidence by then: deaths in regions that have ended."""
        t = np.atleast_1d(np.asarray(times, dtype=float))
        return np.asarray(self.mass @ (self.curve.highs[:, None] <= t))

    def between(self, times: ArrayLike) -> Array:
        """(causes, times) incidence by then, deaths spread evenly inside their region."""
        t = np.atleast_1d(np.asarray(times, dtype=float))
        low, high = self.curve.lows[:, None], self.curve.highs[:, None]
        span = high - low
        inside = np.isfinite(span) & (span > 0.0)
        part = np.where(inside, (t - low) / np.where(inside, span, 1.0), high <= t)
        return np.asarray(self.mass @ np.clip(part, 0.0, 1.0))


def cumulative_incidence(
    lows: ArrayLike, highs: ArrayLike, causes: ArrayLike, n_causes: int
) -> Incidence:
    """Fit the incidence of every cause.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead; low = high: day known.
    causes
        (n,) code 0..n_causes-1 of each death; of lives not seen dead it is not read.

    Raises
    ------
    ValueError
        For an empty list, missing ends, high below low, or a death without a known code.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    codes = np.asarray(causes, dtype=np.int64)
    curve = interval_curve(low, high)
    dead = np.isfinite(high)
    if codes.shape != low.shape or ((codes < 0) | (codes >= n_causes))[dead].any():
        raise ValueError("every death needs the code of a cause")
    ends = np.isfinite(curve.highs)
    point = (curve.lows == curve.highs)[ends]
    a, b = low[dead, None], high[dead, None]
    first, last, mass = curve.lows[ends], curve.highs[ends], curve.mass[ends]
    # a region's point t belongs to (a, b] when a < t, and to the known day t itself
    within = (last <= b) & np.where(point, (a < first) | ((a == b) & (a == first)), a <= first)
    weight = within * mass
    weight = weight / weight.sum(axis=1, keepdims=True)
    by_cause = np.zeros((n_causes, int(ends.sum())))
    np.add.at(by_cause, codes[dead], weight)
    total = by_cause.sum(axis=0)
    out = np.zeros((n_causes, curve.mass.size))
    out[:, ends] = mass * by_cause / np.where(total > 0.0, total, 1.0)
    return Incidence(curve, out)


def incidence_intervals(
    lows: ArrayLike,
    highs: ArrayLike,
    causes: ArrayLike,
    n_causes: int,
    units: ArrayLike,
    dates: ArrayLike,
    confidence: float = 0.95,
) -> tuple[tuple[ShareInterval, ...], ...]:
    """Pointwise intervals of an arm's incidence, for each cause one a date.

    Parameters
    ----------
    lows, highs, causes, n_causes
        As for ``cumulative_incidence``.
    units
        (n,) unit codes of the plants; each is left out in turn.
    dates
        Shared dates; inside a region of mass deaths are taken as spread evenly.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    codes, at = np.asarray(causes, dtype=np.int64), np.atleast_1d(np.asarray(dates, float))
    names, which = np.unique(np.asarray(units), return_inverse=True)

    def counts(keep: NDArray[np.bool_]) -> tuple[Array, Array]:
        a, b = low[keep], high[keep]
        known = ((a[:, None] >= at) | (b[:, None] <= at)).sum(axis=0).astype(float)
        return cumulative_incidence(a, b, codes[keep], n_causes).between(at) * known, known

    whole = counts(np.ones(low.size, dtype=bool))
    parts = [counts(which != j) for j in range(names.size)] if names.size > 1 else []
    return tuple(
        tuple(
            interval_of_shares(
                float(whole[0][k, i]),
                float(whole[1][i]),
                np.array([part[0][k, i] for part in parts]),
                np.array([part[1][i] for part in parts]),
                confidence,
                n_units=int(names.size),
            )
            for i in range(at.size)
        )
        for k in range(n_causes)
    )
