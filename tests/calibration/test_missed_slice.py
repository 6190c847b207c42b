"""Shares alive where visits miss plots and plants: a slice of the study, and the stored one.

Bounds as of the survival study: equal treatments are called different in 6.5 % of seasons at
most, intervals cover 92 %; four standard errors beyond. The rule is held to the truth of the
simulated seasons, which the code under test does not know.
"""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pytest
import survival_missed
from study_cells import generator
from survival_missed import CONTRAST, COVER, MOST, ROUNDS, MissedCell, run_missed

from wickstats.analysis.first_line import fit_line
from wickstats.analysis.known import known_at
from wickstats.analysis.summaries.survival import shares_at
from wickstats.models.batch.layout import lay_batch

SEASONS = 400
STORED = Path(survival_missed.__file__).parent / "survival_missed.json"

SLICE = [
    MissedCell(3, 8, 0.3, (0.6, 0.6), (0.3, 0.3), 0.0, "once"),
    MissedCell(4, 4, 0.3, (0.3, 0.3), (0.0, 0.3), 0.0, "once"),
    MissedCell(8, 8, 0.1, (0.6, 0.6), (0.0, 0.3), 0.0, "every round"),
    MissedCell(4, 4, 0.3, (0.3, 0.7), (0.1, 0.1), 0.0, "once"),
]


def four(rate: float, seasons: int) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / seasons)


@pytest.mark.parametrize("cell", SLICE, ids=lambda c: c.key)
def test_a_slice_holds_the_bounds(cell: MissedCell) -> None:
    found = run_missed(cell, SEASONS, 5)
    judged = found["judged"]
    if cell.is_null:
        assert found["rejection"] <= MOST + four(MOST, judged)
    assert found["coverage"] >= COVER - four(COVER, judged)
    assert abs(found["bias"]) <= 0.05 + 4.0 * found["bias_error"]


def test_keeping_the_dead_of_missed_plots_would_move_the_share() -> None:
    # equal treatments of which one is visited less: the dead alone of its missed plots count
    found = run_missed(MissedCell(8, 8, 0.1, (0.6, 0.6), (0.0, 0.3), 0.0, "once"), SEASONS, 5)
    assert abs(found["bias"]) <= 0.01 + 4.0 * found["bias_error"]
    assert found["kept"]["bias"] > 0.08


def test_units_are_left_out_as_the_rounds_missed_them() -> None:
    cell = MissedCell(8, 4, 0.1, (0.9, 0.9), (0.1, 0.3), 0.0, "every round")
    units, rng = survival_missed.units_of(8, 4), generator(3, cell.key)
    missed = np.zeros(2)
    for _ in range(SEASONS):
        lives = survival_missed.draw_lives(cell, units, rng)
        found = known_at(float(ROUNDS[-1]), lives, units)
        went = np.zeros(units.n, dtype=bool)
        went[lives.rounds.units[lives.rounds.days == ROUNDS[-1]]] = True
        assert (found.used[went]).all()
        assert (found.missed | found.quiet)[~went].all()
        missed += np.bincount(units.cells[~went], minlength=2)
    rates = missed / (8 * SEASONS)
    for rate, expected in zip(rates, cell.missed, strict=True):
        assert abs(rate - expected) <= four(expected, 8 * SEASONS)


@pytest.mark.parametrize("not_found", [0.0, 0.1])
def test_the_study_gives_the_numbers_of_the_analysis(not_found: float) -> None:
    cell = MissedCell(6, 8, 0.3, (0.4, 0.7), (0.1, 0.3), not_found, "once")
    units, rng = survival_missed.units_of(6, 8), generator(4, cell.key)
    day = float(ROUNDS[-1])
    seasons = [survival_missed.draw_lives(cell, units, rng) for _ in range(8)]
    known = [known_at(day, lives, units) for lives in seasons]
    share, plants = (
        np.array([getattr(k, name) for k in known]) for name in ("share", "plants")
    )
    present = np.isfinite(share)
    layout = lay_batch(units.cells, 2, contrasts=CONTRAST, blocks=units.block_codes)
    alive = np.where(present, share, 0.0) * plants
    many = survival_missed.judge_seasons(layout, units, alive, plants, present).contrasts
    judged = 0
    for s, lives in enumerate(seasons):
        line = fit_line(units, shares_at(day, lives, units, {}).main, 0.95, by_arm=False)
        assert line is not None
        one = line.contrast(CONTRAST[0])
        found = [getattr(many, name)[s, 0] for name in ("estimate", "low", "high", "p")]
        if one.p is None:  # too few units are left for an error
            assert np.isnan(found[3])
            continue
        judged += 1
        assert found == pytest.approx([one.estimate, one.low, one.high, one.p], abs=1e-10)
    assert judged >= 6


def test_what_is_stored_keeps_the_bounds() -> None:
    cells = json.loads(STORED.read_text(encoding="utf-8"))["cells"]
    assert [c["settings"] for c in cells] == [
        cell.settings() for cell in survival_missed.missed_cells()
    ]
    for cell in cells:
        judged = cell["judged"]
        if cell["rejection"] is not None:
            assert cell["rejection"] <= MOST + four(MOST, judged), cell["settings"]
        assert cell["coverage"] >= COVER - four(COVER, judged), cell["settings"]


def test_the_summary_follows_from_the_cells() -> None:
    cells = json.loads(STORED.read_text(encoding="utf-8"))["cells"]
    stored = json.loads((STORED.parent / "summary.json").read_text(encoding="utf-8"))
    again = survival_missed.summarize_missed(cells)
    assert again == stored["survival"]["missed"]
    told = " ".join((STORED.parents[2] / "README.md").read_text(encoding="utf-8").split())
    assert (
        f"{again['cells']} settings: a true null is rejected in at most "
        f"{100.0 * again['highest_rejection']:.1f} % of seasons, intervals cover "
        f"{again['lowest_coverage']:.3f} or more"
    ) in told
