"""Closed-form power for shares and for deaths of independent plants (approximate).

Plants that share a plot are not independent: multiply numbers by ``design_effect`` and
check by simulation. Sources: normal approximation for two proportions (Fleiss 1981,
without continuity correction); Schoenfeld (1981) and Freedman (1982) for the log-rank
test; Kish (1965) for the design effect.

Where the widest of two intervals counts, one of which hardly varies, the estimate shows when
it leaves behind both: |E| > max(L, t(df) k s), E normal about the difference, df s^2
chi-square(df). Leans on ``power``, numpy and scipy.
"""

import math
from typing import Literal

import numpy as np
from scipy import special
from scipy.optimize import brentq

from wickstats.models.power import averaged, t_critical


def _quantiles(power: float, alpha: float) -> tuple[float, float]:
    if not 0.0 < alpha < power < 1.0:
        raise ValueError(f"expected 0 < alpha < power < 1, found {alpha!r} and {power!r}")
    return float(special.ndtri(1.0 - alpha / 2.0)), float(special.ndtri(power))


def _spreads(first: float, second: float) -> tuple[float, float]:
    if not (0.0 <= first <= 1.0 and 0.0 <= second <= 1.0) or first == second:
        raise ValueError("two different shares between 0 and 1 are needed")
    mean = (first + second) / 2.0
    return (
        math.sqrt(2.0 * mean * (1.0 - mean)),
        math.sqrt(first * (1.0 - first) + second * (1.0 - second)),
    )


def proportions_power(first: float, second: float, n: float, *, alpha: float = 0.05) -> float:
    """Power to tell two shares apart with n independent plants in each arm."""
    null, alternative = _spreads(first, second)
    z = float(special.ndtri(1.0 - alpha / 2.0))
    reach = math.sqrt(n) * abs(first - second) - z * null
    if alternative == 0.0:
        return 1.0 if reach > 0 else 0.0
    return float(special.ndtr(reach / alternative))


def proportions_sample_size(
    first: float, second: float, *, power: float = 0.8, alpha: float = 0.05
) -> float:
    """Independent plants in each arm, not rounded."""
    null, alternative = _spreads(first, second)
    z, y = _quantiles(power, alpha)
    return ((z * null + y * alternative) / (first - second)) ** 2


def logrank_events(
    hazard_ratio: float,
    *,
    power: float = 0.8,
    alpha: float = 0.05,
    rule: Literal["schoenfeld", "freedman"] = "schoenfeld",
) -> float:
    """Deaths of both arms together that a log-rank test of two equal arms needs."""
    if not 0.0 < hazard_ratio < math.inf or hazard_ratio == 1.0:
        raise ValueError(f"a hazard ratio above 0 and not 1, found {hazard_ratio!r}")
    total = sum(_quantiles(power, alpha)) ** 2
    if rule == "schoenfeld":
        return 4.0 * total / math.log(hazard_ratio) ** 2
    return float(total * ((1.0 + hazard_ratio) / (1.0 - hazard_ratio)) ** 2)


def logrank_power(hazard_ratio: float, events: float, *, alpha: float = 0.05) -> float:
    """Power with that many deaths in two equal arms (Schoenfeld 1981)."""
    if hazard_ratio <= 0.0 or events < 0.0:
        raise ValueError("a hazard ratio above 0 and a number of deaths are needed")
    reach = math.sqrt(events) * abs(math.log(hazard_ratio)) / 2.0
    return float(special.ndtr(reach - special.ndtri(1.0 - alpha / 2.0)))


def design_effect(plants_per_plot: float, plot_correlation: float) -> float:
    """Factor by which plants in plots must be more: 1 + (m - 1) rho."""
    return 1.0 + (plants_per_plot - 1.0) * plot_correlation


def widest_power(
    difference: float,
    se: float,
    df: float,
    *,
    alpha: float = 0.05,
    spread: float | None = None,
    least: float = 0.0,
    two_sided: bool = True,
) -> float:
    """Power where an interval is at least ``least`` to each side.

    Parameters
    ----------
    difference, se
        True value of the contrast, and the true standard error of its estimate.
    df, alpha
        Of the interval from the scatter between units.
    spread
        Root mean square of that interval's own standard error; ``se`` where it has no bias.
    least
        Half-width of the interval that hardly varies.
    two_sided
        Whether differences below zero are shown too; ``alpha`` is that of both sides anyhow.

    Raises
    ------
    ValueError
        For a standard error or df that are not positive, or alpha outside (0, 1).
    """
    if not (0.0 < se < math.inf and least >= 0.0):
        raise ValueError("a standard error above 0 and a half-width are needed")
    t = t_critical(df, alpha=alpha) * (se if spread is None else spread)

    def shown(s: np.ndarray) -> np.ndarray:
        half = np.maximum(least, t * s)
        upper, lower = (difference - half) / se, (-difference - half) / se
        found = special.ndtr(upper) + (special.ndtr(lower) if two_sided else 0.0)
        return np.asarray(found)

    return min(1.0, averaged(shown, df))


def widest_detectable(
    se: float,
    df: float,
    *,
    power: float = 0.8,
    alpha: float = 0.05,
    spread: float | None = None,
    least: float = 0.0,
) -> float:
    """Smallest difference that is shown with that power (arguments as ``widest_power``)."""

    def missing(difference: float) -> float:
        found = widest_power(difference, se, df, alpha=alpha, spread=spread, least=least)
        return found - power

    high = 4.0 * se + least
    while missing(high) < 0.0:
        high *= 2.0
    return float(brentq(missing, 0.0, high, xtol=1e-12 * high, rtol=1e-12))
