"""Stub: see the docstrings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class KaplanMeier:
    """Product-limit curve: at each death time the share alive just after it."""

    times: Array
    survival: Array
    se: Array
    at_risk: IntArray
    deaths: IntArray
    n: int
    last_time: float

    def share(self, times: ArrayLike) -> Array:
        """S at the given times."""
        raise NotImplementedError

    def log_log_interval(
        self, times: ArrayLike, confidence: float = 0.95
    ) -> tuple[Array, Array]:
        """Pointwise log(-log) interval (plants as independent)."""
        raise NotImplementedError

    def median(self) -> float | None:
        """First time with S at or below one half; None when never reached."""
        raise NotImplementedError

    def restricted_mean(self, horizon: float) -> tuple[float, float]:
        """Restricted mean survival time and its standard error."""
        raise NotImplementedError


def kaplan_meier(
    times: ArrayLike, died: ArrayLike, entered: ArrayLike | None = None
) -> KaplanMeier:
    """Product-limit curve of right-censored lives; ``entered``: under observation after."""
    raise NotImplementedError
