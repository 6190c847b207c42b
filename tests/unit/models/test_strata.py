"""One stratum: against statsmodels on ragged data, guards, reasons in words."""

import numpy as np
import pytest

from wickstats.core.words import say
from wickstats.models.linear.contrasts import (
    against_reference,
    all_pairs,
    level_contrast,
    mean_weights,
    term_rows,
)
from wickstats.models.linear.error_strata import (
    ErrorStrataFit,
    ErrorStratum,
    fit_error_strata,
)
from wickstats.models.linear.geometry import lay_units
from wickstats.models.linear.multiplicity import adjust, holm
from wickstats.models.linear.strata import BY_PLANTS, EQUAL, fit_units


@pytest.mark.parametrize("seed", range(8))
def test_ragged_trials_against_statsmodels(seed: int) -> None:
    import statsmodels.api as sm

    rng = np.random.default_rng(seed)
    arms, blocks = int(rng.integers(2, 6)), int(rng.integers(3, 6))
    cell, block = (part.ravel() for part in np.indices((arms, blocks)))
    times = rng.integers(1, 3, cell.size)
    times[rng.integers(1, cell.size)] = 0
    cell, block = np.repeat(cell, times), np.repeat(block, times)
    start = rng.normal(size=cell.size)
    values = rng.normal(50, 5, cell.size) + 3 * start + cell
    ours = fit_units(values, cell, arms, blocks=block, covariate=start)
    x = np.column_stack([np.eye(arms)[cell], np.eye(blocks)[block][:, 1:], start])
    theirs = sm.OLS(values, x).fit()
    assert ours.residual_df == theirs.df_resid
    assert ours.residual_ss == pytest.approx(theirs.ssr, rel=1e-10)
    rows = against_reference(arms, 0)
    padded = np.hstack([rows, np.zeros((arms - 1, blocks))])
    f = theirs.f_test(padded)
    test = ours.test(rows)
    assert test.f == pytest.approx(float(f.fvalue), rel=1e-9)
    assert test.p == pytest.approx(float(f.pvalue), rel=1e-8)
    for weights, full in zip(rows, padded, strict=True):
        t = theirs.t_test(full)
        found = ours.contrast(weights)
        assert found.estimate == pytest.approx(t.effect[0], rel=1e-9)
        assert found.se == pytest.approx(t.sd[0][0], rel=1e-10)
        assert (found.low, found.high) == pytest.approx(tuple(t.conf_int()[0]), rel=1e-9)
        assert found.p == pytest.approx(float(t.pvalue), rel=1e-8)


def test_factorial_terms_against_statsmodels() -> None:
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    rng = np.random.default_rng(5)
    a, b, block = (part.ravel() for part in np.indices((2, 3, 4)))
    values = rng.normal(size=a.size) + a + 0.3 * b
    keep = np.ones(a.size, dtype=bool)
    keep[[3, 17]] = False
    frame = pd.DataFrame({"y": values, "a": a, "b": b, "g": block})[keep]
    model = ols("y ~ C(a, Sum) * C(b, Sum) + C(g)", frame).fit()
    table = anova_lm(model, typ=3)
    fit = fit_units(values[keep], (a * 3 + b)[keep], 6, blocks=block[keep])
    for factors, name in (
        ((0,), "C(a, Sum)"),
        ((1,), "C(b, Sum)"),
        ((0, 1), "C(a, Sum):C(b, Sum)"),
    ):
        test = fit.test(term_rows((2, 3), factors))
        assert test.df_num == table.loc[name, "df"]
        assert test.sum_of_squares == pytest.approx(table.loc[name, "sum_sq"], rel=1e-9)
        assert test.f == pytest.approx(table.loc[name, "F"], rel=1e-9)


def test_guard_is_silent_when_plants_are_equal() -> None:
    values = np.random.default_rng(1).normal(size=12)
    cells, blocks = (part.ravel() for part in np.indices((3, 4)))
    plain = fit_units(values, cells, 3, blocks=blocks)
    same = fit_units(values, cells, 3, blocks=blocks, plants=np.full(12, 6))
    assert plain.contrast([1, -1, 0]) == same.contrast([1, -1, 0])
    assert len(same.scales) == 1


