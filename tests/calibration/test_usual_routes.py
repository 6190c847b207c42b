"""The usual routes of the study against statsmodels and the single-season code.

statsmodels' MixedLM and OLS are what a user of a general library would call; MixedLM's own
optimizer stops early where the likelihood is flat, which the study counts apart.
"""

import numpy as np
import pytest
from scipy.special import stdtr
from trial_cells import Trial
from trial_layouts import lay_trial
from trial_run import question_of
from trial_usual import draw_usual, growth_design, judge_routes, run_usual_trial
from usual_held import run_held
from usual_mixed import KENWARD_ROGER, ROWS, SATTERTHWAITE, Z, lay_usual

from wickstats.models.linear.degrees import mixed_contrasts
from wickstats.models.linear.reml import fit_mixed

SEED = 5
CELLS = [
    Trial("alike", 3, 3, 10, 0.5, "15 % of plants lost"),
    Trial("alike", 4, 4, 4, 0.2, "a plot lost", "partial null"),
    Trial("split-plot", 5, 2, 4, 0.2, "complete", "whole plots"),
    Trial("square", 4, 4, 4, 0.2, "a plot lost"),
]
SINGLE = [
    Trial("alike", 5, 3, 1, 0.0, "15 % of plants lost"),
    Trial("split-plot", 4, 3, 1, 0.0, "complete", "cells"),
    Trial("incomplete", 10, 5, 1, 0.0, "a plot lost"),
]
GROWTH = Trial("growth", 3, 2, 4, 0.5, "15 % of plants lost")


@pytest.mark.parametrize(
    "trial", [CELLS[0], *CELLS[2:], *SINGLE[:2], GROWTH], ids=lambda t: t.key
)
def test_the_z_test_is_that_of_the_general_library(trial: Trial) -> None:
    found = run_held(trial, 4, SEED)
    assert found["converged"] - found["short"] >= 1
    assert found["alike"] >= found["converged"] - found["short"] - 1
    assert abs(found["rejected"] - found["rejected_library"]) <= 1


@pytest.mark.parametrize("trial", [*CELLS, *SINGLE], ids=lambda t: t.key)
def test_every_route_equals_the_single_season_code(trial: Trial) -> None:
    seasons = 12
    laid = lay_trial(trial)
    rows = draw_usual(trial, laid, seasons, SEED)
    many = judge_routes(trial, laid, rows)
    layout = lay_usual(trial, laid, question_of(trial, laid).contrasts[0])
    back = np.argsort(layout.order)
    x = layout.plots.x[back][laid.units]
    groups = {}
    if layout.active[0]:
        groups["coarse"] = layout.plots.block[back][laid.units]
    if layout.active[1]:
        groups["plot"] = laid.units
    inside = 0
    for s, y in enumerate(rows):
        fit = fit_mixed(y, x, groups)
        kr = mixed_contrasts(fit, layout.row)[0]
        z = kr.estimate / kr.se_model
        assert many[Z][s] == pytest.approx(2.0 * stdtr(np.inf, -abs(z)), abs=1e-8)
        assert many[KENWARD_ROGER][s] == pytest.approx(kr.p, abs=1e-8)
        if min(fit.components) > 0.0:
            inside += 1
            other = mixed_contrasts(fit, layout.row, method="satterthwaite")[0]
            assert many[SATTERTHWAITE][s] == pytest.approx(other.p, abs=1e-7)
        elif len(fit.components) == 2:
            # no component but the residual's is left: its own degrees of freedom
            df = len(y) - x.shape[1]
            assert many[SATTERTHWAITE][s] == pytest.approx(2.0 * stdtr(df, -abs(z)), abs=1e-8)
    assert inside >= 1


@pytest.mark.parametrize("trial", [CELLS[0], CELLS[2], GROWTH], ids=lambda t: t.key)
def test_rows_as_replicates_are_least_squares(trial: Trial) -> None:
    from statsmodels.regression.linear_model import OLS

    laid = lay_trial(trial)
    rows = draw_usual(trial, laid, 3, SEED)
    if trial is GROWTH:
        x, _, column = growth_design(laid)
        row = np.eye(x.shape[1])[column]
    else:
        layout = lay_usual(trial, laid, question_of(trial, laid).contrasts[0])
        x, row = layout.plots.x[np.argsort(layout.order)][laid.units], layout.row[0]
    found = judge_routes(trial, laid, rows)[ROWS]
    for s, y in enumerate(rows.reshape(3, -1)):
        assert found[s] == pytest.approx(float(OLS(y, x).fit().t_test(row).pvalue), abs=1e-10)


def test_one_row_a_plot_has_no_rows_to_take_for_replicates() -> None:
    routes = [r["route"] for r in run_usual_trial(SINGLE[0], 50, SEED)["routes"]]
    assert routes == [Z, SATTERTHWAITE, KENWARD_ROGER]
    routes = [r["route"] for r in run_usual_trial(SINGLE[1], 50, SEED)["routes"]]
    assert routes == [ROWS, Z, SATTERTHWAITE, KENWARD_ROGER]
