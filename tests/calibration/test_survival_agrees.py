"""The survival study's formulas give the package's own numbers, season by season."""

import numpy as np
import pytest
from study_cells import generator
from survival_cells import SurvivalCell
from survival_run import judge_lives
from survival_seasons import EARLY, VISITS, Lives, simulate_lives, true_levels

from wickstats.models.batch.results import Judged
from wickstats.models.lifetimes.restricted import alive_at, restricted_means
from wickstats.models.lifetimes.scores import (
    aligned_scores,
    plant_scores,
    unit_score_variances,
    unit_scores,
)
from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.dispersion import fit_restricted_means, fit_shares
from wickstats.models.linear.scores import fit_scores_twice
from wickstats.models.linear.strata import UnitFit

SEASONS = 5
CLOSE = {"rtol": 1e-10, "atol": 1e-10}


def plants_of(lives: Lives, s: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(low, high] in visits and plot of every plant."""
    n, k = lives.ended.shape[1:]
    counts = lives.ended[s].astype(int).ravel()
    plot, step = np.repeat(np.arange(n), k), np.tile(np.arange(k), n)
    low = np.repeat(step, counts).astype(float)
    return low, np.where(low < VISITS, low + 1.0, np.inf), np.repeat(plot, counts)


def by_package(lives: Lives, s: int, arms: int) -> dict[str, UnitFit]:
    """One season through the package, from plants to fits."""
    low, high, plot = plants_of(lives, s)
    cells, blocks, n = lives.cells, lives.blocks, lives.cells.size
    fits: dict[str, UnitFit] = {}
    for name, date in (("share", VISITS), ("early share", EARLY)):
        seen = alive_at(low, high, plot, n, float(date), grace=0.0)
        fits[name] = fit_shares(seen.alive, seen.plants, cells, arms, blocks=blocks)
    lived = restricted_means(low, high, plot, cells, float(VISITS))
    fits["restricted mean"] = fit_restricted_means(
        lived.values,
        lived.plants,
        cells,
        arms,
        plant_times=lived.plant_values,
        plant_cells=cells[plot],
        full_time=float(VISITS),
        blocks=blocks,
    )
    scores = plant_scores(low, high, blocks[plot])
    aligned = aligned_scores(low, high, blocks[plot])
    first, second = (
        (-unit_scores(each, plot, n), unit_score_variances(each, plot, n, blocks[plot]))
        for each in (scores, aligned)
    )
    fits["log-rank score"] = fit_scores_twice(
        first, second, cells, arms, plants=lives.plants, blocks=blocks
    )
    return fits


def same(many: Judged, s: int, fit: UnitFit, arms: int, scale: float) -> None:
    eye = np.eye(arms)
    for k, other in enumerate((1, arms - 1)):
        one = fit.contrast(eye[0] - eye[other])
        found = many.contrasts
        values = (one.estimate, one.low, one.high)
        expected = [np.nan if v is None else v / scale for v in values]
        got = [found.estimate[s, k], found.low[s, k], found.high[s, k]]
        np.testing.assert_allclose(got, expected, **CLOSE)
        np.testing.assert_allclose(found.p[s, k], np.nan if one.p is None else one.p, **CLOSE)
    p = fit.test(steps(arms)).p
    np.testing.assert_allclose(many.p_all[s], np.nan if p is None else p, **CLOSE)


@pytest.mark.parametrize("survival", [0.3, 0.97])
@pytest.mark.parametrize("loss", ["complete", "uneven"])
@pytest.mark.parametrize(("blocks", "arms"), [(3, 2), (6, 4)])
def test_many_seasons_equal_single_ones(
    blocks: int, arms: int, loss: str, survival: float
) -> None:
    truth = "partial null" if arms == 4 else "global null"
    cell = SurvivalCell(blocks, arms, 8, 0.3, survival, truth, loss)
    lives = simulate_lives(cell, SEASONS, generator(7, cell.key))
    many = judge_lives(lives, arms)
    for s in range(SEASONS):
        fits = by_package(lives, s, arms)
        for name, fit in fits.items():
            scale = float(VISITS) if name == "restricted mean" else 1.0
            same(many[name], s, fit, arms, scale)


@pytest.mark.parametrize("correlation", [0.0, 0.3])
def test_the_true_levels_are_those_of_the_lives(correlation: float) -> None:
    cell = SurvivalCell(8, 2, 12, correlation, 0.6, "arms differ", "complete")
    lives = simulate_lives(cell, 4_000, generator(8, cell.key))
    truth = true_levels(cell)
    for arm in (0, 1):
        mine = lives.cells == arm
        for name, alive in (("share", lives.alive), ("early share", lives.alive_early)):
            shares = alive[:, mine].mean(axis=1) / 12.0
            error = float(shares.std(ddof=1)) / np.sqrt(shares.size)
            assert shares.mean() == pytest.approx(truth[name][arm], abs=4.0 * error)


def test_plants_of_a_plot_are_as_alike_as_the_cell_says() -> None:
    cell = SurvivalCell(8, 2, 2, 0.3, 0.6, "global null", "complete")
    alive = simulate_lives(cell, 4_000, generator(9, cell.key)).alive
    # two plants: P(both) - p^2 = r p (1 - p)
    both, p = float((alive == 2.0).mean()), float(alive.mean()) / 2.0
    assert (both - p * p) / (p * (1.0 - p)) == pytest.approx(0.3, abs=0.02)
