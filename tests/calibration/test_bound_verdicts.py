"""Verdicts from bounds: the study's formulas, a slice, and what is stored, within 6.5 %."""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
import survival_bound
from study_cells import generator
from survival_bound import LEVEL, bounded_limits, plot_correlations, run_bound
from survival_cells import SurvivalCell
from survival_seasons import simulate_lives

from wickstats.models.batch.layout import lay_batch
from wickstats.models.lifetimes.intervals import plot_correlation, share_bound, share_interval
from wickstats.models.linear.dispersion import OWN, fit_shares

MOST = 0.065
SEASONS = 2_000
STORED = Path(survival_bound.__file__).parent / "survival_bound.json"


def limits(alive: np.ndarray, plants: np.ndarray, rho: float) -> tuple[float, float, float]:
    """Share and one-sided limits of one arm, by the package."""
    share = alive.sum() / plants.sum()
    if share in (0.0, 1.0):
        bound = share_bound(alive, plants, rho, LEVEL)
        return (1.0, bound.limit, 1.0) if share else (0.0, 0.0, bound.limit)
    found = share_interval(alive, plants, 2 * LEVEL - 1)
    return found.share, found.low, found.high


@pytest.mark.parametrize("loss", ["complete", "uneven"])
def test_the_formulas_of_the_study_are_the_packages(loss: str) -> None:
    cell = SurvivalCell(6, 2, 8, 0.3, 0.97, "global null", loss)
    lives = simulate_lives(cell, 40, generator(5, cell.key))
    layout = lay_batch(lives.cells, 2, contrasts=np.array([[1.0, -1.0]]), blocks=lives.blocks)
    estimates = []
    rho = plot_correlations(layout, lives.alive, lives.plants)
    for s in range(40):
        fit = fit_shares(lives.alive[s], lives.plants, lives.cells, 2, blocks=lives.blocks)
        estimates.append(fit.contrast(np.array([1.0, -1.0])).estimate)
        phi = next((x.phi for x in fit.scales if x.basis == OWN), None)
        expected = plot_correlation(None, phi, float(lives.plants.mean()))
        assert rho[s] == pytest.approx(expected, rel=1e-8)
    low, high, bounded = bounded_limits(layout, lives, np.array(estimates), LEVEL)
    assert bounded.any()
    for s in np.flatnonzero(bounded):
        (a, a_low, a_high), (b, b_low, b_high) = (
            limits(lives.alive[s, lives.cells == k], lives.plants[lives.cells == k], rho[s])
            for k in (0, 1)
        )
        assert low[s] == pytest.approx(estimates[s] - np.hypot(a - a_low, b_high - b), rel=1e-9)
        assert high[s] == pytest.approx(
            estimates[s] + np.hypot(a_high - a, b - b_low), rel=1e-9
        )


@pytest.mark.parametrize(
    "cell",
    [
        SurvivalCell(3, 2, 8, 0.3, 0.9, "global null", "complete"),
        SurvivalCell(5, 2, 4, 0.3, 0.9, "global null", "uneven"),
        SurvivalCell(8, 4, 12, 0.1, 0.9, "global null", "complete"),
        SurvivalCell(6, 4, 8, 0.0, 0.97, "global null", "uneven"),
    ],
    ids=lambda c: c.key,
)
def test_a_slice_of_null_pairs_stays_within_the_bound(cell: SurvivalCell) -> None:
    found = run_bound(cell, SEASONS, 3)
    assert found["rejection"] <= MOST + 4 * sqrt(MOST * (1 - MOST) / SEASONS)
    assert found["coverage"] >= 0.92 - 4 * sqrt(0.92 * 0.08 / SEASONS)


def test_arms_that_never_lose_a_plant_are_never_called_different() -> None:
    cell = SurvivalCell(4, 2, 8, 0.0, 1.0, "global null", "complete")
    found = run_bound(cell, 200, 3)
    assert (found["bounded"], found["rejection"], found["coverage"]) == (1.0, 0.0, 1.0)


def test_no_stored_null_pair_is_called_different_too_often() -> None:
    cells = json.loads(STORED.read_text(encoding="utf-8"))["cells"]
    null = [c for c in cells if SurvivalCell(**c["settings"]).has_null_pair]
    assert {c["settings"]["blocks"] for c in null} == {3, 4, 5, 6, 8}
    assert len(null) == 420
    assert max(c["rejection"] for c in null) <= MOST
    assert min(c["coverage"] for c in cells) >= 0.92
