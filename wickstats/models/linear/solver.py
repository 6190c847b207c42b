"""Newton's method for the restricted likelihood, with bounds where they are asked for.

The first step is Fisher scoring (exact at once for balanced data); later ones use the
observed second derivatives, or the expected ones where those are not positive definite.
A step is halved until the objective falls. Convergence is judged by the Newton decrement
sqrt(g'H^-1 g), which has no unit. Components whose bound holds them leave the system
(projected Newton: Bertsekas 1982). Leans on likelihood.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickstats.models.linear.grouping import Array
from wickstats.models.linear.likelihood import Evaluation, evaluate, smallest_share
from wickstats.models.linear.reduction import Reduced

TOLERANCE = 1e-12  # on the Newton decrement
NEAR = 1e-5  # decrement below which a step that gains nothing has met rounding
ZERO_TOLERANCE = 1e-6  # share of the total variance below which zero is tried
NO_WORSE = 1e-10  # what zero may cost of the objective
SAME_MINIMUM = 1e-3  # distance from a known minimum, in the total variance, taken as none
ROUNDING = 1e-11  # relative rounding of the objective
MOST_ITERATIONS = 200
MOST_HALVINGS = 40

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Where the solver ended.

    ``code``: converged, iteration limit, no step improves, edge (of positive definiteness),
    no residual (its component runs to zero).
    """

    at: Evaluation
    objective_start: float
    iterations: int
    evaluations: int
    decrement: float
    code: str


def minimize(
    data: Reduced,
    start: Array | Evaluation,
    *,
    bounded: bool,
    held: Flags | None = None,
    known: Evaluation | None = None,
) -> Solution:
    """Minimize -2 l from ``start`` (m,).

    Parameters
    ----------
    data
        The reduced rows.
    start
        (m,) variances at which V is positive definite, or the likelihood there.
    bounded
        Hold all components at or above zero.
    held
        (m,) components that stay where they are.
    known
        A minimum found before: the search ends, converged, where it comes close to it.

    Raises
    ------
    ValueError
        Where V is not positive definite at the start.
    """
    at = start if isinstance(start, Evaluation) else evaluate(data, start)
    if at is None:
        raise ValueError("the covariance matrix is not positive definite at the start")
    fixed = np.zeros(len(at.theta), dtype=bool) if held is None else held
    first = at.objective
    evaluations, decrement, code = 1, math.inf, "iteration limit"
    iterations = 0
    for iterations in range(1, MOST_ITERATIONS + 1):
        free = _free(at, fixed, bounded=bounded)
        before = decrement
        step, decrement = _direction(at, free, scoring=iterations == 1)
        still = decrement <= TOLERANCE or before / 2 <= decrement <= NEAR
        if still and not _to_snap(at, free, fixed, bounded=bounded):
            code = "converged"
            break
        better, tried = _descend(data, at, step, free, fixed, bounded=bounded)
        evaluations += tried
        if better is None:
            code = "converged" if decrement <= NEAR else "no step improves"
            break
        at = better
        if known is not None and _close(at, known):
            return Solution(known, first, iterations, evaluations, decrement, "converged")
    if code != "converged" and at.theta[-1] <= ZERO_TOLERANCE * np.sum(np.abs(at.theta)):
        code = "no residual"
    if not bounded and smallest_share(data, at.theta) <= ZERO_TOLERANCE:
        code = "edge"
    return Solution(at, first, iterations, evaluations, decrement, code)


def _close(at: Evaluation, known: Evaluation) -> bool:
    """Whether Newton's method would only find the known minimum again."""
    off = at.theta - known.theta
    same = np.abs(off) <= SAME_MINIMUM * np.sum(np.abs(known.theta))
    return bool(np.all(same)) and at.objective >= known.objective - NO_WORSE


def _free(at: Evaluation, fixed: Flags, *, bounded: bool) -> Flags:
    """Components that may move: not held, and not pressed against zero."""
    free = ~fixed
    if bounded:
        small = at.theta <= ZERO_TOLERANCE**2 * np.sum(at.theta)
        small[-1] = False
        free &= ~(small & (at.gradient > 0))
    return free


def _to_snap(at: Evaluation, free: Flags, fixed: Flags, *, bounded: bool) -> bool:
    """Whether a component next to its bound has still to be set on it."""
    return bounded and bool(np.any(~free & ~fixed & (at.theta != 0)))


