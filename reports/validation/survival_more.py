"""Incidence of causes and the composite rank: coverage of intervals, rejection of nulls.

Incidence: plants die at one of several visits, of the first cause with a chance that plots
share; the interval of an arm's incidence at the end, by units. Rank: plants that live grow
with plot and plant scatter, the dead rank below all; two arms alike, or one that grows and
lives better. Leans on study_cells and the package's simulator and ranks.
"""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy.special import ndtri, stdtrit
from study_cells import generator

from wickstats.models.lifetimes.rank import compare_ranks
from wickstats.simulate.shares import beta_chances

BLOCKS = (3, 4, 6, 8)
PLANTS = (4, 8, 12)
CORRELATIONS = (0.0, 0.1, 0.3)
SURVIVALS = (0.3, 0.6, 0.9)
CAUSES = (0.2, 0.5)
RANK_SEASONS = 2_000


@dataclass(frozen=True, slots=True)
class MoreCell:
    """One setting; ``cause`` is the first cause's share of deaths, None for ranks."""

    kind: str  # incidence | rank
    blocks: int
    plants: int
    correlation: float
    survival: float
    cause: float | None

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        return (
            f"{self.kind}|{self.blocks}x{self.plants}|{self.correlation:g}|{self.survival:g}"
            f"|{self.cause}"
        )


def more_cells() -> list[MoreCell]:
    """Every cell, in a fixed order."""
    incidence = [
        MoreCell("incidence", blocks, plants, correlation, survival, cause)
        for blocks in BLOCKS
        for plants in PLANTS
        for correlation in CORRELATIONS
        for survival in SURVIVALS
        for cause in CAUSES
    ]
    ranks = [
        MoreCell("rank", blocks, plants, correlation, survival, None)
        for blocks in BLOCKS
        for plants in PLANTS
        for correlation in (0.0, 0.3)
        for survival in (0.6, 0.9)
    ]
    return incidence + ranks


def counted_limits(counted: np.ndarray, plants: float) -> tuple[np.ndarray, np.ndarray]:
    """(S,) limits of an arm's share: ``counted`` (S, u) of ``plants`` a unit, at 95 %."""
    u = counted.shape[1]
    x, n = counted.sum(axis=1), u * plants
    left = x[:, None] - counted
    others = np.log(left + 0.5) - np.log(n - plants - left + 0.5)
    spread = np.sqrt((u - 1) / u * ((others - others.mean(axis=1, keepdims=True)) ** 2).sum(1))
    scatter = np.sqrt(1.0 / (x + 0.5) + 1.0 / (n - x + 0.5))
    half = np.maximum(float(stdtrit(u - 1, 0.975)) * spread, float(ndtri(0.975)) * scatter)
    center = np.log(x + 0.5) - np.log(n - x + 0.5)
    return 1.0 / (1.0 + np.exp(half - center)), 1.0 / (1.0 + np.exp(-half - center))


def run_more(cell: MoreCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate one cell: coverage, and for ranks rejection of the null."""
    rng = generator(seed, f"more|{cell.key}")
    if cell.cause is None:
        return _rank(cell, min(seasons, RANK_SEASONS), rng)
    alive, first = (
        beta_chances(rng, seasons, np.full(cell.blocks, share), cell.correlation)
        for share in (cell.survival, cell.cause)
    )
    deaths = rng.binomial(cell.plants, 1.0 - alive)
    counted = rng.binomial(deaths, first).astype(float)
    low, high = counted_limits(counted, float(cell.plants))
    true = (1.0 - cell.survival) * cell.cause
    return {
        "settings": asdict(cell),
        "seasons": seasons,
        "coverage": float(((low <= true) & (true <= high)).mean()),
        "rejection": None,
    }


def rank_season(cell: MoreCell, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """(2, blocks x plants) end scores of two arms alike, and (blocks x plants,) the blocks."""
    alive = beta_chances(rng, 2, np.full(cell.blocks, cell.survival), cell.correlation)
    block = rng.normal(size=cell.blocks)
    plot = rng.normal(0.0, np.sqrt(max(cell.correlation, 1e-12)), size=alive.shape)
    each = (2, cell.blocks, cell.plants)
    size = block[:, None] + plot[:, :, None] + rng.normal(size=each)
    scores = np.where(rng.random(each) < alive[:, :, None], size, -np.inf)
    return scores.reshape(2, -1), np.repeat(np.arange(cell.blocks), cell.plants)


def _rank(cell: MoreCell, seasons: int, rng: np.random.Generator) -> dict[str, Any]:
    rejected = covered = 0
    for _ in range(seasons):
        scores, blocks = rank_season(cell, rng)
        found = compare_ranks(scores[0], scores[1], blocks_a=blocks, blocks_b=blocks)
        rejected += found.p is not None and found.p < 0.05
        covered += found.low is None or found.low <= 0.5 <= (found.high or 1.0)
    return {
        "settings": asdict(cell),
        "seasons": seasons,
        "coverage": covered / seasons,
        "rejection": rejected / seasons,
    }


def summarize_more(cells: list[dict[str, Any]]) -> dict[str, Any]:
    """Lowest coverage of incidence, highest rejection by the rank."""
    incidence = [c for c in cells if c["settings"]["kind"] == "incidence"]
    ranks = [c for c in cells if c["settings"]["kind"] == "rank"]
    least = min(incidence, key=lambda c: c["coverage"])
    most = max(ranks, key=lambda c: c["rejection"])
    return {
        "incidence": {
            "cells": len(incidence),
            "seasons_a_cell": min(c["seasons"] for c in incidence),
            "lowest_coverage": least["coverage"],
            "lowest_cell": least["settings"],
            "median_coverage": float(np.median([c["coverage"] for c in incidence])),
        },
        "rank": {
            "cells": len(ranks),
            "seasons_a_cell": min(c["seasons"] for c in ranks),
            "highest_rejection": most["rejection"],
            "highest_cell": most["settings"],
            "lowest_coverage": min(c["coverage"] for c in ranks),
        },
    }
