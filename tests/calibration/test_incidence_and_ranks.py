"""Incidence of causes and the composite rank: formulas, a slice, what is stored.

Bounds: incidence covers 92 % or more; the rank calls arms alike different in at most 6 %;
four standard errors beyond in the slice.
"""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
import survival_more
from survival_more import MoreCell, counted_limits, run_more

from wickstats.models.lifetimes.causes import incidence_intervals

STORED = Path(survival_more.__file__).parent / "survival_more.json"
SEASONS = 3_000


def test_the_formulas_of_the_study_are_the_packages() -> None:
    rng = np.random.default_rng(2)
    counted = rng.integers(0, 4, (6, 5)).astype(float)
    low, high = counted_limits(counted, 8.0)
    for s in range(6):
        units = np.repeat(np.arange(5), 8)
        order = np.tile(np.arange(8), 5)
        first = order < np.repeat(counted[s], 8)
        second = ~first & (order == 7)  # one more of each plot dies of another cause
        died = first | second
        (found, _) = incidence_intervals(
            np.where(died, 20.0, 100.0),
            np.where(died, 30.0, np.inf),
            np.where(first, 0, np.where(second, 1, -1)),
            2,
            units,
            [100.0],
        )
        assert (found[0].low, found[0].high) == pytest.approx((low[s], high[s]), rel=1e-9)


@pytest.mark.parametrize(
    ("blocks", "plants", "correlation", "survival", "cause"),
    [
        (3, 8, 0.3, 0.3, 0.5),
        (6, 4, 0.0, 0.9, 0.2),
        (8, 12, 0.3, 0.6, 0.2),
        (4, 8, 0.1, 0.6, 0.5),
    ],
)
def test_intervals_of_incidence_cover(
    blocks: int, plants: int, correlation: float, survival: float, cause: float
) -> None:
    cell = MoreCell("incidence", blocks, plants, correlation, survival, cause)
    found = run_more(cell, SEASONS, 4)
    assert found["coverage"] >= 0.92 - 4 * sqrt(0.92 * 0.08 / SEASONS)


@pytest.mark.parametrize("blocks", [3, 6])
def test_the_rank_of_arms_alike_is_seldom_called_different(blocks: int) -> None:
    found = run_more(MoreCell("rank", blocks, 8, 0.3, 0.6, None), 400, 4)
    assert found["rejection"] <= 0.06 + 4 * sqrt(0.06 * 0.94 / 400)


def test_what_is_stored_keeps_the_bounds() -> None:
    cells = json.loads(STORED.read_text(encoding="utf-8"))["cells"]
    incidence = [c for c in cells if c["settings"]["kind"] == "incidence"]
    ranks = [c for c in cells if c["settings"]["kind"] == "rank"]
    assert (len(incidence), len(ranks)) == (216, 48)
    assert min(c["coverage"] for c in incidence) >= 0.92
    assert max(c["rejection"] for c in ranks) <= 0.06
