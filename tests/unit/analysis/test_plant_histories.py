"""What became of every plant, from the crew's tables to the rows of the results.

One invented season in the records' own form: every kind of history stands in plot A1 or
007, and is counted by hand beside it.
"""

import numpy as np
import pandas as pd
import pytest
from support_records import frame, small_layout, small_trial

from wickstats.analysis.season import analyze_season
from wickstats.core.responses import PlantLives, ResponseResult
from wickstats.records.read import read_records

SURVIVAL = {"name": "survival", "kind": "survival", "better": "more"}
D0, D1, D2, D3, D4 = "2025-03-01", "2025-03-15", "2025-04-15", "2025-05-15", "2025-06-15"
PLOTS = ("A1", "A2", "A3", "007", "B2")
# plant -> states on the four visits; only what differs from alive throughout
STATES = {
    ("A1", "1"): "alive dead dead dead",  # between two visits
    ("A1", "2"): "dead dead dead dead",  # at first sight, within 14 days
    ("A1", "3"): "alive doubtful dead dead",
    ("A1", "4"): "alive doubtful alive alive",
    ("007", "1"): "alive alive doubtful doubtful",
    ("007", "2"): "alive alive notfound notfound",
    ("007", "3"): "alive notfound alive alive",
    ("007", "4"): "alive dead alive alive",
    ("A2", "1"): "alive notvisited alive alive",
}
WORDS = {"notfound": "not found", "notvisited": "not visited"}


def analyzed(events: str = "", extra: str = "", plants: str = "") -> ResponseResult:
    lines = ["date,plot,plant,status,condition,cause"]
    for plot in PLOTS:
        for k in "1234":
            states = STATES.get((plot, k), "alive alive alive alive").split()
            for day, state in zip((D1, D2, D3, D4), states, strict=True):
                lines.append(f"{day},{plot},{k},{WORDS.get(state, state)},,")
    lines += [line for line in extra.strip().splitlines() if line]
    tables = {"visits": frame("\n".join(lines))}
    if events:
        tables["events"] = frame("date,plot,what,plant,new_plant\n" + events)
    if plants:
        tables["plants"] = frame("plot,plant,planted_on\n" + plants)
    trial = small_trial(responses=(SURVIVAL,))
    layout = small_layout(4)
    return analyze_season(trial, layout, read_records(trial, layout, tables)).responses[0]


def lives_of(found: ResponseResult) -> PlantLives:
    assert found.plant_lives is not None
    return found.plant_lives


def counted(lives: PlantLives) -> dict[tuple[str, str], dict[str, int]]:
    return {(r.part, r.kind): dict(r.by_treatment) for r in lives.histories}


def test_every_kind_is_counted_once_by_treatment_and_endings_add_up() -> None:
    lives = lives_of(analyzed())
    hand = {k: v["hand watering"] for k, v in counted(lives).items()}
    assert hand == {
        ("ending", "alive at the last visit"): 3,
        ("ending", "doubtful to the end"): 1,
        ("ending", "dead, seen alive at an earlier visit"): 2,
        ("ending", "dead at the first visit that saw it"): 1,
        ("ending", "not found"): 1,
        ("remark", "doubtful, later dead"): 1,
        ("remark", "doubtful, later alive"): 1,
        ("remark", "not found, later seen again"): 1,
        ("remark", "not visited at least once"): 0,
        ("remark", "seen dead, later alive"): 1,
    }
    endings = [r for r in lives.histories if r.part == "ending"]
    assert sum(r.total for r in endings) == 20
    assert {r.kind: r.observed for r in endings} == {
        "alive at the last visit": "from the right",
        "doubtful to the end": "from the right",
        "dead, seen alive at an earlier visit": "between two visits",
        "dead at the first visit that saw it": "from the left",
        "not found": "from the right",
    }
    assert counted(lives)["remark", "not visited at least once"]["capillary wick"] == 1


def test_a_plot_that_was_lost_is_an_ending_of_all_its_plants() -> None:
    lives = lives_of(analyzed(events="2025-06-20,B2,flood damage,,\n"))
    assert counted(lives)["ending", "lost with its plot"] == {
        "hand watering": 0,
        "capillary wick": 4,
    }
    assert sum(r.total for r in lives.histories if r.part == "ending") == 20


