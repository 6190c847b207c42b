"""A slice of the calibration study: 20 cells, bounds of four standard errors.

Totals and sizes are exact under normality, so 5 % is the standard (sizes with unequal
plots take the wider of two intervals and may reject less). Shares and counts are
approximate; the standard that the package sets itself there is at most 6.5 %.
"""

from math import sqrt

import pytest
from study_cells import Cell
from study_run import run_cell

SEASONS = 2_000
SEED = 11


def four(rate: float, seasons: int = SEASONS) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / seasons)


EXACT = [
    Cell("total", 3, 2, 0.25, "complete", "global null"),
    Cell("total", 4, 4, 0.0, "complete", "global null"),
    Cell("total", 6, 4, 0.25, "random gaps", "partial null"),
    Cell("total", 8, 2, 0.0, "loss by arm", "global null"),
    Cell("size", 3, 2, 0.0, "complete", "global null"),
    Cell("size", 4, 4, 0.25, "complete", "global null"),
    Cell("size", 6, 2, 0.25, "complete", "global null"),
    Cell("size", 8, 4, 0.0, "complete", "partial null"),
]
GUARDED = [
    Cell("size", 3, 2, 0.25, "random gaps", "global null"),
    Cell("size", 4, 4, 0.0, "loss by arm", "global null"),
    Cell("size", 6, 4, 0.25, "loss by arm", "partial null"),
]
APPROXIMATE = [
    Cell("share", 3, 2, 0.25, "complete", "global null"),
    Cell("share", 4, 4, 0.0, "random gaps", "global null"),
    Cell("share", 4, 4, 0.25, "complete", "partial null"),
    Cell("share", 6, 4, 0.25, "loss by arm", "partial null"),
    Cell("count", 3, 2, 0.25, "complete", "global null"),
    Cell("count", 4, 4, 0.0, "random gaps", "global null"),
    Cell("count", 6, 2, 0.25, "loss by arm", "global null"),
    Cell("count", 8, 4, 0.25, "complete", "partial null"),
]
COVERED = Cell("share", 6, 2, 0.25, "complete", "arms differ")


@pytest.mark.parametrize("cell", EXACT, ids=lambda c: c.key)
def test_totals_and_complete_sizes_reject_at_five_percent(cell: Cell) -> None:
    found = run_cell(cell, SEASONS, SEED)
    assert found["judged"] == SEASONS
    assert found["rejection"] == pytest.approx(0.05, abs=four(0.05))
    assert found["coverage"] == pytest.approx(0.95, abs=four(0.05))
    for name, rate in (("rejection_all", 0.05), ("coverage_other", 0.95)):
        if found[name] is not None:
            assert found[name] == pytest.approx(rate, abs=four(rate))


@pytest.mark.parametrize("cell", GUARDED, ids=lambda c: c.key)
def test_sizes_with_plants_lost_reject_at_most_five_percent(cell: Cell) -> None:
    found = run_cell(cell, SEASONS, SEED)
    assert found["rejection"] <= 0.05 + four(0.05, found["judged"])
    assert found["coverage"] >= 0.95 - four(0.05, found["judged"])


@pytest.mark.parametrize("cell", APPROXIMATE, ids=lambda c: c.key)
def test_shares_and_counts_reject_at_most_six_and_a_half_percent(cell: Cell) -> None:
    found = run_cell(cell, SEASONS, SEED)
    for name in ("rejection", "rejection_all"):
        if found[name] is not None:
            assert found[name] <= 0.065 + four(0.065, found["judged"])
    assert found["coverage"] >= 0.935 - four(0.065, found["judged"])


def test_a_true_difference_of_shares_is_covered() -> None:
    found = run_cell(COVERED, SEASONS, SEED)
    assert found["rejection"] is None
    assert found["coverage"] >= 0.93 - four(0.07)


def test_a_cell_is_the_same_however_often_it_is_run() -> None:
    cell = APPROXIMATE[0]
    assert run_cell(cell, 300, SEED) == run_cell(cell, 300, SEED)
    assert run_cell(cell, 300, SEED) != run_cell(cell, 300, SEED + 1)
