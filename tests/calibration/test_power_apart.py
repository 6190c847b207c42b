"""Power claims beside a simulator that shares nothing with the package but the claim.

Plain numpy and scipy, plots and plants one by one, two trials that stand nowhere else in the
project: a yield in a completely randomized trial with unequal replication, judged by
Dunnett's comparisons (critical value by simulation too), and lives in blocks, judged by the
rule for shares written out from its description (one dispersion over each arm's binomial
variance, Satterthwaite's df, beside the plants' own scatter; Agresti & Caffo 2000).
Tolerances: four Monte Carlo errors of both sides together.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

import wickstats as ws
from wickstats.design.read import parse_trial

SEASONS = 20_000


def read(text: str):
    return parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))


YIELD = """\
format: 1
trial: {id: apart-yield}
factors: {way: [{name: ditch, reference: true}, {name: cord}, {name: tube}]}
design:
  type: completely randomized
  replicates: {ditch: 7, cord: 4, tube: 5}
  layout: l.csv
responses: [{name: mass, kind: yield, column: marketable_kg, scale: as measured}]
plan:
  primary: mass
  comparisons: [{factor: way, compare: each with the reference, adjustment: dunnett}]
power: {assume: {mass: {mean: {ditch: 11, cord: 14, tube: 12.5}, plot_sd: 1.7}}}
"""


def test_a_yield_with_unequal_replication_under_dunnett() -> None:
    """Exact claims: noncentral t at Dunnett's critical value."""
    rng = np.random.default_rng(20270315)
    sizes, means = np.array([7, 4, 5]), np.array([11.0, 14.0, 12.5])
    arm = np.repeat(np.arange(3), sizes)

    def statistics(level: np.ndarray, seasons: int) -> np.ndarray:
        y = level[arm] + 1.7 * rng.standard_normal((seasons, arm.size))
        by = np.stack([y[:, arm == k].mean(axis=1) for k in range(3)], axis=1)
        rss = np.sum((y - by[:, arm]) ** 2, axis=1)
        s = np.sqrt(rss / (arm.size - 3))
        se = s[:, None] * np.sqrt(1 / sizes[0] + 1 / sizes[1:])
        return np.abs(by[:, 1:] - by[:, :1]) / se

    null = np.sort(statistics(np.zeros(3), 20 * SEASONS).max(axis=1))
    critical = null[int(0.95 * null.size)]
    # what the critical value leaves open: its own error moves the chance
    edge = [null[int(q * null.size)] for q in (0.9486, 0.9514)]
    t = statistics(means, SEASONS)
    planned = ws.power(read(YIELD), seasons=0)
    claimed = [r.power for r in planned.rows if r.note.startswith("power")]
    for k, claim in enumerate(claimed):
        reached = (t[:, k] > critical).mean()
        slack = abs((t[:, k] > edge[0]).mean() - (t[:, k] > edge[1]).mean())
        error = np.sqrt(claim * (1 - claim) / SEASONS)
        assert abs(reached - claim) < 4 * error + slack, (claim, reached)


LIVES = """\
format: 1
trial: {id: apart-lives, season: {start: 2027-04-01, end: 2027-09-30}}
factors: {way: [{name: can, reference: true}, {name: pot}]}
design: {type: randomized complete block, blocks: 7, plants_per_plot: 11, layout: l.csv}
responses: [{name: lives, kind: survival, at: 2027-09-30, better: more}]
plan: {primary: lives, comparisons: [{factor: way, compare: each with the reference}]}
power:
  assume:
    lives: {alive_at_end: {can: 0.45, pot: 0.70}, plot_correlation: 0.15, block_correlation: 0}
"""


