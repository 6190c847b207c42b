"""REML and Kenward-Roger of many seasons against the single-season code, over random gaps.

Both searches end at a Newton decrement of 1e-12 of the components' standard errors, or
where rounding stops them; the numbers agree to 1e-10.
"""

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.batch.draw import draw_plants, unit_means
from wickstats.models.batch.kenward_roger import joint_f, judge_fixed
from wickstats.models.batch.likelihood import evaluate_seasons
from wickstats.models.batch.mixed import (
    MixedLayout,
    judge_mixed,
    lay_mixed,
    least_deviance,
    within_squares,
)
from wickstats.models.linear.contrasts import all_pairs, steps
from wickstats.models.linear.degrees import mixed_contrasts, mixed_test
from wickstats.models.linear.profile import likelihood_rise, profile_components
from wickstats.models.linear.reml import fit_mixed
from wickstats.models.redraw.scheme import generator

SEASONS = 3
CLOSE = {"rel": 1e-10, "abs": 1e-10}


def season(seed: int, blocks: int, arms: int, most: int, sds: tuple[float, float]):
    """Plots with 1 to ``most`` plants, some lost; plants, unit of each, cells, blocks."""
    rng = generator(seed, "second")
    cells, block = np.tile(np.arange(arms), blocks), np.repeat(np.arange(blocks), arms)
    kept = np.ones(cells.size, dtype=bool)
    kept[rng.integers(cells.size)] = arms > 2
    cells, block = cells[kept], block[kept]
    m = rng.integers(1, most + 1, cells.size)
    m[:2] = most
    units = np.repeat(np.arange(cells.size), m)
    y = draw_plants(
        rng, SEASONS, 10.0 + np.zeros(cells.size), units, plant_sd=1.0, unit_sd=sds[1],
        groups=[(block, sds[0])],
    )  # fmt: skip
    return y, units, cells, block, m


def lay(cells, block, m, arms: int) -> MixedLayout:
    return lay_mixed(
        cells, arms, m, blocks=block, contrasts=all_pairs(arms), means=np.eye(arms)
    )


@settings(max_examples=30, deadline=None)
@given(
    st.integers(0, 10**6),
    st.integers(3, 5),
    st.integers(2, 4),
    st.sampled_from([1, 3, 6]),
    st.sampled_from([(0.5, 0.5), (0.0, 0.0), (1.0, 0.1), (0.1, 1.0)]),
)
def test_the_numbers_of_single_seasons(seed, blocks, arms, most, sds) -> None:
    y, units, cells, block, m = season(seed, blocks, arms, most, sds)
    n = cells.size
    layout = lay(cells, block, m, arms)
    many = judge_mixed(layout, unit_means(y, units, n), within_squares(y, units, n))
    groups = {"block": block[units]}
    if most > 1:
        groups["plot"] = units
    for s in range(SEASONS):
        fit = fit_mixed(y[s], np.eye(arms)[cells[units]], groups)
        held = dict(zip(fit.names, fit.components, strict=True))
        expected = [held.get(name, 0.0) for name in ("block", "plot", "residual")]
        assert many.components[s] == pytest.approx(expected, **CLOSE)
        asked = [
            (many.contrasts, all_pairs(arms)),
            (many.means, np.eye(arms)),
        ]
        for answers, rows in asked:
            for k, one in enumerate(mixed_contrasts(fit, rows)):
                assert answers.judged[s, k] == (one.p is not None)
                for name in ("se", "df", "low", "high", "p") if one.p is not None else ():
                    found = getattr(answers, name)[s, k]
                    assert found == pytest.approx(getattr(one, name), **CLOSE), name
        p = mixed_test(fit, steps(arms)).p
        expected_p = np.nan if p is None else p
        assert many.p_all[s] == pytest.approx(expected_p, nan_ok=True, **CLOSE)


def test_deviances_differ_as_those_of_single_seasons() -> None:
    fits, found = [], []
    for seed in (1, 2):
        y, units, cells, block, m = season(7, 4, 3, 5, (0.5, 0.5))
        y = y + seed * cells[units]  # arms do not matter to the deviance
        mean, w = unit_means(y, units, cells.size), within_squares(y, units, cells.size)
        found.append(judge_mixed(lay(cells, block, m, 3), mean, w).deviance)
        fits.append(
            [
                fit_mixed(
                    one, np.eye(3)[cells[units]], {"block": block[units], "plot": units}
                ).objective
                for one in y
            ]
        )
    assert np.diff(found, axis=0) == pytest.approx(np.diff(fits, axis=0), abs=1e-8)
    one, other = np.array(found[0]), np.array(fits[0])
    assert np.ptp(one - other) < 1e-8  # the same but for a constant of the layout


def test_the_profile_interval_ends_where_the_deviance_has_risen() -> None:
    y, units, cells, block, m = season(11, 5, 3, 6, (1.0, 0.8))
    layout = lay(cells, block, m, 3)
    mean, w = unit_means(y, units, cells.size), within_squares(y, units, cells.size)
    best = judge_mixed(layout, mean, w)
    fit = fit_mixed(y[0], np.eye(3)[cells[units]], {"block": block[units], "plot": units})
    chi_square = 3.841458820694124  # its 95 % point at 1 df
    for interval in profile_components(fit, method="profile"):
        for end in (interval.low, interval.high):
            if end:
                held, _ = least_deviance(layout, mean, w, {interval.term: end})
                assert held[0] - best.deviance[0] == pytest.approx(chi_square, abs=1e-6)


