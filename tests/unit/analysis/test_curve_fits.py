"""Who was seen alive when, and when a smooth curve is drawn."""

import numpy as np

from wickstats.analysis.curve_fits import _fit, smooth_curve, stays_inside
from wickstats.analysis.curves import _at_risk
from wickstats.core.words import say
from wickstats.models.lifetimes.smooth import SmoothCurve
from wickstats.pages.figures.survival import seen_at

INF = np.inf
UNITS = np.repeat([0, 1], 3)


def test_counts_are_of_plants_seen_alive_then_or_later() -> None:
    # alive to 60; not visited at 60 and dead at 90; dead at 60; two alive to 90;
    # not found from 60 on
    low = np.array([60.0, 30, 30, 90, 30, 90])
    high = np.array([INF, 90, 60, INF, INF, INF])
    fit = _fit("arm", low, high, UNITS, 0.95)
    assert (fit.plants, fit.deaths) == (6, 2)
    told = {day: seen_at(fit, day) for day in (0, 30, 31, 60, 61, 90, 91)}
    # on day 60 the plant that was not visited and the one not found are not counted as seen
    assert told == {0: 6, 30: 6, 31: 3, 60: 3, 61: 2, 90: 2, 91: 0}
    assert [_at_risk(low, day, first=False) for day in (30.0, 60.0, 90.0)] == [6, 3, 2]
    assert _at_risk(low, 0.0, first=True) == 6


def test_counts_never_rise_and_start_with_all() -> None:
    rng = np.random.default_rng(1)
    low = rng.integers(0, 9, 40).astype(float)
    fit = _fit("arm", low, np.where(rng.random(40) < 0.5, low + 2, INF), np.arange(40), 0.95)
    counts = [seen_at(fit, day) for day in np.arange(0, 12, 0.5)]
    assert counts[0] == 40
    assert counts == sorted(counts, reverse=True)
    assert 0.0 <= fit.kuhn_tucker <= 1e-9


def many(time: np.ndarray, step: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    low = np.minimum(np.floor(time / step) * step, end)
    return low, np.where(low < end, low + step, INF)


def test_a_good_fit_is_drawn_from_one_downwards() -> None:
    rng = np.random.default_rng(2)
    low, high = many(60.0 * rng.weibull(1.5, 48), 10.0, 100.0)
    fit = _fit("arm", low, high, np.repeat(np.arange(6), 8), 0.95)
    assert fit.drawn
    assert fit.smooth_note is None
    assert (fit.smooth_days[0], fit.smooth_shares[0]) == (0.0, 1.0)
    assert (np.diff(fit.smooth_shares) <= 0.0).all()
    assert fit.smooth_log_likelihood < fit.log_likelihood


def test_a_bad_fit_is_not_drawn_and_said() -> None:
    # deaths in two bursts far apart, and none between: no smooth curve of two numbers bends so
    time = np.concatenate([np.tile([1.0, 2.0, 3.0], 20), np.tile([97.0, 98.0, 99.0], 20)])
    low, high = many(time + 0.5, 1.0, 120.0)
    units = np.tile(np.arange(12), 10)
    found = smooth_curve(low, high)
    assert isinstance(found, SmoothCurve)
    assert not stays_inside(found, low, high, units, 0.95)
    fit = _fit("arm", low, high, units, 0.95)
    assert not fit.drawn
    assert (fit.smooth_days, fit.smooth_shares) == ((), ())
    assert fit.smooth_note == say("smooth outside", shape=found.shape)


def test_too_few_deaths_or_dates_give_no_curve_in_words() -> None:
    few = say("smooth few deaths", deaths=5, intervals=3)
    low, high = np.full(12, 50.0), np.full(12, INF)
    assert smooth_curve(low, high) == few
    low[:4], high[:4] = [10, 20, 30, 40], [20, 30, 40, 50]
    assert smooth_curve(low, high) == few
    low[:6], high[:6] = [10, 10, 10, 20, 20, 20], [20, 20, 20, 30, 30, 30]
    assert smooth_curve(low, high) == few
    low[:6], high[:6] = [0, 0, 10, 10, 20, 20], [0, 0, 20, 20, 30, 30]
    assert smooth_curve(low, high) == say("smooth first day")
