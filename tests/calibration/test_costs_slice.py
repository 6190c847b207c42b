"""Intervals of costs: a slice held to its bounds, formulas equal to the single-season code.

Outside check: none; the truth is simulated. The bounds are those that the study states.
"""

import json
from math import exp, sqrt
from pathlib import Path

import cost_cells
import cost_page
import cost_run
import numpy as np
import pytest
from cost_cells import CostCell
from study_cells import generator

from wickstats.models.ratios.fieller import fieller_ratio_of_sums
from wickstats.models.ratios.sums import log_ratio_of_sums

SEASONS, SEED = 2_000, 7
STORED = Path(cost_cells.__file__).parent
RESULTS = json.loads((STORED / "costs.json").read_text(encoding="utf-8"))

SLICE = [
    CostCell("survivor", 3, 0.3, 0.15),
    CostCell("survivor", 4, 0.8, 0.15),
    CostCell("survivor", 8, 0.95, 0.0),
    CostCell("kg", 3, 0.5, 0.0),
    CostCell("kg", 5, 0.2, 0.1),
    CostCell("kg", 8, 0.5, 0.1),
    CostCell("m3 saved", 3, 0.3, 0.7),
    CostCell("m3 saved", 5, 0.5, 0.0),
    CostCell("m3 saved", 8, 0.2, 0.7),
    CostCell("extra survivor", 4, 0.35, 0.15),
]


def four(rate: float, n: int) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / n)


def bounds(cell: dict) -> list[tuple[str, float]]:
    """Which rates of a cell are held to which bound."""
    kind = cell["settings"]["kind"]
    if kind in ("survivor", "kg"):
        return [("rate", cost_page.COVER)]
    held = [("or open", cost_page.COVER_OPEN)]
    return [*held, ("rate", cost_page.COVER_SAVED)] if kind == "m3 saved" else held


@pytest.mark.parametrize("cell", SLICE, ids=lambda c: c.key)
def test_a_slice_covers(cell: CostCell) -> None:
    found = cost_run.run_costs(cell, SEASONS, SEED)
    assert found["judged"] > 100
    for name, bound in bounds(found):
        assert found[name] >= bound - four(bound, found["judged"]), name


@pytest.mark.parametrize("zeros", [0.0, 0.3])
def test_the_study_reckons_cost_per_one_as_the_report_does(zeros: float) -> None:
    rng = generator(SEED, "per one")
    gave = rng.lognormal(size=(40, 5, 2)) * (rng.random((40, 5, 2)) >= zeros)
    paid = cost_run.ITEMS + cost_run.work_of(gave.shape, rng)
    center, half = cost_run.per_one(gave, paid)
    cells, blocks = np.tile([0, 1], 5), np.repeat(np.arange(5), 2)
    given = 0
    for s in range(40):
        found = log_ratio_of_sums(
            gave[s].ravel(), cells, arms=(0,), water=paid[s].ravel(), blocks=blocks
        )
        assert (found.low is None) == (not np.isfinite(half[s]))
        if found.low is not None and found.high is not None:
            given += 1
            assert exp(-found.high) == pytest.approx(exp(center[s] - half[s]), rel=1e-10)
            assert exp(-found.low) == pytest.approx(exp(center[s] + half[s]), rel=1e-10)
    assert given > 20


def test_the_study_reckons_fieller_as_the_report_does() -> None:
    rng = generator(SEED, "fieller")
    gain = 0.05 + 0.1 * rng.standard_normal((60, 4))
    cost = 5.0 + 2.0 * rng.standard_normal((60, 4)) + 8.0 * gain
    low, high, open_ = cost_run.fieller(cost, gain)
    for s in range(60):
        if gain[s].mean() <= 0.0 or cost[s].mean() <= 0.0:
            assert np.isnan(low[s])
            assert not open_[s]
            continue
        found = fieller_ratio_of_sums(cost[s], gain[s])
        assert not isinstance(found, str)
        assert (found.unbounded is not None) == open_[s]
        if found.low is not None:
            assert (found.low, found.high) == pytest.approx((low[s], high[s]), rel=1e-9)
    assert 5 < open_.sum() < 55


def test_the_stored_study_keeps_its_bounds() -> None:
    cells = RESULTS["cells"]
    assert [c["settings"] for c in cells] == [c.settings() for c in cost_cells.cost_cells()]
    assert {c["seasons"] for c in cells} == {10_000}
    for cell in cells:
        for name, bound in bounds(cell):
            assert cell[name] >= bound, (name, cell["settings"])


def test_the_summary_follows_from_the_cells_and_the_readme_quotes_it() -> None:
    stored = json.loads((STORED / "summary.json").read_text(encoding="utf-8"))
    of = cost_page.summarize_costs(RESULTS["cells"])
    assert of == stored["costs"]
    told = " ".join((STORED.parents[1] / "README.md").read_text(encoding="utf-8").split())
    assert (
        f"Costs, {of['cells']} settings: intervals per surviving plant cover "
        f"{of['survivor']['lowest']:.3f} or more, per kg {of['kg']['lowest']:.3f}, per cubic "
        f"meter saved {of['m3 saved']['lowest']:.3f} where they have an end."
    ) in told
