"""Stub: see the docstrings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class LogRank:
    """Classical log-rank test with plants as units (right-censored)."""

    observed: Array
    expected: Array
    chi_square: float
    df: int
    p: float


def plant_scores(lows: ArrayLike, highs: ArrayLike, strata: ArrayLike | None = None) -> Array:
    """(n,) log-rank scores of plants; death in (low, high], high inf where not seen.

    Positive: died earlier than expected. Scores of a stratum sum to zero.
    """
    raise NotImplementedError


def unit_scores(scores: ArrayLike, units: ArrayLike, n_units: int) -> Array:
    """(n_units,) sum of plant scores."""
    raise NotImplementedError


def log_rank(
    times: ArrayLike, died: ArrayLike, groups: ArrayLike, strata: ArrayLike | None = None
) -> LogRank:
    """Classical log-rank, for reference where plants are the units."""
    raise NotImplementedError
