"""The studies' seasons are drawn by the package's simulator, number for number as stored.

The formulas stand here once more, written out; the same random numbers must give the same
seasons to the last bit, so that the stored results stay those of the code.
"""

import numpy as np
import pytest
from scipy.special import ndtri
from study_cells import Cell, all_cells, generator
from study_seasons import BLOCK_VARIANCE, PLANT_LOG_SD, PLANTS, simulate
from support_simulate import near
from survival_cells import SurvivalCell, survival_cells
from survival_seasons import VISITS, simulate_lives

from wickstats.simulate.shares import beta_chances, deaths_by_visit
from wickstats.simulate.streams import stream

COMPLETE = [c for c in all_cells() if c.loss == "complete"][::6]


@pytest.mark.parametrize("cell", COMPLETE, ids=lambda c: c.key)
def test_means_study_draws_what_it_drew(cell: Cell) -> None:
    seasons = simulate(cell, 30, generator(3, cell.key))
    rng = generator(3, cell.key)
    n = cell.blocks * cell.arms
    codes = np.repeat(np.arange(cell.blocks), cell.arms)
    block = np.sqrt(BLOCK_VARIANCE) * rng.standard_normal((30, cell.blocks))[:, codes]
    plot = np.sqrt(cell.plot_variance) * rng.standard_normal((30, n))
    level = np.array(cell.levels)[np.tile(np.arange(cell.arms), cell.blocks)]
    if cell.kind == "count":
        expected = rng.poisson(level * np.exp(block + plot)).astype(float)
    else:
        plant = rng.standard_normal((30, n, PLANTS)) + (block + plot)[:, :, None]
        if cell.kind == "total":
            expected = level + np.log(np.exp(PLANT_LOG_SD * plant).sum(axis=2))
        elif cell.kind == "size":
            expected = (plant + level[:, None]).sum(axis=2) / PLANTS
        else:
            spread = np.sqrt(1.0 + BLOCK_VARIANCE + cell.plot_variance)
            expected = (plant + (spread * ndtri(level))[:, None] > 0).sum(axis=2) * 1.0
    np.testing.assert_array_equal(seasons.values, expected)


SOME = [c for c in survival_cells() if not c.lost][::97]


@pytest.mark.parametrize("cell", SOME, ids=lambda c: c.key)
def test_survival_study_draws_what_it_drew(cell: SurvivalCell) -> None:
    lives = simulate_lives(cell, 30, generator(3, cell.key))
    rng = generator(3, cell.key)
    cells = np.tile(np.arange(cell.arms), cell.blocks)
    plants = np.array(cell.plants_by_arm)[cells]
    p = np.array(cell.levels)[cells]
    chance = np.broadcast_to(p, (30, p.size))
    if cell.correlation > 0.0:
        k = (1.0 - cell.correlation) / cell.correlation
        chance = rng.beta(p * k, (1.0 - p) * k, size=(30, p.size))
    rate = -np.log(np.clip(chance, 1e-300, 1.0 - 1e-16))
    most = int(plants.max())
    time = rng.standard_exponential((30, p.size, most)) / rate[:, :, None]
    step = np.minimum(time * VISITS, VISITS).astype(int)
    held = np.arange(most) < plants[:, None]
    for s in range(VISITS + 1):
        counted = ((step == s) & held).sum(axis=2)
        np.testing.assert_array_equal(lives.ended[:, :, s], counted)


def test_deaths_in_bulk_have_the_studys_law() -> None:
    """Binomial from visit to visit, and plants one by one: the same means and products."""
    cell = next(c for c in survival_cells() if not c.lost and c.correlation > 0.1)
    lives = simulate_lives(cell, 4000, generator(5, cell.key))
    p = np.array(cell.levels)[lives.cells]
    chances = beta_chances(stream(5, "bulk"), 4000, p, cell.correlation)
    parts = np.arange(1, VISITS + 1) / VISITS
    bulk = deaths_by_visit(stream(6, "bulk"), chances, lives.plants, parts)
    for s in range(VISITS + 1):
        for power in (1, 2):
            difference = lives.ended[:, :, s] ** power - bulk[:, :, s] ** power
            near(difference, 0.0)
    near(lives.ended[:, :, 0] * lives.alive - bulk[:, :, 0] * bulk[:, :, -1], 0.0)
