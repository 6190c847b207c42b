"""Volume of a reservoir and days between visits: what it must hold, how often it runs dry.

    needed = rate x days between visits x (1 + missed visits) + unusable

rate: liters that one reservoir gives in a day, at an upper quantile between wicks. Wicks
differ by a factor m that is lognormal with mean 1 and coefficient of variation cv:
m = exp(s z - s^2/2), s^2 = log(1 + cv^2). Volume = daily loss x interval + what cannot be
used + a reserve for one missed visit: common practice, no source. A reservoir is dry before
the next visit when m times the loss of those days is more than it can give; the share is
found by drawing wicks and the first day of the interval. Leans on numpy and on the seeded
generator in models.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from wickstats.models.redraw.scheme import generator

FloatArray = NDArray[np.float64]
DRAWS = 10_000
UPPER = 0.95
_SIZES = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 100.0, 200.0, 300.0, 500.0, 1000.0)


@dataclass(frozen=True, slots=True)
class Needed:
    """What a reservoir must hold for one interval.

    Attributes
    ----------
    rate_l_d, upper_l_d
        Liters a day from the mean wick, and from the wick at the upper quantile, over the
        thirstiest stretch of the season that is as long as the interval.
    volume_l, with_reserve_l
        At the upper quantile, without and with one missed visit.
    """

    interval_d: int
    rate_l_d: float
    upper_l_d: float
    volume_l: float
    with_reserve_l: float


def upper_factor(cv: float, share: float = UPPER) -> float:
    """Flow of the wick at quantile ``share``, relative to the mean of all wicks."""
    if cv == 0.0:
        return 1.0
    spread = math.sqrt(math.log1p(cv**2))
    return math.exp(spread * NormalDist().inv_cdf(share) - spread**2 / 2.0)


def volume(rate: float, interval_d: float, unusable_l: float = 0.0, missed: int = 0) -> float:
    """Liters that a reservoir must hold."""
    return rate * interval_d * (1 + missed) + unusable_l


def thirstiest(losses: FloatArray, interval_d: int) -> float:
    """Highest mean of ``losses`` (L/d, by day, no gaps) over ``interval_d`` days in a row."""
    window = min(interval_d, len(losses))
    return float(_sums(losses, window).max()) / window


def _sums(losses: FloatArray, window: int) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(losses)])
    sums: FloatArray = total[window:] - total[:-window]
    return sums


def needed(losses: FloatArray, interval_d: int, cv: float, unusable_l: float) -> Needed:
    """What a reservoir must hold that loses ``losses`` (L/d, by day)."""
    rate = thirstiest(losses, interval_d)
    upper = rate * upper_factor(cv)
    return Needed(
        interval_d=interval_d,
        rate_l_d=rate,
        upper_l_d=upper,
        volume_l=volume(upper, interval_d, unusable_l),
        with_reserve_l=volume(upper, interval_d, unusable_l, missed=1),
    )


def chance_dry(
    losses: FloatArray,
    days: int,
    usable_l: float,
    cv: float,
    seed: int | str,
    draws: int = DRAWS,
) -> float:
    """Share of intervals of ``days`` days at whose end a reservoir is dry, by simulation.

    The same seed gives the same wicks and first days for every volume, so that a larger
    reservoir never comes out worse.
    """
    rng = generator(seed, f"supply {days}")
    spread = math.sqrt(math.log1p(cv**2))
    wicks = np.exp(spread * rng.standard_normal(draws) - spread**2 / 2.0)
    window = min(days, len(losses))
    sums = _sums(losses, window) * (days / window)
    lost = wicks * sums[rng.integers(0, len(sums), draws)]
    return float(np.mean(lost > max(usable_l, 0.0) * (1 + 1e-12)))


def sizes_around(smallest: float, largest: float, holds_l: float | None) -> tuple[float, ...]:
    """Volumes to look at: usual ones around what is needed, and the trial's own."""
    below = [s for s in _SIZES if s < smallest][-1:]
    between = [s for s in _SIZES if smallest <= s <= largest]
    above = [s for s in _SIZES if s > largest][:1]
    own = [] if holds_l is None else [holds_l]
    return tuple(sorted({*below, *between, *above, *own}))
