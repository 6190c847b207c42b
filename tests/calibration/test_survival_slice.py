"""A slice of the survival study, and the stored study, held to the bounds it sets itself.

A null pair may be called different in 6.5 % of seasons at most; intervals cover 92 % where
every arm expects at least 5 deaths and 5 survivors, else 90 %; four standard errors beyond.
"""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
import survival_cells
import survival_large
import survival_summary
from survival_cells import SurvivalCell
from survival_run import ESTIMANDS, judge_lives, run_survival
from survival_seasons import simulate_lives
from survival_summary import COVER, COVER_RICH, MOST, USUALLY

SEASONS = 1_500
SEED = 11
STORED = Path(survival_cells.__file__).parent


def four(rate: float, seasons: int = SEASONS) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / seasons)


SLICE = [
    SurvivalCell(3, 4, 4, 0.3, 0.6, "partial null", "complete"),
    SurvivalCell(3, 4, 12, 0.3, 0.3, "partial null", "uneven"),
    SurvivalCell(4, 2, 4, 0.3, 0.3, "global null", "uneven"),
    SurvivalCell(4, 4, 8, 0.3, 0.3, "partial null", "complete"),
    SurvivalCell(3, 2, 8, 0.0, 0.6, "global null", "complete"),
    SurvivalCell(6, 4, 4, 0.3, 0.3, "partial null", "complete"),
    SurvivalCell(6, 2, 12, 0.3, 0.9, "arms differ", "complete"),
    SurvivalCell(3, 2, 8, 0.3, 0.3, "arms differ", "uneven"),
    SurvivalCell(8, 4, 4, 0.1, 0.97, "global null", "uneven"),
    SurvivalCell(8, 2, 8, 0.1, 0.9, "global null", "complete"),
]


@pytest.mark.parametrize("cell", SLICE, ids=lambda c: c.key)
def test_a_slice_holds_the_bounds(cell: SurvivalCell) -> None:
    found = run_survival(cell, SEASONS, SEED)
    cover = COVER_RICH if cell.is_rich else COVER
    for name in ESTIMANDS:
        one = found[name]
        assert one["judged"] == SEASONS
        for rate in (one["rejection"], one["rejection_all"]):
            assert rate is None or rate <= MOST + four(MOST)
        assert one["coverage"] >= cover - four(cover)
    score = found["log-rank score"]
    if score["rejection_all"] is not None:
        assert score["rejection_all"] <= MOST + four(MOST, score["judged"])


@pytest.mark.parametrize(
    "size", [(3, 2, 30, 0.4, 0.2), (4, 2, 12, 0.4, 0.3), (4, 2, 30, 0.5, 0.3)], ids=str
)
def test_plots_that_live_or_die_together_do_not_fool_the_score(
    size: tuple[int, int, int, float, float],
) -> None:
    """Settings beyond the study's, in which a curve for every block rejects 0.07 or more."""
    cell = SurvivalCell(*size, "global null", "complete")
    lives = simulate_lives(cell, 10_000, np.random.default_rng(5))
    p = judge_lives(lives, cell.arms)["log-rank score"].p_all
    assert (p < 0.05).mean() <= 0.05 + four(0.05, 10_000)


def test_plots_that_hardly_vary_leave_power() -> None:
    cell = SurvivalCell(3, 4, 8, 0.0, 0.6, "partial null", "complete")
    power = run_survival(cell, SEASONS, SEED)["share"]["power"]
    assert power >= 0.65


def test_a_cell_is_the_same_however_often_it_is_run() -> None:
    cell = SLICE[0]
    assert run_survival(cell, 200, SEED) == run_survival(cell, 200, SEED)
    assert run_survival(cell, 200, SEED) != run_survival(cell, 200, SEED + 1)


RESULTS = json.loads((STORED / "survival.json").read_text(encoding="utf-8"))


def test_every_stored_cell_is_there_in_order() -> None:
    settings = [cell["settings"] for cell in RESULTS["cells"]]
    assert settings == [cell.settings() for cell in survival_cells.survival_cells()]


def test_the_stored_study_holds_its_bounds() -> None:
    summary = survival_summary.summarize_survival(
        RESULTS["cells"], RESULTS["again"], RESULTS["usual"]
    )
    assert summary["seasons_a_cell"] == 10_000
    again = summary["highest_cells_again"]
    assert again.pop("seasons") == 100_000
    assert max(again.values()) <= MOST
    for name in ESTIMANDS:
        of = summary["estimands"][name]
        for pair in (of["rejection_pair"], of["rejection_all_arms"]):
            assert pair["highest"] <= MOST
            assert pair["share_at_most_6_percent"] >= 0.95
        assert of["coverage_with_5_deaths_and_5_survivors_an_arm"]["lowest"] >= COVER_RICH
        assert of["coverage_elsewhere"]["lowest"] >= COVER
    score = summary["log-rank score"]
    assert score["highest"] <= USUALLY
    assert score["share_at_most_6_percent"] >= 0.95


def test_the_summary_follows_from_the_cells() -> None:
    stored = json.loads((STORED / "summary.json").read_text(encoding="utf-8"))
    again = survival_summary.summarize_survival(
        RESULTS["cells"], RESULTS["again"], RESULTS["usual"]
    )
    # the parts run apart (bound, more) are held by tests of their own
    assert again == {key: stored["survival"][key] for key in again}


def test_the_highest_log_rank_cells_at_a_hundred_thousand_seasons() -> None:
    # one stored chunk comes out again as it was; the rates stay under the bound
    stored = json.loads(survival_large.FILE.read_text(encoding="utf-8"))["cells"]
    cells = survival_large.large_cells()
    assert [cell.settings() for cell in cells] == [cell["settings"] for cell in stored]
    for cell, held in zip(cells, stored, strict=True):
        assert held["chunks"][3] == survival_large.run_large(cell, 3)
    for row in survival_large.summarize_large(stored):
        assert row["seasons"] == 100_000
        assert row["rate"] <= USUALLY
