"""The usual routes on the same lives: clustered Cox, plants as replicates, plain log-rank.

Leans on numpy, pandas, lifelines, survival_seasons and the package's classical log-rank.
"""

import warnings
from typing import Any

import numpy as np
from scipy.special import ndtr
from study_cells import generator
from survival_cells import SurvivalCell, has_cox
from survival_seasons import LIVED, VISITS, Lives, simulate_lives

from wickstats.models.lifetimes.scores import log_rank

COX = "Cox, robust with plots as clusters, blocks as strata (lifelines)"
PLANTS = "shares at the end, plants as replicates"
PLAIN = "plain log-rank, plants as units"


def run_usual_survival(cell: SurvivalCell, seasons: int, seed: int) -> dict[str, Any]:
    """Rejection of the null pair (log-rank: of all arms that are alike) by the usual routes."""
    lives = simulate_lives(cell, seasons, generator(seed, cell.key))
    alike = sum(level == cell.levels[0] for level in cell.levels)
    found = {PLANTS: _plants(lives), PLAIN: _log_rank(lives, alike)}
    if has_cox(cell):
        found[COX] = _cox(lives)
    return {
        "settings": cell.settings(),
        "seasons": seasons,
        "routes": [
            {
                "route": name,
                "tested": int(np.isfinite(p).sum()),
                "rejection": float((p[np.isfinite(p)] < 0.05).mean())
                if np.isfinite(p).any()
                else None,
            }
            for name, p in found.items()
        ],
    }


def plants_of(lives: Lives, s: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time lived, whether it ended in death, and plot of every plant of one season."""
    n, k = lives.ended.shape[1:]
    counts = lives.ended[s].astype(int).ravel()
    plot, step = np.repeat(np.arange(n), k), np.tile(np.arange(k), n)
    return (
        np.repeat(LIVED[step], counts),
        np.repeat(step < VISITS, counts),
        np.repeat(plot, counts),
    )


def _cox(lives: Lives) -> np.ndarray:
    import pandas as pd
    from lifelines import CoxPHFitter
    from lifelines.exceptions import ConvergenceError

    out = np.full(len(lives.ended), np.nan)
    arms = int(lives.cells.max()) + 1
    for s in range(out.size):
        time, died, plot = plants_of(lives, s)
        frame = pd.DataFrame({"time": time, "died": died, "plot": plot})
        frame["block"] = lives.blocks[plot]
        names = [f"arm {k}" for k in range(1, arms)]
        for k, name in enumerate(names, start=1):
            frame[name] = (lives.cells[plot] == k).astype(float)
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            try:
                fit = CoxPHFitter().fit(
                    frame, "time", "died", cluster_col="plot", strata=["block"]
                )
            except (ConvergenceError, ValueError, np.linalg.LinAlgError):
                continue
        out[s] = float(fit.summary.loc["arm 1", "p"])
    return out


def _plants(lives: Lives) -> np.ndarray:
    x = np.stack([lives.alive[:, lives.cells == k].sum(axis=1) for k in (0, 1)], axis=1)
    n = np.array([lives.plants[lives.cells == k].sum() for k in (0, 1)])
    p = x.sum(axis=1) / n.sum()
    with np.errstate(invalid="ignore", divide="ignore"):
        z = (x[:, 0] / n[0] - x[:, 1] / n[1]) / np.sqrt(p * (1.0 - p) * (1.0 / n).sum())
    return np.asarray(2.0 * ndtr(-np.abs(z)))


def _log_rank(lives: Lives, alike: int) -> np.ndarray:
    """Of the first ``alike`` arms."""
    out = np.full(len(lives.ended), np.nan)
    for s in range(out.size):
        time, died, plot = plants_of(lives, s)
        kept = lives.cells[plot] < alike
        if died[kept].any():
            out[s] = log_rank(time[kept], died[kept], lives.cells[plot][kept]).p
    return out
