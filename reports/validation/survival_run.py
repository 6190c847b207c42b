"""One cell of the survival study.

Leans on survival_cells, survival_seasons, study_cells and the package's batch engine.
"""

from typing import Any

import numpy as np
from study_cells import generator
from survival_cells import SurvivalCell
from survival_seasons import LIVED, Lives, score_sums, simulate_lives, true_levels

from wickstats.models.batch.dispersion import (
    judge_restricted_means,
    judge_scores,
    judge_shares,
)
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.results import Judged

CHUNK = 2_500  # seasons held in memory at a time
ESTIMANDS = ("share", "early share", "restricted mean")


def judge_lives(lives: Lives, arms: int) -> dict[str, Judged]:
    """Every estimand and the log-rank score, judged in every season.

    Contrasts: the first arm against the second, and against the last.
    """
    eye = np.eye(arms)
    contrasts = np.array([eye[0] - eye[1], eye[0] - eye[-1]])
    layout: BatchLayout = lay_batch(lives.cells, arms, contrasts=contrasts, blocks=lives.blocks)
    found = score_sums(lives)
    return {
        "share": judge_shares(layout, lives.alive, lives.plants),
        "early share": judge_shares(layout, lives.alive_early, lives.plants),
        "restricted mean": judge_restricted_means(layout, lives.ended, LIVED, 1.0),
        "log-rank score": judge_scores(
            layout,
            found.scores,
            lives.plants,
            found.plant_variance,
            aligned=(found.aligned, found.aligned_variance),
        ),
    }


def run_survival(cell: SurvivalCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    Of each estimand, over the seasons that gave inference: ``rejection`` of the null pair,
    the first two arms; ``rejection_all`` of all arms, where none differ and there are more
    than two; ``coverage`` of the first arm against the last; ``power`` of the same, where
    they differ. Of the log-rank score: ``rejection_all`` where no arms differ, else
    ``power`` of the test of all arms.
    """
    rng = generator(seed, cell.key)
    truth = true_levels(cell)
    totals: dict[str, np.ndarray] = {}
    left = seasons
    while left > 0:
        lives = simulate_lives(cell, min(left, CHUNK), rng)
        for name, judged in judge_lives(lives, cell.arms).items():
            found = _tally(judged, truth.get(name))
            totals[name] = totals.get(name, np.zeros_like(found)) + found
        left -= CHUNK
    out: dict[str, Any] = {"settings": cell.settings(), "seasons": seasons}
    null = cell.truth == "global null"
    for name in ESTIMANDS:
        judged, pair, other, inside, joint, all_arms = totals[name]
        out[name] = {
            "judged": int(judged),
            "rejection": pair / judged if cell.has_null_pair else None,
            "rejection_all": all_arms / joint if null and cell.arms > 2 else None,
            "coverage": inside / judged,
            "power": None if null else other / judged,
        }
    *_, joint, all_arms = totals["log-rank score"]
    rate = all_arms / joint if joint else None
    out["log-rank score"] = {
        "judged": int(joint),
        "rejection_all": rate if null else None,
        "power": None if null else rate,
    }
    return out


def _tally(judged: Judged, truth: np.ndarray | None) -> np.ndarray:
    """Seasons judged, pair and other rejected, other covered, joint tests and rejections."""
    there = judged.contrasts.judged[:, 0]
    joint = np.isfinite(judged.p_all)
    p = judged.contrasts.p[there]
    inside = 0
    if truth is not None:
        difference = truth[0] - truth[-1]
        low, high = judged.contrasts.low[there, 1], judged.contrasts.high[there, 1]
        inside = int(((low <= difference) & (difference <= high)).sum())
    return np.array(
        [
            there.sum(),
            (p[:, 0] < 0.05).sum(),
            (p[:, 1] < 0.05).sum(),
            inside,
            joint.sum(),
            (judged.p_all[joint] < 0.05).sum(),
        ],
        dtype=float,
    )
