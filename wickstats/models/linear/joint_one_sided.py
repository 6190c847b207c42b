"""The largest of several correlated t statistics, one-sided: P(max_j T_j > c).

For questions that ask only whether each treatment is better. Correlations of a product form
with loadings of one sign (comparisons with a reference; Dunnett 1955, J. Am. Stat. Assoc.
50:1096) are integrated as in ``joint_t``. Any other correlation goes along the fixed
directions of ``directions``: with Z = A u rho, u uniform on the sphere of dimension r, and
m(u) = max_j a_j'u,

    P(max_j T_j > c) = mean over u of P(rho m(u) > c s)

over directions with m above zero where c is, else one less the mean of P(rho |m| >= |c| s)
over those with m below zero. Opposite directions are taken together. What m does in the mean
is kept on 4,096 points of log m, with a bound on the error from the scatter of shifted copies.
Leans on ``joint_t``, ``directions``, numpy and scipy.special.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import chdtrc, fdtrc

from wickstats.models.linear.directions import (
    COPIES,
    ERRORS,
    LATTICES,
    QUADRATURE_ERROR,
    lattice_directions,
    matrix_root,
)
from wickstats.models.linear.estimates import NORMAL_DF, Array, t_upper
from wickstats.models.linear.joint_t import (
    critical_of,
    held_correlation,
    one_factor_share,
    product_loadings,
)

POINTS = 4096
LEAST = -14.0  # log m below which a direction counts for nothing
FEWEST = min(LATTICES)


@dataclass(frozen=True, slots=True, eq=False)
class OneSidedT:
    """The joint distribution for one correlation matrix.

    Attributes
    ----------
    k, rank
        Numbers of statistics and of dimensions.
    loadings
        Of a product correlation with loadings of one sign, else None.
    points
        (q,) values of |m|.
    above, below
        (copies, q) shares of directions with m above, below zero.
    """

    k: int
    rank: int
    loadings: Array | None
    points: Array
    above: Array
    below: Array

    def tail(self, c: float, df: float) -> tuple[float, float]:
        """P(max T > c) and a bound on its error; never below one t's, nor k times it."""
        alone = t_upper(c, df)
        if self.k == 1:
            return alone, 0.0
        if self.loadings is not None:
            value = 1.0 - one_factor_share(c, self.loadings, df, two_sided=False)
            error = QUADRATURE_ERROR
        else:
            value, error = self._along_directions(c, df)
        return min(1.0, max(alone, min(value, self.k * alone))), error

    def critical(self, confidence: float, df: float) -> float:
        """Value c with P(max T <= c) = confidence."""
        return _critical(self, confidence, df)

    def _along_directions(self, c: float, df: float) -> tuple[float, float]:
        ratio = (c / self.points) ** 2
        inner = (
            chdtrc(self.rank, ratio)
            if df > NORMAL_DF
            else fdtrc(self.rank, df, ratio / self.rank)
        )
        copies = self.above @ inner if c > 0.0 else 1.0 - self.below @ inner
        scatter = float(copies.std(ddof=1)) / float(np.sqrt(copies.size))
        return float(copies.mean()), ERRORS * scatter + 1e-6


def one_sided_t(correlation: Array) -> OneSidedT:
    """Lay out the distribution for a correlation matrix (k, k).

    Raises
    ------
    ValueError
        For a matrix that is not a correlation matrix.
    """
    return _laid(*held_correlation(correlation))


@lru_cache(maxsize=128)
def _laid(held: bytes, k: int) -> OneSidedT:
    r = np.frombuffer(held).reshape(k, k)
    none = np.zeros((0, 0))
    if k == 1:
        return OneSidedT(1, 1, None, np.zeros(0), none, none)
    loadings = product_loadings(r)
    if loadings is not None and loadings.min() >= 0.0:
        return OneSidedT(k, 2, loadings, np.zeros(0), none, none)
    root = matrix_root(r)
    rank = root.shape[1]
    points = np.linspace(LEAST, 0.0, POINTS)
    above, below = (np.zeros((COPIES, POINTS)) for _ in range(2))
    for copy, directions in enumerate(lattice_directions(max(rank, FEWEST), rank)):
        found = root @ directions
        both = np.concatenate([found.max(axis=0), -found.min(axis=0)])
        for out, own in ((above, both[both > 0.0]), (below, -both[both < 0.0])):
            out[copy] = _shares(np.log(own), points) / both.size
    return OneSidedT(k, rank, None, np.exp(points), above, below)


def _shares(logs: Array, points: Array) -> Array:
    """How many of the logs each point holds, shared out to the two nearest."""
    width = float(points[1] - points[0])
    place = (np.clip(logs, points[0], points[-1]) - points[0]) / width
    below = np.minimum(place.astype(np.int64), points.size - 2)
    part = place - below
    lower = np.bincount(below, weights=1.0 - part, minlength=points.size)
    upper = np.bincount(below + 1, weights=part, minlength=points.size)
    product: Array = np.asarray(lower + upper, dtype=float)
    return product


@lru_cache(maxsize=1024)
def _critical(joint: OneSidedT, confidence: float, df: float) -> float:
    return critical_of(lambda c: joint.tail(c, df)[0], joint.k, confidence, df, sides=1)
