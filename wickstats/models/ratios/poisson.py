"""Log-linear fit of counts on cells and blocks, by iteratively reweighted least squares.

Model: x_j Poisson with log mean = cell + sum over blocks of share times block (McCullagh &
Nelder 1989, Generalized Linear Models, chapter 6). In complete blocks a contrast of two
cells is the log ratio of their totals. Without interactions cells are what the geometry's
projector leaves of them. Dispersion by Pearson:
phi = sum (x - mu)^2/mu / df. Leans on numpy and the linear geometry.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.core.words import say
from wickstats.models.linear.estimates import Array
from wickstats.models.linear.geometry import Geometry

STEPS = 100
TOLERANCE = 1e-12
FARTHEST = 30.0  # a linear predictor this far from its start runs to infinity
RUNAWAY = 1e-6  # of the mean count: a fitted mean below it is on its way to zero
LOST = 1e-3  # the same of a unit without any count, where no finite fit was found


@dataclass(frozen=True, slots=True, eq=False)
class CountFit:
    """A settled log-linear fit.

    Attributes
    ----------
    coefficients
        (t + B,) minimum-norm coefficients of cells, then blocks; contrasts of them that
        are estimable do not depend on the choice.
    inverse
        (t + B, t + B) pseudo-inverse of X'WX.
    design
        (n, t + B) X.
    means
        (n,) fitted counts; zero in blocks and arms that hold no count at all (arms only
        where each has an expectation of its own).
    pearson
        sum (x - mu)^2/mu.
    """

    coefficients: Array
    inverse: Array
    design: Array
    means: Array
    pearson: float

    def holds(self, full: Array) -> bool:
        """Whether a combination of coefficients (t + B,) is estimable."""
        information = self.design.T @ (self.means[:, None] * self.design)
        return bool(np.allclose(self.inverse @ (information @ full), full, rtol=0, atol=1e-6))


def fit_counts_log_linear(counts: Array, layout: Geometry) -> CountFit | str:
    """Fit, or say why no finite estimate exists.

    Blocks and arms whose counts are all zero are fitted by zero: they tell nothing about
    the ratios of the others and stay out. Without interactions so do the arms of a level that
    has no count at all; an empty arm of a level that has some stays in.
    """
    indicators = np.zeros((counts.size, layout.n_cells))
    indicators[np.arange(counts.size), layout.cells] = 1.0
    if layout.space is not None:
        indicators = indicators @ layout.space
    design = np.hstack([indicators, layout.shares])
    used = np.ones(counts.size, dtype=bool)
    if layout.n_blocks:
        in_block = layout.shares > 0.0
        block_total = (counts[:, None] * in_block).sum(axis=0)
        # a unit tells nothing when a block that it stands in has no count
        used = ~(in_block & (block_total == 0.0)).any(axis=1)
    totals = np.bincount(layout.cells, weights=counts, minlength=layout.n_cells)
    empty = totals[layout.cells] == 0.0
    if layout.space is None:
        used &= ~empty
    if not used.any():
        return say("ratio empty arm")
    coefficients, mu, settled = _iterated(design[used], counts[used])
    if not settled and layout.space is not None:
        lost = empty[used] & (mu < LOST * counts[used].mean())
        if lost.any() and not lost.all():
            used[np.flatnonzero(used)[lost]] = False
            coefficients, mu, settled = _iterated(design[used], counts[used])
    if not settled:
        return say("ratio counts do not settle")
    x, y = design[used], counts[used]
    information = x.T @ (mu[:, None] * x)
    inverse = np.asarray(np.linalg.pinv(information, rcond=1e-10, hermitian=True), dtype=float)
    means = np.zeros(counts.size)
    means[used] = mu
    pearson = float(np.sum((y - mu) ** 2 / mu))
    return CountFit(coefficients, inverse, design, means, pearson)


def _iterated(x: Array, y: Array) -> tuple[Array, Array, bool]:
    """Coefficients, means, and whether they are finite ones at which the deviance rests."""
    eta = np.log(y + 0.5)
    start, mu, coefficients = eta, np.exp(eta), np.zeros(x.shape[1])
    deviance = np.inf
    for _ in range(STEPS):
        inverse = np.linalg.pinv(x.T @ (mu[:, None] * x), rcond=1e-10, hermitian=True)
        coefficients = inverse @ (x.T @ (mu * eta + y - mu))
        eta = x @ coefficients
        mu = np.exp(np.clip(eta, -2.0 * FARTHEST, 2.0 * FARTHEST))
        if np.abs(eta - start).max() > FARTHEST:
            break
        logs = np.where(y > 0, y * np.log(np.where(y > 0, y, 1.0) / mu), 0.0)
        new = 2.0 * float(np.sum(logs - (y - mu)))
        if abs(deviance - new) <= TOLERANCE * (abs(new) + 1.0):
            # tiny fitted means beside real ones: an estimate on its way to infinity
            return coefficients, mu, not (mu < RUNAWAY * y.mean()).any()
        deviance = new
    return coefficients, mu, False
