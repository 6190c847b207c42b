"""Incidence of causes and ratios of death rates, computed apart."""

import numpy as np
import pytest

from wickstats.models.lifetimes.causes import cumulative_incidence
from wickstats.models.lifetimes.grouped import group_lives
from wickstats.models.lifetimes.hazards import fit_hazards
from wickstats.second.hazards import hazard_contrasts
from wickstats.second.incidence import incidence_at_end

INF = float("inf")


def test_incidence_with_known_days_is_aalen_and_johansens_by_hand() -> None:
    # 6 plants: dead of a on day 1, of b on day 2, lost on 3, dead of a and of b on 4, alive
    # a: 1/6 + S(2) 1/3 = 1/6 + (5/6)(4/5)/3; b: (5/6)/5 + the same (Aalen & Johansen 1978)
    low = [1.0, 2.0, 3.0, 4.0, 4.0, 6.0]
    high = [1.0, 2.0, INF, 4.0, 4.0, INF]
    found = incidence_at_end(low, high, ["a", "b", None, "a", "b", None])
    later = (5 / 6) * (4 / 5) / 3
    assert found["a"] == pytest.approx(1 / 6 + later, abs=1e-10)
    assert found["b"] == pytest.approx(1 / 6 + later, abs=1e-10)


def test_incidence_with_common_visits_counts_the_dead() -> None:
    low, high = [0.0] * 3 + [7.0] * 2 + [14.0] * 5, [7.0] * 3 + [14.0] * 2 + [INF] * 5
    causes = ["drought", "drought", "browsing", "drought", "browsing", *[None] * 5]
    found = incidence_at_end(low, high, causes)
    assert found == pytest.approx({"drought": 0.3, "browsing": 0.2}, abs=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_incidence_agrees_with_the_first_engine_where_intervals_overlap(seed: int) -> None:
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 8, 40).astype(float)
    high = np.where(rng.random(40) < 0.6, low + rng.integers(0, 4, 40), INF)
    code = np.where(np.isfinite(high), rng.integers(0, 2, 40), -1)
    ours = cumulative_incidence(low, high, code, 2)
    finite = np.isfinite(ours.curve.highs)
    theirs = incidence_at_end(
        low.tolist(), high.tolist(), [None if c < 0 else int(c) for c in code]
    )
    for k in range(2):
        assert theirs[k] == pytest.approx(float(ours.mass[k][finite].sum()), abs=2e-8)


def test_too_many_plants_for_plain_iteration_are_refused() -> None:
    with pytest.raises(ValueError, match="2001 plants are too many"):
        incidence_at_end([0.0] * 2001, [1.0] * 2001, ["a"] * 2001)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_hazards_agree_with_the_first_engine(seed: int) -> None:
    rng = np.random.default_rng(seed)
    arms, blocks = np.tile([0, 1, 2], 6), np.repeat(np.arange(6), 3)
    plot = np.repeat(np.arange(18), 7)
    time = rng.exponential(4.0 + 3.0 * arms[plot])
    low = np.floor(time)
    high = np.where(time < 6.0, low + 1.0, INF)
    low = np.where(time < 6.0, low, 6.0)
    lost = rng.random(plot.size) < 0.1
    low, high = np.where(lost, np.minimum(low, 3.0), low), np.where(lost, INF, high)
    data = group_lives(low, high, plot, arms, blocks)
    fit = fit_hazards(data)
    found = hazard_contrasts(
        low.tolist(),
        high.tolist(),
        plot.tolist(),
        arms[plot].tolist(),
        blocks[plot].tolist(),
        [(1, 0), (2, 0), (2, 1)],
    )
    for row, answer in zip([[-1, 1, 0], [-1, 0, 1], [0, -1, 1]], found, strict=True):
        ours = fit.contrast(np.array(row, dtype=float))
        assert answer.estimate == pytest.approx(ours.estimate, rel=1e-6, abs=1e-8)
        assert answer.se == pytest.approx(ours.se, rel=1e-6)
        assert answer.df == pytest.approx(ours.df, rel=1e-6)


def test_a_ratio_of_two_plants_steps_by_hand() -> None:
    # one step, no blocks: log(-log(1 - p)) of each arm's share dead (Prentice & Gloeckler)
    low, high = [0.0] * 40, [1.0] * 10 + [INF] * 10 + [1.0] * 5 + [INF] * 15
    low = [0.0 if h == 1.0 else 1.0 for h in high]
    units = [k // 5 for k in range(40)]
    (found,) = hazard_contrasts(low, high, units, ["a"] * 20 + ["b"] * 20, None, [("b", "a")])
    expected = np.log(-np.log(0.75)) - np.log(-np.log(0.5))
    assert found.estimate == pytest.approx(float(expected), rel=1e-9)


def test_steps_in_which_all_died_tell_nothing_in_both_engines() -> None:
    # the last plants all die in the last step: it must not change the ratio
    rng = np.random.default_rng(4)
    step = rng.integers(0, 4, 48).astype(float)
    unit = np.repeat(np.arange(12), 4)
    arm, block = np.arange(12) % 2, np.arange(12) // 2
    of, where = arm[unit].tolist(), block[unit].tolist()
    ends = np.where(step == 3.0, [[np.inf], [4.0]], step + 1.0)
    found = [
        hazard_contrasts(step.tolist(), high.tolist(), unit.tolist(), of, where, [(1, 0)])[0]
        for high in ends
    ]
    assert (found[0].estimate, found[0].se) == (found[1].estimate, found[1].se)
    first = fit_hazards(group_lives(step, ends[1], unit, arm, block)).contrast([-1.0, 1.0])
    assert (first.estimate, first.se) == pytest.approx(
        (found[1].estimate, found[1].se), rel=1e-6
    )
