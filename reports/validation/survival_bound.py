"""How often a null pair is called different where an arm lost no plant, or all.

Such a pair's verdict comes from a bound, not from the interval of the first line. Kept by
cell: how often a pair is bounded, how often the bound calls it better or worse, and how often
the page's verdict does, the bound's where an arm is of one fate and the first line's where
none is. Leans on survival_seasons, survival_cells, study_cells and the package's batch engine.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import betaincinv, ndtri, stdtrit
from study_cells import generator
from survival_cells import SurvivalCell
from survival_run import CHUNK
from survival_seasons import Lives, simulate_lives, true_levels

from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.lifetimes.intervals import LEAST_CORRELATION

BLOCKS = (3, 4, 5, 6, 8)
PLANTS = (4, 8, 12)
CORRELATIONS = (0.0, 0.1, 0.3)
SURVIVALS = (0.9, 0.97, 1.0)
LEVEL = 0.95  # of each limit alone


def bound_cells() -> list[SurvivalCell]:
    """Null pairs that few plants leave, alone and beside two others; two arms that differ."""
    null = [
        SurvivalCell(blocks, arms, plants, correlation, survival, "global null", loss)
        for blocks in BLOCKS
        for arms in (2, 4)
        for plants in PLANTS
        for correlation in CORRELATIONS
        for survival in SURVIVALS
        for loss in ("complete", "uneven")
        if survival < 1.0 or correlation == 0.0
    ]
    apart = [
        SurvivalCell(blocks, 2, plants, correlation, survival, "arms differ", "complete")
        for blocks in BLOCKS
        for plants in PLANTS
        for correlation in CORRELATIONS
        for survival in (0.6, 0.9)
    ]
    return null + apart


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """(S,) share of an arm and its one-sided limits; ``extreme`` where one fate."""

    share: np.ndarray
    low: np.ndarray
    high: np.ndarray
    extreme: np.ndarray


def side_limits(alive: np.ndarray, plants: np.ndarray, rho: np.ndarray, level: float) -> Side:
    """One arm in every season: ``alive`` (S, u) of ``plants`` (u,)."""
    x, n = alive.sum(axis=1), float(plants.sum())
    m = float(np.sum(plants**2)) / n
    n_eff = n / (1.0 + (m - 1.0) * rho)
    lived, died = x == n, x == 0.0
    limit = betaincinv(n_eff, 1.0, 1.0 - level)
    others = np.log(x[:, None] - alive + 0.5) - np.log(
        (n - plants) - (x[:, None] - alive) + 0.5
    )
    u = plants.size
    spread = np.sqrt((u - 1) / u * ((others - others.mean(axis=1, keepdims=True)) ** 2).sum(1))
    scatter = np.sqrt(1.0 / (x + 0.5) + 1.0 / (n - x + 0.5))
    half = np.maximum(stdtrit(u - 1, level) * spread, ndtri(level) * scatter)
    center = np.log(x + 0.5) - np.log(n - x + 0.5)
    low, high = 1.0 / (1.0 + np.exp(half - center)), 1.0 / (1.0 + np.exp(-half - center))
    low = np.where(lived, limit, np.where(died, 0.0, low))
    high = np.where(died, 1.0 - limit, np.where(lived, 1.0, high))
    return Side(x / n, low, high, lived | died)


def bounded_limits(
    layout: BatchLayout, lives: Lives, estimate: np.ndarray, level: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(S,) limits about ``estimate``, first arm less second, and where one has one fate."""
    rho = plot_correlations(layout, lives.alive, lives.plants)
    up, down = (
        side_limits(lives.alive[:, mine], lives.plants[mine], rho, level)
        for mine in (lives.cells == 0, lives.cells == 1)
    )
    low = estimate - np.hypot(up.share - up.low, down.high - down.share)
    high = estimate + np.hypot(up.high - up.share, down.share - down.low)
    return low, high, up.extreme | down.extreme


def plot_correlations(layout: BatchLayout, alive: np.ndarray, plants: np.ndarray) -> np.ndarray:
    """(S,) correlation used by the bound: 0.1 or that of the units' dispersion, the larger."""
    g = layout.geometry
    cells = np.eye(g.n_cells)[g.cells]
    p = (alive @ cells) / (plants @ cells)
    d = (p * (1.0 - p))[:, g.cells] / plants
    held = (alive / plants) @ layout.residual_basis
    rss = np.einsum("sj,sj->s", held, held)
    first = d @ np.sum(layout.residual_basis**2, axis=1)
    tells = (rss > 1e-20) & (first > 1e-12 * d.max(axis=1, initial=0.0))
    phi = np.where(tells, rss / np.where(tells, first, 1.0), 0.0)
    return np.clip((phi - 1.0) / (plants.mean() - 1.0), LEAST_CORRELATION, 1.0)


def run_bound(cell: SurvivalCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate one cell: the first arm against the second.

    ``bounded``: share of seasons in which an arm is of one fate; ``bound_rejects``: share of
    all seasons in which the bound then tells them apart; ``rejection``: share in which the
    page does; ``coverage``: of the interval that the page shows.
    """
    rng = generator(seed, f"bound|{cell.key}")
    truth = true_levels(cell)["share"]
    difference = float(truth[0] - truth[1])
    totals = np.zeros(4)
    left = seasons
    eye = np.eye(cell.arms)
    while left > 0:
        lives = simulate_lives(cell, min(left, CHUNK), rng)
        layout = lay_batch(
            lives.cells, cell.arms, contrasts=np.array([eye[0] - eye[1]]), blocks=lives.blocks
        )
        line = judge_shares(layout, lives.alive, lives.plants).contrasts
        low, high, bounded = bounded_limits(layout, lives, line.estimate[:, 0], LEVEL)
        by_bound = bounded & ((low > 0.0) | (high < 0.0))
        judged = ~bounded & line.judged[:, 0]
        by_line = judged & (line.p[:, 0] < 0.05)
        low = np.where(bounded, low, line.low[:, 0])
        high = np.where(bounded, high, line.high[:, 0])
        held = (bounded | judged) & (low <= difference) & (difference <= high)
        totals += [bounded.sum(), by_bound.sum(), (by_bound | by_line).sum(), held.sum()]
        left -= CHUNK
    bounded_, rejects, rejection, coverage = (totals / seasons).tolist()
    return {
        "settings": cell.settings(),
        "seasons": seasons,
        "bounded": bounded_,
        "bound_rejects": rejects,
        "rejection": rejection,
        "coverage": coverage,
    }


def summarize_bound(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Worst cells: rejection of null pairs, by the page and by the bound; coverage; power."""
    null = [c for c in cells if SurvivalCell(**c["settings"]).has_null_pair]
    apart = [c for c in cells if not SurvivalCell(**c["settings"]).has_null_pair]
    worst = max(null, key=lambda c: c["rejection"])
    bound = max(null, key=lambda c: c["bound_rejects"])
    least = min(cells, key=lambda c: c["coverage"])
    return {
        "cells": len(cells),
        "seasons_a_cell": min(c["seasons"] for c in cells),
        "highest": worst["rejection"],
        "highest_cell": worst["settings"],
        "highest_by_bound": bound["bound_rejects"],
        "highest_by_bound_cell": bound["settings"],
        "over_6.5_percent": sum(c["rejection"] > 0.065 for c in null),
        "lowest_coverage": least["coverage"],
        "lowest_coverage_cell": least["settings"],
        "mean_power": float(np.mean([c["rejection"] for c in apart])),
    }
