"""Mixed models from a table: cells, groups and missing values as they are named."""

import numpy as np
import pandas as pd
import pytest

from wickstats.models.linear.degrees import mixed_contrasts
from wickstats.models.linear.frame import fit_frame
from wickstats.models.linear.reml import Cells, fit_mixed


def season():
    """Invented: 4 blocks x 3 arms x 4 plants x 3 visits; plots numbered within blocks."""
    rng = np.random.default_rng(8)
    block, arm, plant, visit = (v.ravel() for v in np.indices((4, 3, 4, 3)))
    y = arm + visit + rng.normal(0, 1, 4)[block] + rng.normal(0, 0.6, 12)[block * 3 + arm]
    y = y + rng.normal(0, 0.5, 48)[(block * 3 + arm) * 4 + plant] + rng.normal(0, 0.4, len(arm))
    frame = pd.DataFrame({"block": block + 1, "plot": arm + 1, "plant": plant + 1})
    frame["arm"] = pd.Categorical(np.array(["wick", "pipe", "pot"])[arm])
    frame["visit"], frame["height"] = np.array(["May", "June", "July"])[visit], y
    return frame[rng.random(len(frame)) > 0.1]


GROUPS = {"block": "block", "plot": ("block", "plot"), "plant": ("block", "plot", "plant")}


def test_a_table_gives_the_same_fit_as_arrays():
    frame = season()
    found = fit_frame(frame, "height", cells=("arm", "visit"), groups=GROUPS)
    X = np.array(
        [
            [(a, v) == cell for cell in found.cells]
            for a, v in zip(frame["arm"], frame["visit"], strict=True)
        ],
        dtype=float,
    )
    plot = frame["block"] * 10 + frame["plot"]
    groups = {
        "block": frame["block"].to_numpy(),
        "plot": plot.to_numpy(),
        "plant": (plot * 10 + frame["plant"]).to_numpy(),
    }
    fit = fit_mixed(frame["height"].to_numpy(), X, groups)
    assert found.fit.objective == pytest.approx(fit.objective, rel=1e-12)
    np.testing.assert_allclose(found.fit.components, fit.components, rtol=1e-9)
    np.testing.assert_allclose(found.fit.fixed, fit.fixed, rtol=1e-10)
    row = found.mean_rows({0: "pot"})
    assert sum(row) == pytest.approx(1)
    assert mixed_contrasts(found.fit, row)[0].estimate == pytest.approx(
        np.mean([b for b, cell in zip(fit.fixed, found.cells, strict=True) if cell[0] == "pot"])
    )


def test_an_empty_cell_is_named_and_not_estimated():
    frame = season()
    frame = frame[~((frame["arm"] == "pot") & (frame["visit"] == "June"))]
    found = fit_frame(frame, "height", cells=("arm", "visit"), groups=GROUPS)
    assert found.empty == (("pot", "June"),)
    assert len(found.cells) == 8
    assert found.fit.rank == 8
    with pytest.raises(ValueError, match=r"cells that no row has: \[\('pot', 'June'\)\]"):
        found.mean_rows({0: "pot"})
    assert len(found.mean_rows({0: "wick"})) == 8


def test_rows_with_a_missing_value_are_counted_and_left_out():
    frame = season()
    full = fit_frame(frame, "height", cells=("arm",), groups=GROUPS, covariates=())
    more = pd.concat([frame, frame.iloc[:3].assign(height=np.nan)])
    more = pd.concat([more, frame.iloc[3:5].assign(visit=None)])
    found = fit_frame(more, "height", cells=("arm", "visit"), groups=GROUPS)
    assert found.missing == 5
    assert found.fit.n == len(frame) == full.fit.n


def test_a_covariate_is_centered_and_comes_last():
    frame = season()
    start = np.random.default_rng(2).normal(3, 1, len(frame))
    frame = frame.assign(start=start, height=frame["height"] + 0.7 * start)
    found = fit_frame(frame, "height", cells=("arm",), groups=GROUPS, covariates=("start",))
    slope = mixed_contrasts(found.fit, np.eye(4)[3])[0]
    assert slope.low < 0.7 < slope.high
    moved = frame.assign(start=frame["start"] + 100)
    again = fit_frame(moved, "height", cells=("arm",), groups=GROUPS, covariates=("start",))
    np.testing.assert_allclose(again.fit.fixed, found.fit.fixed, rtol=1e-8)


@pytest.mark.parametrize("number", [[0, 1, 2, 3], [-1, 0, 0, 1]])
def test_a_cell_outside_its_table_is_refused(number):
    with pytest.raises(ValueError, match="points outside its table"):
        fit_mixed(
            np.arange(4.0), Cells(np.array(number), np.eye(3)), {"g": np.array([0, 0, 1, 1])}
        )
