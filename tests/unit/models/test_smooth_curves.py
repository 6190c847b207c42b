"""Weibull and log-logistic curves: lifelines, derivatives by hand, no maximum."""

import warnings

import numpy as np
import pytest

from wickstats.models.lifetimes.smooth import LOG_LOGISTIC, SHAPES, WEIBULL, fit_smooth

INF = np.inf


def lives(seed: int, n: int = 60):
    rng = np.random.default_rng(seed)
    time = 40.0 * rng.weibull(1.4, n)
    step = rng.choice([5.0, 8.0], n)
    low = np.floor(time / step) * step
    high = np.where(low < 50.0, low + step, INF)
    return np.minimum(low, 50.0), high


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", [1, 2])
def test_the_fit_is_that_of_lifelines(shape: str, seed: int) -> None:
    from lifelines import LogLogisticFitter, WeibullFitter

    low, high = lives(seed)
    found = fit_smooth(low, high, shape)
    assert found is not None
    fitter = WeibullFitter() if shape == WEIBULL else LogLogisticFitter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitter.fit_interval_censoring(low, high)
    theirs = fitter.survival_function_at_times([5.0, 20.0, 45.0]).to_numpy()
    np.testing.assert_allclose(found.share([5.0, 20.0, 45.0]), theirs, atol=2e-5)
    # never below: theirs stops a little earlier
    assert found.log_likelihood >= fitter.log_likelihood_ - 1e-9
    assert found.log_likelihood == pytest.approx(fitter.log_likelihood_, abs=1e-5)


@pytest.mark.parametrize("shape", SHAPES)
def test_no_small_step_raises_the_likelihood(shape: str) -> None:
    low, high = lives(3)
    low = np.where(np.arange(60) % 5 == 0, np.minimum(low + 1.0, high), low)
    high = np.where((np.arange(60) % 5 == 0) & np.isfinite(high), low, high)
    found = fit_smooth(low, high, shape)
    assert found is not None

    def value(scale: float, power: float) -> float:
        def share(t):
            with np.errstate(divide="ignore"):
                u = (t / scale) ** power
            return np.exp(-u) if shape == WEIBULL else 1.0 / (1.0 + u)

        known = low == high
        t = low[known]
        u = (t / scale) ** power
        density = power / t * u * (np.exp(-u) if shape == WEIBULL else (1.0 + u) ** -2)
        between = share(low[~known]) - np.where(np.isinf(high[~known]), 0, share(high[~known]))
        return float(np.log(density).sum() + np.log(between).sum())

    best = value(found.scale, found.power)
    assert found.log_likelihood == pytest.approx(best, rel=1e-12)
    for by in (1.0 + 1e-3, 1.0 - 1e-3):
        assert value(found.scale * by, found.power) < best
        assert value(found.scale, found.power * by) < best


@pytest.mark.parametrize("shape", SHAPES)
def test_units_of_time_change_the_scale_only(shape: str) -> None:
    low, high = lives(4)
    one, other = fit_smooth(low, high, shape), fit_smooth(low * 1e6, high * 1e6, shape)
    assert one is not None
    assert other is not None
    assert (other.scale / 1e6, other.power) == pytest.approx((one.scale, one.power), rel=1e-7)


def test_weights_stand_for_repeated_lives() -> None:
    low, high = lives(5)
    twice = fit_smooth(np.tile(low, 2), np.tile(high, 2), WEIBULL)
    weighted = fit_smooth(low, high, WEIBULL, np.full(low.size, 2.0))
    assert twice is not None
    assert weighted is not None
    assert weighted.scale == pytest.approx(twice.scale, rel=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    ("low", "high"),
    [
        ([0, 5, 5], [5, INF, INF]),  # one interval, all others beyond it
        ([3, 3, 4], [4, 4, INF]),
        ([1, 2], [INF, INF]),  # nobody died
        ([0, 0], [4, 4]),  # all from the left at one visit
    ],
)
def test_without_a_maximum_there_is_no_curve(shape: str, low: list, high: list) -> None:
    assert fit_smooth(low, high, shape) is None


@pytest.mark.parametrize(
    ("low", "high", "shape", "words"),
    [
        ([0.0], [0.0], WEIBULL, "ends at 0"),
        ([-1.0], [2.0], WEIBULL, "below 0"),
        ([3.0], [2.0], LOG_LOGISTIC, "before it begins"),
        ([1.0, 2.0], [3.0], WEIBULL, "a life"),
        ([1.0], [3.0], "bathtub", "no such shape"),
    ],
)
def test_bad_lives_are_refused(low: list, high: list, shape: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit_smooth(low, high, shape)


@pytest.mark.parametrize("shape", SHAPES)
def test_lives_that_all_end_from_the_left_have_no_curve(shape: str) -> None:
    """The likelihood of deaths in (0, high] alone grows towards its bound 1 for ever."""
    assert fit_smooth(np.zeros(9), np.full(9, 14.0), shape) is None
    assert fit_smooth(np.zeros(9), np.linspace(7.0, 28.0, 9), shape) is None
