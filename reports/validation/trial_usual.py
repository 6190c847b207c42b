"""The usual routes in every cell of the study of totals and sizes, for comparison.

Each asks whether the null pair differs, on the rows that a general program would be given:

    plants           the routes of ``usual_mixed``; with one row a plot, rows are the units
                     (rows as replicates is then the first line itself, and left out)
    growth           least squares of all rows on arms x visit and blocks; the mixed model
                     with plants random, whose slopes lie inside plants: by balance REML is
                     the mean square inside plants, or that of all strata where it is larger
                     than the one between

Leans on numpy, scipy.special, usual_mixed, trial_layouts and trial_run.
"""

from typing import Any

import numpy as np
from scipy.special import ndtr, stdtr
from study_cells import generator
from trial_cells import GROWTH_VISITS, Trial
from trial_layouts import Plots, lay_trial
from trial_run import draw_growth, draw_rows, question_of
from usual_mixed import ROWS, SATTERTHWAITE, Z, judge_usual, lay_usual

from wickstats.models.batch.draw import unit_means
from wickstats.models.batch.mixed import within_squares

TIME = np.arange(GROWTH_VISITS) / (GROWTH_VISITS - 1.0)


def run_usual_trial(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Rejection of the null pair by each route, with how many seasons gave a test."""
    plots = lay_trial(trial)
    rows = draw_usual(trial, plots, seasons, seed)
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        "routes": [_route(name, p) for name, p in judge_routes(trial, plots, rows).items()],
    }


def draw_usual(trial: Trial, plots: Plots, seasons: int, seed: int) -> np.ndarray:
    """(S, N) rows of a cell's seasons, of growth (S, N, visits)."""
    rng = generator(seed, f"usual|{trial.key}")
    if trial.group == "growth":
        return draw_growth(rng, seasons, trial, plots)
    return draw_rows(trial, plots, question_of(trial, plots))(rng, seasons)


def judge_routes(trial: Trial, plots: Plots, rows: np.ndarray) -> dict[str, np.ndarray]:
    """(S,) p of each route."""
    if trial.group == "growth":
        return _growth(plots, rows)
    layout = lay_usual(trial, plots, question_of(trial, plots).contrasts[0])
    means = unit_means(rows, plots.units, plots.n)
    found = judge_usual(layout, means, within_squares(rows, plots.units, plots.n))
    if trial.plants == 1 and plots.whole_plots is None:
        del found[ROWS]
    return found


def growth_design(plots: Plots) -> tuple[np.ndarray, np.ndarray, int]:
    """Columns and plant of the rows, plant by plant; the column of the pair's slopes.

    Columns: arms, the common slope, other arms' slopes against the first's, other blocks.
    """
    time = np.tile(TIME, plots.units.size)
    plant = np.repeat(np.arange(plots.units.size), GROWTH_VISITS)
    unit = plots.units[plant]
    arms = np.eye(plots.n_cells)[plots.cells[unit]]
    blocks = np.eye(int(plots.classes[0].max()) + 1)[plots.classes[0][unit]][:, 1:]
    slopes = arms[:, 1:] * time[:, None]
    return np.hstack([arms, time[:, None], slopes, blocks]), plant, plots.n_cells + 1


def _growth(plots: Plots, rows: np.ndarray) -> dict[str, np.ndarray]:
    x, _, column = growth_design(plots)
    y = rows.reshape(len(rows), -1)
    inverse = np.linalg.inv(x.T @ x)
    b = y @ x @ inverse
    df = x.shape[0] - x.shape[1]
    total = np.sum((y - b @ x.T) ** 2, axis=1)
    t = b[:, column] / np.sqrt(total / df * inverse[column, column])
    # arms, blocks and one mean a plant; arms' slopes inside plants
    between_df = float(plots.units.size - (x.shape[1] - plots.n_cells))
    within_df = df - between_df
    between = _between(plots, rows)
    within = total - between
    alike = within / within_df >= between / between_df
    variance = np.where(alike, total / df, within / within_df)
    z = b[:, column] / np.sqrt(variance * inverse[column, column])
    own = np.where(alike, df, within_df)
    return {
        ROWS: 2.0 * stdtr(df, -np.abs(t)),
        Z: 2.0 * ndtr(-np.abs(z)),
        SATTERTHWAITE: 2.0 * stdtr(own, -np.abs(z)),
    }


def _between(plots: Plots, rows: np.ndarray) -> np.ndarray:
    """(S,) sum of squares of plants' means that arms and blocks leave, by rows."""
    arms = np.eye(plots.n_cells)[plots.cells[plots.units]]
    codes = plots.classes[0][plots.units]
    x = np.hstack([arms, np.eye(int(codes.max()) + 1)[codes][:, 1:]])
    means = rows.mean(axis=2)
    left = means - means @ x @ np.linalg.inv(x.T @ x) @ x.T
    return np.asarray(GROWTH_VISITS * np.sum(left * left, axis=1))


def _route(name: str, p: np.ndarray) -> dict[str, Any]:
    tested = np.isfinite(p)
    rate = float((p[tested] < 0.05).mean()) if tested.any() else None
    return {"route": name, "tested": int(tested.sum()), "rejection": rate}
