"""Rows as usually analyzed, many seasons at once: least squares, and mixed models by REML.

    rows as replicates           least squares of all rows on cells and blocks (rows, columns)
    mixed model, z test          REML, fixed part against the normal distribution
    mixed model, Satterthwaite   df = 2 v^2 / (g' A g), A the inverse observed information of
                                 the components (Giesbrecht & Burns 1985; Fai & Cornelius
                                 1996); a component estimated at zero leaves the model, as in
                                 programs whose parameter is a standard deviation
    mixed model, Kenward-Roger   the package's own second line

Blocks (rows, columns) are fixed; plots are random and, in split-plots, whole plots. With one
row a plot, plots are the residual, and the first classification is random instead. Leans on
numpy, scipy.special, the package's batch engine, trial_cells and trial_layouts.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, stdtr
from trial_cells import Trial
from trial_layouts import Plots as Layout

from wickstats.models.batch.kenward_roger import judge_fixed
from wickstats.models.batch.likelihood import Evaluated, Plots, evaluate_seasons
from wickstats.models.batch.newton import Flags, search_seasons

ROWS = "rows as replicates"
Z = "mixed model, z test"
SATTERTHWAITE = "mixed model, Satterthwaite"
KENWARD_ROGER = "mixed model, Kenward-Roger"


@dataclass(frozen=True, slots=True, eq=False)
class UsualLayout:
    """Units, terms and the question.

    Attributes
    ----------
    plots, order
        The units sorted by what is random above them, and the (n,) order that sorts them.
    active
        (3,) whether a coarser term, plots and the residual are in the model.
    row
        (1, p) the null pair, on cells and fixed classifications.
    """

    plots: Plots
    order: np.ndarray
    active: Flags
    row: np.ndarray


def lay_usual(trial: Trial, laid: Layout, pair: np.ndarray) -> UsualLayout:
    """Lay out a cell; ``pair`` (t,) weights of its cells."""
    single = trial.plants == 1
    if laid.whole_plots is not None:
        coarse, fixed = laid.whole_plots, laid.classes
    elif single:
        coarse, fixed = laid.classes[0], laid.classes[1:]
    else:
        coarse, fixed = None, laid.classes
    given = np.arange(laid.n) if coarse is None else coarse
    order = np.argsort(given, kind="stable")
    number = np.unique(given[order], return_inverse=True)[1]
    parts = [np.eye(laid.n_cells)[laid.cells]]
    parts += [np.eye(int(codes.max()) + 1)[codes][:, 1:] for codes in fixed]
    x = np.hstack(parts)[order]
    plots = Plots(
        x=x,
        starts=np.flatnonzero(np.r_[True, np.diff(number) > 0]).astype(np.int64),
        block=number.astype(np.int64),
        m=laid.plants[order].astype(float)[:, None],
        inside=float(laid.units.size - laid.n),
    )
    row = np.r_[pair, np.zeros(x.shape[1] - pair.size)][None, :]
    active = np.array([coarse is not None, plots.inside > 0, True])
    return UsualLayout(plots, order, active, row)


def judge_usual(
    layout: UsualLayout, values: np.ndarray, within: np.ndarray
) -> dict[str, np.ndarray]:
    """(S,) p of each route; NaN where a season has no test.

    ``values`` (S, n) are unit means in the layout's own order, ``within`` (S,) the sums of
    squares of rows around them.
    """
    plots, row = layout.plots, layout.row[0]
    held, unit, inside, scale = _scaled(layout, values, within)
    solved = search_seasons(plots, unit, inside, layout.active)
    at = evaluate_seasons(plots, unit, inside, solved.theta)
    inverse = np.linalg.inv(plots.x.T @ (plots.m * plots.x))
    df = float(plots.m.sum()) - plots.x.shape[1]
    t = (held @ row) / (scale * np.sqrt(row @ inverse @ row))
    kr = judge_fixed(at, layout.active, layout.row, scale, held, 0.95)
    estimate = held @ row + scale * (row @ at.fixed)
    model = np.einsum("i,ijs,j->s", row, at.phi, row)
    z = estimate / (scale * np.sqrt(model))
    own = _satterthwaite(at, row, model)
    found = {
        ROWS: 2.0 * stdtr(df, -np.abs(t)),
        Z: 2.0 * ndtr(-np.abs(z)),
        SATTERTHWAITE: 2.0 * stdtr(own, -np.abs(z)),
        KENWARD_ROGER: kr.p[:, 0],
    }
    for name in (Z, SATTERTHWAITE, KENWARD_ROGER):
        found[name] = np.where(solved.settled, found[name], np.nan)
    return found


def rise_at(
    layout: UsualLayout, values: np.ndarray, within: np.ndarray, theta: np.ndarray
) -> np.ndarray:
    """(S,) how much higher the restricted deviance is at components (3, S) than at ours."""
    _, unit, inside, scale = _scaled(layout, values, within)
    best = search_seasons(layout.plots, unit, inside, layout.active).objective
    there = evaluate_seasons(layout.plots, unit, inside, theta / scale**2)
    return np.asarray(there.objective - best)


def _scaled(
    layout: UsualLayout, values: np.ndarray, within: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Least squares (S, p), what it leaves (n, S) and squares inside on the unit scale."""
    plots = layout.plots
    y, weights = values[:, layout.order], plots.m[:, 0]
    held = (y * weights) @ plots.x @ np.linalg.inv(plots.x.T @ (plots.m * plots.x))
    left = y - held @ plots.x.T
    df = float(weights.sum()) - plots.x.shape[1]
    scale = np.sqrt(((left * left) @ weights + within) / df)
    unit = np.ascontiguousarray((left / scale[:, None]).T)
    return held, unit, within / scale**2, scale


def _satterthwaite(at: Evaluated, row: np.ndarray, model: np.ndarray) -> np.ndarray:
    """(S,) df; NaN where the observed information is not positive definite."""
    side = np.einsum("i,ijs->js", row, at.phi)
    slopes = np.einsum("is,kijs,js->sk", side, at.first, side)
    free = (at.theta > 0.0).T
    both = free[:, :, None] & free[:, None, :]
    observed = np.where(both, np.moveaxis(at.observed, -1, 0), np.eye(3))
    good = np.linalg.eigvalsh(observed)[:, 0] > 0.0
    safe = np.where(good[:, None, None], observed, np.eye(3))
    slopes = np.where(free, slopes, 0.0)
    spread = 2.0 * np.einsum(
        "sk,sk->s", slopes, np.linalg.solve(safe, slopes[..., None])[..., 0]
    )
    return np.where(good, 2.0 * model**2 / spread, np.nan)
