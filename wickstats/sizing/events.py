"""What plants that live and die, and fruits one by one, scatter whatever the plots do.

The rules for shares and counts take the widest of several intervals; one of them is that of
the plants' (or single events') own scatter. It is nearly the same in every season, so that
an interval has a least half-width: t(df) times

    shares   root of sum w^2 v/(units m), v = p~(1 - p~), p~ = (n p + 1)/(n + 2) of the n
             plants of an arm, df Satterthwaite's of n - 1 (Agresti & Caffo 2000)
    counts   root of sum w^2/(units mu), df = expected counts less units

Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Events:
    """Expected events of one unit of each treatment.

    Attributes
    ----------
    means
        (t,) share alive, or expected count.
    plants
        (t,) plants of a unit; None for counts.
    """

    means: Array
    plants: Array | None = None

    def own_scatter(
        self, units: IntArray, weights: Array, design_df: float
    ) -> tuple[float, float]:
        """Standard error of a contrast from the events alone, and its df."""
        used = weights != 0.0
        if self.plants is None:
            means = np.maximum(self.means, 1e-9)
            parts = np.square(weights[used]) / (units * means)[used]
            whole = float(units @ means) - float(units.sum())
            return float(np.sqrt(parts.sum())), max(whole, design_df)
        n = units * self.plants
        p = (n * self.means + 1.0) / (n + 2.0)
        parts = (np.square(weights) * p * (1.0 - p) / n)[used]
        df = parts.sum() ** 2 / float(np.sum(parts**2 / np.maximum(n[used] - 1.0, 1.0)))
        return float(np.sqrt(parts.sum())), float(df)

    def pooled(self, variances: Array, units: IntArray, weights: Array) -> float:
        """Standard error that the units' interval of a count shows on average.

        The wider of the quasi-Poisson's, sqrt(phi sum w^2/(units mu)) with phi the mean of
        mu times a log total's variance, and that of pooled logarithms.
        """
        means = np.maximum(self.means, 1e-9)
        phi = float(np.mean(means * variances))
        quasi = phi * float(np.sum(np.square(weights) / (units * means)))
        logs = float(variances.mean()) * float(np.sum(np.square(weights) / units))
        return float(np.sqrt(max(quasi, logs)))