def _direction(at: Evaluation, free: Flags, *, scoring: bool) -> tuple[Array, float]:
    """Newton step (m,) on the free components, and its decrement."""
    step = np.zeros(len(free))
    if not np.any(free):
        return step, 0.0
    gradient = at.gradient[free]
    choices = [at.expected] if scoring else [at.observed, at.expected]
    for matrix in choices:
        H = matrix[np.ix_(free, free)]
        scale = np.sqrt(np.abs(np.diagonal(H)))
        if np.any(scale == 0):
            continue
        values, vectors = np.linalg.eigh(H / np.outer(scale, scale))
        if values[0] <= 1e-12 * values[-1]:
            continue
        g = vectors.T @ (gradient / scale)
        step[free] = -(vectors @ (g / values)) / scale
        return step, float(math.sqrt(np.sum(g * g / values)))
    # flat: steepest descent in the metric of the components themselves
    size = np.maximum(at.theta[free], np.sum(at.theta) * 1e-3) ** 2
    step[free] = -size * gradient
    return step, float(math.sqrt(np.sum(size * gradient**2)))


def _descend(
    data: Reduced, at: Evaluation, step: Array, free: Flags, fixed: Flags, *, bounded: bool
) -> tuple[Evaluation | None, int]:
    """Halve the step until the objective falls; None where it never does."""
    rounding = ROUNDING * (1.0 + abs(at.objective))
    for halving in range(MOST_HALVINGS):
        theta = at.theta + step * 0.5**halving
        if bounded:
            theta[~free & ~fixed] = 0.0
            np.maximum(theta[:-1], 0.0, out=theta[:-1])
            if not fixed[-1]:
                theta[-1] = max(theta[-1], 0.1 * at.theta[-1])
        moved = theta - at.theta
        if not np.any(moved):
            return None, halving
        found = evaluate(data, theta)
        if found is None:
            continue
        expected_fall = 1e-4 * min(0.0, float(at.gradient @ moved))
        fell = found.objective - at.objective
        if fell <= expected_fall or (abs(fell) <= rounding and halving == 0):
            return found, halving + 1
    return None, MOST_HALVINGS


def search(data: Reduced, start: Evaluation, *, bounded: bool) -> Solution:
    """Minimize from ``start``; with bounds also from no component but the residual's.

    The restricted likelihood of a small unbalanced trial may have a maximum inside and
    another at zero; the better one counts. (No second search where the first ended inside
    and the objective falls from zero with every component.) Components next to nothing are
    then tried at exactly zero.
    """
    found = minimize(data, start, bounded=bounded)
    if not bounded:
        return found
    none = np.zeros(len(start.theta))
    none[-1] = np.sum(start.theta)
    known = found.at if found.code == "converged" else None
    at_none = evaluate(data, none)
    if at_none is None or (
        known is not None and np.all(known.theta > 0) and np.all(at_none.gradient[:-1] < 0)
    ):
        return _snap_to_zero(data, found)
    other = minimize(data, at_none, bounded=True, known=known)
    best, rest = found, other
    if other.code == "converged" and (
        found.code != "converged" or other.at.objective < found.at.objective - NO_WORSE
    ):
        best, rest = other, found
    joined = replace(
        best,
        objective_start=found.objective_start,
        iterations=best.iterations + rest.iterations,
        evaluations=best.evaluations + rest.evaluations,
    )
    return _snap_to_zero(data, joined)


def _snap_to_zero(data: Reduced, found: Solution) -> Solution:
    """Try components that are next to nothing at exactly zero; keep what is no worse."""
    theta = found.at.theta
    small = (theta > 0) & (theta < ZERO_TOLERANCE * np.sum(theta))
    small[-1] = False
    for k in np.flatnonzero(small):
        trial = found.at.theta.copy()
        trial[k] = 0.0
        held = np.zeros(len(trial), dtype=bool)
        held[k] = True
        again = minimize(data, trial, bounded=True, held=held)
        if again.code == "converged" and again.at.objective <= found.at.objective + NO_WORSE:
            found = replace(
                again,
                objective_start=found.objective_start,
                iterations=found.iterations + again.iterations,
                evaluations=found.evaluations + again.evaluations,
            )
    return found
