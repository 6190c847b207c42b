"""Costs by hand: what a plot costs, what a survivor costs, and against the reference.

Standard errors are reckoned again by loops (Quenouille 1956; Tukey 1958), Fieller's limits
as roots of their quadratic (Fieller 1954).
"""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

from wickstats.analysis.costs_pairs import _gained
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.design.read import parse_trial
from wickstats.layout.randomize import randomize
from wickstats.records.read import read_records
from wickstats.road.season import compose

TRIAL = """\
format: 1
trial: {{id: costly, season: {{start: 2025-04-01, end: 2025-09-30}}}}
factors: {{watering: [{{name: hand, reference: true}}, {{name: wick}}]}}
design: {{type: randomized complete block, blocks: {blocks}, plants_per_plot: 10, seed: 3,
  layout: layout.csv, drawn: here}}
records: {{visits: {{file: visits.csv}}, water: {{file: water.csv}}}}
responses: [{{name: survival, kind: survival, at: [2025-09-30], better: more}}]
costs:
  currency: EUR
  wage_per_hour: 20
  items:
    - {{what: wick and bucket, for: [wick], each: {bucket}, per: plot, lasts_seasons: 3}}
    - {{what: stake, each: 2, per: plant, lasts_seasons: 4}}
    - {{what: map, each: {map}, per: trial}}
  hours_per_visit: {{hand: 0.3, wick: 0.1}}
  travel: {{km_per_visit: 40, per_km: 0.25}}
"""
HAND_ALIVE = (4, 6, 5, 3, 7, 5, 6, 4)
WICK_ALIVE = (8, 9, 7, 8, 9, 6, 9, 8)
HAND_LITERS = (60.0, 62.0, 58.0, 61.0, 65.0, 57.0, 60.0, 63.0)
WICK_LITERS = (31.0, 28.0, 33.0, 30.0, 35.0, 27.0, 32.0, 29.0)
DAYS = ("2025-05-01", "2025-06-01", "2025-07-01")


def _analyzed(
    blocks: int,
    hand: tuple[int, ...] = HAND_ALIVE,
    wick: tuple[int, ...] = WICK_ALIVE,
    bucket: float = 300,
    missed: int | None = None,
    noted: tuple[float | None, ...] = (),
) -> Results:
    """Hand watering on three days, wicks refilled on the first two (the last block's once).

    ``missed``: nobody saw the wick of that block (from 0) on the last day. ``noted``: rows
    more of the last block's wick, on the second day, with that amount or none.
    """
    text = TRIAL.format(blocks=blocks, bucket=bucket, map=20 * blocks)
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path())
    layout = randomize(trial)
    visits, water = [], []
    for plot in layout.plots:
        b = int(plot.block or 0) - 1
        is_hand = plot.treatment == "hand"
        alive = (hand if is_hand else wick)[b]
        visits.append(["2025-04-01", plot.plot, 10, 0])
        if is_hand or b != missed:
            visits.append(["2025-09-30", plot.plot, alive, 10 - alive])
        liters = (HAND_LITERS if is_hand else WICK_LITERS)[b]
        days = DAYS if is_hand else DAYS[:1] if b == blocks - 1 else DAYS[:2]
        water += [[day, plot.plot, liters / len(days)] for day in days]
        if not is_hand and b == blocks - 1:
            water += [[DAYS[1], plot.plot, amount] for amount in noted]
    frames = {
        "visits": pd.DataFrame(visits, columns=["date", "plot", "alive_n", "dead_n"]),
        "water": pd.DataFrame(water, columns=["date", "plot", "applied_l"]),
    }
    return compose(trial, read_records(trial, layout, frames))


def _plot_costs(blocks: int, bucket: float = 300) -> tuple[np.ndarray, np.ndarray]:
    """(blocks,) cost of the plots of hand and of wick, by hand.

    A trip costs 40 km x 0.25 = 10. Day 1 is shared by all 2b plots, day 2 by b + (b - 1),
    day 3 by the b plots of hand. Stakes 10 x 2 / 4 = 5 a plot; the map 20 b over 2b plots.
    """
    b = blocks
    trips = [10 / (2 * b), 10 / (2 * b - 1), 10 / b]
    hand = np.full(b, 5 + 10 + 0.3 * 20 * 3 + sum(trips))
    wick = np.full(b, bucket / 3 + 5 + 10 + 0.1 * 20 * 2 + trips[0] + trips[1])
    wick[-1] -= 0.1 * 20 + trips[1]
    return hand, wick


def test_costs_of_a_plot_by_hand() -> None:
    found = _analyzed(6).cost_parts
    assert found is not None
    hand, wick = found.arms
    by_hand = [values.mean() for values in _plot_costs(6)]
    assert [hand.total, wick.total] == pytest.approx(by_hand, rel=1e-12)
    assert (hand.items, hand.work, hand.visits) == pytest.approx((15.0, 18.0, 3.0), rel=1e-12)
    assert wick.hours == pytest.approx(0.1 * 11 / 6, rel=1e-12)
    assert hand.survivors == pytest.approx(30 / 6, rel=1e-12)
    assert wick.liters == pytest.approx(sum(WICK_LITERS[:6]) / 6, rel=1e-9)
    # all travel together is that of the three days
    assert 6 * (hand.travel + wick.travel) == pytest.approx(30.0, rel=1e-12)


