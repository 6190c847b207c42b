"""Maximum of the approximated likelihood of shares: fixed effects and variances.

Bounded quasi-Newton steps (L-BFGS-B), then Newton's own with differences of the slopes, so
that the maximum is reached to about ten digits and does not depend on the path. A variance
at zero whose slope is not upwards is an answer. Where a fixed effect or a variance runs to
the end of its range there is no maximum, and words say so. Where one term alone is random,
the likelihood at the maximum is also integrated by adaptive Gauss-Hermite quadrature (Liu
and Pierce 1994, Biometrika 81:624; from memory), which tells how far the approximation is
off. No standard errors: with few blocks they promise too much. Leans on scipy and laplace.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import logsumexp

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.models.shares.laplace import Array, IntArray, Peak, Rows, find_peak, make_rows

FURTHEST = 15.0  # of a fixed effect, on the logit scale
LARGEST = 100.0  # of a variance: an SD of 10 on the logit scale
NEAR_END, FAR = 0.98, 0.25  # of the range: ran away; ran away where nothing was reached
NEWTON_STEPS, REACHED, DIFFERENCE = 20, 1e-9, 1e-5
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
        Newton's steps after the quasi-Newton ones.
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
        self.b: Array = np.asarray(np.linalg.lstsq(rows.fixed, logits, rcond=None)[0], float)
        self.t: Array = np.full(rows.variances, 0.3)
        self.steps, self.reached, self.ran_away = 0, False, False
        self.peak = find_peak(rows, self.b, self.t)

    def _at(self, x: Array) -> Peak:
        return find_peak(self.rows, x[: self.p], x[self.p :], self.peak.pull)

    def run(self) -> None:
        def loss(x: Array) -> tuple[float, Array]:
            found = self.peak = self._at(x)
            return -found.log_likelihood, -_slope(found)

        held = [(-FURTHEST, FURTHEST)] * self.p + [(0.0, LARGEST)] * self.t.size
        start = np.clip(np.concatenate([self.b, self.t]), *np.array(held).T)
        end = minimize(
            loss, start, jac=True, method="L-BFGS-B", bounds=held, options={"maxiter": 500}
        )
        x = np.asarray(end.x, dtype=float)
        if self._ran_away(x):
            self.ran_away = True
            return
        self._newton(self._without(x))
        self.ran_away = self._ran_away(np.concatenate([self.b, self.t]))
        if not self.reached and (self.t > FAR * LARGEST).any():
            self.ran_away = True

    def _ran_away(self, x: Array) -> bool:
        """Whether something stands at the end of its range."""
        ends = np.abs(x[: self.p]).max(initial=0.0), x[self.p :].max(initial=0.0)
        return bool(ends[0] > NEAR_END * FURTHEST or ends[1] > NEAR_END * LARGEST)

    def _without(self, x: Array) -> Array:
        """Variances next to nothing set to zero where that is as likely."""
        tiny = np.arange(x.size) >= self.p
        tiny &= x < NOTHING
        zeroed = np.where(tiny, 0.0, x)
        as_likely = self._at(zeroed).log_likelihood >= self._at(x).log_likelihood - 1e-9
        return zeroed if as_likely else x

    def _newton(self, x: Array) -> None:
        for step in range(1, NEWTON_STEPS + 1):
            self.peak = self._at(x)
            slope = _slope(self.peak)
            free = np.ones(x.size, dtype=bool)
            free[self.p :] = (x[self.p :] > 0.0) | (slope[self.p :] > 0.0)
            bend = self._bend(x, slope, free)
            move = np.zeros(x.size)
            if free.any():
                values, vectors = np.linalg.eigh(bend)
                if values.min() <= 0.0:  # no maximum here: a flat or rising way
                    break
                move[free] = vectors @ ((vectors.T @ slope[free]) / values)
            new = x + move
            new[self.p :] = np.clip(new[self.p :], 0.0, LARGEST)
            moved = float(np.abs(new - x).max(initial=0.0))
            x, self.steps = new, step
            if moved <= REACHED * max(1.0, float(np.abs(x).max(initial=0.0))):
                self.reached = True
                break
        self.b, self.t = x[: self.p], x[self.p :]
        self.peak = find_peak(self.rows, self.b, self.t)
        self.reached &= self.peak.settled

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
