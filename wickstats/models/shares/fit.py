"""Maximum of the approximated likelihood of shares: fixed effects and variances.

Newton's steps, with the second derivative by differences of the slopes, shortened where they
overshoot, so that the maximum is reached to about nine digits and does not depend on the path
(a quasi-Newton library routine waits for threads on busy machines). A variance
at zero whose slope is not upwards is an answer. Where a fixed effect or a variance runs to
the end of its range there is no maximum, and words say so. Where one term alone is random,
the likelihood at the maximum is also integrated by adaptive Gauss-Hermite quadrature (Liu
and Pierce 1994, Biometrika 81:624; from memory), which tells how far the approximation is
off. No standard errors: with few blocks they promise too much. Leans on scipy and laplace.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.models.shares.laplace import Array, IntArray, Peak, Rows, find_peak, make_rows

FURTHEST = 15.0  # of a fixed effect, on the logit scale
LARGEST = 100.0  # of a variance: an SD of 10 on the logit scale
NEAR_END, FAR = 0.98, 0.25  # of the range: ran away; ran away where nothing was reached
STEPS, HALVES = 100, 30
LONGEST = 3.0  # step of any parameter
FLATTEST = 1e-8  # bend below which a direction counts as flat, of the largest
REACHED, DIFFERENCE = 1e-9, 1e-5
NOTHING = 1e-7  # a variance below this is zero where zero is as likely
POINTS = 25


@dataclass(frozen=True, slots=True, eq=False)
class SharesFit:
    """A settled fit.

    Attributes
    ----------
    fixed
        (p,) effects of the fixed columns, on the logit scale.
    sd
        Term -> standard deviation on the logit scale, at or above zero.
    log_likelihood
        By Laplace's approximation, binomial coefficients included.
    by_quadrature
        The same by quadrature, where one term alone is random, else None.
    steps
        Newton's steps.
    """

    fixed: Array
    sd: Mapping[str, float]
    log_likelihood: float
    by_quadrature: float | None
    steps: int


def fit_shares(
    count: Array,
    total: Array,
    fixed: Array,
    groups: Mapping[str, IntArray],
    rows_name: str | None = None,
) -> SharesFit:
    """Fit the model.

    Parameters
    ----------
    count, total
        (n,) so many of so many; parts of plants are allowed.
    fixed
        (n, p) columns of full rank.
    groups
        Name -> (n,) codes of the levels of each random term.
    rows_name
        Name of a term in which every row is a level of its own; None: there is none.

    Raises
    ------
    AnalysisError
        Where the likelihood has no maximum or it was not reached, in words.
    ValueError
        For counts outside 0 to total, shapes that do not fit, or columns that depend on one
        another.
    """
    y, n, x = (np.asarray(v, dtype=float) for v in (count, total, fixed))
    if not (y.shape == n.shape == x.shape[:1] and x.ndim == 2 and y.size):
        raise ValueError("one count, total and row of fixed columns a row")
    if not (np.isfinite(y).all() and np.isfinite(n).all() and np.isfinite(x).all()):
        raise ValueError("a count, a total or a fixed column is missing")
    if (y < 0.0).any() or (y > n).any() or (n <= 0.0).any():
        raise ValueError("counts lie between 0 and their totals, totals above 0")
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise ValueError("fixed columns depend on one another")
    rows = make_rows(y, n, x, list(groups.values()), by_row=rows_name is not None)
    names = [*groups, *([] if rows_name is None else [rows_name])]
    climb = _Climb(rows)
    climb.run()
    if climb.ran_away:
        raise AnalysisError(say("shares runaway"))
    if not climb.reached:
        raise AnalysisError(say("shares not reached"))
    peak = climb.peak
    alone = rows.variances == 1
    return SharesFit(
        climb.b,
        {name: float(np.sqrt(t)) for name, t in zip(names, climb.t, strict=True)},
        peak.log_likelihood,
        quadrature(rows, climb.b, float(climb.t[0]), peak) if alone else None,
        climb.steps,
    )


class _Climb:
    """Parameters on their way to the maximum."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.p = rows.fixed.shape[1]
        logits = np.log((rows.count + 0.5) / (rows.total - rows.count + 0.5))
        start = np.asarray(np.linalg.lstsq(rows.fixed, logits, rcond=None)[0], float)
        self.b: Array = np.clip(start, -FURTHEST, FURTHEST)
        self.t: Array = np.full(rows.variances, 0.3)
        self.held = np.zeros(self.p + self.t.size, dtype=bool)  # at zero for good
        self.steps, self.reached, self.ran_away = 0, False, False
        self.rounded = True  # whether the likelihood bends down all around
        self.peak = find_peak(rows, self.b, self.t)

    def _at(self, x: Array) -> Peak:
        return find_peak(self.rows, x[: self.p], x[self.p :], self.peak.pull)

    def run(self) -> None:
        x = np.concatenate([self.b, self.t])
        for self.steps in range(1, STEPS + 1):
            self.peak = self._at(x)
            new = self._next(x)
            moved = np.inf if new is None else float(np.abs(new - x).max(initial=0.0))
            x = x if new is None else new
            self.ran_away = self._at_an_end(x, NEAR_END)
            if new is None or self.ran_away:
                break
            settled = moved <= REACHED * max(1.0, float(np.abs(x).max(initial=0.0)))
            if settled and not self._take_out(x):
                self.reached = self.rounded
                break
        self.ran_away |= not self.reached and self._at_an_end(x, FAR)
        self.b, self.t = x[: self.p], x[self.p :]
        self.peak = find_peak(self.rows, self.b, self.t)
        self.reached &= self.peak.settled

    def _next(self, x: Array) -> Array | None:
        """Newton's next place, nearer where it is no higher; None where nothing is higher."""
        slope, here = _slope(self.peak), self.peak.log_likelihood
        free = ~self.held
        free[self.p :] &= (x[self.p :] > 0.0) | (slope[self.p :] > 0.0)
        if not free.any():
            return x
        values, vectors = np.linalg.eigh(self._bend(x, slope, free))
        self.rounded = bool(values.min() > 0.0)
        # away from the maximum the likelihood may bend the other way: uphill all the same
        bends = np.maximum(np.abs(values), FLATTEST * float(np.abs(values).max()) + FLATTEST)
        move = np.zeros(x.size)
        move[free] = vectors @ ((vectors.T @ slope[free]) / bends)
        move *= min(1.0, LONGEST / max(float(np.abs(move).max()), LONGEST))
        for halved in range(HALVES):
            new = x + 0.5**halved * move
            new[self.p :] = np.clip(new[self.p :], 0.0, LARGEST)
            new[: self.p] = np.clip(new[: self.p], -FURTHEST, FURTHEST)
            if self._at(new).log_likelihood >= here - 1e-12 * (abs(here) + 1.0):
                return new
        return None

    def _at_an_end(self, x: Array, part: float) -> bool:
        """Whether something stands at the end of its range, or that part of the way."""
        ends = np.abs(x[: self.p]).max(initial=0.0), x[self.p :].max(initial=0.0)
        return bool(ends[0] > NEAR_END * FURTHEST or ends[1] > part * LARGEST)

    def _take_out(self, x: Array) -> bool:
        """Set variances next to nothing to zero for good, where that is as likely."""
        tiny = (np.arange(x.size) >= self.p) & (x > 0.0) & (x < NOTHING)
        if not tiny.any():
            return False
        zeroed = np.where(tiny, 0.0, x)
        if self._at(zeroed).log_likelihood < self._at(x).log_likelihood - 1e-9:
            return False
        self.held |= tiny
        x[tiny] = 0.0
        return True

    def _bend(self, x: Array, slope: Array, free: "np.ndarray") -> Array:
        """Minus the second derivative in the free directions."""
        where = np.flatnonzero(free)
        out = np.zeros((where.size, where.size))
        for k, j in enumerate(where):
            there = x.copy()
            there[j] += DIFFERENCE
            out[k] = (slope - _slope(self._at(there)))[where] / DIFFERENCE
        return np.asarray(0.5 * (out + out.T))


def _slope(peak: Peak) -> Array:
    return np.concatenate([peak.by_fixed, peak.by_variance])


def quadrature(rows: Rows, b: Array, t: float, peak: Peak, points: int = POINTS) -> float:
    """Log likelihood with one random term, integrated level by level about the peak."""
    if t == 0.0:
        return peak.log_likelihood
    levels = np.eye(rows.count.size) if rows.by_row else rows.levels
    first, code = levels.argmax(axis=0), levels.argmax(axis=1)
    nodes, weights = np.polynomial.hermite.hermgauss(points)
    wide = np.sqrt(2.0 * peak.spread[first])[:, None]
    g = peak.g[first][:, None] + wide * nodes
    f = (rows.fixed @ b)[:, None] + g[code]
    height = rows.count[:, None] * f - rows.total[:, None] * np.logaddexp(0.0, f)
    parts = levels.T @ height - g**2 / (2.0 * t) - 0.5 * np.log(2.0 * np.pi * t)
    parts = parts + np.log(weights) + nodes**2 + np.log(wide)
    return float(logsumexp(parts, axis=1).sum()) + rows.constant
