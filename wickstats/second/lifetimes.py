"""Survival curves and the log-rank test by lifelines.

Deaths between visits are put at the middle of (last seen alive, first seen dead]: at
dates on which every plant's state is known this gives the same share as the
interval-censored curve. lifelines takes intervals as closed; to fit (low, high] the low
end is moved up by a small step, and a known day becomes a short interval. Leans on numpy
and lifelines.
"""

import warnings
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.second.answers import TestAnswer

Array = NDArray[np.float64]
ENGINE = "lifelines"
LARGEST = 400
TOLERANCE = 1e-14  # of the log likelihood; shares move by its root
STEP = 1e-4  # of the smallest gap between two ends of intervals


def steps_do_not_overlap(lows: ArrayLike, highs: ArrayLike) -> bool:
    """Whether deaths lie in intervals that are the same or apart, and no loss inside one.

    Kaplan-Meier with deaths anywhere in their interval is then the interval-censored curve
    between the intervals.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    died = np.isfinite(high)
    steps = sorted(set(zip(low[died].tolist(), high[died].tolist(), strict=True)))
    if any(second[0] < first[1] for first, second in pairwise(steps)):
        return False
    lost = low[~died]
    return not any(((lost > a) & (lost < b)).any() for a, b in steps)


def midpoint_shares(lows: ArrayLike, highs: ArrayLike, dates: ArrayLike) -> Array:
    """Kaplan-Meier shares at dates, deaths at the middle of their interval.

    Parameters
    ----------
    lows, highs
        (n,) death in (low, high]; high inf: not seen dead, last seen at low; low = high:
        day known.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    died = np.isfinite(high)
    middle = np.where(died, 0.5 * (low + np.where(died, high, low)), low)
    return known_shares(middle, died, dates)


def known_shares(times: ArrayLike, died: ArrayLike, dates: ArrayLike) -> Array:
    """Kaplan-Meier shares at dates of right-censored lives."""
    from lifelines import KaplanMeierFitter

    fitter = KaplanMeierFitter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of pandas and of the interval, not used here
        fitter.fit(np.asarray(times, dtype=float), np.asarray(died, dtype=bool))
        shares = fitter.survival_function_at_times(np.asarray(dates, dtype=float))
    return np.asarray(shares, dtype=float).reshape(-1)


def interval_shares(lows: ArrayLike, highs: ArrayLike, dates: ArrayLike) -> Array:
    """Shares at dates from lifelines' interval-censored curve; dates outside regions only."""
    from lifelines import KaplanMeierFitter

    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    ends = np.unique(np.concatenate([low, high[np.isfinite(high)]]))
    step = STEP * float(np.diff(ends).min()) if ends.size > 1 else STEP
    fitter = KaplanMeierFitter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitter.fit_interval_censoring(
            np.where(low < high, low + step, low - 0.5 * step), high, tol=TOLERANCE
        )
        table = fitter.survival_function_
        at = np.asarray(dates, dtype=float) + 0.5 * step
        index = np.searchsorted(np.asarray(table.index, dtype=float), at, side="right") - 1
    values = np.asarray(table["NPMLE_estimate_lower"], dtype=float)
    return np.where(index >= 0, values[np.maximum(index, 0)], 1.0)


def textbook_log_rank(times: ArrayLike, died: ArrayLike, groups: ArrayLike) -> TestAnswer:
    """Log-rank test with plants as units."""
    from lifelines.statistics import multivariate_logrank_test

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = multivariate_logrank_test(
            np.asarray(times, dtype=float), np.asarray(groups), np.asarray(died, dtype=bool)
        )
    return TestAnswer(
        float(found.test_statistic),
        float(found.degrees_of_freedom),
        float(found.p_value),
        "lifelines log-rank",
    )
