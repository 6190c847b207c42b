"""The usual routes on growth over visits, for comparison.

    rows as replicates       least squares of all rows on arms x visit and blocks
    mixed model, z test      statsmodels MixedLM, REML, a random intercept a plant

Both ask whether the slopes of the null pair differ. Leans on numpy, scipy.special,
statsmodels, trial_layouts and trial_run.
"""

import warnings
from typing import Any

import numpy as np
from scipy.special import stdtr
from study_cells import generator
from trial_cells import GROWTH_VISITS, Trial
from trial_layouts import Plots, lay_trial
from trial_run import draw_growth

ROWS = "growth: all rows as replicates"
PLANTS = "growth: mixed model, plants random, z test"


def run_usual_trial(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Rejection of the null pair by each route, with how many seasons gave a test."""
    plots = lay_trial(trial)
    rows = draw_growth(generator(seed, f"usual|{trial.key}"), seasons, trial, plots)
    x, plant = _design(plots)
    y = rows.reshape(seasons, -1)
    inverse = np.linalg.inv(x.T @ x)
    b = y @ x @ inverse
    df = x.shape[0] - x.shape[1]
    scale = np.sum((y - b @ x.T) ** 2, axis=1) / df
    last = plots.n_cells + 1  # the second arm's slope against the first's
    t = b[:, last] / np.sqrt(scale * inverse[last, last])
    mixed, settled = _mixed(y, x, plant, last)
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        "routes": [
            _route(ROWS, 2.0 * stdtr(df, -np.abs(t))),
            {**_route(PLANTS, mixed), "converged": settled},
        ],
    }


def _design(plots: Plots) -> tuple[np.ndarray, np.ndarray]:
    """Columns: arms, common slope, other arms' slopes, other blocks; plant of each row."""
    time = np.tile(np.arange(GROWTH_VISITS) / (GROWTH_VISITS - 1.0), plots.units.size)
    plant = np.repeat(np.arange(plots.units.size), GROWTH_VISITS)
    unit = plots.units[plant]
    arms = np.eye(plots.n_cells)[plots.cells[unit]]
    blocks = np.eye(int(plots.classes[0].max()) + 1)[plots.classes[0][unit]][:, 1:]
    slopes = arms[:, 1:] * time[:, None]
    return np.hstack([arms, time[:, None], slopes, blocks]), plant


def _mixed(
    y: np.ndarray, x: np.ndarray, plant: np.ndarray, column: int
) -> tuple[np.ndarray, float]:
    from statsmodels.regression.mixed_linear_model import MixedLM

    out = np.full(y.shape[0], np.nan)
    settled = 0
    for s, values in enumerate(y):
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")  # they say what ``converged`` counts
            try:
                fit = MixedLM(values, x, groups=plant).fit(reml=True)
            except np.linalg.LinAlgError:
                continue
            out[s] = float(fit.pvalues[column])
            settled += bool(fit.converged)
    return out, settled / y.shape[0]


def _route(name: str, p: np.ndarray) -> dict[str, Any]:
    tested = np.isfinite(p)
    rate = float((p[tested] < 0.05).mean()) if tested.any() else None
    return {"route": name, "tested": int(tested.sum()), "rejection": rate}