def test_guard_widens_for_arms_that_lost_their_plants() -> None:
    rng = np.random.default_rng(2)
    cells, blocks = (part.ravel() for part in np.indices((4, 4)))
    plants = np.where(cells < 2, 1.0, 9.0)
    values = rng.normal(size=16) / np.sqrt(plants)
    plain = fit_units(values, cells, 4, blocks=blocks).contrast([1, -1, 0, 0])
    poor = fit_units(values, cells, 4, blocks=blocks, plants=plants)
    found = poor.contrast([1, -1, 0, 0])
    assert found.basis == BY_PLANTS
    assert found.se is not None
    assert plain.se is not None
    assert found.se > plain.se
    # complete blocks: df = (b - 1)(sum C_ii v_i)^2 / sum C_ij^2 v_i v_j, C = I - J/t
    v = 1.0 / np.array([1.0, 1.0, 9.0, 9.0])
    c = np.eye(4) - 0.25
    df = 3 * (np.diag(c) @ v) ** 2 / float(v @ (c * c) @ v)
    assert found.df == pytest.approx(df, rel=1e-10)
    # the two full arms keep the design's df and standard error
    assert poor.contrast([0, 0, 1, -1]).basis == EQUAL


def test_guard_for_a_test_takes_the_larger_p() -> None:
    rng = np.random.default_rng(3)
    cells, blocks = (part.ravel() for part in np.indices((4, 4)))
    plants = np.where(cells < 2, 1.0, 9.0)
    values = rng.normal(size=16) / np.sqrt(plants)
    rows = term_rows((4,), (0,))
    plain = fit_units(values, cells, 4, blocks=blocks).test(rows)
    guarded = fit_units(values, cells, 4, blocks=blocks, plants=plants).test(rows)
    assert plain.p is not None
    assert guarded.p is not None
    assert guarded.p >= plain.p
    single = fit_units(values, cells, 4, blocks=blocks, plants=plants)
    one = single.test([[1, -1, 0, 0]])
    contrast = single.contrast([1, -1, 0, 0])
    assert one.p == pytest.approx(contrast.p, rel=1e-9)


def test_two_halves_in_two_blocks_are_as_good_as_one_whole() -> None:
    # a unit that spans two blocks belongs to each by share
    shares = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [0.5, 0.5], [0.5, 0.5]])
    cells = np.array([0, 1, 0, 1, 0, 1])
    values = np.array([1.0, 3.0, 2.0, 5.0, 4.0, 4.5])
    fit = fit_units(values, cells, 2, blocks=shares)
    x = np.column_stack([np.eye(2)[cells], shares[:, 1]])
    beta, rss, *_ = np.linalg.lstsq(x, values, rcond=None)
    assert fit.residual_df == 3
    assert fit.residual_ss == pytest.approx(float(rss[0]), rel=1e-10)
    assert fit.contrast([1, -1]).estimate == pytest.approx(beta[0] - beta[1], rel=1e-10)


def test_blocks_that_share_no_treatment_are_said_in_words() -> None:
    # blocks 0, 1 hold arms 0, 1; blocks 2, 3 hold arms 2, 3
    cells = np.array([0, 1, 0, 1, 2, 3, 2, 3])
    blocks = np.array([0, 0, 1, 1, 2, 2, 3, 3])
    fit = fit_units(np.arange(8.0) ** 2, cells, 4, blocks=blocks)
    inside = fit.contrast([1, -1, 0, 0])
    across = fit.contrast([1, 0, -1, 0])
    assert inside.not_estimable is None
    assert across.estimate is None
    assert across.not_estimable == say("linear not connected")
    assert fit.mean([1, 0, 0, 0]).not_estimable == say("linear not connected")
    assert fit.test(term_rows((4,), (0,))).not_estimable == say("linear not connected")


