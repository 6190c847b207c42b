"""Shares alive where plots were missed, plants not found, or nobody came near the date.

Reference: KaplanMeierFitter of lifelines (Davidson-Pilon 2019, J. Open Source Software
4:1317) on the plants of one plot. Everything else was counted by hand.
"""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from gap_makers import NEVER, START, date, rounds, season_with_gaps
from lifelines import KaplanMeierFitter
from support_records import frame, small_layout, small_trial

from wickstats.analysis.season import analyze_season
from wickstats.core.errors import AnalysisError
from wickstats.core.responses import ResponseResult
from wickstats.models.lifetimes.shares import unit_shares
from wickstats.records.read import read_records

ROUNDS = (14, 28, 42, 56, 70, 84, 100)
PLOT = (
    (20, 60, *(NEVER,) * 6),
    (60, *(NEVER,) * 7),
    (20, 20, 60, 60, *(NEVER,) * 4),
    (NEVER,) * 8,
)
ARMS = {"hand": PLOT, "wick": PLOT}
PLOTS = [f"{arm}-{k}" for arm in ARMS for k in (1, 2, 3, 4)]
TRUE = (6 / 8 + 7 / 8 + 4 / 8 + 1) / 4
DAY_100 = "2025-06-09"


def analyzed(visits: dict, at: tuple[int, ...] = (100,), **more: object) -> ResponseResult:
    return analyze_season(*season_with_gaps(ARMS, visits, at, **more)).responses[0]


def shares(found: ResponseResult) -> dict[tuple[str, str], tuple]:
    return {
        (m.treatment, m.at): (m.estimate, m.n_units, m.n_plants)
        for m in found.means
        if m.estimand == "share alive"
    }


def told(found: ResponseResult, words: str) -> str:
    return next((text for text in found.cautions if words in text), "")


def values(found: ResponseResult, arm: str) -> list[float | None]:
    return [u.value for u in found.unit_summary.values if u.unit.startswith(arm)]


def test_a_missed_plot_is_left_out_with_the_plants_dead_before() -> None:
    early = ROUNDS[:-2]
    found = analyzed(rounds(PLOTS, ROUNDS, wick_1=early, wick_3=early))
    # their dead alone would have made both plots 0 and the treatment 0.47; the mean of what is
    # left is adjusted for blocks, and the plots of both treatments are alike
    assert shares(found)["wick", DAY_100] == (pytest.approx(TRUE), 2, 16)
    assert shares(found)["hand", DAY_100] == (pytest.approx(TRUE), 4, 32)
    assert values(found, "wick") == [None, 7 / 8, None, 1.0]
    assert "2 of 8 units (wick 2 of 4)" in told(found, "Not known at")
    assert told(found, "Not known at").endswith(
        "At 2025-05-24 8 of 8 were known: name that date in the trial file, or visit every "
        "plot in the same round."
    )
    assert "not visited within 14 days of 2025-06-09" in told(found, "Not in the analysis")
    cases = {c.name: c.estimate for c in found.sensitivity if "not seen" in c.name}
    best = next(v for name, v in cases.items() if "counted alive" in name)
    worst = next(v for name, v in cases.items() if "counted dead" in name)
    assert best == pytest.approx(0.0)
    assert worst == pytest.approx((7 / 8 + 1) / 4 - TRUE)


def test_a_treatment_that_nobody_visited_late_has_no_share() -> None:
    late = {f"wick_{k}": ROUNDS[:-2] for k in (1, 2, 3, 4)}
    found = analyzed(rounds(PLOTS, ROUNDS, **late))
    assert shares(found)["wick", DAY_100][:2] == (None, 0)
    row = found.comparisons[0]
    assert (row.verdict, row.estimate, row.low, row.p) == (None, None, None, None)
    assert "wick 4 of 4" in told(found, "Not known at")


