"""Grouped hazards: statsmodels, CR2 by dense textbook matrices, arms without deaths."""

import numpy as np
import pytest
from scipy import linalg, optimize, stats

from wickstats.core.words import say
from wickstats.models.lifetimes.grouped import HazardData, group_lives
from wickstats.models.lifetimes.hazards import (
    CR2,
    PENALIZED,
    HazardFit,
    cluster_variance,
    fit_hazards,
)

INF = np.inf
BLOCKS, ARMS = (part.ravel() for part in np.indices((5, 3)))


def lives(seed: int, *, spare: int | None = None) -> tuple[np.ndarray, ...]:
    """Six plants a unit, five visits; the arm ``spare`` loses none."""
    rng = np.random.default_rng(seed)
    units = np.repeat(np.arange(15), 6)
    scale = np.array([4.0, 6.0, 9.0])[ARMS] * np.exp(0.5 * rng.standard_normal(15))
    time = rng.exponential(scale[units])
    if spare is not None:
        time[ARMS[units] == spare] = 99.0
    low = np.minimum(np.floor(time), 5.0)
    return low, np.where(low < 5.0, low + 1.0, INF), units


def fitted(data: HazardData | str) -> HazardFit:
    assert not isinstance(data, str)
    fit = fit_hazards(data)
    assert not isinstance(fit, str)
    return fit


def test_deaths_and_risk_by_unit_and_step() -> None:
    # unit 0: deaths in (0, 1] and (1, 3], one seen alive at 3; unit 1: (1, 3], lost at 1
    data = group_lives([0, 1, 3, 1, 1], [1, 3, INF, 3, INF], [0, 0, 0, 1, 1], [0, 1])
    assert isinstance(data, HazardData)
    # the visit at 1 splits nobody's interval; the steps are (0, 1] and (1, 3]
    assert data.deaths.tolist() == [1, 1, 0, 1]
    assert data.at_risk.tolist() == [3, 2, 2, 1]
    assert data.units.tolist() == [0, 0, 1, 1]
    # a death in (0, 3] stands on both sides of the visit at 1, and joins the steps
    joined = group_lives([0, 1, 3, 0, 1], [1, 3, INF, 3, INF], [0, 0, 0, 1, 1], [0, 1])
    assert isinstance(joined, HazardData)
    assert joined.deaths.tolist() == [2, 1]
    assert joined.at_risk.tolist() == [3, 1]


def test_the_fit_is_the_generalized_linear_model() -> None:
    import statsmodels.api as sm

    data = group_lives(*lives(1), ARMS, BLOCKS)
    fit = fitted(data)
    held = fit.data
    family = sm.families.Binomial(sm.families.links.CLogLog())
    counts = np.column_stack([held.deaths, held.at_risk - held.deaths])
    theirs = sm.GLM(counts, held.design, family=family).fit(tol=1e-14, maxiter=100)
    np.testing.assert_allclose(fit.coefficients, theirs.params, rtol=1e-8, atol=1e-9)
    found = fit.contrast([0, 1, -1])
    expected = theirs.params[held.first] - theirs.params[held.first + 1]
    assert found.estimate == pytest.approx(expected, rel=1e-8)
    # statsmodels' covariance is Fisher's information turned round
    row = np.zeros(held.design.shape[1])
    row[held.first], row[held.first + 1] = 1.0, -1.0
    plain = np.sqrt(row @ theirs.cov_params() @ row)
    assert fit.plain_se([0, 1, -1]) == pytest.approx(plain, rel=1e-7)


def by_hand(data: HazardData, beta: np.ndarray, row: np.ndarray) -> tuple[float, float]:
    """Bell & McCaffrey (2002) with dense matrices and scipy's matrix functions."""
    eta = data.design @ beta
    p = 1.0 - np.exp(-np.exp(eta))
    slope = np.exp(eta) * (1.0 - p)  # dp/d eta
    variance = data.at_risk * p * (1.0 - p)
    weights = (data.at_risk * slope) ** 2 / variance
    e = (data.deaths - data.at_risk * p) / np.sqrt(variance)
    x = np.sqrt(weights)[:, None] * data.design
    hat = x @ np.linalg.inv(x.T @ x) @ x.T
    annihilator = np.eye(len(x)) - hat
    whole = row @ np.linalg.inv(x.T @ x) @ x.T
    total, vectors = 0.0, []
    for unit in np.unique(data.units):
        choose = np.diag((data.units == unit).astype(float))
        here = data.units == unit
        root = linalg.inv(linalg.sqrtm(annihilator[np.ix_(here, here)]))
        a = np.zeros(len(x))
        a[here] = np.real(root) @ whole[here]
        total += float(a @ choose @ e) ** 2
        vectors.append(annihilator @ a)
    # (sum l)^2 / sum l^2 of the quadratic form in independent normal errors
    form = np.array(vectors) @ np.array(vectors).T
    values = np.linalg.eigvalsh(form)
    return total, float(values.sum() ** 2 / (values**2).sum())


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_cr2_and_its_df_against_dense_matrices(seed: int) -> None:
    fit = fitted(group_lives(*lives(seed), ARMS, BLOCKS))
    row = np.zeros(fit.coefficients.size)
    row[fit.data.first] = 1.0
    variance, df = by_hand(fit.data, fit.coefficients, row)
    assert cluster_variance(fit.data, fit.coefficients, row) == pytest.approx(
        (variance, df), rel=1e-8
    )
    found = fit.contrast([-1, 1, 0])
    assert found.basis == CR2
    assert (found.se, found.df) == pytest.approx((np.sqrt(variance), df), rel=1e-8)
    assert found.p == pytest.approx(
        2 * stats.t.sf(abs(fit.coefficients[fit.data.first]) / np.sqrt(variance), df)
    )