def test_an_arm_without_units_is_said_in_words() -> None:
    fit = fit_units([1.0, 2.0, 4.0, 3.0], [0, 1, 0, 1], 3, blocks=[0, 0, 1, 1])
    assert fit.contrast([1, 0, -1]).not_estimable == say("linear no unit")
    assert fit.contrast([1, -1, 0]).estimate == pytest.approx(0.0, abs=1e-12)


def test_without_df_there_are_estimates_only() -> None:
    fit = fit_units([1.0, 4.0], [0, 1], 2)
    found = fit.contrast([-1, 1])
    assert found.estimate == pytest.approx(3.0)
    assert (found.se, found.p, found.low) == (None, None, None)
    assert found.not_estimable == say("linear no df")
    assert fit.test([[-1, 1]]).not_estimable == say("linear no df")
    assert fit.mean([1, 0]).not_estimable == say("linear no df")


@pytest.mark.parametrize("level", [0.0, 0.1, 1e12 / 3])
def test_constant_responses_are_said_in_words(level: float) -> None:
    cells, blocks = (part.ravel() for part in np.indices((3, 4)))
    fit = fit_units(np.full(12, level), cells, 3, blocks=blocks)
    found = fit.contrast([1, -1, 0])
    assert found.estimate == pytest.approx(0.0, abs=1e-6 * max(level, 1))
    assert found.p is None
    assert found.not_estimable == say("linear no scatter")
    assert not fit.residuals.any()


def test_no_units_at_all() -> None:
    fit = fit_units([], [], 2)
    assert fit.contrast([1, -1]).not_estimable == say("linear no unit")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"values": [1.0, np.nan, 2.0, 3.0]}, "a unit value is not a finite number"),
        ({"values": [1.0, 2.0]}, "2 values for 4 units"),
        ({"cells": [0, 1, 0, 2]}, "a cell code is out of range"),
        ({"blocks": [0, 0, 1]}, "expected 4 block codes, found 3"),
        (
            {"blocks": [[1, 0], [1, 0], [0, 1], [0, 0.5]]},
            "a unit's block shares must sum to one",
        ),
        ({"plants": [1, 2, 0, 3]}, "plants must be one number above zero a unit"),
        ({"covariate": [1, 2, np.inf, 3]}, "the covariate must be one finite number a unit"),
        ({"confidence": 95.0}, "confidence must lie between 0 and 1"),
    ],
)
def test_bad_input_is_named(change: dict[str, object], message: str) -> None:
    given: dict[str, object] = {"values": [1.0, 2.0, 3.0, 5.0], "cells": [0, 1, 0, 1]}
    given.update(change)
    values, cells = given.pop("values"), given.pop("cells")
    with pytest.raises(ValueError, match=f"^{message}$"):
        fit_units(values, cells, 2, **given)  # type: ignore[arg-type]


def test_weights_that_are_no_contrast_are_refused() -> None:
    fit = fit_units([1.0, 2.0, 3.0, 5.0], [0, 1, 0, 1], 2)
    with pytest.raises(ValueError, match=r"^the weights of a contrast must sum to zero$"):
        fit.contrast([1, 1])
    with pytest.raises(ValueError, match=r"^the weights of a mean must sum to one$"):
        fit.mean([1, 1])
    with pytest.raises(ValueError, match=r"^expected 2 weights"):
        fit.contrast([1, -1, 0])


def test_contrast_builders() -> None:
    assert mean_weights((2, 3), {1: 2}).tolist() == [0, 0, 0.5, 0, 0, 0.5]
    inside = level_contrast((2, 3), 0, [-1, 1], {1: 0})
    assert inside.tolist() == [-1, 0, 0, 1, 0, 0]
    over = level_contrast((2, 3), 0, [-1, 1])
    assert over == pytest.approx([-1 / 3] * 3 + [1 / 3] * 3)
    assert against_reference(3, 1).tolist() == [[1, -1, 0], [0, -1, 1]]
    assert all_pairs(3).tolist() == [[-1, 1, 0], [-1, 0, 1], [0, -1, 1]]
    interaction = term_rows((2, 3), (0, 1))
    assert interaction.shape == (2, 6)
    # an interaction contrast sums to zero along both factors
    cube = interaction.reshape(2, 2, 3)
    assert np.abs(cube.sum(axis=1)).max() == 0
    assert np.abs(cube.sum(axis=2)).max() == 0


