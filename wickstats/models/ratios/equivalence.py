"""Equivalence within stated bounds, and the claim that arms got equal water.

Two one-sided tests (Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657): equivalent at
alpha when the 1 - 2 alpha interval lies inside the bounds; p is the larger of the two.
Equal water is judged on the log scale at a 90 % interval: one arm's delivered/planned on
its own units, two arms by differences within blocks (else Welch). The half-width is what
this trial could attain: where it exceeds log(ratio), no result could have shown equality.
Leans on the linear estimates and the paired rule.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, stdtr

from wickstats.core.words import say
from wickstats.models.linear.estimates import NORMAL_DF, Estimate
from wickstats.models.linear.paired import paired_contrast, welch_contrast
from wickstats.models.linear.strata import finite_values

EQUAL_WATER_CONFIDENCE = 0.90


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Two one-sided tests of an estimate against its bounds."""

    t_low: float
    t_high: float
    p: float


@dataclass(frozen=True, slots=True)
class EqualWater:
    """A claim of equal water, as ratios.

    ``ratio, low, high`` are the 90 % interval's; ``attainable`` is the factor
    exp(half-width); ``equal`` is None where it cannot be judged.
    """

    ratio: float | None
    low: float | None
    high: float | None
    df: float | None
    p: float | None
    bound: float
    attainable: float | None
    equal: bool | None
    basis: str
    not_estimable: str | None


def equivalence_test(
    estimate: float, se: float, df: float, low: float, high: float
) -> Equivalence:
    """Test whether the true value lies inside (low, high).

    Raises
    ------
    ValueError
        Where the bounds do not surround anything, or se or df is not above zero.
    """
    if not low < high or not se > 0 or not df > 0:
        raise ValueError("low must be below high, and se and df above zero")
    t_low, t_high = (estimate - low) / se, (estimate - high) / se
    if df > NORMAL_DF:
        p = max(float(ndtr(-t_low)), float(ndtr(t_high)))
    else:
        p = max(float(stdtr(df, -t_low)), float(stdtr(df, t_high)))
    return Equivalence(t_low, t_high, p)


def equivalence_within(
    estimate: float, se: float, df: float, bound: float, *, hidden: float = 0.0
) -> float:
    """P of equivalence within -bound to bound, less what a shared error can hide."""
    room = bound - hidden
    return equivalence_test(estimate, se, df, -room, room).p if room > 0.0 else 1.0


def equal_water_one_arm(
    liters: ArrayLike, planned: ArrayLike, *, ratio: float, calibration: float = 0.0
) -> EqualWater:
    """One arm's delivered water against the planned, on its own units (n,).

    ``ratio`` above 1 is the bound, e.g. 1.10. ``calibration`` is the largest shared error,
    on the log scale: it widens the interval once and moves both tests inward.
    """
    got, plan = finite_values(liters), finite_values(planned)
    if got.shape != plan.shape:
        raise ValueError("one planned number of liters a unit is needed")
    if (got <= 0).any() or (plan <= 0).any():
        return _unjudged(ratio, say("equal water no liters"))
    if got.size < 2:
        single = float(got[0] / plan[0]) if got.size else None
        return _unjudged(ratio, say("equal water few units"), single)
    logs = np.log(got / plan)
    found = welch_contrast(logs, np.zeros(logs.size), [1.0], confidence=EQUAL_WATER_CONFIDENCE)
    return _judge(found, ratio, calibration)


def equal_water_two_arms(
    liters: ArrayLike,
    cells: ArrayLike,
    weights: ArrayLike,
    *,
    ratio: float,
    blocks: ArrayLike | None = None,
    calibration: float = 0.0,
) -> EqualWater:
    """Two arms' water (a contrast of arms) against each other."""
    got = finite_values(liters)
    codes = np.asarray(cells, dtype=np.int64)
    given = np.asarray(weights, dtype=float)
    used = given[codes] != 0.0
    if (got[used] <= 0).any():
        return _unjudged(ratio, say("equal water no liters"))
    found = paired_contrast(
        np.log(got[used]),
        codes[used],
        given,
        blocks=None if blocks is None else np.asarray(blocks)[used],
        confidence=EQUAL_WATER_CONFIDENCE,
    )
    return _judge(found, ratio, calibration)


def _judge(found: Estimate, ratio: float, calibration: float) -> EqualWater:
    center = found.estimate
    if center is None or found.se is None or found.df is None:
        reason = found.not_estimable or ""
        if reason == say("linear no scatter"):
            reason = say("equal water no scatter")
        return _unjudged(ratio, reason, None if center is None else float(np.exp(center)))
    bound = _log_bound(ratio)
    low, high = (found.low or 0.0) - calibration, (found.high or 0.0) + calibration
    return EqualWater(
        ratio=float(np.exp(center)),
        low=float(np.exp(low)),
        high=float(np.exp(high)),
        df=found.df,
        p=equivalence_within(center, found.se, found.df, bound, hidden=calibration),
        bound=ratio,
        attainable=float(np.exp(0.5 * (high - low))),
        equal=bool(low >= -bound and high <= bound),
        basis=found.basis,
        not_estimable=None,
    )


def _unjudged(ratio: float, reason: str, value: float | None = None) -> EqualWater:
    _log_bound(ratio)
    return EqualWater(value, None, None, None, None, ratio, None, None, "none", reason)


def _log_bound(ratio: float) -> float:
    if not ratio > 1.0:
        raise ValueError("the ratio that counts as equal must be above 1")
    return float(np.log(ratio))
