"""Stub: see the docstrings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class AliveCounts:
    """Per unit at one date: plants, alive, dead, open (status not known)."""

    plants: NDArray[np.int64]
    alive: NDArray[np.int64]
    dead: NDArray[np.int64]
    open: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class RestrictedMeans:
    """Restricted mean survival time per unit.

    Attributes
    ----------
    values
        (n_units,) mean over the unit's plants; nan-free: units without plants are refused.
    variances
        (n_units,) v = variance of the arm's plants / m, the input of the dispersion rule.
    plants
        (n_units,) m.
    plant_values
        (n,) time lived to the horizon; pseudo-values in arms with early censoring.
    censored
        Number of plants lost to follow-up before the horizon.
    """

    values: Array
    variances: Array
    plants: NDArray[np.int64]
    plant_values: Array
    horizon: float
    censored: int


def alive_at(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    n_units: int,
    date: float,
    *,
    grace: float = 14.0,
) -> AliveCounts:
    """Count plants alive, dead and open at a date, by unit."""
    raise NotImplementedError


def restricted_means(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    arms: ArrayLike,
    horizon: float,
) -> RestrictedMeans:
    """Restricted mean survival time to the horizon by unit.

    lows, highs, units are (n,) by plant, ``arms`` (n_units,) by unit.
    """
    raise NotImplementedError
