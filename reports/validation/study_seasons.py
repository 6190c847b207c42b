"""Simulated seasons of one cell, all at once.

Six plants a plot. Block effects have variance 0.25, plot effects the cell's plot variance,
plants variance 1, all normal:

    total   log of the sum of exp(0.4 x (block + plot + plant)) over the plot's plants
    size    mean of block + plot + plant over the plants that are left
    share   plants whose arm + block + plot + plant is above zero, of those found
    count   Poisson, log mean = log of the arm's mean + block + plot

What is lost:

    random gaps   one plot anywhere; sizes and shares also lose each plant with chance 0.15
    loss by arm   plots of the first arm only (one; two from six blocks on); sizes and shares
                  also lose each plant of the first arm with chance 0.6, of others with 0.1

Totals and counts lose whole plots only: fewer plants would truly change a total.
Drawn by the package's own simulator. Leans on numpy, scipy.special, wickstats.simulate and
study_cells.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from study_cells import Cell

from wickstats.simulate.counts import poisson_around
from wickstats.simulate.effects import unit_effects
from wickstats.simulate.quantities import log_totals
from wickstats.simulate.shares import alive_over_threshold

PLANTS = 6
BLOCK_VARIANCE = 0.25
PLANT_LOG_SD = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Seasons:
    """S seasons of n = blocks x arms units, in the order block by block.

    Attributes
    ----------
    cells, blocks
        (n,) arm and block of each unit.
    values
        (S, n) what the first line takes: log totals, means, plants alive, counts.
    plants
        (S, n) plants behind each value.
    present
        (S, n) whether the unit has a value.
    plant_values, plant_present
        (S, n, 6) the plants of a size, for the usual routes; None for other kinds.
    """

    kind: str
    cells: np.ndarray
    blocks: np.ndarray
    values: np.ndarray
    plants: np.ndarray
    present: np.ndarray
    plant_values: np.ndarray | None = None
    plant_present: np.ndarray | None = None


def simulate(cell: Cell, seasons: int, rng: np.random.Generator) -> Seasons:
    """Simulate ``seasons`` seasons of one cell."""
    b, t, n = cell.blocks, cell.arms, cell.blocks * cell.arms
    cells, blocks = np.tile(np.arange(t), b), np.repeat(np.arange(b), t)
    plot_sd = np.full(n, np.sqrt(cell.plot_variance))
    effects = unit_effects(rng, seasons, plot_sd, [(blocks, np.sqrt(BLOCK_VARIANCE))])
    level = np.array(cell.levels)[cells]
    lost = _lost_plots(cell, cells, seasons, rng)
    if cell.kind == "count":
        counts = poisson_around(rng, level, effects)
        return Seasons("count", cells, blocks, counts, np.ones_like(counts), ~lost)
    plant = rng.standard_normal((seasons, n, PLANTS))
    if cell.kind == "total":
        totals = log_totals(plant + effects[:, :, None], level, PLANT_LOG_SD)
        plants = np.full((seasons, n), float(PLANTS))
        return Seasons("total", cells, blocks, totals, plants, ~lost)
    kept = rng.random((seasons, n, PLANTS)) >= _plant_loss(cell, cells)[:, None]
    kept &= ~lost[:, :, None]
    found = kept.sum(axis=2).astype(float)
    if cell.kind == "size":
        plant += effects[:, :, None]
        plant += level[:, None]
        mean = (plant * kept).sum(axis=2) / np.maximum(found, 1.0)
        return Seasons("size", cells, blocks, mean, found, found > 0, plant, kept)
    # the threshold that gives the arm its share over all blocks and plots
    spread = np.sqrt(1.0 + BLOCK_VARIANCE + cell.plot_variance)
    alive = alive_over_threshold(plant, effects, spread * ndtri(level)) & kept
    return Seasons("share", cells, blocks, alive.sum(axis=2) * 1.0, found, found > 0)


def _lost_plots(
    cell: Cell, cells: np.ndarray, seasons: int, rng: np.random.Generator
) -> np.ndarray:
    lost = np.zeros((seasons, cells.size), dtype=bool)
    if cell.loss == "complete":
        return lost
    if cell.loss == "random gaps":
        lost[np.arange(seasons), rng.integers(cells.size, size=seasons)] = True
        return lost
    own = np.flatnonzero(cells == 0)
    many = 1 if cell.blocks < 6 else 2
    order = rng.permuted(np.tile(own, (seasons, 1)), axis=1)[:, :many]
    np.put_along_axis(lost, order, values=True, axis=1)
    return lost


def _plant_loss(cell: Cell, cells: np.ndarray) -> np.ndarray:
    if cell.loss == "complete":
        return np.zeros(cells.size)
    if cell.loss == "random gaps":
        return np.full(cells.size, 0.15)
    return np.where(cells == 0, 0.6, 0.1)