def fit_split_plot(values, whole, sub, plots, *, n_whole, n_sub, blocks=None):
    """Whole plots in blocks (or completely randomized), subplots inside."""
    outer = () if blocks is None else (blocks,)
    strata = [
        ErrorStratum("whole plot", np.asarray(plots), (0,), outer),
        ErrorStratum("subplot", np.arange(len(values)), (0, 1), (np.asarray(plots),)),
    ]
    cells = np.asarray(whole) * n_sub + np.asarray(sub)
    return fit_error_strata(values, cells, (n_whole, n_sub), strata)


def test_split_plot_with_a_whole_plot_lost_stays_exact() -> None:
    # both strata are least squares of their own: whole-plot means with blocks, and unit
    # values with whole plots as blocks
    rng = np.random.default_rng(4)
    whole, sub, block = (part.ravel() for part in np.indices((3, 2, 4)))
    plot = whole * 4 + block
    keep = plot != 5
    values = rng.normal(size=whole.size)
    fit = fit_split_plot(
        values[keep], whole[keep], sub[keep], plot[keep],
        n_whole=3, n_sub=2, blocks=block[keep],
    )  # fmt: skip
    assert isinstance(fit, ErrorStrataFit)
    assert fit.fits[0].residual_df == 11 - 6
    assert fit.fits[1].residual_df == 11 - 3
    means = (values[sub == 0] + values[sub == 1]) / 2
    left = keep[sub == 0]
    whole_only = fit_units(means[left], whole[sub == 0][left], 3, blocks=block[sub == 0][left])
    expected = whole_only.contrast([1, -1, 0])
    found = fit.contrast(level_contrast((3, 2), 0, [1, -1, 0]))
    assert found.estimate == pytest.approx(expected.estimate)
    assert (found.se, found.df) == pytest.approx((expected.se, expected.df))


def test_split_plot_with_a_gap_inside_is_refused_in_words() -> None:
    whole, sub, block = (part.ravel() for part in np.indices((2, 2, 3)))
    keep = np.arange(12) != 7
    values = np.arange(12.0)
    made = fit_split_plot(
        values[keep], whole[keep], sub[keep], (whole * 3 + block)[keep],
        n_whole=2, n_sub=2, blocks=block[keep],
    )  # fmt: skip
    assert made == say("linear split-plot gaps")
    crossed = fit_split_plot(values, whole, sub, sub * 3 + block, n_whole=2, n_sub=2)
    assert crossed == say("linear split-plot nesting")


def test_holm_steps_down() -> None:
    # by hand (Holm 1979): 4 x .005, 3 x .01, 2 x .03, max(.06, .04)
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])


def test_families_with_parts_missing_and_unequal_df() -> None:
    cells, blocks = (part.ravel() for part in np.indices((4, 3)))
    keep = cells != 3
    values = np.random.default_rng(6).normal(size=12)
    fit = fit_units(values[keep], cells[keep], 4, blocks=blocks[keep])
    weights = against_reference(4, 0)
    estimates = [fit.contrast(w) for w in weights]
    assert estimates[2].estimate is None
    family = adjust(estimates, "dunnett", covariance=fit.covariance(weights[:2]))
    assert family.size == 2
    assert family.p[2] is None
    assert family.low[2] is None
    with pytest.raises(ValueError, match="needs the contrasts' covariance"):
        adjust(estimates, "dunnett")
    by_holm = adjust(estimates, "holm")
    assert by_holm.low == (None, None, None)


def test_one_geometry_serves_many_responses() -> None:
    cells, blocks = (part.ravel() for part in np.indices((3, 4)))
    layout = lay_units(cells, 3, blocks=blocks)
    rng = np.random.default_rng(8)
    for _ in range(3):
        values = rng.normal(size=12)
        once = fit_units(values, cells, 3, geometry=layout).contrast([1, -1, 0])
        assert once == fit_units(values, cells, 3, blocks=blocks).contrast([1, -1, 0])