def test_counts_of_plots_and_known_days_are_told_apart() -> None:
    text = ["date,plot,alive_n,dead_n,not_found_n"]
    text += [f"{day},{plot},4,0,0" for plot in PLOTS for day in (D1, D2)]
    text += [f"{D3},{plot},3,1,0" for plot in PLOTS]
    trial, layout = small_trial(responses=(SURVIVAL,)), small_layout(4)
    season = read_records(trial, layout, {"visits": frame("\n".join(text))})
    lives = lives_of(analyze_season(trial, layout, season).responses[0])
    assert counted(lives)["remark", "counted in its plot, without a name"] == {
        "hand watering": 8,
        "capillary wick": 12,
    }
    days = ["plot,plant,last_alive_d,first_dead_d"]
    days += [f"{plot},{k},{30 + int(k)},{30 + int(k)}" for plot in PLOTS for k in "12"]
    days += [f"{plot},{k},90," for plot in PLOTS for k in "34"]
    season = read_records(trial, layout, {"lifetimes": frame("\n".join(days))})
    lives = lives_of(analyze_season(trial, layout, season).responses[0])
    assert [(r.kind, r.observed, r.total) for r in lives.histories] == [
        ("alive at the last visit", "from the right", 10),
        ("dead on a known day", "exactly", 10),
    ]


def test_early_deaths_are_told_by_treatment_and_stay_in_the_shares() -> None:
    found = analyzed()
    rows = {r.treatment: r for r in lives_of(found).early_deaths}
    hand = rows["hand watering"]
    # one dead by day 14; two more die after it: one in (14, 45], one in (14, 75]
    assert (hand.plants, hand.dead, hand.perhaps, hand.rest, hand.rest_dead) == (8, 1, 0, 7, 2)
    assert rows["capillary wick"].dead == 0
    text = next(c for c in found.cautions if c.startswith("Deaths in the first 14 days"))
    assert "hand watering 1 of 8, capillary wick 0 of 12" in text
    unit = next(u for u in found.unit_summary.values if u.unit == "A1")
    assert unit.value == pytest.approx(1 / 4)


def test_leafless_and_resprouting_plants_are_no_deaths() -> None:
    extra = "2025-05-01,A2,2,alive,leafless,\n2025-05-20,A2,2,alive,resprouting,\n"
    extra += "2025-05-01,A1,3,doubtful,leafless,\n"
    found = analyzed(extra=extra)
    rows = {(r.condition, r.treatment): r for r in lives_of(found).conditions}
    wick = rows["leafless", "capillary wick"]
    assert (wick.noted, wick.alive, wick.dead, wick.other) == (1, 1, 0, 0)
    assert rows["resprouting", "capillary wick"].alive == 1
    assert rows["leafless", "hand watering"].dead == 1
    doubted = rows["doubtful", "hand watering"]
    assert (doubted.noted, doubted.alive, doubted.dead) == (3, 2, 1)
    wicks = [u.value for u in found.unit_summary.values if u.treatment == "capillary wick"]
    assert wicks == [1.0] * len(wicks)


def test_open_plants_are_counted_against_and_for_each_comparison() -> None:
    # at the last date: hand A1 1 of 4 alive; 007 two alive, one not found and one doubtful
    # since day 75 or more before the end are open; wick all alive
    found = analyzed()
    shares = {
        name: next(c for c in found.sensitivity if f"({label})" in c.name).estimate
        for name, label in (
            ("against", "plants not seen counted against the first treatment"),
            ("favor", "plants not seen counted in favor of the first treatment"),
            ("alive", "plants not seen counted alive"),
            ("dead", "plants not seen counted dead"),
        )
    }
    hand = {"alive": (1 / 4 + 1) / 2, "dead": (1 / 4 + 2 / 4) / 2}
    # the first treatment is the wick, in which nobody is open
    assert shares["against"] == pytest.approx(1 - hand["alive"], abs=1e-9)
    assert shares["favor"] == pytest.approx(1 - hand["dead"], abs=1e-9)
    assert shares["alive"] == pytest.approx(shares["against"])
    assert shares["dead"] == pytest.approx(shares["favor"])


def test_both_extremes_lie_around_every_other_case() -> None:
    found = analyzed()
    rows = [c for c in found.sensitivity if "not seen" in c.name or "not found" in c.name]
    low = min(c.estimate for c in rows if "against the first" in c.name)
    high = max(c.estimate for c in rows if "in favor" in c.name)
    assert all(low - 1e-12 <= c.estimate <= high + 1e-12 for c in rows)
    assert low < high


