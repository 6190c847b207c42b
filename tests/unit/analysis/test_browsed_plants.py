"""Browsed plants under the plan's strategies, on a season worked by hand."""

import numpy as np
import pandas as pd
import pytest
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.analysis.browsing import browsing_as_planned
from wickstats.analysis.lives import read_lives
from wickstats.analysis.season import analyze_season
from wickstats.analysis.units import lay_out_units
from wickstats.design.trial import Plan, Response
from wickstats.records.season import Season

START = pd.Timestamp("2025-03-01")
DAYS = (0, 30, 60, 90)
# plot hand1: plant 1 lives; 2 is browsed on day 60 and sprouts again; 3 dies of browsing
# between day 60 and day 90; 4 dies of drought before day 30 and is called browsed later
HAND = {
    "1": ("alive", "alive", "alive", "alive"),
    "2": ("alive", "alive", "alive*", "alive"),
    "3": ("alive", "alive", "alive", "dead!"),
    "4": ("alive", "dead", "dead", "dead"),
}


def season(plan: str, event: bool = False) -> tuple[object, object, Season]:
    rows, visits, lives = [], [], []
    for block in "123":
        for arm in ("hand", "wick"):
            plot = f"{arm}{block}"
            rows.append({"plot": plot, "treatment": arm, "block": block, "plants": 4})
            seen = HAND if plot == "hand1" else dict.fromkeys("1234", ("alive",) * 4)
            for plant, states in seen.items():
                dead = [d for d, s in zip(DAYS, states, strict=True) if s.startswith("dead")]
                alive = [d for d, s in zip(DAYS, states, strict=True) if s.startswith("alive")]
                visits.extend(
                    {
                        "date": START + pd.Timedelta(days=day),
                        "plot": plot,
                        "plant": plant,
                        "status": state.rstrip("*!"),
                        "condition": "browsed" if state.endswith("*") and not event else None,
                    }
                    for day, state in zip(DAYS, states, strict=True)
                )
                lives.append(
                    {
                        "plot": plot,
                        "plant": plant,
                        "planted_on": START,
                        "original": True,
                        "replaces": None,
                        "last_alive": START + pd.Timedelta(days=max(alive)),
                        "first_dead": START + pd.Timedelta(days=min(dead)) if dead else pd.NaT,
                        "cause": ("browsing" if plant == "3" else "drought") if dead else None,
                        "last_seen": START + pd.Timedelta(days=90),
                        "fate": "dead" if dead else "alive",
                        "doubtful_from": pd.NaT,
                    }
                )
    events = [{"date": START + pd.Timedelta(days=59), "plot": "hand1", "what": "browsed"}]
    events[0]["plant"] = "2" if event else None
    trial = make_trial(
        [factor("treatment", ("hand", "wick"), "hand")],
        [Response(name="survival", kind="survival", better="more")],
        plan=Plan(primary="survival", browsing=plan),
    )
    layout = make_layout(rows, ["treatment"])
    tables = {"visits": pd.DataFrame(visits), "events": pd.DataFrame(events)}
    return trial, layout, make_season(layout, lives=pd.DataFrame(lives), tables=tables)


def bounds(plan: str, event: bool = False) -> dict[str, tuple[float, float]]:
    trial, layout, made = season(plan, event)
    units = lay_out_units(trial, layout)
    lives = browsing_as_planned(read_lives(made, units), made, plan)
    return {
        plant: (float(lives.low[k]), float(lives.high[k]))
        for k, (plot, plant) in enumerate(zip(lives.plots, lives.plants, strict=True))
        if plot == "hand1"
    }


@pytest.mark.parametrize(
    ("plan", "event", "second", "third"),
    [
        ("as seen", False, (90.0, np.inf), (60.0, 90.0)),
        ("competing cause", False, (90.0, np.inf), (60.0, 90.0)),
        ("counts as death", False, (30.0, 60.0), (60.0, 90.0)),
        ("counts as death", True, (30.0, 59.0), (60.0, 90.0)),
        ("set aside", False, (60.0, np.inf), (60.0, np.inf)),
        ("set aside", True, (30.0, np.inf), (60.0, np.inf)),
    ],
)
def test_when_a_browsed_plant_dies_or_leaves(plan, event, second, third) -> None:
    found = bounds(plan, event)
    assert found == {"1": (90.0, np.inf), "2": second, "3": third, "4": (0.0, 30.0)}