@pytest.mark.parametrize("noted", [(None,), (3.0, 4.0)], ids=["blank", "contradicted"])
def test_a_visit_noted_without_an_amount_costs_what_a_visit_costs(
    noted: tuple[float | None, ...],
) -> None:
    """The water of that plot is not known; that somebody went there and worked is."""
    plain, found = _analyzed(6), _analyzed(6, noted=noted)
    assert plain.cost_parts is not None
    assert found.cost_parts is not None
    hand, wick = found.cost_parts.arms
    # all wicks are visited twice, and day 2 is shared by all twelve plots
    assert wick.visits == pytest.approx(2.0, rel=1e-12)
    assert wick.work == pytest.approx(0.1 * 20 * 2, rel=1e-12)
    assert wick.travel == pytest.approx(2 * 10 / 12, rel=1e-12)
    assert hand.travel == pytest.approx(2 * 10 / 12 + 10 / 6, rel=1e-12)
    assert plain.cost_parts.arms[1].visits == pytest.approx(11 / 6, rel=1e-12)
    said = "the day and no amount that could be used: 1."
    assert any(said in note for note in found.cost_parts.notes)
    assert not any(said in note for note in plain.cost_parts.notes)


@pytest.mark.parametrize("blocks", [3, 6, 8])
def test_cost_of_a_survivor_leaves_out_one_block_at_a_time(blocks: int) -> None:
    results = _analyzed(blocks)
    paid = _plot_costs(blocks)
    for arm, alive in ((0, HAND_ALIVE), (1, WICK_ALIVE)):
        cost, lived = paid[arm], np.array(alive[:blocks], float)
        logs = [
            math.log(np.delete(cost, k).sum() / np.delete(lived, k).sum())
            for k in range(blocks)
        ]
        spread = sum((x - sum(logs) / blocks) ** 2 for x in logs)
        half = student.ppf(0.975, blocks - 1) * math.sqrt((blocks - 1) / blocks * spread)
        estimate = cost.sum() / lived.sum()
        row = next(
            c
            for c in results.costs
            if c.per == "survivor" and c.treatment == ("hand", "wick")[arm]
        )
        assert row.not_estimable is None
        expected = (estimate, estimate * math.exp(-half), estimate * math.exp(half))
        assert (row.estimate, row.low, row.high) == pytest.approx(expected, rel=1e-9)
        assert (row.df, row.blocks_used) == (blocks - 1, blocks)


def test_a_plot_that_nobody_saw_at_the_end_is_in_neither_money_nor_survivors() -> None:
    results = _analyzed(6, missed=2)
    _, cost = _plot_costs(6)
    lived = np.delete(np.array(WICK_ALIVE[:6], float), 2)
    row = next(c for c in results.costs if c.per == "survivor" and c.treatment == "wick")
    assert row.estimate == pytest.approx(np.delete(cost, 2).sum() / lived.sum(), rel=1e-9)
    assert (row.df, row.blocks_used) == (4, 5)
    extra = next(c for c in results.costs if c.per == "extra survivor")
    hand, _ = _plot_costs(6)
    gain = lived - np.delete(np.array(HAND_ALIVE[:6], float), 2)
    paid = np.delete(cost - hand, 2)
    assert extra.estimate == pytest.approx(paid.sum() / gain.sum(), rel=1e-9)
    assert extra.blocks_used == 5


def _fieller(cost: np.ndarray, gain: np.ndarray) -> list[float]:
    n = len(cost)
    t2 = float(student.ppf(0.975, n - 1)) ** 2
    (scc, sce), (_, see) = np.cov(cost, gain) / n
    c, e = cost.mean(), gain.mean()
    return sorted(
        np.roots([e * e - t2 * see, -2 * (c * e - t2 * sce), c * c - t2 * scc]).real.tolist()
    )


@pytest.mark.parametrize("blocks", [4, 8])
def test_extra_survivor_and_cubic_meter_by_fieller(blocks: int) -> None:
    results = _analyzed(blocks)
    hand, wick = _plot_costs(blocks)
    extra = np.array(WICK_ALIVE[:blocks], float) - np.array(HAND_ALIVE[:blocks])
    saved = (np.array(HAND_LITERS[:blocks]) - np.array(WICK_LITERS[:blocks])) / 1000
    for per, gain in (("extra survivor", extra), ("m3", saved)):
        (row,) = [c for c in results.costs if c.per == per]
        assert (row.treatment, row.versus, row.method) == ("wick", "hand", "Fieller")
        assert row.estimate == pytest.approx((wick - hand).mean() / gain.mean(), rel=1e-9)
        assert [row.low, row.high] == pytest.approx(_fieller(wick - hand, gain), rel=1e-6)


