"""Restricted survival times and shares alive of single plants, by hand.

A death in (low, high] is spread evenly over it, and the mean of min(T, horizon) is taken.
In arms where plants were lost before the horizon: pseudo-values n A - (n - 1) A_-i
(Andersen, Hansen & Klein 2004, Lifetime Data Analysis 10:335-350), A the area under the
product-limit curve (Kaplan & Meier 1958), made anew for each plant left out. Leans on the
standard library.
"""

from bisect import bisect_left
from collections.abc import Hashable, Sequence
from math import isinf

LARGEST = 500


def plant_times(
    lows: Sequence[float],
    highs: Sequence[float],
    treatments: Sequence[Hashable],
    horizon: float,
) -> list[float]:
    """Restricted time (or pseudo-value) of every plant.

    Raises
    ------
    ValueError
        Where an arm with lost plants is too large for plain loops.
    """
    lived = [_mean_time(a, b, horizon) for a, b in zip(lows, highs, strict=True)]
    lost = [isinf(b) and a < horizon for a, b in zip(lows, highs, strict=True)]
    out = list(lived)
    for arm in dict.fromkeys(treatments):
        mine = [k for k, t in enumerate(treatments) if t == arm]
        if not any(lost[k] for k in mine) or len(mine) < 2:
            continue
        if len(mine) > LARGEST:
            raise ValueError(f"{len(mine)} plants are too many for plain loops")
        lives = [(lived[k], not lost[k] and lived[k] < horizon) for k in mine]
        whole = area(lives, horizon)
        for place, k in enumerate(mine):
            rest = area(lives[:place] + lives[place + 1 :], horizon)
            out[k] = len(mine) * whole - (len(mine) - 1) * rest
    return out


def plant_shares(
    lows: Sequence[float],
    highs: Sequence[float],
    treatments: Sequence[Hashable],
    date: float,
) -> list[float]:
    """What every plant counts in the share alive at ``date``: 0, 1 or a pseudo-value.

    In arms where some were followed for less: n S - (n - 1) S_-i, S the product-limit curve
    at the date (Andersen, Klein & Rosthoj 2003, Biometrika 90:15).

    Raises
    ------
    ValueError
        Where such an arm is too large for plain loops.
    """
    died = [b <= date for b in highs]
    when = [0.5 * (a + b) if d else a for a, b, d in zip(lows, highs, died, strict=True)]
    short = [not d and a < date for a, d in zip(lows, died, strict=True)]
    out = [0.0 if d else 1.0 for d in died]
    for arm in dict.fromkeys(treatments):
        mine = [k for k, t in enumerate(treatments) if t == arm]
        if not any(short[k] for k in mine) or len(mine) < 2:
            continue
        if len(mine) > LARGEST:
            raise ValueError(f"{len(mine)} plants are too many for plain loops")
        lives = [(when[k], died[k]) for k in mine]
        whole = product_limit(lives)
        for place, k in enumerate(mine):
            rest = product_limit(lives[:place] + lives[place + 1 :])
            out[k] = len(mine) * whole - (len(mine) - 1) * rest
    return out


def product_limit(lives: Sequence[tuple[float, bool]]) -> float:
    """The curve after the last death among (time, died)."""
    share = 1.0
    for moment in sorted({time for time, died in lives if died}):
        at_risk = sum(time >= moment for time, _ in lives)
        share *= 1.0 - sum(died and time == moment for time, died in lives) / at_risk
    return share


def area(lives: Sequence[tuple[float, bool]], horizon: float) -> float:
    """Area to the horizon under the product-limit curve of (time, died)."""
    deaths: dict[float, int] = {}
    for time, died in lives:
        if died:
            deaths[time] = deaths.get(time, 0) + 1
    times = sorted(time for time, _ in lives)
    total, share, before = 0.0, 1.0, 0.0
    for time in sorted(deaths):
        if time >= horizon:
            break
        total += share * (time - before)
        at_risk = len(times) - bisect_left(times, time)
        share *= 1.0 - deaths[time] / at_risk
        before = time
    return total + share * (horizon - before)


def _mean_time(low: float, high: float, horizon: float) -> float:
    if isinf(high) or high <= low:
        return min(low, horizon)
    if low >= horizon:
        return horizon
    if high <= horizon:
        return 0.5 * (low + high)
    inside = (horizon - low) / (high - low)
    return inside * 0.5 * (low + horizon) + (1.0 - inside) * horizon
