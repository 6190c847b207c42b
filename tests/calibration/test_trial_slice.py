"""A slice of the study of totals and sizes: 22 cells, bounds of four standard errors.

Tests and differences are exact under normality where nothing or whole plots are lost;
with plants lost the wider of two intervals counts, and they may reject less.
"""

from math import sqrt

import pytest
from trial_cells import Trial, all_trials
from trial_layouts import lay_trial
from trial_mixed import run_mixed
from trial_run import run_trial

SEASONS = 2_000
SEED = 12

EXACT = [
    Trial("alike", 3, 2, 1, 0.0, "complete"),
    Trial("alike", 3, 6, 10, 0.0, "complete", "partial null"),
    Trial("alike", 4, 4, 4, 0.5, "a plot lost"),
    Trial("alike", 5, 3, 1, 0.0, "15 % of plants lost", "partial null"),
    Trial("alike", 8, 6, 4, 0.2, "a plot lost"),
    Trial("split-plot", 3, 3, 4, 0.2, "complete", "whole plots"),
    Trial("split-plot", 5, 2, 1, 0.0, "complete", "subplots"),
    Trial("square", 4, 4, 4, 0.2, "a plot lost"),
    Trial("square", 6, 6, 1, 0.0, "complete"),
    Trial("incomplete", 7, 7, 1, 0.0, "complete"),
    Trial("incomplete", 10, 6, 4, 0.2, "a plot lost"),
    Trial("growth", 4, 4, 4, 0.5, "complete"),
    Trial("doubled", 5, 4, 1, 0.0, "complete", "log, high pair"),
]
AT_MOST = [
    Trial("alike", 4, 3, 4, 0.0, "15 % of plants lost"),
    Trial("alike", 6, 2, 10, 0.2, "15 % of plants lost"),
    Trial("split-plot", 4, 3, 1, 0.0, "complete", "cells"),
    Trial("loss", 3, 4, 4, 0.0, "30 % of the first arm left"),
    Trial("loss", 6, 3, 10, 0.2, "50 % of the first arm left"),
]
VARIED = [
    Trial("variance", 4, 4, 1, 0.0, "complete", "pair of 2 beside 1"),
    Trial("doubled", 6, 4, 1, 0.0, "complete", "raw, high pair"),
]


def four(rate: float, seasons: int = SEASONS) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / seasons)


@pytest.mark.parametrize("trial", EXACT, ids=lambda t: t.key)
def test_exact_rules_reject_at_five_percent(trial: Trial) -> None:
    found = run_trial(trial, SEASONS, SEED)
    assert found["judged"] == SEASONS
    assert found["rejection"] == pytest.approx(0.05, abs=four(0.05))
    assert found["coverage_other"] == pytest.approx(0.95, abs=four(0.05))
    if found["rejection_all"] is not None:
        assert found["rejection_all"] == pytest.approx(0.05, abs=four(0.05))
    # means are approximate: two variances on few degrees of freedom
    assert found["coverage_means"] >= 0.93 - four(0.07)


@pytest.mark.parametrize("trial", AT_MOST, ids=lambda t: t.key)
def test_guarded_and_approximate_rules_reject_at_most_five_percent(trial: Trial) -> None:
    found = run_trial(trial, SEASONS, SEED)
    assert found["rejection"] <= 0.05 + four(0.05)
    assert found["coverage_means"] >= 0.94 - four(0.06)


@pytest.mark.parametrize("trial", VARIED, ids=lambda t: t.key)
def test_where_variances_differ_the_paired_result_is_honest(trial: Trial) -> None:
    found = run_trial(trial, SEASONS, SEED)
    assert found["rejection_paired"] <= 0.05 + four(0.05)
    assert found["rejection"] > 0.08  # the pooled first line is not, and the page says so


def test_the_second_line_and_its_components() -> None:
    found = run_mixed(Trial("mixed", 4, 4, 4, 0.5, "15 % of plants lost"), SEASONS, SEED)
    assert found["rejection"] <= 0.05 + four(0.05)
    assert found["coverage_means"] >= 0.93
    # the plants' is exact; a component near zero is held more often than it need be
    assert found["components"]["residual"] == pytest.approx(0.95, abs=four(0.05))
    assert found["components"]["plot"] >= 0.95 - four(0.05)
    assert found["components"]["block"] >= 0.95 - four(0.05)


def test_every_cell_leaves_an_error_degree_of_freedom_and_its_pattern_is_fixed() -> None:
    trials = all_trials()
    assert len({trial.key for trial in trials}) == len(trials)
    for trial in trials[::17]:
        one, other = lay_trial(trial), lay_trial(trial)
        assert one.units.tolist() == other.units.tolist()
        assert (one.plants > 0).all()
    assert run_trial(EXACT[0], 300, SEED) == run_trial(EXACT[0], 300, SEED)