def test_no_survivors_is_not_defined_in_words() -> None:
    results = _analyzed(4, wick=(0, 0, 0, 0))
    rows = {(c.treatment, c.per): c for c in results.costs}
    gone = rows["wick", "survivor"]
    assert (gone.estimate, gone.low, gone.high) == (None, None, None)
    assert gone.not_estimable == "no survivors: the cost of a survivor is not defined"
    assert "no more survivors than with hand" in (
        rows["wick", "extra survivor"].not_estimable or ""
    )
    assert rows["hand", "survivor"].estimate is not None


def test_survivors_in_one_block_have_no_interval() -> None:
    row = next(
        c
        for c in _analyzed(4, wick=(0, 3, 0, 0)).costs
        if (c.treatment, c.per) == ("wick", "survivor")
    )
    assert row.estimate == pytest.approx(_plot_costs(4)[1].sum() / 3, rel=1e-12)
    assert (row.low, row.high, row.not_estimable) == (None, None, say("cost few survivor"))


def test_an_effect_that_may_be_none_has_no_finite_interval() -> None:
    results = _analyzed(4, hand=(8, 2, 8, 2), wick=(3, 9, 3, 9))
    (row,) = [c for c in results.costs if c.per == "extra survivor"]
    assert row.estimate is not None
    assert (row.low, row.high) == (None, None)
    assert "no finite interval" in (row.not_estimable or "")


def test_cheaper_and_better_is_no_price() -> None:
    (row,) = [c for c in _analyzed(6, bucket=0).costs if c.per == "extra survivor"]
    assert row.estimate is None
    assert "nothing is paid for one more" in (row.not_estimable or "")


def test_shares_of_quadrants_only_from_six_blocks() -> None:
    few, enough = _analyzed(5).cost_parts, _analyzed(6).cost_parts
    assert few is not None
    assert enough is not None
    assert [d.shares for d in few.differences] == [(), ()]
    assert few.differences[0].no_shares == "5 blocks: shares are told from 6 blocks on"
    for pair in enough.differences:
        assert sum(pair.shares) == pytest.approx(1.0, abs=1e-12)
        assert pair.no_shares is None


def test_shares_agree_with_the_t_distribution() -> None:
    # hand costs the same in every block and wicks cost more in all draws: the share that is
    # dearer and better is the chance that a t with 5 df lies below mean over standard error
    alive = (6, 5, 4, 7, 5, 6)
    results = _analyzed(6, wick=alive, bucket=3000).cost_parts
    assert results is not None
    gain = np.array(alive, float) - np.array(HAND_ALIVE[:6])
    share = float(student.cdf(gain.mean() / (gain.std(ddof=1) / math.sqrt(6)), 5))
    pair = results.differences[0]
    assert pair.shares[0] == pytest.approx(
        share, abs=4 * math.sqrt(share * (1 - share) / 10_000)
    )
    assert pair.shares[2] + pair.shares[3] == 0.0


def test_wage_and_years_move_only_their_parts() -> None:
    parts = _analyzed(6).cost_parts
    assert parts is not None
    found = {(s.scenario, s.treatment): s.estimate for s in parts.scenarios}
    hand, wick = parts.arms
    for arm in (hand, wick):
        lived = arm.survivors or math.nan
        assert found["twice the wage", arm.treatment] == pytest.approx(
            (arm.total + arm.work) / lived, rel=1e-12
        )
        assert found["half the years of use", arm.treatment] == pytest.approx(
            (arm.total + arm.items) / lived, rel=1e-12
        )
    # alone: hand bears three trips for six plots, wicks two
    assert found["travel borne alone", "hand"] == pytest.approx(
        (hand.total - hand.travel + 30 / 6) / (hand.survivors or 1), rel=1e-12
    )
    assert found["travel borne alone", "wick"] == pytest.approx(
        (wick.total - wick.travel + 20 / 6) / (wick.survivors or 1), rel=1e-12
    )


def test_a_dearer_bucket_adds_its_share() -> None:
    # 20 EUR more for the bucket's season is 60 / 3 on every wick plot
    base, more = _analyzed(6), _analyzed(6, bucket=360)
    pick = [
        next(c for c in r.costs if (c.treatment, c.per) == ("wick", "survivor"))
        for r in (base, more)
    ]
    lived = sum(WICK_ALIVE[:6]) / 6
    assert pick[1].estimate == pytest.approx((pick[0].estimate or 0) + 20 / lived, rel=1e-12)


@pytest.mark.parametrize(
    ("what", "more", "told"),
    [
        ("kg", 0.03, "with 30 g more"),
        ("kg", -0.514, "with 514 g less"),
        ("kg", 2.5, "with 2.5 kg more"),
        ("m3 saved", 0.139, "and saved 139 L of water"),
        ("m3 saved", -1.25, "and used 1.25 m3 more water"),
        ("survivors", 1 / 6, "with 16.7 more survivors in 100 plots"),
        ("survivors", -2.0, "with 2 fewer survivors"),
    ],
)
def test_gains_are_told_as_people_say_them(what: str, more: float, told: str) -> None:
    assert _gained(what, more) == told
