"""Maximum likelihood for masses seen only through sums over runs of regions.

Model: life i ends in one of regions a_i .. b_i - 1, P_i = sum of their masses p; maximize
sum w_i log P_i over p >= 0, sum p = 1. With d_j = sum over i covering j of w_i / P_i and
n = sum w, p is the maximum if and only if d_j <= n everywhere and d_j = n where p_j > 0
(Kuhn & Tucker; Gentleman & Geyer 1994, Biometrika 81:618-623).

Steps: self-consistency p_j d_j / n (Turnbull 1976), iterative convex minorant on the
cumulative masses (Groeneboom & Wellner 1992; Wellner & Zhan 1997, JASA 92:945-959), and
Newton steps on the masses above zero with an active set (Wang 2008, CSDA 52:2388-2402).
Where every interval is one region or all the rest, the product-limit formula is the
maximum and nothing is iterated. The maximum is unique: every region is the last of some
run, so no other masses give the same P_i. Cost is O(n + m) a step, O(k^3) a Newton step
on k masses. Leans on numpy and scipy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE = 1e-11  # on d_j / n - 1
NEWTON_LIMIT = 1500
STEPS = 2000


@dataclass(frozen=True, slots=True, eq=False)
class MassFit:
    """Masses (m,), log likelihood, largest d_j/n - 1, and steps taken."""

    mass: Array
    log_likelihood: float
    excess: float
    iterations: int


class _Problem:
    """The likelihood with rows of equal (a, b) gathered."""

    def __init__(self, first: IntArray, stop: IntArray, weights: Array, m: int) -> None:
        key, which = np.unique(first * (m + 1) + stop, return_inverse=True)
        self.a, self.b = key // (m + 1), key % (m + 1)
        self.w = np.bincount(which, weights=weights)
        self.n = float(self.w.sum())
        self.m = m

    def shares(self, p: Array) -> Array:
        c = np.concatenate([[0.0], np.cumsum(p)])
        return np.asarray(c[self.b] - c[self.a])

    def value(self, p: Array) -> float:
        shares = self.shares(p)
        if float(shares.min()) <= 0.0:
            return -np.inf
        return float(self.w @ np.log(shares))

    def slope(self, p: Array) -> Array:
        """d_j / n."""
        rate = self.w / self.shares(p)
        jumps = np.bincount(self.a, rate, self.m + 1) - np.bincount(self.b, rate, self.m + 1)
        return np.asarray(np.cumsum(jumps)[: self.m] / self.n)

    def off(self, p: Array, slope: Array) -> float:
        """Kuhn-Tucker violation: slope above one, or unlike one where there is mass."""
        return float(np.where(p > 0.0, np.abs(slope - 1.0), slope - 1.0).max())


def fit_mass(first: IntArray, stop: IntArray, weights: Array, m: int) -> MassFit:
    """Maximize the likelihood.

    Parameters
    ----------
    first, stop
        (n,) runs of regions, first < stop <= m.
    weights
        (n,) positive weights.
    m
        Number of regions; each is the start of a run and the end of a run.

    Raises
    ------
    ArithmeticError
        When the Kuhn-Tucker conditions are not met after all steps.
    """
    problem = _Problem(first, stop, weights, m)
    if bool(((problem.b == m) | (problem.b == problem.a + 1)).all()):
        p, steps = _product_limit(problem), 0
    else:
        p, steps = _iterate(problem)
    slope = problem.slope(p)
    return MassFit(
        mass=p,
        log_likelihood=problem.value(p),
        excess=float(slope.max() - 1.0),
        iterations=steps,
    )


def _product_limit(problem: _Problem) -> Array:
    m = problem.m
    ended = problem.b == problem.a + 1
    deaths = np.bincount(problem.a[ended], problem.w[ended], m)
    open_ = np.bincount(problem.a[~ended], problem.w[~ended], m + 1)
    # open lives are at risk in the regions before their run
    at_risk = np.cumsum(deaths[::-1])[::-1] + np.cumsum(open_[::-1])[::-1][1:]
    hazard = deaths / at_risk
    hazard[-1] = 1.0
    before = np.concatenate([[1.0], np.cumprod(1.0 - hazard[:-1])])
    return np.asarray(hazard * before)


def _iterate(problem: _Problem) -> tuple[Array, int]:
    p = np.full(problem.m, 1.0 / problem.m)
    for _ in range(5):
        p *= problem.slope(p)
    best = np.inf
    for step in range(1, STEPS + 1):
        p = _convex_minorant(problem, p)
        p = p * problem.slope(p)
        p = _newton(problem, p / p.sum())
        off = problem.off(p, problem.slope(p))
        if off <= TOLERANCE:
            return p, step
        best = min(best, off)
    if best <= 100.0 * TOLERANCE:  # rounding in large or ill-conditioned sets
        return p, STEPS
    raise ArithmeticError(
        f"the curve did not reach its maximum: the slope is still {best:.1e} off after "
        f"{STEPS} steps"
    )


def _convex_minorant(problem: _Problem, p: Array) -> Array:
    """One step of the iterative convex minorant with halving."""
    from scipy.optimize import isotonic_regression

    m = problem.m
    shares = problem.shares(p)
    rate, bend = problem.w / shares, problem.w / shares**2
    gradient = np.bincount(problem.b, rate, m + 1) - np.bincount(problem.a, rate, m + 1)
    curvature = np.bincount(problem.b, bend, m + 1) + np.bincount(problem.a, bend, m + 1)
    g, h = gradient[1:m], curvature[1:m]
    now = np.cumsum(p)[: m - 1]
    target = np.clip(isotonic_regression(now + g / h, weights=h).x, 0.0, 1.0)
    aim = np.diff(np.concatenate([[0.0], target, [1.0]]))
    return _toward(problem, p, aim)


def _newton(problem: _Problem, p: Array) -> Array:
    """One Newton step on the masses above zero and on the peaks of the slope."""
    slope = problem.slope(p)
    padded = np.concatenate([[-np.inf], slope, [-np.inf]])
    peak = (slope >= padded[:-2]) & (slope >= padded[2:]) & (slope > 1.0 + TOLERANCE)
    support = np.flatnonzero((p > 0.0) | peak)
    if support.size > NEWTON_LIMIT:
        return p
    system = _bend(problem, p, support) + problem.n
    system[np.diag_indices_from(system)] *= 1.0 + 1e-12
    right = problem.n * (slope[support] - 1.0)
    q = _nonnegative(system, right, p[support])
    aim = np.zeros(problem.m)
    aim[support] = q / q.sum()
    return _toward(problem, p, aim)


def _nonnegative(system: Array, right: Array, p: Array) -> Array:
    """Solve system (q - p) = right for q >= 0, fixing at zero what would fall below."""
    free = np.ones(p.size, dtype=bool)
    q = p.copy()
    while free.any():
        fixed = ~free
        rest = right[free] + system[np.ix_(free, fixed)] @ p[fixed]
        try:
            move = np.linalg.solve(system[np.ix_(free, free)], rest)
        except np.linalg.LinAlgError:
            move = np.linalg.lstsq(system[np.ix_(free, free)], rest, rcond=None)[0]
        q[free] = p[free] + move
        below = free & (q < 0.0)
        if not below.any():
            break
        q[below] = 0.0
        free &= ~below
    return q if q.sum() > 0.0 else p


def _bend(problem: _Problem, p: Array, support: IntArray) -> Array:
    """(k, k) minus the Hessian on the support: sums over lives that cover both regions."""
    k = support.size
    a = np.searchsorted(support, problem.a)
    b = np.searchsorted(support, problem.b) - 1
    corner = np.zeros((k, k))
    inside = a <= b
    bend = problem.w / problem.shares(p) ** 2
    np.add.at(corner, (a[inside], b[inside]), bend[inside])
    upper = np.cumsum(np.cumsum(corner, axis=0)[:, ::-1], axis=1)[:, ::-1]
    upper = np.triu(upper)
    return np.asarray(upper + np.triu(upper, 1).T)


def _toward(problem: _Problem, p: Array, aim: Array) -> Array:
    """Go from p toward the aim as far as the likelihood does not fall."""
    now = problem.value(p)
    share = 1.0
    for _ in range(40):
        trial = p + share * (aim - p) if share < 1.0 else aim
        if problem.value(trial) >= now - 1e-13 * abs(now):
            return trial
        share *= 0.5
    return p
