"""Log-rank scores by unit: the variance that single plants give, and the larger p."""

from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from wickstats.models.lifetimes.scores import (
    aligned_scores,
    plant_scores,
    unit_score_variances,
    unit_scores,
)
from wickstats.models.linear.scores import OF_PLANTS, fit_scores, fit_scores_twice
from wickstats.models.linear.strata import EQUAL, fit_units

DAYS = np.array([3.0, 5.0, 5.0, 9.0, 2.0, 6.0, 8.0, 9.0, 1.0, 4.0, 9.0, 9.0])
DIED = np.array([1, 1, 1, 0, 1, 1, 1, 0, 1, 1, 0, 0], dtype=bool)
UNITS = np.repeat(np.arange(6), 2)
BLOCKS = np.repeat([0, 1, 2], 4)
ARMS, UNIT_BLOCKS = np.tile([0, 1], 3), np.repeat([0, 1, 2], 2)
SCORES = plant_scores(DAYS, np.where(DIED, DAYS, np.inf), BLOCKS)


def test_aligned_scores_are_those_of_one_curve_less_the_mean_of_their_block() -> None:
    # six plants: one dies on day 1, one on day 2, one on day 3; hazards 1/6, 1/5, 1/3
    low = [1.0, 2.0, 2.5, 3.0, 9.0, 9.0]
    high = [1.0, 2.0, np.inf, 3.0, np.inf, np.inf]
    total = np.cumsum([1 / 6, 1 / 5, 1 / 3])
    ends = [1 - total[0], 1 - total[1], -total[1], 1 - total[2], -total[2], -total[2]]
    common = np.array(ends)
    np.testing.assert_allclose(plant_scores(low, high), common, rtol=1e-9)
    np.testing.assert_allclose(aligned_scores(low, high, None), common, rtol=1e-9)
    found = aligned_scores(low, high, [0, 0, 0, 1, 1, 1])
    np.testing.assert_allclose(found[:3], common[:3] - common[:3].mean(), rtol=1e-9)
    np.testing.assert_allclose(found[3:], common[3:] - common[3:].mean(), rtol=1e-9)


def test_a_block_in_which_all_fared_alike_tells_nothing() -> None:
    low = [3.1, 3.1, 3.1, 1.7, 9.0, 9.0]
    high = [3.1, 3.1, 3.1, 1.7, np.inf, np.inf]
    found = aligned_scores(low, high, ["a", "a", "a", "b", "b", "b"])
    assert found[:3].tolist() == [0.0, 0.0, 0.0]
    assert unit_score_variances(found, [0, 0, 1, 2, 2, 3], 4, [0, 0, 0, 1, 1, 1])[:2].sum() == 0


def test_the_larger_p_of_both_scores_counts() -> None:
    def of(scores: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return unit_scores(scores, UNITS, 6), unit_score_variances(scores, UNITS, 6, BLOCKS)

    def p_of(first: np.ndarray, second: np.ndarray) -> float | None:
        plants = np.full(6, 2.0)
        fit = fit_scores_twice(
            of(first), of(second), ARMS, 2, plants=plants, blocks=UNIT_BLOCKS
        )
        return fit.test([[1, -1]]).p

    aligned = aligned_scores(DAYS, np.where(DIED, DAYS, np.inf), BLOCKS)
    apart = (p_of(SCORES, SCORES), p_of(aligned, aligned))
    assert apart[0] != apart[1]
    assert p_of(SCORES, aligned) == p_of(aligned, SCORES) == max(p for p in apart if p)


def test_the_plants_variance_is_that_of_all_permutations() -> None:
    # every order of a block's plants is equally likely where arms do not differ
    found = unit_score_variances(SCORES, UNITS, 6, BLOCKS)
    for block in range(3):
        mine = SCORES[block == BLOCKS]
        sums = [sum(order[:2]) - sum(order[2:]) for order in permutations(mine)]
        of_units = found[block == UNIT_BLOCKS]
        assert of_units.sum() == pytest.approx(np.mean(np.square(sums)))


def test_the_larger_p_counts() -> None:
    values = unit_scores(SCORES, UNITS, 6)
    d = unit_score_variances(SCORES, UNITS, 6, BLOCKS)
    fit = fit_scores(
        values, ARMS, 2, plants=np.full(6, 2.0), plant_variance=d, blocks=UNIT_BLOCKS
    )
    plain = fit_units(values, ARMS, 2, blocks=UNIT_BLOCKS).test([[1, -1]])
    difference = values[ARMS == 0].mean() - values[ARMS == 1].mean()
    by_plants = stats.f.sf(difference**2 / (d.sum() / 9), 1, 6)
    found = fit.test([[1, -1]])
    assert plain.p is not None
    assert found.p == pytest.approx(max(plain.p, by_plants))
    assert [scale.basis for scale in fit.scales] == [OF_PLANTS, EQUAL]


def test_units_that_agree_leave_the_plants_test() -> None:
    values = np.array([1.5, -1.5] * 3)
    fit = fit_scores(
        values,
        ARMS,
        2,
        plants=np.full(6, 2.0),
        plant_variance=np.full(6, 1.8),
        blocks=UNIT_BLOCKS,
    )
    found = fit.test([[1, -1]])
    assert found.basis == OF_PLANTS
    assert found.p == pytest.approx(stats.f.sf(9 / 1.2, 1, 6))


def test_single_plants_as_units_need_no_second_test() -> None:
    values = plant_scores(DAYS, np.where(DIED, DAYS, np.inf))
    arms = np.tile([0, 1], 6)
    fit = fit_scores(values, arms, 2, plants=np.ones(12), plant_variance=np.ones(12))
    assert [scale.basis for scale in fit.scales] == [EQUAL]


def test_a_unit_without_plants_is_refused() -> None:
    with pytest.raises(ValueError, match="plants above zero"):
        fit_scores([1.0, -1.0], [0, 1], 2, plants=[0, 2], plant_variance=[1.0, 1.0])
