"""Newton's method without bounds, on the working scale of structured covariances.

phi are the working parameters of the terms, theta(phi) the natural ones. With J = d theta /
d phi, the gradient of -2 l in phi is J'g and its second derivatives are J'HJ + sum_k g_k
d2 theta_k. Negative curvature is turned round (absolute eigenvalues, in a scale that makes
the diagonal one), so that a saddle repels. A square root that runs to zero is set there
where that costs nothing. Leans on structured, terms.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from wickstats.models.linear.grouping import Array
from wickstats.models.linear.likelihood import Evaluation
from wickstats.models.linear.structured import State, evaluate_structured
from wickstats.models.linear.subjects import Arranged
from wickstats.models.linear.terms import CORRELATIONS, OPEN, SIZES, natural, scales

TOLERANCE = 1e-9  # on the Newton decrement
NEAR = 1e-5  # decrement below which a step that gains nothing has met rounding
NO_WORSE = 1e-9  # what zero may cost of the objective
SMALL = 1e-6  # share of the total variance below which zero is tried
MOST_ITERATIONS = 200
MOST_HALVINGS = 40
LARGEST_STEP = 2.0  # of a correlation, or the logarithm of a root, on its working scale
FARTHEST = 12.0  # beyond this on its working scale a correlation is one, or none
FLAT = 1e-8  # curvature taken as none, relative to the largest
SADDLE = 1e-6  # negative curvature, with the diagonal brought to one, that is no rounding


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """The likelihood at one phi, with its derivatives there."""

    phi: Array
    at: Evaluation
    state: State
    gradient: Array
    curvature: Array
    expected: Array


@dataclass(frozen=True, slots=True, eq=False)
class Ascent:
    """Where Newton's method ended.

    ``code`` is as in solver, or "runaway": a parameter went to the end of its range.
    ``start`` is theta at the start.
    """

    start: Array
    end: Point
    objective_start: float
    iterations: int
    evaluations: int
    decrement: float
    code: str


def point(data: Arranged, phi: Array) -> Point | None:
    """Evaluate at phi; None where V is not positive definite."""
    theta, J, bends = _natural(data, phi)
    found = evaluate_structured(data, theta)
    if found is None:
        return None
    at, state = found
    curvature = J.T @ at.observed @ J + np.tensordot(at.gradient, bends, axes=1)
    return Point(phi, at, state, J.T @ at.gradient, curvature, J.T @ at.expected @ J)


def climb(data: Arranged, phi: Array) -> Ascent:
    """Minimize -2 l from phi.

    Raises
    ------
    ValueError
        Where V is not positive definite at the start.
    """
    here = point(data, phi)
    if here is None:
        raise ValueError("the covariance matrix is not positive definite at the start")
    scale = _all(data)
    free = np.array([s in OPEN for s in scale])
    start, first = here.at.theta, here.at.objective
    evaluations, decrement = 1, math.inf
    code, iterations = "iteration limit", 0
    for iterations in range(1, MOST_ITERATIONS + 1):
        before = decrement
        step, decrement = _direction(here, scoring=iterations <= 2)
        if decrement <= TOLERANCE or before / 2 <= decrement <= NEAR:
            lower = _off_the_saddle(data, here)
            if lower is None:
                code = "converged"
                break
            here, decrement = lower, math.inf
            continue
        longest = float(np.max(np.abs(step[free]), initial=0.0))
        if longest > LARGEST_STEP:
            step = step * (LARGEST_STEP / longest)
        better, tried = _descend(data, here, step)
        evaluations += tried
        if better is None:
            code = "converged" if decrement <= NEAR else "no step improves"
            break
        here = better
        if np.any(np.abs(here.phi[free]) > FARTHEST):
            code = "runaway"
            break
    found = Ascent(start, here, first, iterations, evaluations, decrement, code)
    return _snap(data, found) if code == "converged" else found


def _snap(data: Arranged, found: Ascent) -> Ascent:
    """Try square roots that are next to nothing at exactly zero; keep what is no worse."""
    theta = found.end.at.theta
    scale = _all(data)
    variances = np.array([s not in OPEN for s in scale])
    total = float(np.sum(np.abs(theta[[s not in CORRELATIONS for s in scale]])))
    phi = found.end.phi.copy()
    roots = variances & (phi != 0) & (phi**2 < SMALL * total)
    if not roots.any():
        return found
    phi[roots] = 0.0
    again = point(data, phi)
    if again is None or again.at.objective > found.end.at.objective + NO_WORSE:
        return found
    return replace(found, end=again, evaluations=found.evaluations + 1)


def _all(data: Arranged) -> list[str]:
    """Working scale of each parameter."""
    return [s for term in data.terms for s in scales(term) for _ in range(SIZES[s])]


def _natural(data: Arranged, phi: Array) -> tuple[Array, Array, Array]:
    """Natural theta (m,), J (m, m) and second derivatives (m, m, m) by component of theta."""
    m = len(phi)
    theta, J, bends = np.zeros(m), np.zeros((m, m)), np.zeros((m, m, m))
    start = 0
    for scale in (s for term in data.terms for s in scales(term)):
        run = slice(start, start + SIZES[scale])
        theta[run], J[run, run], bends[run, run, run] = natural(scale, phi[run])
        start = run.stop
    return theta, J, bends


def _spectrum(matrix: Array) -> tuple[Array, Array, Array]:
    """Eigenvalues and vectors with the diagonal brought to one, and the scale (m,) for it."""
    scale = np.sqrt(np.abs(np.diagonal(matrix)))
    scale = np.where(scale > 0, scale, 1.0)
    values, vectors = np.linalg.eigh(matrix / np.outer(scale, scale))
    return values, vectors, scale


def _direction(here: Point, *, scoring: bool) -> tuple[Array, float]:
    """Newton step (m,) with the curvature made positive, and its decrement."""
    values, vectors, scale = _spectrum(here.expected if scoring else here.curvature)
    if scoring and values[0] <= FLAT * values[-1]:
        values, vectors, scale = _spectrum(here.curvature)
    size = np.maximum(np.abs(values), FLAT * np.max(np.abs(values)))
    turned = vectors.T @ (here.gradient / scale)
    step = -(vectors @ (turned / size)) / scale
    return step, float(math.sqrt(np.sum(turned**2 / size)))


def _off_the_saddle(data: Arranged, here: Point) -> Point | None:
    """A lower point along the most negative curvature, where there is any."""
    values, vectors, scale = _spectrum(here.curvature)
    if values[0] >= -SADDLE:
        return None
    for size in (1.0, 0.3, 0.1, 0.03, 0.01):
        for sign in (1.0, -1.0):
            found = point(data, here.phi + sign * size * vectors[:, 0] / scale)
            if found is not None and found.at.objective < here.at.objective - NO_WORSE:
                return found
    return None


def _descend(data: Arranged, here: Point, step: Array) -> tuple[Point | None, int]:
    """Halve the step until the objective falls; None where it never does."""
    rounding = 1e-12 * (1.0 + abs(here.at.objective))
    slope = float(here.gradient @ step)
    for halving in range(MOST_HALVINGS):
        share = 0.5**halving
        found = point(data, here.phi + share * step)
        if found is None or not math.isfinite(found.at.objective):
            continue
        fell = found.at.objective - here.at.objective
        if fell <= 1e-4 * share * min(0.0, slope) or (abs(fell) <= rounding and halving == 0):
            return found, halving + 1
    return None, MOST_HALVINGS
