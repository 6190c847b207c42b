"""Growth over the visits: in complete data the classical analysis of unit slopes."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial
from scipy import stats

from wickstats.analysis.season import analyze_season
from wickstats.design.trial import Response

ARMS = ("hand", "pipe", "wick")
DAYS = (0, 20, 45, 80, 120)


def season(*, days=DAYS, lost=0.0, unit_rate=0.002, scale="log", blocked=True, plants="1234"):
    """Invented: 5 blocks of three plots, four plants each, sizes on several dates."""
    rng = np.random.default_rng(21)
    laid, rows = [], []
    for block in "12345":
        for k, arm in enumerate(ARMS):
            plot = f"{arm}{block}"
            own = {"plot": plot, "treatment": arm, "block": block if blocked else None}
            own["plants"] = len(plants)
            laid.append(own | {"reservoir": None})
            rate = 0.010 + 0.002 * k + rng.normal(0, unit_rate)
            of_plot = rng.normal(0, 0.2)
            for plant in plants:
                level, own_rate = of_plot + rng.normal(2.5, 0.2), rate + rng.normal(0, 0.001)
                for day in days:
                    size = level + own_rate * day - 1e-5 * day**2 + rng.normal(0, 0.05)
                    if rng.random() >= lost:
                        rows.append(
                            {
                                "date": pd.Timestamp("2025-03-01") + pd.Timedelta(days=day),
                                "plot": plot,
                                "plant": plant,
                                "height_cm": float(np.exp(size)),
                            }
                        )
    asked = Response(
        name="height", kind="growth", column="height_cm", measured_in="cm", scale=scale
    )
    trial = make_trial([factor("treatment", ARMS, "hand")], [asked])
    layout = make_layout(laid, ["treatment"])
    frame = pd.DataFrame(rows)
    found = analyze_season(trial, layout, make_season(layout, tables={"measurements": frame}))
    return found.responses[0], frame


def unit_slopes(frame):
    """Least-squares slope of the mean log size of each plot, by arm (arms, blocks)."""
    days = (frame["date"] - frame["date"].min()).dt.days
    means = np.log(frame["height_cm"]).groupby([frame["plot"], days]).mean().unstack()
    t = means.columns.to_numpy(float)
    slopes = means.to_numpy() @ (t - t.mean()) / np.sum((t - t.mean()) ** 2)
    return np.array([slopes[[p.startswith(arm) for p in means.index]] for arm in ARMS])


def test_complete_data_give_the_analysis_of_variance_of_unit_slopes():
    # without blocks: a level at random of each block would lend the slopes its correlation
    response, frame = season(blocked=False)
    model = response.growth_rates
    assert model.converged
    slopes = unit_slopes(frame)
    wanted = stats.f_oneway(*slopes)
    test = model.tests[0]
    assert test.term == "growth rate: treatment"
    assert test.value == pytest.approx(wanted.statistic, rel=1e-6)
    assert (test.df_num, test.df_den) == (2, pytest.approx(12, rel=1e-5))
    assert test.unit_of_replication == "plot"
    means, mse = slopes.mean(axis=1), np.mean(slopes.var(axis=1, ddof=1))
    for row in model.comparisons:
        k = ARMS.index(row.treatment)
        assert row.estimate == pytest.approx(means[k] - means[0], rel=1e-8)
        assert row.se == pytest.approx(np.sqrt(2 * mse / 5), rel=1e-6)
        assert (row.measure, row.estimand) == ("difference", "growth rate")
        assert row.verdict is None


def test_blocks_change_little_where_they_only_shift_the_level():
    response, frame = season()
    wanted = stats.f_oneway(*unit_slopes(frame))
    test = response.growth_rates.tests[0]
    assert test.value == pytest.approx(wanted.statistic, rel=0.02)
    assert test.df_den == pytest.approx(12, abs=0.5)


def test_gaps_keep_the_units_as_replicates():
    response, _ = season(lost=0.2)
    for row in response.growth_rates.comparisons:
        assert 10 < row.df < 13


def test_units_that_do_not_differ_leave_a_component_at_zero_and_an_answer():
    response, _ = season(unit_rate=0.0)
    model = response.growth_rates
    assert model.converged
    assert all(row.p is not None for row in model.comparisons)


def test_two_dates_are_no_course():
    response, _ = season(days=(0, 120))
    assert response.growth_rates is None


def test_rates_are_on_the_scale_of_the_response():
    response, frame = season(scale="as measured")
    slope = frame.assign(day=(frame["date"] - frame["date"].min()).dt.days)
    fits = {
        arm: np.polyfit(part["day"], part["height_cm"], 1)[0]
        for arm, part in slope.groupby(slope["plot"].str[:-1])
    }
    row = response.growth_rates.comparisons[0]
    assert row.estimate == pytest.approx(fits[row.treatment] - fits[row.versus], rel=1e-8)


def test_one_plant_a_unit_has_one_line_at_random():
    response, frame = season(plants="1", blocked=False)
    model = response.growth_rates
    assert model.converged
    assert model.terms == ("plot intercept", "plot covariance", "plot slope", "residual")
    wanted = stats.f_oneway(*unit_slopes(frame))
    assert model.tests[0].value == pytest.approx(wanted.statistic, rel=1e-6)
    assert model.tests[0].df_den == pytest.approx(12, rel=1e-5)