@pytest.mark.parametrize("often", [7, 14])
def test_visits_spaced_differently_are_named_with_their_days(often: int) -> None:
    trial, layout = small_trial(responses=(SURVIVAL,)), small_layout(2)
    start = pd.Timestamp(D0)
    rows = ["date,plot,plant,status"]
    for plot in PLOTS:
        step = often if plot in ("A1", "007") else 14
        for day in range(step, 85, step):
            when = (start + pd.Timedelta(days=day)).date()
            rows += [
                f"{when},{plot},{k},{'dead' if day == 84 and k == 1 else 'alive'}"
                for k in (1, 2)
            ]
    season = read_records(trial, layout, {"visits": frame("\n".join(rows))})
    found = analyze_season(trial, layout, season).responses[0]
    spacing = {r.treatment: r for r in lives_of(found).visit_spacing}
    assert spacing["hand watering"].median_days == often
    assert spacing["capillary wick"].median_days == 14.0
    assert spacing["capillary wick"].visits == 6.0
    assert {r.last_visit for r in spacing.values()} == {"2025-05-24"}
    told = [c for c in found.cautions if c.startswith("Visits were not spaced alike")]
    if often == 14:
        assert told == []
    else:
        (text,) = told
        assert "hand watering median 7.00 days between visits, mean 7.00" in text
        assert "capillary wick median 14.0 days between visits" in text
        assert "those of capillary wick look later, and those of hand watering earlier" in text


def test_a_treatment_no_longer_visited_is_named() -> None:
    trial, layout = small_trial(responses=(SURVIVAL,)), small_layout(1)
    rows = ["date,plot,plant,status"]
    for plot in PLOTS:
        days = (D1, D2, D3) if plot in ("A1", "007") else (D1, D2, D3, D4)
        rows += [f"{day},{plot},1,alive" for day in days]
    season = read_records(trial, layout, {"visits": frame("\n".join(rows))})
    found = analyze_season(trial, layout, season).responses[0]
    text = next(c for c in found.cautions if c.startswith("The last day on which all plots"))
    assert "hand watering 2025-05-15; capillary wick 2025-06-15" in text


REPLACED = f"{D2},A1,replaced,1,9\n"
NEW = f"{D3},A1,9,alive,,\n{D4},A1,9,alive,,\n"


def test_replacements_stand_beside_the_plants_they_replaced() -> None:
    plain, found = analyzed(), analyzed(events=REPLACED, extra=NEW)
    lives = lives_of(found)
    assert counted(lives)["remark", "replaced by a new plant"]["hand watering"] == 1
    assert counted(lives)["beside", "replacement plants"]["hand watering"] == 1
    # the main analysis does not move
    assert [c.estimate for c in found.comparisons] == [c.estimate for c in plain.comparisons]
    hand = next(r for r in lives.stand if r.treatment == "hand watering")
    # A1: one of four first plants alive, 007: two of two known
    assert (hand.originals_alive, hand.replacements, hand.replacements_alive) == (3, 1, 1)
    assert hand.known == 6
    assert hand.share_places - hand.share_originals == pytest.approx(1 / 6)
    row = next(c for c in found.sensitivity if "in the place of" in c.name)
    # unit means: A1 goes from 1/4 to 2/4, the wick stays whole
    assert row.estimate == pytest.approx(found.comparisons[0].estimate - 1 / 8)


def test_a_place_never_counts_for_more_than_one() -> None:
    # the replaced plant turned out to live: two plants on one place, one place alive
    events = f"{D2},A2,replaced,2,9\n"
    extra = f"{D3},A2,9,alive,,\n{D4},A2,9,alive,,\n"
    lives = lives_of(analyzed(events=events, extra=extra))
    for row in lives.stand:
        assert row.share_places <= 1.0


def test_curves_over_the_season_count_late_plants_from_their_planting() -> None:
    lives = lives_of(analyzed(events=REPLACED, extra=NEW))
    hand = [p for p in lives.late_curves if p.group == "hand watering"]
    assert hand[0].at_risk == 8
    # by day 75 three first plants are dead and one is not seen any more, one entered on day 45
    day = next(p for p in hand if p.time_low == 75.0)
    gone = {
        ("A1", "1"): 45,
        ("A1", "2"): 14,
        ("A1", "3"): 75,
        ("007", "1"): 45,
        ("007", "2"): 45,
    }
    assert day.at_risk == 8 - len(gone) + 1
    assert all(p.low is None or p.low <= p.share <= p.high for p in lives.late_curves)


