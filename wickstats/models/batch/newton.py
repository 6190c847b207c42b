"""Newton's method for the restricted likelihood of many seasons at once.

As ``models.linear.solver`` with components at or above zero: the first step is Fisher
scoring, later ones use the observed second derivatives where they are positive definite, a
step is halved until the objective falls, and components pressed against zero leave the
system (projected Newton: Bertsekas 1982). Two starts, the better one counts, and what is
next to nothing is tried at exactly zero. Seasons that do not settle say so.
Leans on ``likelihood``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.models.batch.likelihood import (
    BLOCK,
    PLOT,
    RESIDUAL,
    Evaluated,
    Plots,
    evaluate_seasons,
)
from wickstats.models.linear.estimates import Array

TOLERANCE = 1e-12  # on the Newton decrement
NEAR = 1e-5  # decrement below which a step that gains nothing has met rounding
ZERO = 1e-6  # share of the total variance below which zero is tried
NO_WORSE = 1e-10  # what zero may cost of the objective
ROUNDING = 1e-11
PASSES = 200
HALVINGS = 40

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """(3, S) components, (S,) objective, and (S,) whether the season settled."""

    theta: Array
    objective: Array
    settled: Flags


def search_seasons(
    plots: Plots, y: Array, w: Array, active: Flags, held: dict[int, Array] | None = None
) -> Settled:
    """Minimize from two starts: y (n, S) and w (S,) in units of the residual scale.

    ``active`` (3,) components are there; those in ``held`` stay at values (S,).
    """
    seasons = y.shape[1]
    values = held or {}
    free = active.copy()
    free[list(values)] = False
    start = np.where(active, 1.0 / active.sum(), 0.0)[:, None].repeat(seasons, axis=1)
    other = np.zeros((3, seasons))
    other[RESIDUAL] = 1.0
    for k, value in values.items():
        start[k] = other[k] = value
    fixed = (~free)[:, None].repeat(seasons, axis=1)
    best = minimize_seasons(plots, y, w, start, fixed)
    second = minimize_seasons(plots, y, w, other, fixed)
    better = second.settled & (~best.settled | (second.objective < best.objective - NO_WORSE))
    best = _choose(better, second, best)
    for k in (BLOCK, PLOT):
        if free[k]:
            best = _try_zero(plots, y, w, best, fixed, k)
    return best


def minimize_seasons(plots: Plots, y: Array, w: Array, start: Array, fixed: Flags) -> Settled:
    """Minimize from ``start`` (3, S), the ``fixed`` (3, S) components staying there."""
    seasons = y.shape[1]
    theta = start.copy()
    objective = np.full(seasons, np.inf)
    settled = np.zeros(seasons, dtype=bool)
    at = evaluate_seasons(plots, y, w, theta)
    objective[:] = at.objective
    number = np.arange(seasons)
    here = _State.first(at, fixed)
    for _ in range(PASSES):
        done = here.converged(fixed[:, number])
        settled[number[done]] = True
        go = ~done & (here.halving < HALVINGS)
        stuck = ~done & ~go & (here.decrement <= NEAR)
        settled[number[stuck]] = True
        if not go.any():
            break
        number, here = number[go], here.keep(go)
        trial = here.trial(fixed[:, number])
        found = evaluate_seasons(plots, y[:, number], w[number], trial)
        fell = here.accept(found, trial)
        theta[:, number[fell]] = trial[:, fell]
        objective[number[fell]] = found.objective[fell]
        here = here.move(found, fell, fixed[:, number])
    return Settled(theta, objective, settled)


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """Where the seasons that are still under way stand, and where they look next."""

    theta: Array
    objective: Array
    gradient: Array
    step: Array
    free: Flags
    decrement: Array
    before: Array
    halving: NDArray[np.int64]

    @classmethod
    def first(cls, at: Evaluated, fixed: Flags) -> "_State":
        free = _free(at.theta, at.gradient, fixed)
        step, decrement = _direction(at, free, scoring=True)
        zero = np.zeros(at.objective.size, dtype=np.int64)
        before = np.full(at.objective.size, np.inf)
        return cls(at.theta, at.objective, at.gradient, step, free, decrement, before, zero)

    def converged(self, fixed: Flags) -> Flags:
        still = (self.decrement <= TOLERANCE) | (
            (self.before / 2.0 <= self.decrement) & (self.decrement <= NEAR)
        )
        to_snap = (~self.free & ~fixed & (self.theta != 0.0)).any(axis=0)
        return np.asarray(still & ~to_snap)

    def keep(self, which: Flags) -> "_State":
        return _State(
            self.theta[:, which], self.objective[which], self.gradient[:, which],
            self.step[:, which], self.free[:, which], self.decrement[which],
            self.before[which], self.halving[which],
        )  # fmt: skip

    def trial(self, fixed: Flags) -> Array:
        trial = self.theta + self.step * 0.5**self.halving
        trial[~self.free & ~fixed] = 0.0
        trial[:RESIDUAL] = np.maximum(trial[:RESIDUAL], 0.0)
        moving = ~fixed[RESIDUAL]
        low = 0.1 * self.theta[RESIDUAL]
        trial[RESIDUAL] = np.where(moving, np.maximum(trial[RESIDUAL], low), trial[RESIDUAL])
        return trial

    def accept(self, found: Evaluated, trial: Array) -> Flags:
        fall = found.objective - self.objective
        expected = 1e-4 * np.minimum(0.0, (self.gradient * (trial - self.theta)).sum(axis=0))
        rounding = ROUNDING * (1.0 + np.abs(self.objective))
        return np.asarray(
            (fall <= expected) | ((np.abs(fall) <= rounding) & (self.halving == 0))
        )

    def move(self, found: Evaluated, fell: Flags, fixed: Flags) -> "_State":
        free = _free(found.theta, found.gradient, fixed)
        step, decrement = _direction(found, free, scoring=False)
        return _State(
            theta=np.where(fell, found.theta, self.theta),
            objective=np.where(fell, found.objective, self.objective),
            gradient=np.where(fell, found.gradient, self.gradient),
            step=np.where(fell, step, self.step),
            free=np.where(fell, free, self.free),
            decrement=np.where(fell, decrement, self.decrement),
            before=np.where(fell, self.decrement, self.before),
            halving=np.where(fell, 0, self.halving + 1),
        )


def _free(theta: Array, gradient: Array, fixed: Flags) -> Flags:
    """Components that may move: not fixed, and not pressed against zero."""
    small = theta <= ZERO**2 * theta.sum(axis=0)
    small[RESIDUAL] = False
    return np.asarray(~fixed & ~(small & (gradient > 0.0)))


def _direction(at: Evaluated, free: Flags, *, scoring: bool) -> tuple[Array, Array]:
    """Newton step (3, S) in the free components, and its decrement (S,)."""
    both = free[:, None] & free[None, :]
    eye = np.eye(3)[:, :, None]
    g = np.where(free, at.gradient, 0.0)
    expected, scale = _scaled(at.expected, both, eye)
    matrix = expected
    if not scoring:
        observed, own = _scaled(at.observed, both, eye)
        eigen = np.linalg.eigvalsh(np.moveaxis(observed, -1, 0))
        good = eigen[:, 0] > 1e-12 * eigen[:, -1]
        matrix = np.where(good, observed, expected)
        scale = np.where(good, own, scale)
    scaled = g / scale
    solved = np.linalg.solve(np.moveaxis(matrix, -1, 0), scaled.T[:, :, None])[:, :, 0].T
    square = (scaled * solved).sum(axis=0)
    return np.where(free, -solved / scale, 0.0), np.sqrt(np.maximum(square, 0.0))


def _scaled(matrix: Array, both: Flags, eye: Array) -> tuple[Array, Array]:
    """To unit diagonal, with ones for components that do not move."""
    diagonal = np.abs(np.einsum("kks->ks", matrix))
    scale = np.sqrt(np.where(diagonal > 0.0, diagonal, 1.0))
    held = np.where(both, matrix / (scale[:, None] * scale[None, :]), eye)
    return held, scale


def _choose(which: Flags, one: Settled, other: Settled) -> Settled:
    return Settled(
        np.where(which, one.theta, other.theta),
        np.where(which, one.objective, other.objective),
        np.where(which, one.settled, other.settled),
    )


def _try_zero(plots: Plots, y: Array, w: Array, best: Settled, fixed: Flags, k: int) -> Settled:
    """A component that is next to nothing, at exactly zero; kept where that is no worse."""
    value = best.theta[k]
    small = np.flatnonzero((value > 0.0) & (value < ZERO * best.theta.sum(axis=0)))
    if small.size == 0:
        return best
    start = best.theta[:, small].copy()
    start[k] = 0.0
    held = fixed[:, small].copy()
    held[k] = True
    found = minimize_seasons(plots, y[:, small], w[small], start, held)
    good = found.settled & (found.objective <= best.objective[small] + NO_WORSE)
    theta, objective = best.theta.copy(), best.objective.copy()
    theta[:, small[good]] = found.theta[:, good]
    objective[small[good]] = found.objective[good]
    return Settled(theta, objective, best.settled)
