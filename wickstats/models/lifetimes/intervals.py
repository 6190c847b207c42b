"""Intervals and bounds for an arm's share alive, from units and not from plants.

Model: x of n plants alive in u units; p~ = (x + 0.5)/(n + 1) on the logit (Haldane 1955;
Anscombe 1956). The half-width is the larger of t(u - 1) times the standard error from
leaving out one unit (Tukey 1958; Efron & Stein 1981),
SE^2 = (u - 1)/u sum (theta_(-j) - mean)^2, and the normal quantile times the binomial one,
1/(x + 0.5) + 1/(n - x + 0.5). An arm in which all live has no such spread: a one-sided
exact limit (Clopper & Pearson 1934) at n_eff = n/(1 + (m - 1) rho) plants (Kish 1965)
stands beside the worst case, in which each unit counts as a single observation.

For a curve x = n S(date), n the plants whose status at the date is known.
Leans on numpy, scipy.special, core.words and models.lifetimes.turnbull.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtri, stdtrit

from wickstats.core.words import say
from wickstats.models.lifetimes.turnbull import interval_curve

Array = NDArray[np.float64]
LEAST_CORRELATION = 0.1
FARTHEST = 700.0  # log odds beyond which a share is 0 to the last digit


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """An arm's share alive with its interval from units.

    ``share`` is x / n; limits are on the logit of (x + 0.5)/(n + 1). ``se`` is on the logit
    scale; ``df`` is None where the binomial part is the wider. ``basis``: "units",
    "binomial", or "none" where ``not_estimable`` says why numbers are missing.
    """

    share: float | None
    low: float | None
    high: float | None
    se: float | None
    df: float | None
    basis: str
    n_units: int
    n_plants: float
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class ShareBound:
    """One-sided bound for an arm where all live (lower) or all die (upper).

    ``limit`` uses n_eff plants, ``by_plots`` is the worst case (each unit one observation).
    """

    side: str  # lower | upper
    limit: float
    by_plots: float
    n_eff: float
    rho: float
    confidence: float


def share_interval(
    alive: ArrayLike, planted: ArrayLike, confidence: float = 0.95
) -> ShareInterval:
    """Interval for an arm's share alive.

    Parameters
    ----------
    alive, planted
        (u,) by unit; units without plants are left out. ``alive`` may be fractional.

    Raises
    ------
    ValueError
        For counts that are negative, not finite, or more alive than planted.
    """
    x, n = _counts(alive, planted)
    if n.size == 0:
        return _no_interval(None, 0, 0.0, "share no plants")
    others = _logit(x.sum() - x, n.sum() - n)
    return _interval(float(x.sum()), float(n.sum()), others, confidence)


def curve_intervals(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    dates: ArrayLike,
    confidence: float = 0.95,
) -> tuple[ShareInterval, ...]:
    """Pointwise intervals of an arm's interval-censored curve, one a date.

    Parameters
    ----------
    lows, highs
        (n,) death of each plant lies in (low, high]; high inf: not seen dead.
    units
        (n,) unit codes of the plants.
    dates
        Shared dates; inside a region of mass deaths are taken as spread evenly.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    at = np.atleast_1d(np.asarray(dates, dtype=float))
    if low.size == 0:
        return tuple(_no_interval(None, 0, 0.0, "share no plants") for _ in at)
    codes, which = np.unique(np.asarray(units), return_inverse=True)
    whole = _alive_and_known(low, high, at)
    keep = [which != j for j in range(codes.size)] if codes.size > 1 else []
    parts = [_alive_and_known(low[k], high[k], at) for k in keep]
    out = []
    for i in range(at.size):
        x, n = float(whole[0][i]), float(whole[1][i])
        if n <= 0.0:
            out.append(_no_interval(None, codes.size, 0.0, "share no plants"))
            continue
        others = _logit(
            np.array([part[0][i] for part in parts]), np.array([part[1][i] for part in parts])
        )
        out.append(_interval(x, n, others, confidence))
    return tuple(out)


def interval_of_shares(
    x: float,
    n: float,
    others_x: Array,
    others_n: Array,
    confidence: float = 0.95,
    *,
    n_units: int = 1,
) -> ShareInterval:
    """The same interval from x of n plants, whole and with each unit left out.

    Parameters
    ----------
    x, n
        Number (may be fractional) of n plants.
    others_x, others_n
        (u,) the same without each unit; empty where there is one unit only.
    """
    if n <= 0.0:
        return _no_interval(None, n_units, 0.0, "share no plants")
    kept = np.clip(others_x, 0.0, others_n)
    return _interval(x, n, _logit(kept, others_n), confidence)


