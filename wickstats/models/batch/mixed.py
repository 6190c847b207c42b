"""The second line in many seasons: REML and Kenward-Roger, plants in plots in blocks.

y = cell + block + plot + plant with blocks and plots random (components that the layout
does not show are left out: no blocks, or one plant a plot). The rules are those of
``models.linear.reml`` and ``degrees``: components at or above zero, Kenward & Roger's
(1997) covariance and df, one-row contrasts on df = 2 v^2/var(v). Seasons that do not settle
go through the single-season code, so that no season is lost. Leans on ``likelihood``,
``newton``, ``kenward_roger`` and the single-season mixed models.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.errors import AnalysisError
from wickstats.models.batch.kenward_roger import joint_f, judge_fixed
from wickstats.models.batch.layout import season_values
from wickstats.models.batch.likelihood import (
    BLOCK,
    PLOT,
    Evaluated,
    Plots,
    evaluate_seasons,
)
from wickstats.models.batch.newton import Flags, search_seasons
from wickstats.models.batch.results import FIELDS, Answers
from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
from wickstats.models.linear.estimates import Array, IntArray
from wickstats.models.linear.profile import FAR
from wickstats.models.linear.reml import fit_mixed

NAMES = ("block", "plot", "residual")
SEPARABLE = 1e-9
CHUNK = 500  # seasons at a time: what fits the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class MixedLayout:
    """Units and questions of a batch.

    Attributes
    ----------
    plots, order
        The units sorted by block, and the (n,) order that sorts them.
    active
        (3,) which of block, plot, residual the layout shows.
    contrasts, means
        (k, p), (l, p) weights of the cells that hold units.
    together
        (q, p) independent rows of the joint test.
    """

    plots: Plots
    order: IntArray
    active: Flags
    contrasts: Array
    means: Array
    together: Array


@dataclass(frozen=True, slots=True, eq=False)
class MixedSeasons:
    """Fits of S seasons.

    Attributes
    ----------
    components
        (S, 3) variances of block, plot, residual; zero where the layout does not show them.
    contrasts, means
        Kenward-Roger answers.
    p_all
        (S,) p of the joint test; NaN where it cannot be made.
    deviance
        (S,) -2 log restricted likelihood up to a constant of the layout; NaN where a
        season was fitted alone.
    alone
        (S,) seasons that were fitted one by one.
    """

    components: Array
    contrasts: Answers
    means: Answers
    p_all: Array
    deviance: Array
    alone: Flags


def lay_mixed(
    cells: ArrayLike,
    n_cells: int,
    plants: ArrayLike,
    *,
    contrasts: ArrayLike,
    means: ArrayLike | None = None,
    together: ArrayLike | None = None,
    blocks: ArrayLike | None = None,
) -> MixedLayout:
    """Lay out a batch.

    Parameters
    ----------
    cells, plants
        (n,) cell and plants (above zero) of each unit.
    contrasts, means, together
        (k, t), (l, t), (q, t) weights; all differences are tested together where None.
    blocks
        (n,) integer codes, or None.

    Raises
    ------
    ValueError
        For shapes that do not fit, a cell without units, or components that these units
        cannot tell apart.
    """
    codes = np.asarray(cells, dtype=np.int64)
    m = np.asarray(plants, dtype=float)
    if m.shape != codes.shape or (m <= 0).any():
        raise ValueError("plants must be one number above zero a unit")
    if (np.bincount(codes, minlength=n_cells) == 0).any():
        raise ValueError("every cell needs a unit")
    given = np.arange(codes.size) if blocks is None else np.asarray(blocks, dtype=np.int64)
    order = np.argsort(given, kind="stable")
    number = np.unique(given[order], return_inverse=True)[1]
    starts = np.flatnonzero(np.r_[True, np.diff(number) > 0])
    plots = Plots(
        x=np.eye(n_cells)[codes[order]],
        starts=starts.astype(np.int64),
        block=number.astype(np.int64),
        m=m[order][:, None],
        inside=float(m.sum() - codes.size),
    )
    active = np.array([blocks is not None, plots.inside > 0, True])
    _refuse_inseparable(plots, active)
    rows = np.atleast_2d(np.asarray(steps(n_cells) if together is None else together, float))
    _, size, vectors = np.linalg.svd(rows, full_matrices=False)
    return MixedLayout(
        plots=plots,
        order=order.astype(np.int64),
        active=active,
        contrasts=np.atleast_2d(np.asarray(contrasts, dtype=float)),
        means=np.zeros((0, n_cells)) if means is None else np.atleast_2d(np.asarray(means)),
        together=vectors[: int(np.sum(size > 1e-9 * size[0]))],
    )


def judge_mixed(
    layout: MixedLayout, values: ArrayLike, within: ArrayLike, *, confidence: float = 0.95
) -> MixedSeasons:
    """Fit and judge seasons.

    Parameters
    ----------
    values
        (S, n) means of the units, in the order of the layout's cells.
    within
        (S,) sum of squares of plants around their unit's mean, over all units (zeros with
        one plant a unit).

    Raises
    ------
    ValueError
        For shapes that do not fit or numbers that are not finite.
    """
    y = season_values(values, layout.order.size)
    w = np.asarray(within, dtype=float)
    if w.shape != (y.shape[0],) or not np.isfinite(w).all() or (w < 0).any():
        raise ValueError("within must be one sum of squares at or above zero a season")
    parts = [
        _chunk(layout, y[start : start + CHUNK], w[start : start + CHUNK], confidence)
        for start in range(0, y.shape[0], CHUNK)
    ]
    return MixedSeasons(
        components=np.concatenate([part.components for part in parts]),
        contrasts=_join([part.contrasts for part in parts]),
        means=_join([part.means for part in parts]),
        p_all=np.concatenate([part.p_all for part in parts]),
        deviance=np.concatenate([part.deviance for part in parts]),
        alone=np.concatenate([part.alone for part in parts]),
    )


def least_deviance(
    layout: MixedLayout, values: ArrayLike, within: ArrayLike, held: Mapping[str, float]
) -> tuple[Array, Array]:
    """Deviance (S,) and components (S, 3) with those in ``held`` kept, the others at best.

    Against ``MixedSeasons.deviance``, or the least with fewer held, the deviance tells
    whether a profile interval holds a value (Venzon & Moolgavkar 1988). A term whose
    component is kept at infinity stands as fixed. NaN where a season does not settle.
    """
    y = season_values(values, layout.order.size)
    w = np.asarray(within, dtype=float)
    deviance = np.full(y.shape[0], np.nan)
    components = np.full((y.shape[0], 3), np.nan)
    for start in range(0, y.shape[0], CHUNK):
        here = slice(start, start + CHUNK)
        unit, inside, scale, _ = _scaled(layout, y[here], w[here])
        kept = {
            NAMES.index(name): np.full_like(scale, FAR) if value == inf else value / scale**2
            for name, value in held.items()
        }
        solved = search_seasons(layout.plots, unit, inside, layout.active, kept)
        found = np.where(solved.settled, solved.objective, np.nan)
        deviance[here] = found + _shift(layout, scale)
        components[here] = np.where(solved.settled, solved.theta * scale**2, np.nan).T
    return deviance, components


def within_squares(plants: Array, units: ArrayLike, n: int) -> Array:
    """(S,) sums of squares of plants (S, N) around the means of their units."""
    number = np.asarray(units, dtype=np.int64)
    average = np.zeros((number.size, n))
    average[np.arange(number.size), number] = 1.0 / np.bincount(number, minlength=n)[number]
    left = plants - (plants @ average)[:, number]
    product: Array = np.einsum("sn,sn->s", left, left)
    return product


def _scaled(layout: MixedLayout, y: Array, w: Array) -> tuple[Array, Array, Array, Array]:
    """Unit means (n, S) and squares on unit residual scale; the scale; the cell means."""
    plots = layout.plots
    sorted_y = y[:, layout.order]
    weights = plots.m[:, 0]
    of_cell = (plots.x * plots.m) / (weights @ plots.x)
    centers = sorted_y @ of_cell
    left = sorted_y - centers @ plots.x.T
    df = float(weights.sum()) - plots.x.shape[1]
    square = (left * left) @ weights + w
    largest = np.abs(sorted_y).max(axis=1)
    scale = np.sqrt(square / df)
    scale = np.where(scale <= 1e-13 * largest, 0.0, scale)
    safe = np.where(scale > 0.0, scale, 1.0)
    return np.ascontiguousarray((left / safe[:, None]).T), w / safe**2, safe, centers


def _shift(layout: MixedLayout, scale: Array) -> Array:
    """What brings the objective from unit scale to that of the values."""
    df = float(layout.plots.m.sum()) - layout.plots.x.shape[1]
    product: Array = 2.0 * df * np.log(scale)
    return product


def _chunk(layout: MixedLayout, y: Array, w: Array, confidence: float) -> MixedSeasons:
    unit, inside, scale, centers = _scaled(layout, y, w)
    scatter = np.abs(unit).max(axis=0, initial=0.0) + inside > 0.0
    # a stand-in for seasons that have none; they are not judged
    unit = np.where(scatter, unit, np.cos(np.arange(len(unit)))[:, None])
    inside = np.where(scatter, inside, layout.plots.inside)
    solved = search_seasons(layout.plots, unit, inside, layout.active)
    at = evaluate_seasons(layout.plots, unit, inside, solved.theta)
    alone = ~solved.settled | ~scatter
    answers = [
        judge_fixed(at, layout.active, rows, scale, centers, confidence)
        for rows in (layout.contrasts, layout.means)
    ]
    p_all = joint_f(at, layout.active, layout.together, centers / scale[:, None])
    components = (solved.theta * scale**2).T.copy()
    deviance = np.where(alone, np.nan, solved.objective + _shift(layout, scale))
    for s in np.flatnonzero(alone):
        _alone(layout, y[s], float(w[s]), int(s), components, answers, p_all, confidence)
    return MixedSeasons(components, answers[0], answers[1], p_all, deviance, alone)


def _alone(
    layout: MixedLayout,
    y: Array,
    w: float,
    s: int,
    components: Array,
    answers: list[Answers],
    p_all: Array,
    confidence: float,
) -> None:
    """One season through the single-season code, on plants with the same sums."""
    for part in answers:
        for name in FIELDS:
            getattr(part, name)[s] = np.nan
        part.judged[s] = False
    components[s], p_all[s] = np.nan, np.nan
    plots = layout.plots
    m = plots.m[:, 0].astype(np.int64)
    rows = np.repeat(np.arange(m.size), m)
    values = y[layout.order][rows]
    first = int(np.argmax(m > 1))
    if m[first] > 1:  # all scatter inside units is given to two plants of one unit
        spot = np.flatnonzero(rows == first)[:2]
        values[spot] += np.sqrt(0.5 * w) * np.array([1.0, -1.0])
    groups = {}
    if layout.active[BLOCK]:
        groups["block"] = plots.block[rows]
    if layout.active[PLOT]:
        groups["plot"] = rows
    try:
        fit = fit_mixed(values, plots.x[rows], groups)
    except AnalysisError:  # no scatter: nothing is given, and ``judged`` says so
        return
    for k, name in enumerate(NAMES):
        components[s, k] = fit.component(name) if name in fit.names else 0.0
    for part, asked in zip(answers, (layout.contrasts, layout.means), strict=True):
        found = mixed_contrasts(fit, asked, level=confidence) if len(asked) else ()
        for k, one in enumerate(found):
            for name in FIELDS:
                value = getattr(one, name)
                getattr(part, name)[s, k] = np.nan if value is None else value
            part.judged[s, k] = one.p is not None
    p = mixed_test(fit, layout.together).p
    p_all[s] = np.nan if p is None else p


def _join(parts: list[Answers]) -> Answers:
    return Answers(
        *(np.concatenate([getattr(p, f) for p in parts]) for f in (*FIELDS, "judged"))
    )


def _refuse_inseparable(plots: Plots, active: Flags) -> None:
    """Refuse components without information of their own (it depends on the layout only)."""
    start = np.where(active, 1.0 / active.sum(), 0.0)[:, None]
    n = plots.x.shape[0]
    at: Evaluated = evaluate_seasons(plots, np.zeros((n, 1)), np.zeros(1), start)
    held = np.ix_(active, active)
    information = at.expected[:, :, 0][held]
    diagonal = np.diagonal(information)
    if not (diagonal > 0.0).all():
        raise ValueError("these units cannot tell the variance components apart")
    unit = information / np.sqrt(np.outer(diagonal, diagonal))
    if float(np.linalg.eigvalsh(unit)[0]) <= SEPARABLE:
        raise ValueError("these units cannot tell the variance components apart")
