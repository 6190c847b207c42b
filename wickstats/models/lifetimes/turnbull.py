"""The survival curve of lives known to end in (last seen alive, first seen dead].

Nonparametric maximum likelihood (Peto 1973; Turnbull 1976, JRSS B 38:290-295): masses on
regions, nothing is known about where in a region. With common visits and nobody lost it
is one minus the empirical distribution at the visits; with known days of death it is the
product-limit curve. Leans on numpy, models.lifetimes.regions and models.lifetimes.mass.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.lifetimes.mass import fit_mass
from wickstats.models.lifetimes.regions import find_regions

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class IntervalCurve:
    """Masses of deaths known to lie in (low, high].

    Attributes
    ----------
    lows, highs
        (k,) regions (low, high] that hold mass; low = high where the day is known;
        high inf for those that outlive all visits.
    mass
        (k,) their probabilities, sum 1.
    n
        Sum of the weights (lives).
    log_likelihood, iterations
        At the maximum, and the steps it took (0: closed form).
    excess
        Largest Kuhn-Tucker violation over all regions, held or not: derivative/n - 1.
    """

    lows: Array
    highs: Array
    mass: Array
    n: float
    log_likelihood: float
    excess: float
    iterations: int

    def share(self, times: ArrayLike) -> tuple[Array, Array]:
        """(lowest, highest) share alive at the times: they differ inside a region."""
        t = np.asarray(times, dtype=float)[..., None]
        gone = self.highs <= t
        may_be_gone = gone | (self.lows < t)
        return (
            np.asarray((self.mass * ~may_be_gone).sum(axis=-1)),
            np.asarray((self.mass * ~gone).sum(axis=-1)),
        )

    def between(self, times: ArrayLike) -> Array:
        """Share alive with deaths spread evenly inside their region; none beyond the last."""
        t = np.asarray(times, dtype=float)[..., None]
        span = self.highs - self.lows
        inside = np.isfinite(span) & (span > 0.0)
        part = np.where(inside, (t - self.lows) / np.where(inside, span, 1.0), self.highs <= t)
        return np.asarray((self.mass * (1.0 - np.clip(part, 0.0, 1.0))).sum(axis=-1))

    def steps(self) -> tuple[Array, Array, Array]:
        """(time_low, time_high, share): the share holds from time_low to time_high.

        From time 0 (or the first region, if earlier); inside regions there is no value.
        """
        start = min(0.0, float(self.lows[0]))
        finite = np.isfinite(self.highs)
        ends = np.concatenate([[start], self.highs[finite]])
        last = self.highs[-1:] if finite.all() else np.zeros(0)
        begins = np.concatenate([self.lows, last])
        left = 1.0 - np.concatenate([[0.0], np.cumsum(self.mass)])[: ends.size]
        if finite.all():
            left[-1] = 0.0
        return ends, begins, np.clip(left, 0.0, 1.0)

    def restricted_mean(self, horizon: float) -> float:
        """Mean time lived up to the horizon, deaths spread evenly inside their region."""
        low, high = np.minimum(self.lows, horizon), np.minimum(self.highs, horizon)
        span = np.where(np.isfinite(self.highs), self.highs - self.lows, 0.0)
        inside = span > 0.0
        # mean of min(T, horizon) for T uniform on (low, high]
        early = np.where(inside, (high - low) / np.where(inside, span, 1.0), 1.0)
        point = np.where(np.isfinite(self.highs), high, horizon)
        spread = early * 0.5 * (low + high) + (1.0 - early) * horizon
        return float(self.mass @ np.where(inside, spread, point))


def interval_curve(
    lows: ArrayLike, highs: ArrayLike, weights: ArrayLike | None = None
) -> IntervalCurve:
    """Fit the curve.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead; low = high: day known.
    weights
        (n,) number of lives behind each row, default one.

    Raises
    ------
    ValueError
        For an empty list, missing ends, high below low, weights not above zero.
    ArithmeticError
        When the maximum was not reached.
    """
    regions = find_regions(lows, highs)
    n = regions.first.size
    w = np.ones(n) if weights is None else np.asarray(weights, dtype=float)
    if w.shape != (n,) or not np.isfinite(w).all() or (w <= 0.0).any():
        raise ValueError("weights must be one number above zero a row")
    fit = fit_mass(regions.first, regions.stop, w, regions.lows.size)
    held = fit.mass > 0.0
    return IntervalCurve(
        lows=regions.lows[held],
        highs=regions.highs[held],
        mass=fit.mass[held],
        n=float(w.sum()),
        log_likelihood=fit.log_likelihood,
        excess=fit.excess,
        iterations=fit.iterations,
    )