def clopper_pearson(
    alive: float, n: float, confidence: float = 0.95, *, two_sided: bool = True
) -> tuple[float, float]:
    """Exact limits of a share; ``n`` need not be whole (beta function).

    With ``two_sided=False`` each limit alone holds at the confidence.

    Raises
    ------
    ValueError
        When n is not above zero or alive is outside 0 to n.
    """
    if not (n > 0.0 and 0.0 <= alive <= n):
        raise ValueError("the number alive must lie between 0 and n")
    tail = (1.0 - confidence) / (2.0 if two_sided else 1.0)
    low = 0.0 if alive <= 0.0 else float(betaincinv(alive, n - alive + 1.0, tail))
    high = 1.0 if alive >= n else float(betaincinv(alive + 1.0, n - alive, 1.0 - tail))
    return low, high


def plot_correlation(planned: float | None, phi: float | None, m: float) -> float:
    """Correlation rho for the bound: the largest of the plan's, (phi - 1)/(m - 1), 0.1.

    ``phi`` is the dispersion of the shares between units, ``m`` the plants per unit. At
    most 1.
    """
    seen = (phi - 1.0) / (m - 1.0) if phi is not None and m > 1.0 else 0.0
    return min(1.0, max(planned or 0.0, seen, LEAST_CORRELATION))


def share_bound(
    alive: ArrayLike, planted: ArrayLike, rho: float, confidence: float = 0.95
) -> ShareBound:
    """One-sided bound where all or none are alive.

    Plants per unit m is taken as sum m_j^2 / sum m_j where units differ.

    Raises
    ------
    ValueError
        When some but not all are alive (then ``share_interval`` applies), when nothing
        was planted, or rho is outside 0 to 1.
    """
    x, n = _counts(alive, planted)
    total = float(n.sum())
    if n.size == 0 or not 0.0 <= rho <= 1.0:
        raise ValueError("a bound needs plants and a correlation from 0 to 1")
    if not (x == n).all() and x.any():
        raise ValueError("some but not all are alive: this arm has an interval, not a bound")
    m = float(np.sum(n * n)) / total
    n_eff = total / (1.0 + (m - 1.0) * rho)
    alpha = 1.0 - confidence
    all_alive = bool((x == n).all())
    low = clopper_pearson(n_eff, n_eff, confidence, two_sided=False)[0]
    worst = float(alpha ** (1.0 / n.size))
    return ShareBound(
        side="lower" if all_alive else "upper",
        limit=low if all_alive else 1.0 - low,
        by_plots=worst if all_alive else 1.0 - worst,
        n_eff=n_eff,
        rho=rho,
        confidence=confidence,
    )


def difference_bound(share_a: float, limit_a: float, share_b: float, limit_b: float) -> float:
    """Bound of share_a - share_b from one limit of each (Newcombe 1998; Zou & Donner 2008).

    With the lower limit of a and the upper limit of b it is the lower bound, with the
    upper limit of a and the lower of b the upper bound.
    """
    half = float(np.hypot(share_a - limit_a, share_b - limit_b))
    difference = share_a - share_b
    return difference - half if limit_a <= share_a else difference + half


def _counts(alive: ArrayLike, planted: ArrayLike) -> tuple[Array, Array]:
    x, n = np.asarray(alive, dtype=float), np.asarray(planted, dtype=float)
    if x.ndim != 1 or x.shape != n.shape:
        raise ValueError("alive and planted must be lists of the same length, one a unit")
    if not (np.isfinite(x).all() and np.isfinite(n).all()) or (x < 0).any() or (x > n).any():
        raise ValueError("the number alive must lie between 0 and the number planted")
    return x[n > 0.0], n[n > 0.0]


def _logit(x: Array, n: Array) -> Array:
    return np.asarray(np.log(x + 0.5) - np.log(n - x + 0.5))


def _alive_and_known(low: Array, high: Array, dates: Array) -> tuple[Array, Array]:
    known = ((low[:, None] >= dates) | (high[:, None] <= dates)).sum(axis=0).astype(float)
    return interval_curve(low, high).between(dates) * known, known


def _interval(x: float, n: float, others: Array, confidence: float) -> ShareInterval:
    x = min(max(x, 0.0), n)
    if others.size < 2:
        return _no_interval(x / n, 1, n, "share one unit")
    u = others.size
    center = float(np.log(x + 0.5) - np.log(n - x + 0.5))
    by_units = float(np.sqrt((u - 1) / u * np.sum((others - others.mean()) ** 2)))
    binomial = float(np.sqrt(1.0 / (x + 0.5) + 1.0 / (n - x + 0.5)))
    upper = 0.5 * (1.0 + confidence)
    wide = float(stdtrit(u - 1, upper)) * by_units
    narrow = float(ndtri(upper)) * binomial
    half, se = (wide, by_units) if wide >= narrow else (narrow, binomial)
    return ShareInterval(
        share=x / n,
        low=float(1.0 / (1.0 + np.exp(min(half - center, FARTHEST)))),
        high=float(1.0 / (1.0 + np.exp(-half - center))),
        se=se,
        df=float(u - 1) if wide >= narrow else None,
        basis="units" if wide >= narrow else "binomial",
        n_units=u,
        n_plants=n,
    )


def _no_interval(share: float | None, units: int, n: float, key: str) -> ShareInterval:
    return ShareInterval(share, None, None, None, None, "none", units, n, say(key))