def test_clusters_of_one_row_are_hc2_with_bell_and_mccaffrey_df() -> None:
    # one step, no blocks, one plant a unit: leverage 1/n in each arm
    died = np.array([1, 0, 1, 1, 0, 0, 1, 0], dtype=bool)
    fit = fitted(
        group_lives(
            np.zeros(8) + ~died, np.where(died, 1.0, INF), np.arange(8), [0] * 4 + [1] * 4
        )
    )
    # log(-log(1 - p)) of each arm; HC2 of a mean is s^2/n: p(1 - p)/(n - 1) on this scale
    p = np.array([3, 1]) / 4
    slope = -np.log(1 - p) * (1 - p)
    found = fit.contrast([-1, 1])
    assert found.estimate == pytest.approx(float(np.diff(np.log(-np.log(1 - p)))[0]))
    assert found.se == pytest.approx(float(np.sqrt(np.sum(p * (1 - p) / 3 / slope**2))))


def penalized(data: HazardData) -> np.ndarray:
    """The maximum of l + log|X'WX|/2 by a general optimizer."""

    def loss(beta: np.ndarray) -> float:
        u = np.exp(np.clip(data.design @ beta, -30, 5))
        log_die = np.log(-np.expm1(-u))
        weight = data.at_risk * u**2 * np.exp(-u) / -np.expm1(-u)
        value = data.deaths @ log_die - (data.at_risk - data.deaths) @ u
        inner = data.design.T @ (weight[:, None] * data.design)
        return -float(value + 0.5 * np.linalg.slogdet(inner)[1])

    start = np.full(data.design.shape[1], -0.5)
    found = optimize.minimize(loss, start, method="BFGS", options={"gtol": 1e-7})
    return np.asarray(found.x)


def test_an_arm_without_deaths_gets_a_finite_ratio_and_no_p() -> None:
    fit = fitted(group_lives(*lives(4, spare=2), ARMS, BLOCKS))
    found = fit.contrast([1, 0, -1])
    expected = penalized(fit.data)
    np.testing.assert_allclose(fit.coefficients, expected, atol=1e-4)
    assert (found.basis, found.p, found.se, found.df) == (PENALIZED, None, None, None)
    assert found.estimate is not None
    assert found.low is not None
    assert 0.0 < found.low < found.estimate
    # the other arms are compared as if it were not there
    other = fit.contrast([1, -1, 0])
    keep = ARMS < 2
    low, high, units = lives(4, spare=2)
    mine = keep[units]
    code = np.cumsum(keep) - 1
    alone = fitted(
        group_lives(low[mine], high[mine], code[units[mine]], ARMS[keep], BLOCKS[keep])
    )
    again = alone.contrast([1, -1])
    assert (other.estimate, other.se, other.df) == pytest.approx(
        (again.estimate, again.se, again.df), rel=1e-7
    )


def test_an_arm_that_died_at_once_gets_a_finite_ratio_and_no_p() -> None:
    low, high, units = lives(6)
    gone = ARMS[units] == 0
    low, high = np.where(gone, 0.0, low), np.where(gone, 1.0, high)
    found = fitted(group_lives(low, high, units, ARMS, BLOCKS)).contrast([1, -1, 0])
    assert (found.basis, found.p) == (PENALIZED, None)
    assert found.estimate is not None
    assert found.low is not None
    assert 0.0 < found.low < found.estimate < 10.0


def test_steps_and_blocks_without_deaths_tell_nothing() -> None:
    low, high, units = lives(5)
    quiet = BLOCKS[units] == 2
    low, high = np.where(quiet, 5.0, low), np.where(quiet, INF, high)
    found = fitted(group_lives(low, high, units, ARMS, BLOCKS)).contrast([1, -1, 0])
    keep = ~quiet
    alone = fitted(group_lives(low[keep], high[keep], units[keep], ARMS, BLOCKS))
    assert found == alone.contrast([1, -1, 0])


def test_steps_and_blocks_in_which_all_died_tell_nothing() -> None:
    # the last plants all die in a step of their own; a block dies in the first step
    low, high, units = lives(5)
    last = high == INF
    low, high = np.where(last, 5.0, low), np.where(last, 6.0, high)
    quick = BLOCKS[units] == 2
    low, high = np.where(quick, 0.0, low), np.where(quick, 1.0, high)
    fit = fitted(group_lives(low, high, units, ARMS, BLOCKS))
    assert not fit.penalized
    keep = ~quick
    until = np.where(last, INF, high)
    alone = fitted(group_lives(low[keep], until[keep], units[keep], ARMS, BLOCKS))
    assert fit.contrast([1, -1, 0]) == alone.contrast([1, -1, 0])


def test_nothing_to_compare_is_said_in_words() -> None:
    assert group_lives([5, 5], [INF, INF], [0, 1], [0, 1]) == say("hazards no deaths")
    assert group_lives([0, 0], [1, INF], [0, 0], [0, 1]) == say("hazards one arm")
    assert group_lives([0, 0], [1, 1], [0, 1], [0, 1]) == say("hazards all alike")
    with pytest.raises(ValueError, match="one arm and block a unit"):
        group_lives([0, 0], [1, 1], [0, 1], [0, 1], [0])
    fit = fitted(group_lives(*lives(1), ARMS, BLOCKS))
    assert fit.contrast([1, 0, 0, -1]).not_estimable == say("linear no unit")
    with pytest.raises(ValueError, match="sum to zero"):
        fit.contrast([1, 0, 0])