def test_plants_planted_late_are_named_and_enter_late() -> None:
    rows = [f"{plot},{k},{D2 if plot == 'A3' else D0}\n" for plot in PLOTS for k in "1234"]
    found = analyzed(plants="".join(rows))
    lives = lives_of(found)
    key = ("remark", "planted more than 14 days after the first")
    assert counted(lives)[key] == {"hand watering": 0, "capillary wick": 4}
    assert "Planted more than 14 days after the first: capillary wick 4." in lives.stand_notes
    wick = [p for p in lives.late_curves if p.group == "capillary wick"]
    assert wick[0].at_risk == 8
    # in days of their own life all twelve start on day 0
    own = [p for p in found.curves if p.group == "capillary wick"]
    assert own[0].at_risk == 12


def to_day(last_of_007: str) -> tuple[str, str]:
    """To which day mean lifetimes go, where A3 was planted on day 45; and all cautions."""
    rows = ["date,plot,plant,status"]
    for plot in PLOTS:
        days = [d for d in (D1, D2, D3, D4) if plot != "007" or d <= last_of_007]
        rows += [f"{day},{plot},1,alive" for day in days if plot != "A3" or day > D2]
    planted = [f"{plot},1,{D2 if plot == 'A3' else D0}" for plot in PLOTS]
    trial, layout = small_trial(responses=(SURVIVAL,)), small_layout(1)
    tables = {
        "visits": frame("\n".join(rows)),
        "plants": frame("\n".join(["plot,plant,planted_on", *planted])),
    }
    found = analyze_season(trial, layout, read_records(trial, layout, tables)).responses[0]
    (at,) = {m.at for m in found.means if m.estimand == "restricted mean survival time"}
    return str(at), " ".join(found.cautions)


def test_a_plant_set_late_shortens_mean_lifetimes_by_its_own_days_only() -> None:
    # A3 was watched for 106 - 45 days, 007 for 75: not 75 - 45
    at, cautions = to_day(D3)
    assert at == "to day 61"
    assert "reckoned to day 61 after planting and not to 2025-06-15" in cautions
    at, cautions = to_day(D4)
    assert at == "to day 61"
    assert "those planted late (1) were watched no longer" in cautions


def test_causes_that_were_not_noted_stand_apart_and_are_told() -> None:
    extra = "2025-06-20,A1,1,dead,,drought\n"
    lives = lives_of(analyzed(extra=extra))
    assert {p.cause for p in lives.incidence} == {"drought", "no cause noted"}
    assert any(text.startswith("2 of 3") for text in lives.cause_notes)
    ends: dict[tuple[str, str], float] = {}
    for p in lives.incidence:
        ends[p.group, p.cause] = p.share
        assert p.low is None or p.low <= p.share <= p.high
    assert ends["hand watering", "drought"] < ends["hand watering", "no cause noted"]
    assert np.isclose(ends["capillary wick", "drought"], 0.0)


def test_a_cause_that_an_arm_was_spared_has_no_two_sided_interval() -> None:
    found = lives_of(analyzed(extra="2025-06-20,A1,1,dead,,drought\n"))
    rows = [c for c in found.cause_comparisons if c.estimand == "share dead, cause drought"]
    assert rows
    for row in rows:
        assert row.estimate is not None
        assert (row.se, row.df, row.low, row.high, row.p) == (None,) * 5
        assert "no plant of capillary wick" in row.not_estimable
        assert (row.absolute.low, row.absolute.high) == (None, None)
    # its death rate has a penalized ratio without p
    (rate,) = [c for c in found.cause_comparisons if c.estimand == "death rate, cause drought"]
    assert 0.0 < rate.low < rate.estimate < rate.high
    assert (rate.p, rate.se, rate.verdict) == (None, None, None)
    # the arm itself has its bound
    spared = next(
        m
        for m in found.cause_means
        if m.treatment == "capillary wick" and m.estimand.endswith("drought")
    )
    assert spared.bound is not None
    assert (spared.estimate, spared.low) == (0.0, None)
    assert 0.0 < spared.high < 1.0