@pytest.mark.parametrize(
    ("plan", "share", "plants", "words"),
    [
        ("as seen", 0.5, 4, "Deaths with browsing as their cause: 1; they count as deaths."),
        ("counts as death", 0.25, 4, "Browsed plants counted as dead"),
        # one of four dies, then two of the three others are set aside: 1 - 1/4
        ("set aside", 0.75, 2, "Browsed plants set aside"),
    ],
)
def test_shares_and_the_sentence_follow_the_plan(plan, share, plants, words) -> None:
    results = analyze_season(*season(plan))
    found = results.responses[0]
    unit = next(u for u in found.unit_summary.values if u.unit == "hand1")
    assert unit.value == pytest.approx(share)
    assert unit.n_plants == plants
    assert any(text.startswith(words) for text in found.cautions)
    assert not any(d.what == "browsed plants" for d in results.deviations)
    assert bool([c for c in found.sensitivity if "not seen" in c.name]) == (plan == "set aside")


def test_a_competing_cause_is_never_censored_and_told_in_every_sentence() -> None:
    # hand1: one of four dies of drought, one of browsing: 3/4 not dead of anything else
    results = analyze_season(*season("competing cause"))
    found = results.responses[0]
    unit = next(u for u in found.unit_summary.values if u.unit == "hand1")
    assert (unit.value, unit.n_plants) == (pytest.approx(0.75), 4)
    assert {c.estimand for c in found.comparisons if c.verdict} == {
        "share not dead of other causes"
    }
    row = next(c for c in found.comparisons if c.verdict)
    assert row.absolute.per == "more of 100 planted not dead of other causes than browsing"
    assert "not dead of other causes than browsing" in row.sentence
    assert " alive of 100" not in row.sentence
    assert any("1 deaths by browsing are told as such" in c for c in found.cautions)
    assert not any(d.what == "browsed plants" for d in results.deviations)


@pytest.mark.parametrize("plan", ["as seen", "counts as death", "competing cause", "set aside"])
def test_the_four_ways_stand_side_by_side_whatever_the_plan(plan) -> None:
    # hand1 by hand: 2/4 alive; browsed 2 and 3 dead, 1/4; 3/4 spared; set aside after the one
    # death among four, 3/4 by the product-limit estimate (Kaplan & Meier 1958).
    # hand2 and hand3 are whole, so the arm's mean is a third of the way from 1
    found = analyze_season(*season(plan)).responses[0]
    ways = {way.name: way for way in found.plant_lives.strategies}
    assert [name for name, way in ways.items() if way.primary] == [plan]
    hand = {
        name: next(m.estimate for m in way.means if m.treatment == "hand")
        for name, way in ways.items()
    }
    assert hand == {
        "as seen": pytest.approx((0.5 + 2) / 3),
        "counts as death": pytest.approx((0.25 + 2) / 3),
        "competing cause": pytest.approx((0.75 + 2) / 3),
        "set aside": pytest.approx((0.75 + 2) / 3),
    }
    assert {name: way.changed for name, way in ways.items()} == {
        "as seen": 0,
        "counts as death": 2,
        "competing cause": 1,
        "set aside": 2,
    }
    main = [c for c in found.comparisons if c.verdict is not None]
    assert [c.estimate for c in ways[plan].comparisons] == [c.estimate for c in main]
    assert all(c.sentence is None for way in ways.values() for c in way.comparisons)


def test_incidence_adds_up_and_browsing_is_a_cause_of_its_own() -> None:
    found = analyze_season(*season("as seen")).responses[0]
    at_end = {
        (p.group, p.cause): p.share for p in found.plant_lives.incidence if p.time_high == 90.0
    }
    assert at_end["hand", "browsing"] == pytest.approx(1 / 12)
    assert at_end["hand", "drought"] == pytest.approx(1 / 12)
    assert at_end["wick", "browsing"] == at_end["wick", "drought"] == 0.0
    curve = [p.share for p in found.curves if p.group == "hand"][-1]
    assert curve + at_end["hand", "browsing"] + at_end["hand", "drought"] == pytest.approx(1)


def test_shares_dead_of_a_cause_are_compared_by_units_without_a_verdict() -> None:
    found = analyze_season(*season("as seen")).responses[0].plant_lives
    rows = {c.estimand: c for c in found.cause_comparisons if c.measure == "difference"}
    assert set(rows) == {"share dead, cause browsing", "share dead, cause drought"}
    row = rows["share dead, cause browsing"]
    assert row.estimate == pytest.approx(-1 / 12)  # wick against hand, one of twelve plants
    assert row.rule == "dispersion"
    # one arm lost no plant to browsing: a bound of its share, no interval of the difference
    assert (row.low, row.high, row.p) == (None, None, None)
    assert "no plant of wick" in row.not_estimable
    assert row.verdict is None
    assert row.absolute.per == "more dead of 100 planted, cause browsing"
    bounded = next(m for m in found.cause_means if m.treatment == "wick")
    assert bounded.bound == "upper"
    assert bounded.not_estimable.startswith("none or all died of this cause")
