"""The usual routes of the whole grid held to a general library's own fits.

Every so many cells of the study of totals and sizes, the first seasons of ``trial_usual``
are fitted one by one by statsmodels (MixedLM, REML, its own starts and stops) with the same
terms, and its z test is compared. Its standard errors come from second derivatives by fixed
part and components together, ours and most other programs' from X'V^-1 X: they are the same
in balanced data only. Leans on numpy, statsmodels, trial_usual.
"""

import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from trial_cells import Trial, all_trials
from trial_layouts import Plots, lay_trial
from trial_run import question_of
from trial_usual import draw_usual, growth_design, judge_routes
from usual_mixed import Z, lay_usual, rise_at

from wickstats.models.batch.draw import unit_means
from wickstats.models.batch.mixed import within_squares

EVERY = 20  # cells
SEASONS = 10  # a cell
NEAR = 1e-3  # of the restricted deviance
ALIKE = 0.01  # of p


def held_trials() -> list[Trial]:
    """The cells of the sample."""
    return all_trials()[::EVERY]


def run_held(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Compare the z test, season by season.

    ``converged``: fits that say so; ``short``: those of them whose restricted deviance lies
    more than ``NEAR`` above the least, so that they stopped too early. Of the others
    ``alike``: p within ``ALIKE``. ``rejected``, ``rejected_library``: of all that converged.
    """
    plots = lay_trial(trial)
    rows = draw_usual(trial, plots, seasons, seed)
    ours = judge_routes(trial, plots, rows)[Z]
    theirs, converged, theta = _library(trial, plots, rows)
    both = converged & np.isfinite(theirs) & np.isfinite(ours)
    short = both & (_rise(trial, plots, rows, theta) > NEAR)
    alike = both & ~short & (np.abs(ours - theirs) <= ALIKE)
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        "converged": int(both.sum()),
        "short": int(short.sum()),
        "alike": int(alike.sum()),
        "rejected": int((ours[both] < 0.05).sum()),
        "rejected_library": int((theirs[both] < 0.05).sum()),
    }


def _rise(trial: Trial, plots: Plots, rows: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """(S,) deviance at the library's components above the least; 0 for growth."""
    if trial.group == "growth":
        return np.zeros(len(rows))
    layout = lay_usual(trial, plots, question_of(trial, plots).contrasts[0])
    means = unit_means(rows, plots.units, plots.n)
    within = within_squares(rows, plots.units, plots.n)
    known = np.where(np.isfinite(theta), theta, 1.0)
    return rise_at(layout, means, within, known)


def _library(
    trial: Trial, plots: Plots, rows: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(S,) p of statsmodels' z test, whether its fit converged, its components (3, S)."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    terms = _terms(trial, plots)
    ones = np.ones((len(terms.x), 1))
    p = np.full(len(rows), np.nan)
    converged = np.zeros(len(rows), dtype=bool)
    theta = np.full((3, len(rows)), np.nan)
    for s, y in enumerate(rows.reshape(len(rows), -1)):
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")  # they say what ``converged`` counts
            try:
                model = MixedLM(y, terms.x, terms.groups, exog_re=ones, exog_vc=terms.finer)
                fit = model.fit(reml=True)
            except np.linalg.LinAlgError:
                continue
            p[s] = float(fit.t_test(terms.row[None, :]).pvalue)
            converged[s] = bool(fit.converged)
            theta[:, s] = 0.0
            theta[terms.term, s] = float(fit.cov_re[0, 0])
            theta[2, s] = float(fit.scale)
            if terms.finer is not None:
                theta[1, s] = float(fit.vcomp[0])
    return p, converged, theta


@dataclass(frozen=True, slots=True, eq=False)
class _Terms:
    """Fixed columns of the rows, the null pair on them, groups, what varies inside them.

    ``term``: which component (0 coarser than plots, 1 plots) the groups stand for.
    """

    x: np.ndarray
    row: np.ndarray
    groups: np.ndarray
    term: int
    finer: Any = None


def _terms(trial: Trial, plots: Plots) -> _Terms:
    from statsmodels.regression.mixed_linear_model import VCSpec

    if trial.group == "growth":
        x, plant, column = growth_design(plots)
        return _Terms(x, np.eye(x.shape[1])[column], plant, 1)
    layout = lay_usual(trial, plots, question_of(trial, plots).contrasts[0])
    back = np.argsort(layout.order)
    x, row = layout.plots.x[back][plots.units], layout.row[0]
    if not layout.active[0]:
        return _Terms(x, row, plots.units, 1)
    groups = layout.plots.block[back][plots.units]
    if not layout.active[1]:
        return _Terms(x, row, groups, 0)
    mats = []
    for one in np.unique(groups):
        mine = plots.units[groups == one]
        mats.append((mine[:, None] == np.unique(mine)[None, :]).astype(float))
    names = [[f"plot {k}" for k in range(m.shape[1])] for m in mats]
    return _Terms(x, row, groups, 0, VCSpec(["plot"], [names], [mats]))
