"""Ratios of sums where single units may be zero: leave one block out, in plain loops.

theta = log(sum of yield / sum of water) of one side less that of the other; the jackknife
(Quenouille 1956, Biometrika 43:353; Tukey 1958) leaves out one block at a time, of the
blocks that hold both sides: se^2 = (B - 1)/B sum (theta_-b - mean)^2, df B - 1. Without
blocks each side leaves out its own units, the variances add, and df is the smaller side's.
Leans on the standard library.
"""

from collections.abc import Hashable, Sequence
from math import log
from statistics import fmean

from wickstats.second.answers import ContrastAnswer

ENGINE = "leave one out by plain loops"
Unit = tuple[float, float]  # yield, water


def ratio_of_sums(
    yields: Sequence[float],
    water: Sequence[float],
    sides: Sequence[int],
    blocks: Sequence[Hashable] | None = None,
) -> ContrastAnswer:
    """Log ratio of sums of side 1 over side -1 (0: not in the comparison).

    Raises
    ------
    ValueError
        Where a logarithm or a standard error does not exist.
    """
    units = list(zip(yields, water, sides, blocks or [None] * len(sides), strict=True))
    up = [(float(y), float(w), b) for y, w, s, b in units if s > 0]
    down = [(float(y), float(w), b) for y, w, s, b in units if s < 0]
    if blocks is None:
        estimate = _log([u[:2] for u in up]) - _log([u[:2] for u in down])
        variance = _own_variance([u[:2] for u in up]) + _own_variance([u[:2] for u in down])
        return ContrastAnswer(
            estimate, variance**0.5, float(min(len(up), len(down)) - 1), ENGINE
        )
    both = {b for _, _, b in up} & {b for _, _, b in down}
    if len(both) < 2:
        raise ValueError("fewer than two blocks hold both sides")

    def theta(without: Hashable = None) -> float:
        return _log([(y, w) for y, w, b in up if b in both and b != without]) - _log(
            [(y, w) for y, w, b in down if b in both and b != without]
        )

    left = [theta(block) for block in sorted(both, key=str)]
    return ContrastAnswer(theta(), _jackknife(left) ** 0.5, float(len(both) - 1), ENGINE)


def _own_variance(units: Sequence[Unit]) -> float:
    return _jackknife(
        [_log([u for place, u in enumerate(units) if place != k]) for k in range(len(units))]
    )


def _jackknife(left: Sequence[float]) -> float:
    count = len(left)
    center = fmean(left)
    return (count - 1) / count * sum((x - center) ** 2 for x in left)


def _log(units: Sequence[Unit]) -> float:
    top, bottom = sum(y for y, _ in units), sum(w for _, w in units)
    if top <= 0.0 or bottom <= 0.0:
        raise ValueError("a side has no yield (or no water) when one is left out")
    return log(top / bottom)