def test_lives_in_blocks_by_the_rule_written_out() -> None:
    rng = np.random.default_rng(20270401)
    b, m, rho, p = 7, 11, 0.15, np.array([0.45, 0.70])
    a = (1 - rho) / rho
    chance = rng.beta(p * a, (1 - p) * a, size=(SEASONS, b, 2))
    alive = (rng.random((SEASONS, b, 2, m)) < chance[..., None]).sum(axis=3)
    y, n = alive / m, b * m
    share = y.mean(axis=1)  # (S, 2)
    left = (
        y
        - y.mean(axis=2, keepdims=True)
        - share[:, None, :]
        + y.mean(axis=(1, 2))[:, None, None]
    )
    rss = np.sum(left**2, axis=(1, 2))
    # M = (I - J/b) x (I - J/2): trace of M D and of M D M D for D of each arm
    d = share * (1 - share) / m
    first = (b - 1) * 0.5 * d.sum(axis=1)
    second = (b - 1) * 0.25 * (d[:, 0] ** 2 + d[:, 1] ** 2 + 2 * d[:, 0] * d[:, 1])
    phi, df = rss / first, first**2 / second
    of_units = stats.t.ppf(0.975, df) * np.sqrt(phi * d.sum(axis=1) / b)
    x = alive.sum(axis=1)
    center = (x + 1) / (n + 2)
    v = center * (1 - center) / n
    own_df = v.sum(axis=1) ** 2 / np.sum(v**2 / (n - 1), axis=1)
    of_plants = stats.t.ppf(0.975, own_df) * np.sqrt(v.sum(axis=1))
    shown = np.abs(share[:, 1] - share[:, 0]) > np.maximum(of_units, of_plants)
    asked = ws.power(read(LIVES), seasons=SEASONS).questions
    claim = asked.chances[0]
    error = np.hypot(np.sqrt(shown.mean() * (1 - shown.mean()) / SEASONS), claim.error)
    assert abs(shown.mean() - claim.shown) < 4 * error, (shown.mean(), claim.shown)