@pytest.mark.parametrize(
    ("days", "asked", "counted", "words"),
    [
        ((20, 50, 100), 75, "2025-04-20", "Nobody visited within 14 days of 2025-05-15"),
        (ROUNDS, 130, DAY_100, "Nobody visited within 14 days of 2025-07-09"),
    ],
)
def test_a_date_without_a_round_moves_to_the_last_one_before(
    days, asked, counted, words
) -> None:
    found = analyzed(rounds(PLOTS, days), (asked,))
    dead = {"2025-04-20": 3, DAY_100: 7}[counted]
    assert set(shares(found)) == {("hand", counted), ("wick", counted)}
    assert shares(found)["hand", counted] == (pytest.approx(1 - dead / 32), 4, 32)
    assert f"are those of {counted}" in told(found, words)
    assert not told(found, "Not known at")


def test_two_dates_that_move_to_one_round_are_told_once() -> None:
    found = analyzed(rounds(PLOTS, ROUNDS), (130, 140))
    assert set(shares(found)) == {("hand", DAY_100), ("wick", DAY_100)}
    rows = [c for c in found.comparisons if c.estimand == "share alive"]
    assert len(rows) == 1
    assert sum("Nobody visited" in text for text in found.cautions) == 2


def test_a_round_that_came_late_counts_its_dead_too() -> None:
    # rounds on days 30 and 71, asked for day 70: deaths of day 60 were found on day 71
    found = analyzed(rounds(PLOTS, (30, 71)), (70,))
    assert shares(found)["hand", "2025-05-10"] == (pytest.approx(TRUE), 4, 32)
    assert "2025-05-10: 8 of 8 units" in told(found, "first visit after")


def test_before_any_visit_nothing_is_told() -> None:
    with pytest.raises(AnalysisError, match="the first visit was on 2025-04-30"):
        analyzed(rounds(PLOTS, (60, 100)), (10,))
    with pytest.raises(AnalysisError, match="holds no visit after planting"):
        analyzed(rounds(PLOTS, ()), (10,))


def test_plants_not_found_count_by_those_of_their_plot() -> None:
    gaps = [("wick-1", p, v) for p in (3, 4, 5) for v in (56, 70, 84, 100)]
    found = analyzed(rounds(PLOTS, ROUNDS), not_found=gaps)
    # plants 3, 4, 5 were last seen on day 42; of five then at risk one died by day 70
    last = np.array([28, 70, 42, 42, 42, 100, 100, 100])
    died = np.array([1, 1, 0, 0, 0, 0, 0, 0])
    share = float(KaplanMeierFitter().fit(last, died).predict(100))
    assert share == pytest.approx(7 / 8 * 3 / 4)
    unit = next(u for u in found.unit_summary.values if u.unit == "wick-1")
    assert (unit.value, unit.n_plants) == (pytest.approx(share, abs=1e-10), 5)
    assert shares(found)["wick", DAY_100][2] == 29
    assert "in plots that were visited: 3;" in told(found, "in plots that were visited")


def test_a_plot_where_no_living_plant_was_found_is_not_known() -> None:
    gaps = [("wick-3", p, v) for p in range(5, 9) for v in (84, 100)]
    found = analyzed(rounds(PLOTS, ROUNDS), not_found=gaps)
    assert values(found, "wick") == [6 / 8, 7 / 8, None, 1.0]
    assert "no plant that lived before was found" in told(found, "Not in the analysis")


def test_a_dead_plot_counts_unless_it_would_stand_for_missed_ones() -> None:
    dead = {"hand": PLOT, "wick": ((20,) * 8, *PLOT[1:])}

    def wick(days: dict) -> tuple[list[float | None], str]:
        found = analyze_season(*season_with_gaps(dead, days, (100,))).responses[0]
        return values(found, "wick"), told(found, "dead before count")

    gone, early = (14, 28), ROUNDS[:-2]
    assert wick(rounds(PLOTS, ROUNDS, wick_1=gone)) == ([0.0, 7 / 8, 4 / 8, 1.0], "")
    found, words = wick(rounds(PLOTS, ROUNDS, wick_1=gone, wick_2=early))
    assert found == [0.0, None, 4 / 8, 1.0]
    assert "(wick 1 of 4)" in words
    found, words = wick(rounds(PLOTS, ROUNDS, wick_1=gone, wick_2=early, wick_3=early))
    assert (found, words) == ([None, None, None, 1.0], "")


