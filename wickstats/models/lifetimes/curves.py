"""The product-limit curve of right-censored lives, plants taken as independent.

Model: S(t) = prod over death times t_j <= t of (1 - d_j / n_j) (Kaplan & Meier 1958),
variance S^2 sum d_j / (n_j (n_j - d_j)) (Greenwood 1926); interval on log(-log S)
(Kalbfleisch & Prentice 1980) or log S; restricted mean by the area under S with variance
sum A_j^2 d_j / (n_j (n_j - d_j)), A_j the area beyond t_j (Klein & Moeschberger 2003,
section 4.5). With late entry n_j counts those under observation: entered < t_j <= left.

Where plants stand in plots, these intervals are too narrow: see ``intervals``.
Leans on numpy and scipy.special.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
Scale = Literal["log-log", "log"]


@dataclass(frozen=True, slots=True, eq=False)
class KaplanMeier:
    """Product-limit curve: at each death time the share alive just after it.

    Attributes
    ----------
    times, survival, se
        (k,) death times, S and its standard error (0 where nobody is left).
    at_risk, deaths
        (k,) under observation just before, and dying at, each time.
    n, last_time
        Lives, and the last time anybody was under observation.
    """

    times: Array
    survival: Array
    se: Array
    at_risk: IntArray
    deaths: IntArray
    n: int
    last_time: float

    def share(self, times: ArrayLike) -> Array:
        """S at the given times.

        Raises
        ------
        ValueError
            For times beyond the last observation while somebody is still alive.
        """
        return np.concatenate([[1.0], self.survival])[self._index(times)]

    def interval(
        self, times: ArrayLike, confidence: float = 0.95, scale: Scale = "log-log"
    ) -> tuple[Array, Array]:
        """Pointwise interval at the given times.

        Where S is 1 or 0 these scales have none: the exact binomial limit for the plants
        at risk is given instead, never a width of zero.
        """
        index = self._index(times)
        s = np.concatenate([[1.0], self.survival])[index]
        se = np.concatenate([[0.0], self.se])[index]
        inside = (s > 0.0) & (s < 1.0)
        z = float(ndtri(0.5 * (1.0 + confidence)))
        safe = np.where(inside, s, 0.5)
        if scale == "log":
            half = z * se / safe
            low, high = safe * np.exp(-half), np.minimum(safe * np.exp(half), 1.0)
        else:
            half = z * se / (safe * np.abs(np.log(safe)))
            low, high = safe ** np.exp(half), safe ** np.exp(-half)
        first = self.at_risk[:1] if self.at_risk.size else np.array([self.n])
        at_risk = np.maximum(np.concatenate([first, self.at_risk])[index], 1)
        edge = (0.5 * (1.0 - confidence)) ** (1.0 / at_risk)
        low = np.where(inside, low, np.where(s >= 1.0, edge, 0.0))
        high = np.where(inside, high, np.where(s >= 1.0, 1.0, 1.0 - edge))
        return low, high

    def median(self) -> float | None:
        """First time with S at or below one half; None when never reached."""
        return _first_at_or_below(self.times, self.survival)

    def median_interval(
        self, confidence: float = 0.95, scale: Scale = "log-log"
    ) -> tuple[float | None, float | None]:
        """Times at which the pointwise limits reach one half (Brookmeyer & Crowley 1982)."""
        low, high = self.interval(self.times, confidence, scale)
        # at S = 0 the limit of these scales is 0 itself
        high = np.where(self.survival <= 0.0, 0.0, high)
        return _first_at_or_below(self.times, low), _first_at_or_below(self.times, high)

    def restricted_mean(self, horizon: float) -> tuple[float, float]:
        """Mean time lived up to the horizon, and its standard error.

        Raises
        ------
        ValueError
            For a horizon at or below zero, or beyond the last observation.
        """
        if horizon <= 0.0:
            raise ValueError("the horizon must be above zero")
        self._index([horizon])
        used = self.times < horizon
        knots = np.concatenate([[0.0], self.times[used], [horizon]])
        areas = np.concatenate([[1.0], self.survival[used]]) * np.diff(knots)
        beyond = np.cumsum(areas[::-1])[::-1][1:]
        n, d = self.at_risk[used], self.deaths[used]
        left = np.maximum(n - d, 1)  # where nobody is left the area beyond is zero
        variance = float(np.sum(beyond**2 * d / (n * left)))
        return float(areas.sum()), float(np.sqrt(variance))

    def _index(self, times: ArrayLike) -> IntArray:
        asked = np.asarray(times, dtype=float)
        if asked.size and float(asked.max()) > self.last_time and not self._complete():
            raise ValueError(
                f"nobody was under observation after {self.last_time:g}: no share there"
            )
        return np.searchsorted(self.times, asked, side="right").astype(np.int64)

    def _complete(self) -> bool:
        return bool(self.survival.size and self.survival[-1] <= 0.0)


def kaplan_meier(
    times: ArrayLike, died: ArrayLike, entered: ArrayLike | None = None
) -> KaplanMeier:
    """Product-limit curve of right-censored lives.

    Parameters
    ----------
    times
        (n,) time of death, or when last seen alive.
    died
        (n,) True where ``times`` is the death.
    entered
        (n,) times after which each life was under observation (late entry), default 0.

    Raises
    ------
    ValueError
        For an empty list, shapes that do not fit, numbers that are not finite, a life
        that ends before it enters.
    """
    t = np.asarray(times, dtype=float)
    dead = np.asarray(died, dtype=bool)
    if t.ndim != 1 or t.size == 0 or dead.shape != t.shape:
        raise ValueError("times and died must be lists of the same length, not empty")
    start = np.full(t.size, -np.inf) if entered is None else np.asarray(entered, dtype=float)
    if not np.isfinite(t).all() or start.shape != t.shape or np.isnan(start).any():
        raise ValueError("a time is missing or not finite")
    if (start >= t).any():
        raise ValueError("a life ends before it comes under observation")
    points, deaths = np.unique(t[dead], return_counts=True)
    # under observation just before: entered before, not yet left
    at_risk = np.searchsorted(np.sort(start), points, side="left") - np.searchsorted(
        np.sort(t), points, side="left"
    )
    survival: Array = np.cumprod(1.0 - deaths / at_risk).astype(np.float64)
    left = at_risk - deaths
    terms = np.where(left > 0, deaths / (at_risk * np.maximum(left, 1.0)), 0.0)
    return KaplanMeier(
        times=points,
        survival=survival,
        se=survival * np.sqrt(np.cumsum(terms)),
        at_risk=at_risk.astype(np.int64),
        deaths=deaths.astype(np.int64),
        n=int(t.size),
        last_time=float(t.max()),
    )


def _first_at_or_below(times: Array, shares: Array) -> float | None:
    # one half is compared with a hair of room for products of fractions
    reached = np.flatnonzero(shares <= 0.5 + 1e-12)
    return float(times[reached[0]]) if reached.size else None