def limits_of_lives(p: list[float], b: int, m: int, rho: float) -> tuple[np.ndarray, ...]:
    """Limits of two arms' difference in many seasons, by the rule written out above."""
    seasons = SEASONS
    rng = np.random.default_rng(20270402)
    share, a = np.array(p), (1 - rho) / rho
    chance = rng.beta(share * a, (1 - share) * a, size=(seasons, b, 2))
    alive = rng.binomial(m, chance)
    y, n, x = alive / m, b * m, alive.sum(axis=1)
    gap = y[..., 1] - y[..., 0]
    d = (x + 0.5) / (n + 1) * (1 - (x + 0.5) / (n + 1)) / m
    first = 0.5 * (b - 1) * d.sum(axis=1)
    second = 0.25 * (b - 1) * d.sum(axis=1) ** 2
    rss = 0.5 * ((gap - gap.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    df = first**2 / second
    of_units = stats.t.ppf(0.975, df) * np.sqrt(rss / first * d.sum(axis=1) / b)
    center = (x + 1) / (n + 2)
    v = center * (1 - center) / n
    own = v.sum(axis=1) ** 2 / np.sum(v**2 / (n - 1), axis=1)
    of_plants = stats.t.ppf(0.975, own) * np.sqrt(v.sum(axis=1))
    half, middle = np.maximum(of_units, of_plants), gap.mean(axis=1)
    return middle - half, middle + half


def shown_of_lives(p: list[float], b: int, m: int, rho: float) -> float:
    low, high = limits_of_lives(p, b, m, rho)
    return float(((low > 0.0) | (high < 0.0)).mean())


def test_other_differences_scatter_as_their_own_shares_do() -> None:
    """Smallest difference and blocks for what matters: from the reference's share as assumed.

    Closed forms; held to 4 points of the simulated chance, and to possible shares.
    """
    text = LIVES.replace("blocks: 7", "blocks: 6").replace("plants_per_plot: 11", PLANTS)
    text = text.replace("can: 0.45, pot: 0.70", "can: 0.60, pot: 0.85")
    text = text.replace("reference}]}", "reference}], matters: {lives: {difference: 0.2}}}")
    rows = {r.note.split(";")[0]: r for r in ws.power(read(text), seasons=0).rows}
    smallest = rows["smallest detectable difference"].difference
    assert smallest is not None
    assert 0.6 + smallest < 1.0
    reached = shown_of_lives([0.6, 0.6 + smallest], 6, 8, 0.15)
    assert abs(reached - 0.8) < 0.04, (smallest, reached)
    needed = rows["blocks needed for the difference that matters"].blocks
    assert needed is not None
    reached = shown_of_lives([0.6, 0.8], round(needed), 8, 0.15)
    assert abs(reached - 0.8) < 0.04, (needed, reached)


def near(claim: float | None, reached: float, seasons: int) -> None:
    """Within four Monte Carlo errors of both sides together."""
    assert claim is not None
    error = np.sqrt(reached * (1 - reached) * (1 / SEASONS + 1 / seasons))
    assert abs(claim - reached) < 4 * error, (claim, reached)


def test_splits_and_what_ifs_of_lives_are_simulated() -> None:
    """All by the rule written out above; the closed form missed some by 3 points."""
    planned = ws.power(read(LIVES), seasons=SEASONS)
    asked = planned.questions
    assert asked is not None
    told = {w.what: w for w in asked.what_ifs}
    for what, blocks in (("one block is lost", 6), ("half the blocks", 3)):
        assert told[what].blocks == blocks
        assert told[what].error is not None
        near(told[what].power, shown_of_lives([0.45, 0.70], blocks, 11, 0.15), 5_000)
    for split in asked.splits:
        if split.plants in (3, 11, 24):
            assert split.error is not None
            reached = shown_of_lives([0.45, 0.70], split.blocks, split.plants, 0.15)
            near(split.power, reached, 5_000)
    # as planned it is one number in every table
    assert told["as planned"].power == asked.chances[0].shown
    assert next(s.power for s in asked.splits if s.planned) == asked.chances[0].shown
    assert next(p.power for p in asked.curve if p.blocks == 7) == asked.chances[0].shown
    text = "\n".join(planned.lines())
    assert "(simulated, +-: Monte Carlo error, in points; add costs" in text
    assert "closed form; add costs" not in text


def test_smallest_difference_and_blocks_of_lives_are_read_between_seasons() -> None:
    """One figure in sentence, curve and table, and shares told as plants of 100."""
    planned = ws.power(read(LIVES), seasons=SEASONS)
    rows = {r.note.split(";")[0]: r for r in planned.rows}
    smallest = rows["smallest detectable difference"].difference
    assert smallest is not None
    reached = shown_of_lives([0.45, 0.45 + smallest], 7, 11, 0.15)
    assert abs(reached - 0.8) < 0.02, (smallest, reached)
    asked = planned.questions
    assert asked is not None
    needed = rows["blocks needed for the assumed difference"].blocks
    assert needed == asked.needed
    assert needed is not None
    near(shown_of_lives([0.45, 0.70], round(needed), 11, 0.15), 0.815, 5_000)
    assert rows["power for the assumed difference"].power == asked.chances[0].shown
    lines = planned.lines()
    assert any(f"is {100 * smallest:.0f} of 100 for pot against can" in line for line in lines)
    assert any(
        line.split()[:6] == ["lives", "pot", "against", "can", "25", "of"] for line in lines
    )


TIED = """\
format: 1
trial: {id: apart-tied}
factors: {way: [{name: can, reference: true}, {name: pot}]}
design:
  type: randomized complete block
  blocks: 8
  plants_per_plot: 8
  plots_per_reservoir: {pot: 1}
  layout: l.csv
responses: [{name: h, kind: measurement, column: h_cm, measured_in: cm, better: more}]
plan: {primary: h, comparisons: [{factor: way, compare: each with the reference}]}
power: {assume: {h: {mean: {can: 40, pot: 45}, plot_sd: 3, plant_sd: 5, block_sd: 4}}}
"""


def test_a_reservoir_that_feeds_two_blocks_is_one_unit_that_lies_in_both() -> None:
    """Each arm on its own units (Welch), blocks half averaged in those that span two."""
    asked = ws.power(read(TIED)).questions
    assert asked is not None
    told = next(w for w in asked.what_ifs if "share each reservoir" in w.what)
    rng = np.random.default_rng(20270403)
    block = 4 * rng.standard_normal((SEASONS, 8))
    can = block + rng.normal(0, np.sqrt(9 + 25 / 8), (SEASONS, 8))
    both = block.reshape(SEASONS, 4, 2).mean(axis=2)
    pot = 5 + both + rng.normal(0, np.sqrt(9 + 25 / 16), (SEASONS, 4))
    of = [can.var(axis=1, ddof=1) / 8, pot.var(axis=1, ddof=1) / 4]
    df = (of[0] + of[1]) ** 2 / (of[0] ** 2 / 7 + of[1] ** 2 / 3)
    half = stats.t.ppf(0.975, df) * np.sqrt(of[0] + of[1])
    reached = (np.abs(pot.mean(axis=1) - can.mean(axis=1)) > half).mean()
    near(told.power, float(reached), 5_000)


def test_a_difference_that_cannot_be_is_not_told() -> None:
    text = LIVES.replace("blocks: 7", "blocks: 2").replace("plants_per_plot: 11", PLANTS)
    planned = ws.power(read(text), seasons=0)
    row = next(r for r in planned.rows if r.note.startswith("smallest"))
    assert row.difference is None
    assert (
        row.not_estimable
        == "no difference that can be would be shown with a chance of 80\N{NO-BREAK SPACE}%"
    )
    assert any(line.startswith("No difference of pot against can") for line in planned.lines())


def test_arms_assumed_alike_ask_for_no_worse() -> None:
    """The chance to tell one no worse by more than matters, and blocks for it."""
    text = LIVES.replace("plants_per_plot: 11", "plants_per_plot: 20")
    text = text.replace("can: 0.45, pot: 0.70", "can: 0.70, pot: 0.70")
    text = text.replace("reference}]}", "reference}], matters: {lives: {difference: 0.2}}}")
    planned = ws.power(read(text), seasons=SEASONS)
    asked = planned.questions
    assert asked is not None
    assert asked.alike
    low, high = limits_of_lives([0.7, 0.7], 7, 20, 0.15)
    same = (low >= -0.2) & (high <= 0.2)
    enough = (low >= -0.2).mean()
    told = asked.chances[0]
    for claim, reached in ((told.no_worse_at_all, enough), (told.same, same.mean())):
        error = np.sqrt(2 * reached * (1 - reached) / SEASONS)
        assert abs(claim - reached) < 4 * error, (claim, reached)
    for point in asked.curve:
        if point.blocks in (3, 12):
            low, _ = limits_of_lives([0.7, 0.7], point.blocks, 20, 0.15)
            assert abs(point.power - (low >= -0.2).mean()) < 0.03, point
    assert asked.needed is not None
    low, _ = limits_of_lives([0.7, 0.7], round(asked.needed), 20, 0.15)
    assert abs((low >= -0.2).mean() - 0.8) < 0.04
    assert asked.what_ifs[0].power == pytest.approx(enough, abs=0.02)
    said = f"About {asked.needed:.0f} blocks give 80\N{NO-BREAK SPACE}%."
    assert any(line.startswith("No difference") and said in line for line in planned.lines())

    # without a difference that matters nothing could be told to be no worse
    plain = ws.power(read(text.replace(", matters: {lives: {difference: 0.2}}", "")), seasons=0)
    assert any("so there is nothing to show" in line for line in plain.lines())


PLANTS = "plants_per_plot: 8"
