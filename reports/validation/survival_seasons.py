"""Simulated lives of one cell, all seasons at once.

A plot's chance P that a plant lives to the end is beta with the arm's mean p and
variance r p (1 - p), so that two plants of a plot have correlation r of their fates; given
P a plant dies at a constant rate -log P over the season. Six visits at equal steps see who
is dead; a plant found dead lived to the middle between two visits. Kept are the numbers of
plants of each plot that died in each step, from which all else follows.
Drawn by the package's own simulator. Leans on numpy, scipy.special, survival_cells, and
wickstats.simulate and wickstats.models.batch.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln
from survival_cells import SurvivalCell

from wickstats.models.batch.lives import SeasonScores, score_seasons
from wickstats.simulate.shares import beta_chances, times_of_death

VISITS = 6
EARLY = 3  # the earlier date: the third visit
LIVED = np.append((np.arange(VISITS) + 0.5) / VISITS, 1.0)  # times lived; the last: alive


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """S seasons of n plots.

    Attributes
    ----------
    cells, blocks, plants
        (n,) arm, block and plants of each plot that is left.
    ended
        (S, n, 7) plants that died in each step, and those alive at the end.
    """

    cells: np.ndarray
    blocks: np.ndarray
    plants: np.ndarray
    ended: np.ndarray

    @property
    def alive(self) -> np.ndarray:
        """(S, n) plants alive at the end."""
        return self.ended[:, :, VISITS]

    @property
    def alive_early(self) -> np.ndarray:
        """(S, n) plants alive at the earlier date."""
        return np.asarray(self.ended[:, :, EARLY:].sum(axis=2))


def simulate_lives(cell: SurvivalCell, seasons: int, rng: np.random.Generator) -> Lives:
    """Simulate ``seasons`` seasons of one cell."""
    cells = np.tile(np.arange(cell.arms), cell.blocks)
    blocks = np.repeat(np.arange(cell.blocks), cell.arms)
    kept = np.array([(b, a) not in cell.lost for b, a in zip(blocks, cells, strict=True)])
    cells, blocks = cells[kept], blocks[kept]
    plants = np.array(cell.plants_by_arm)[cells]
    p = np.array(cell.levels)[cells]
    most = int(plants.max())
    time = times_of_death(rng, beta_chances(rng, seasons, p, cell.correlation), most)
    step = np.minimum(time * VISITS, VISITS).astype(np.int8)
    step[:, np.arange(most) >= plants[:, None]] = -1
    ended = np.stack([(step == s).sum(axis=2) for s in range(VISITS + 1)], axis=2)
    return Lives(cells, blocks, plants.astype(float), ended.astype(float))


def true_levels(cell: SurvivalCell) -> dict[str, np.ndarray]:
    """(arms,) of each estimand: E P^s of the beta distribution at each visit."""
    p = np.array(cell.levels)
    visits = np.arange(VISITS + 1) / VISITS
    if cell.correlation > 0.0:
        k = (1.0 - cell.correlation) / cell.correlation
        a, b = (p * k)[:, None], ((1.0 - p) * k)[:, None]
        alive = np.exp(
            gammaln(a + visits) - gammaln(a) + gammaln(a + b) - gammaln(a + b + visits)
        )
    else:
        alive = p[:, None] ** visits
    dead = -np.diff(alive, axis=1)
    return {
        "share": alive[:, VISITS],
        "early share": alive[:, EARLY],
        "restricted mean": dead @ LIVED[:VISITS] + alive[:, VISITS],
    }


def score_sums(lives: Lives) -> SeasonScores:
    """Log-rank scores of the plots, longer lives above zero."""
    return score_seasons(lives.ended[:, :, :VISITS], lives.plants, lives.blocks)