@pytest.mark.parametrize("sds", [(1.0, 0.8), (0.0, 1.2)])
def test_the_small_sample_interval_ends_where_blocks_as_fixed_say(sds) -> None:
    y, units, cells, block, m = season(11, 5, 3, 6, sds)
    layout = lay(cells, block, m, 3)
    mean, w = unit_means(y, units, cells.size), within_squares(y, units, cells.size)
    fit = fit_mixed(y[0], np.eye(3)[cells[units]], {"block": block[units], "plot": units})
    plot = profile_components(fit)[1]
    rise = likelihood_rise(cells.size - 5.0 - 3.0 + 1.0, 0.95)
    best, at_best = least_deviance(layout, mean, w, {"block": inf})
    ends = [end for end in (plot.low, plot.high) if end and end != plot.estimate]
    assert len(ends) >= 1
    for end in ends:
        held, _ = least_deviance(layout, mean, w, {"block": inf, "plot": end})
        assert held[0] - best[0] == pytest.approx(rise, abs=1e-4)
    assert plot.low <= at_best[0, 1] <= plot.high


def test_derivatives_are_those_of_the_objective() -> None:
    y, units, cells, block, m = season(5, 4, 3, 4, (0.5, 0.5))
    layout = lay(cells, block, m, 3)
    mean, w = unit_means(y, units, cells.size), within_squares(y, units, cells.size)
    unit = np.ascontiguousarray(mean[:, layout.order].T)
    theta = np.array([[0.3], [0.2], [0.9]]).repeat(SEASONS, axis=1)
    at = evaluate_seasons(layout.plots, unit, w, theta)
    step = 1e-5
    for k in range(3):
        up, down = theta.copy(), theta.copy()
        up[k] += step
        down[k] -= step
        high = evaluate_seasons(layout.plots, unit, w, up)
        low = evaluate_seasons(layout.plots, unit, w, down)
        slope = (high.objective - low.objective) / (2 * step)
        assert at.gradient[k] == pytest.approx(slope, rel=1e-6, abs=1e-6)
        curve = (high.gradient - low.gradient) / (2 * step)
        np.testing.assert_allclose(at.observed[k], curve, rtol=1e-6, atol=1e-5)


def test_seasons_without_scatter_are_fitted_alone_and_not_judged() -> None:
    layout = lay_mixed([0, 1] * 3, 2, [2] * 6, blocks=[0, 0, 1, 1, 2, 2], contrasts=[[1, -1]])
    y = np.array([[1.0] * 6, [1.0, 2.0, 1.5, 2.1, 0.7, 2.6]])
    many = judge_mixed(layout, y, [0.0, 1.0])
    assert many.alone.tolist() == [True, False]
    assert many.contrasts.judged.ravel().tolist() == [False, True]
    assert np.isnan(many.components[0]).all()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"plants": [1] * 6, "blocks": [0, 1, 2, 3, 4, 5]}, "cannot tell"),
        ({"plants": [2] * 5}, "plants must be"),
        ({"n_cells": 3, "contrasts": [[1, -1, 0]]}, "every cell needs a unit"),
    ],
)
def test_layouts_that_do_not_fit_are_refused(more, words: str) -> None:
    given_ = {"n_cells": 2, "plants": [2] * 6, "contrasts": [[1, -1]], **more}
    with pytest.raises(ValueError, match=words):
        lay_mixed([0, 1] * 3, **given_)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([(0.5, 0.5), (0.0, 0.0), (1.0, 0.1)]))
def test_at_the_same_components_all_numbers_agree_to_1e_10(seed, sds) -> None:
    y, units, cells, block, m = season(seed, 4, 3, 5, sds)
    n = cells.size
    layout = lay(cells, block, m, 3)
    mean, w = unit_means(y, units, n), within_squares(y, units, n)
    fits = [
        fit_mixed(one, np.eye(3)[cells[units]], {"block": block[units], "plot": units})
        for one in y
    ]
    theta = np.array([fit.components for fit in fits]).T
    unit = np.ascontiguousarray(mean[:, layout.order].T)
    at = evaluate_seasons(layout.plots, unit, w, theta)
    ones, none = np.ones(SEASONS), np.zeros((SEASONS, 3))
    answers = judge_fixed(at, layout.active, layout.contrasts, ones, none, 0.95)
    p_all = joint_f(at, layout.active, layout.together, none)
    for s, fit in enumerate(fits):
        for k, one in enumerate(mixed_contrasts(fit, all_pairs(3))):
            if one.p is None:
                continue
            for name in ("estimate", "se", "df", "low", "high", "p"):
                found = getattr(answers, name)[s, k]
                assert found == pytest.approx(getattr(one, name), rel=1e-10, abs=1e-10)
        p = mixed_test(fit, steps(3)).p
        if p is not None:
            assert p_all[s] == pytest.approx(p, rel=1e-10, abs=1e-10)
    shift = at.objective - np.array([fit.objective for fit in fits])
    assert np.ptp(shift) < 1e-9  # a constant of the layout
