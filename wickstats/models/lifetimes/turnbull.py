"""Stub: see the docstrings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class IntervalCurve:
    """Nonparametric maximum likelihood for deaths known to lie in (low, high].

    Attributes
    ----------
    lows, highs
        (k,) regions (low, high] that hold mass; low = high where the death day is known;
        high inf for those that outlive all visits.
    mass
        (k,) their probabilities, sum 1.
    excess
        Largest Kuhn-Tucker violation: max over all regions of derivative/n - 1.
    """

    lows: Array
    highs: Array
    mass: Array
    n: int
    log_likelihood: float
    excess: float
    iterations: int
    unique: bool

    def share(self, times: ArrayLike) -> tuple[Array, Array]:
        """(lowest, highest) share alive at the times: they differ inside a region."""
        raise NotImplementedError

    def steps(self) -> tuple[Array, Array, Array]:
        """(time_low, time_high, share): share holds from time_low to time_high."""
        raise NotImplementedError


def interval_curve(
    lows: ArrayLike, highs: ArrayLike, weights: ArrayLike | None = None
) -> IntervalCurve:
    """Fit the curve. Death in (low, high]; high inf: not seen dead; low = high: known day."""
    raise NotImplementedError


def curve_at(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    dates: ArrayLike,
    confidence: float = 0.95,
) -> tuple["ArrayLike", ...]:
    """Pointwise intervals of an arm's curve at dates."""
    raise NotImplementedError
