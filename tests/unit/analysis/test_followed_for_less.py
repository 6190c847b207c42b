"""Lives followed for less than the date: shares by the curve, restricted means to the date.

Reference: remission of leukemia in weeks (Freireich et al. 1963, Blood 21:699), 42 subjects,
each a unit; product-limit shares of the treated at 10 and 22 weeks 0.7529 and 0.5378 as
computed by hand from the risk sets (Kaplan & Meier 1958): 18/21 x 16/17 x 14/15 ...; the
restricted mean is the area under that curve.
"""

import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial, survival_season

from wickstats.analysis.season import analyze_season
from wickstats.core.responses import ResponseResult
from wickstats.design.trial import Response
from wickstats.models.lifetimes.pseudo import share_pseudo_values
from wickstats.road.season import compose

sys.path.insert(0, str(Path(__file__).parents[2] / "reference"))
import lifetimes_data

times, died, group = lifetimes_data.TIMES, lifetimes_data.DIED, lifetimes_data.GROUP
NAMES = ("treated", "control")


def remission(at: float) -> tuple:
    rows = [{"plot": f"s{k}", "treatment": NAMES[g], "plants": 0} for k, g in enumerate(group)]
    lives = pd.DataFrame(
        {
            "plot": [row["plot"] for row in rows],
            "plant": "1",
            "planted_on": 0.0,
            "original": True,
            "replaces": None,
            "last_alive": times,
            "first_dead": np.where(died, times, np.nan),
            "cause": None,
            "last_seen": times,
            "fate": np.where(died, "dead", "alive"),
            "doubtful_from": np.nan,
        }
    )
    trial = make_trial(
        [factor("treatment", NAMES, "control")],
        [Response(name="remission", kind="survival", better="more", at=(at,))],
        design="completely randomized",
    )
    layout = make_layout(rows, ["treatment"], design="completely randomized")
    return trial, layout, make_season(layout, lives=lives, days_not_dates=True)


def analyzed(at: float) -> ResponseResult:
    return analyze_season(*remission(at)).responses[0]


def product_limit(arm: int, day: float) -> float:
    share = 1.0
    for moment in np.unique(times[died & (group == arm) & (times <= day)]):
        here = group == arm
        at_risk = int((times[here] >= moment).sum())
        share *= 1.0 - int((died & here & (times == moment)).sum()) / at_risk
    return share


@pytest.mark.parametrize("day", [10.0, 22.0])
def test_the_share_of_an_arm_is_its_curve_and_nobody_is_left_out(day: float) -> None:
    found = analyzed(day)
    means = {m.treatment: m for m in found.means if m.estimand == "share alive"}
    # jackknife pseudo-values sum to the curve up to 1/n (Andersen et al. 2003)
    assert means["treated"].estimate == pytest.approx(product_limit(0, day), abs=0.004)
    assert means["control"].estimate == pytest.approx(product_limit(1, day), abs=1e-12)
    assert (means["treated"].n_plants, means["treated"].n_units) == (21, 21)
    assert 0.0 <= means["treated"].low < means["treated"].estimate < means["treated"].high <= 1
    row = found.comparisons[0]
    assert row.rule == "dispersion"
    assert row.verdict == "better"
    short = int((~died & (times < day)).sum())
    told = next(c for c in found.cautions if "followed for less" in c)
    assert told.startswith(f"{short} of 42 were followed for less than {day:g} d")


def test_product_limit_of_the_treated_as_published() -> None:
    # 0.7529 at 10 and 0.5378 at 22 weeks: computed from the risk sets, see the docstring
    assert product_limit(0, 10.0) == pytest.approx(0.7529, abs=5e-5)
    assert product_limit(0, 22.0) == pytest.approx(0.5378, abs=5e-5)


def test_the_restricted_mean_goes_to_the_planned_day() -> None:
    found = analyzed(22.0)
    rows = {m.treatment: m for m in found.means if m.estimand.startswith("restricted")}
    assert {m.at for m in rows.values()} == {"to day 22"}
    grid = np.concatenate([[0.0], np.unique(times[times < 22.0]), [22.0]])
    area = sum(product_limit(0, a) * (b - a) for a, b in pairwise(grid))
    assert rows["treated"].estimate == pytest.approx(area, rel=5e-3)
    assert not any("mean lifetime" in c for c in found.cautions)


def test_beyond_what_is_known_the_restricted_mean_says_where_it_stops() -> None:
    found = analyzed(60.0)
    rows = [m for m in found.means if m.estimand.startswith("restricted")]
    # the last but one of the treated still in remission was seen at 34 weeks
    assert {m.at for m in rows} == {"to day 34"}
    assert any("reckoned to day 34 and not to 60 d" in c for c in found.cautions)


def test_the_second_opinion_agrees() -> None:
    trial, _, season = remission(22.0)
    results = compose(trial, season)
    rows = [r for r in results.second_engine if "alive" in r.what or "restricted" in r.what]
    assert len(rows) >= 4
    assert [r.what for r in rows if not r.agrees] == []


def test_without_a_loss_pseudo_values_are_the_counts() -> None:
    low, high = np.array([5.0, 9.0, 3.0, 9.0]), np.array([7.0, np.inf, 4.0, np.inf])
    found = share_pseudo_values(low, high, np.array([0, 0, 1, 1]), 8.0)
    assert found.tolist() == [0.0, 1.0, 0.0, 1.0]


def test_pseudo_values_are_the_jackknife_of_the_curve() -> None:
    rng = np.random.default_rng(4)
    low = rng.integers(1, 9, 15).astype(float)
    high = np.where(rng.random(15) < 0.6, low, np.inf)

    def curve(keep: np.ndarray) -> float:
        share = 1.0
        for moment in np.unique(low[keep & (high <= 6.0)]):
            died = (keep & (high <= 6.0) & (low == moment)).sum()
            share *= 1.0 - died / (keep & (low >= moment)).sum()
        return share

    every = np.ones(15, dtype=bool)
    expected = []
    for k in range(15):
        rest = every.copy()
        rest[k] = False
        expected.append(15 * curve(every) - 14 * curve(rest))
    found = share_pseudo_values(low, high, np.zeros(15, dtype=int), 6.0)
    assert found == pytest.approx(expected, abs=1e-12)


def test_plots_not_visited_late_stop_the_restricted_mean_in_words() -> None:
    trial, layout, season = survival_season({"hand": [4, 3, 5], "wick": [6, 7, 5]}, 8)
    lives = season.lives
    short = (lives["plot"] == "wick-1") & (lives["fate"] == "alive")
    lives.loc[short, ["last_alive", "last_seen"]] = pd.Timestamp("2025-04-30")
    found = analyze_season(trial, layout, season).responses[0]
    assert any(
        "reckoned to day 60 after planting and not to 2025-06-09" in c for c in found.cautions
    )
    row = next(c for c in found.sensitivity if "by the curve of their treatment" in c.name)
    assert row.estimate is not None
