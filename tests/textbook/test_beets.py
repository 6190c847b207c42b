"""A split-plot whose whole plots vary less than its subplots: its strata stay what they are.

Sugar beets as shipped with R's pbkrtest (data and R's numbers by the script that the
expected file names). A mixed model puts the whole-plot variance at zero and then tests the
harvest times against the subplots' scatter, with the error of the wrong stratum. The
classical analysis tests them in the stratum in which they were randomized, whatever its
mean square: that is the first line's, and the mixed model's numbers stand below it.
"""

import pandas as pd
import pytest
from support import ROOT, find
from test_design_tables import answer, levels, trial_folder

from wickstats.core.codec import parse_json

BEETS = parse_json((ROOT / "tests" / "reference" / "expected" / "beets.json").read_bytes())
NAMES = {
    ("whole", "block"): "block",
    ("whole", "harvest"): "harvest",
    ("whole", "Residuals"): "whole plot residual",
    ("Within", "sow"): "sow",
    ("Within", "harvest:sow"): "harvest x sow",
    ("Within", "Residuals"): "subplot residual",
}


def beets(folder, response):
    rows = BEETS["rows"]
    layout = pd.DataFrame(
        {
            "plot": [f"p{k:03d}" for k in range(1, len(rows) + 1)],
            "block": [row["block"] for row in rows],
            "whole_plot": [row["block"] + row["harvest"] for row in rows],
            "harvest": [row["harvest"] for row in rows],
            "sow": [row["sow"] for row in rows],
        }
    )
    factors = [
        levels("harvest", sorted(set(layout["harvest"])), "whole plot"),
        levels("sow", sorted(set(layout["sow"])), "subplot"),
    ]
    values = [row[response] for row in rows]
    return trial_folder(folder, "split-plot", factors, layout, values)


@pytest.mark.parametrize("response", ["yield", "sugar"])
def test_every_line_of_the_strata(response, tmp_path):
    _, got = answer(beets(tmp_path / "beets", response), tmp_path / "out")
    for row in BEETS["strata"][response]:
        name = NAMES[row["stratum"], row["source"]]
        assert got[f"{name} df"] == row["df"]
        assert got[f"{name} sum of squares"] == pytest.approx(float(row["squares"]), rel=1e-9)
        if row["f"] is not None and name != "block":
            assert got[f"{name} F"] == pytest.approx(float(row["f"]), rel=1e-9)
            assert got[f"{name} p"] == pytest.approx(float(row["p"]), rel=1e-8)


def test_a_component_at_zero_does_not_change_the_error_of_the_test(tmp_path):
    item, got = answer(beets(tmp_path / "beets", "yield"), tmp_path / "out")
    row = find(item["tests"], term="harvest")
    assert row["stratum"] == "whole plot"
    assert row["value"] == pytest.approx(1225.0, rel=1e-9)
    assert row["df_den"] == 2
    # the mixed model: zero, and harvest against another mean square
    theirs = BEETS["mixed_harvest"]["yield"]
    assert theirs["singular"]
    assert got["component whole plot"] == 0
    pooled = (2.8166666666667 + 89.3666666666667) / (2 + 16)  # whole plots and subplots
    assert float(theirs["f"]) == pytest.approx(1725.2083333333 / pooled, rel=1e-6)
    assert got["mixed harvest F"] == pytest.approx(float(theirs["f"]), rel=1e-5)


def test_a_component_above_zero_gives_both_the_same(tmp_path):
    _, got = answer(beets(tmp_path / "beets", "sugar"), tmp_path / "out")
    theirs = BEETS["mixed_harvest"]["sugar"]
    assert not theirs["singular"]
    assert got["component whole plot"] > 0
    for line in ("harvest", "mixed harvest"):
        assert got[f"{line} F"] == pytest.approx(float(theirs["f"]), rel=1e-5)
