"""Second line where the plan lets each arm vary on its own: against a dense minimization."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial
from scipy.optimize import minimize

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import Plan, Response
from wickstats.second.dense import dense_fit

ARMS = ("hand", "pipe", "wick")
SD = {"hand": 0.3, "pipe": 0.6, "wick": 1.2}


def season():
    """Invented: 5 blocks of three plots, six plants each, three of them lost."""
    rng = np.random.default_rng(12)
    laid, rows = [], []
    for block in "12345":
        of_block = rng.normal(0, 0.5)
        for arm in ARMS:
            plot, of_plot = f"{arm}{block}", rng.normal(0, 0.5)
            laid.append({"plot": plot, "treatment": arm, "block": block, "plants": 6})
            for plant in "123456":
                size = 10 + of_block + of_plot + rng.normal(0, SD[arm])
                rows.append({"plot": plot, "plant": plant, "height_cm": size})
    frame = pd.DataFrame(rows).drop(index=[3, 17, 50])
    return [row | {"reservoir": None} for row in laid], frame.assign(date="2025-06-01")


def analyzed(variance):
    laid, frame = season()
    frame["date"] = pd.to_datetime(frame["date"])
    asked = Response(name="height", kind="measurement", column="height_cm", measured_in="cm")
    plan = Plan(primary="height", variance={"height": variance})
    trial = make_trial([factor("treatment", ARMS, "hand")], [asked], plan=plan)
    layout = make_layout(laid, ["treatment"])
    found = analyze_season(trial, layout, make_season(layout, tables={"measurements": frame}))
    return found.responses[0], frame


def test_each_arm_has_its_own_residual_variance():
    response, frame = analyzed("by arm")
    model = response.mixed_model
    assert model.terms == ("block", "plot", *(f"residual {a}" for a in ARMS))
    assert model.converged
    arm = frame["plot"].str[:-1].to_numpy()
    X = (arm[:, None] == np.array(ARMS)).astype(float)
    groups = [frame["plot"].str[-1].to_numpy(), frame["plot"].to_numpy()]
    which = np.array([ARMS.index(a) for a in arm])

    def criterion(logs):
        sizes = np.exp(logs)
        parts = [(sizes[0], groups[0]), (sizes[1], groups[1])]
        fit = dense_fit(frame["height_cm"], X, parts, sizes[2:][which], np.eye(3))
        return fit.minus_two_reml

    found = minimize(criterion, np.zeros(5), method="BFGS", options={"gtol": 1e-6})
    assert model.objective == pytest.approx(found.fun, abs=1e-6)
    components = [c.estimate for c in model.variance_components]
    np.testing.assert_allclose(components, np.exp(found.x), rtol=1e-3)
    # the arm that varies more has the wider interval against the reference
    wide = {c.name: c.se for c in model.comparisons}
    assert max(wide, key=wide.get).startswith("wick")


def test_a_component_without_an_interval_says_why():
    response, _ = analyzed("by arm")
    for component in response.mixed_model.variance_components:
        assert component.low is None
        assert component.not_estimable.startswith(
            "intervals of components are given for models of"
        )


def test_one_variance_unless_the_plan_says_so():
    response, _ = analyzed("pooled")
    assert response.mixed_model.terms == ("block", "plot", "residual")
    assert all(c.high is not None for c in response.mixed_model.variance_components)
