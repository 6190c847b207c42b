"""Likelihood of a logit model of shares with random intercepts, by Laplace's approximation.

Model: y_i of n_i with share p_i, logit p_i = f_i = x_i b + g_i; g is normal with covariance
V = sum_k t_k Z_k Z_k' + t_0 I, where Z_k tells the level of term k that row i lies in and
t_0 is the variance between rows themselves (none: 0). Variances, not standard deviations,
are the parameters, so that the slope at zero tells whether zero is the answer.

The integral over g is replaced by that of the normal curve at its peak (Breslow and Clayton
1993, Journal of the American Statistical Association 88:9; from memory):

    l(b, t) = sum log binomial - g' V^-1 g / 2 - log |I + V W| / 2,  W = diag(n p (1 - p)).

At the peak g = V a with a = y - n p. With A = Z diag(sqrt t), r = 1/(1 + t_0 W), W~ = r W and
Q = I + A' W~ A everything is solved in the size of Q, the levels of the terms:
R = (W^-1 + V)^-1 = W~ - W~ A Q^-1 A' W~, log |I + V W| = log |Q| - sum log r. The slopes hold
what the peak's own moving does to W (as for Gaussian processes: Rasmussen and Williams 2006,
algorithms 3.1 and 5.1; from memory). Counts may be parts of plants: the binomial
coefficient is then taken by the gamma function. Leans on numpy and scipy.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.special import expit, gammaln

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

PEAK_STEPS, HALVES = 100, 40
PEAK_SETTLED = 1e-12  # relative rise of the peak's height at which it is reached


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """What is fitted: (n,) counts and totals, (n, p) fixed columns, terms.

    ``levels`` (n, q) indicators of all levels of all terms; ``term`` (q,) the term of each;
    ``by_row`` whether rows vary of themselves. The order of variances: the terms', then the
    rows'.
    """

    count: Array
    total: Array
    fixed: Array
    levels: Array
    term: IntArray
    terms: int
    by_row: bool

    @property
    def variances(self) -> int:
        """Number of variances."""
        return self.terms + int(self.by_row)

    @property
    def constant(self) -> float:
        """Logarithm of the binomial coefficients."""
        y, n = self.count, self.total
        return float(np.sum(gammaln(n + 1.0) - gammaln(y + 1.0) - gammaln(n - y + 1.0)))


def make_rows(
    count: Array, total: Array, fixed: Array, codes: Sequence[IntArray], *, by_row: bool
) -> Rows:
    """Rows from the codes of each random term."""
    parts, term = [], []
    for k, code in enumerate(codes):
        found = np.unique(code)
        parts.append((code[:, None] == found).astype(float))
        term.extend([k] * found.size)
    levels = np.hstack(parts) if parts else np.zeros((count.size, 0))
    where = np.array(term, dtype=np.int64)
    return Rows(count, total, fixed, levels, where, len(codes), by_row)


@dataclass(frozen=True, slots=True, eq=False)
class Peak:
    """The approximation at one set of parameters: log likelihood, slopes, and the peak.

    ``by_fixed`` (p,) and ``by_variance`` (terms, then rows) are the slopes of
    ``log_likelihood``; ``spread`` (n,) variances of g given the counts; ``pull`` (n,) is a.
    """

    log_likelihood: float
    by_fixed: Array
    by_variance: Array
    g: Array
    spread: Array
    pull: Array
    settled: bool


def find_peak(rows: Rows, b: Array, t: Array, start: Array | None = None) -> Peak:
    """Climb to the most likely g and approximate the likelihood there.

    Parameters
    ----------
    rows
        The data.
    b
        (p,) fixed effects.
    t
        Variances, at or above zero.
    start
        (n,) a from an earlier peak, to start from.
    """
    with_rows = float(t[rows.terms]) if rows.by_row else 0.0
    root = np.sqrt(t[rows.term]) if rows.term.size else np.zeros(0)
    a_part = rows.levels * root
    base = rows.fixed @ b

    def spread_out(pull: Array) -> Array:
        return np.asarray(a_part @ (a_part.T @ pull) + with_rows * pull)

    def height(f: Array) -> float:
        return float(rows.count @ f - rows.total @ np.logaddexp(0.0, f))

    pull = np.zeros(rows.count.size) if start is None else start
    g = spread_out(pull)
    here = height(base + g) - 0.5 * float(pull @ g)
    settled = False
    for _ in range(PEAK_STEPS):
        at = _Solved(rows, base + g, a_part, with_rows)
        goal = at.r * (at.w * g + at.residual)
        goal = goal - at.w_row * (a_part @ at.solve(a_part.T @ goal))
        step = goal - pull
        new, there_g, there = pull, g, here
        for halved in range(HALVES):
            new = pull + 0.5**halved * step
            there_g = spread_out(new)
            there = height(base + there_g) - 0.5 * float(new @ there_g)
            if there >= here - PEAK_SETTLED * (abs(here) + 1.0):
                break
        rise = there - here
        pull, g, here = new, there_g, there
        if abs(rise) <= PEAK_SETTLED * (abs(here) + 1.0):
            settled = True
            break
    return _peak(rows, base + g, g, here, a_part, with_rows, settled=settled)


class _Solved:
    """W, Q and its factor at one f."""

    def __init__(self, rows: Rows, f: Array, a_part: Array, with_rows: float) -> None:
        p = expit(f)
        self.p = p
        self.w = rows.total * p * expit(-f)
        self.residual = rows.count - rows.total * p
        self.r = 1.0 / (1.0 + with_rows * self.w)
        self.w_row = self.w * self.r
        q = np.eye(a_part.shape[1]) + a_part.T @ (self.w_row[:, None] * a_part)
        self.factor = cho_factor(q, lower=True)

    def solve(self, x: Array) -> Array:
        return np.asarray(cho_solve(self.factor, x)) if x.size else x


def _peak(
    rows: Rows,
    f: Array,
    g: Array,
    height: float,
    a_part: Array,
    with_rows: float,
    *,
    settled: bool,
) -> Peak:
    at = _Solved(rows, f, a_part, with_rows)
    log_q = 2.0 * float(np.log(np.diag(at.factor[0])).sum())
    value = height - 0.5 * (log_q - float(np.log(at.r).sum())) + rows.constant

    def narrow(x: Array) -> Array:  # R x
        own = at.w_row * x
        return np.asarray(own - at.w_row * (a_part @ at.solve(a_part.T @ own)))

    def widen(x: Array) -> Array:  # V x
        return np.asarray(a_part @ (a_part.T @ x) + with_rows * x)

    # by Cholesky's factor whole: solving with its half alone waits for threads on busy machines
    level = np.einsum("ji,ji->i", a_part.T, at.solve(a_part.T))
    spread = with_rows * at.r + at.r**2 * level
    bend = -0.5 * spread * at.w * (1.0 - 2.0 * at.p)  # what a rise of f does by W
    moved = bend - narrow(widen(bend))
    pull = at.residual
    slopes = []
    weighted = at.w_row[:, None] * rows.levels
    crossed = a_part.T @ weighted
    trace = weighted.sum(axis=0) - np.einsum("ij,ij->j", crossed, at.solve(crossed))
    up, shift = rows.levels.T @ pull, rows.levels.T @ moved
    for k in range(rows.terms):
        mine = rows.term == k
        slopes.append(0.5 * (up[mine] @ up[mine] - trace[mine].sum()) + shift[mine] @ up[mine])
    if rows.by_row:
        own = at.w_row - at.w_row**2 * level
        slopes.append(0.5 * (pull @ pull - own.sum()) + moved @ pull)
    return Peak(
        value, rows.fixed.T @ (pull + moved), np.array(slopes), g, spread, pull, settled
    )