def test_shares_dead_by_cause_add_up_to_all_that_died() -> None:
    gaps = [("wick-1", p, v) for p in (3, 4, 5) for v in (56, 70, 84, 100)]
    gaps += [("hand-2", 4, v) for v in (84, 100)]
    found = analyzed(
        rounds(PLOTS, ROUNDS, hand_3=ROUNDS[:-2]), not_found=gaps, causes={60: "disease"}
    )
    for arm in ARMS:
        alive = shares(found)[arm, DAY_100][0]
        dead = [m.estimate for m in found.plant_lives.cause_means if m.treatment == arm]
        assert len(dead) == 2
        assert sum(dead) == pytest.approx(1.0 - alive, abs=1e-9)


def test_a_unit_by_its_own_curve_is_lifelines() -> None:
    rng = np.random.default_rng(7)
    for _ in range(20):
        visits = np.arange(1, 9) * 10.0
        died = rng.exponential(70, 12)
        until = rng.integers(1, 9, 12)  # visits until which each plant was found
        until[:2] = 8
        last = visits[until - 1]
        dead = died <= last
        high = np.where(dead, visits[np.searchsorted(visits, died).clip(max=7)], np.inf)
        low = np.where(dead, high - 10.0, last)
        found = unit_shares(low, high, np.zeros(12, int), 1, 80.0, grace=0.0)
        curve = KaplanMeierFitter().fit(np.where(dead, high, last), dead)
        if found.seen[0]:
            assert found.share[0] == pytest.approx(float(curve.predict(80.0)), abs=1e-9)


def test_with_everything_seen_nothing_changes() -> None:
    found = analyzed(rounds(PLOTS, ROUNDS))
    assert shares(found)["wick", DAY_100] == (pytest.approx(TRUE, abs=1e-15), 4, 32)
    assert not any(re.search("14 days|[Kk]nown", text) for text in found.cautions)


def test_lifetimes_beyond_what_is_known_stop_where_a_curve_can_be_told() -> None:
    trial, layout, season = season_with_gaps(ARMS, rounds(PLOTS, ROUNDS), (100,))
    lives = season.lives.copy()
    for name in ("last_alive", "first_dead", "last_seen", "planted_on", "doubtful_from"):
        lives[name] = (pd.to_datetime(lives[name]) - START) / pd.Timedelta(days=1)
    asked = trial.responses[0].model_copy(update={"at": (150.0,)})
    trial = trial.model_copy(update={"responses": (asked,)})
    made = replace(season, lives=lives, days_not_dates=True, tables={})
    found = analyze_season(trial, layout, made).responses[0]
    assert shares(found)["hand", "100 d"] == (pytest.approx(TRUE), 4, 32)
    assert "are those at 100 d and not at 150 d" in told(found, "living ones of two units")


def test_rows_of_the_crew_tell_where_nobody_went() -> None:
    """007 was counted; nobody went to B2 in June, nor to A2, which shares its reservoir."""
    rows = ["date,plot,plant,status,alive_n,dead_n"]
    for day, alive in (("2025-04-15", 4), ("2025-06-15", 3)):
        rows += [f"{day},007,,,{alive},{4 - alive}"]
        rows += [f"{day},{plot},{k},alive,," for plot in ("A1", "A3") for k in "1234"]
    for plot in ("A2", "B2"):
        rows += [f"2025-04-15,{plot},{k},{'dead' if k == '1' else 'alive'},," for k in "1234"]
        rows += [f"2025-06-15,{plot},,not visited,,"]
    asked = {"name": "survival", "kind": "survival", "at": (date(106).date(),)}
    trial, layout = small_trial(responses=(asked,)), small_layout(4)
    season = read_records(trial, layout, {"visits": frame("\n".join(rows))})
    found = analyze_season(trial, layout, season).responses[0]
    units = {u.unit: (u.value, u.n_plants) for u in found.unit_summary.values}
    # of the eight plants on R1 one died while all were watched; five are known in June
    assert units == {"A1": (1, 4), "R1": (7 / 8, 5), "007": (0.75, 4), "B2": (None, 0)}
    assert "1 of 4 units (capillary wick 1 of 2)" in told(found, "Not known at 2025-06-15")
    assert "that were visited: 3;" in told(found, "in plots that were visited")
