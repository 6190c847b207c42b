"""The smallest difference that would show, and blocks needed, by simulated seasons.

For shares and counts, whose closed forms are approximate: seasons are simulated at a few true
differences about the closed form's answer, and the chance is read between them, probit
against the difference (a straight line where errors are normal); blocks are read off the
curve, probit against the root of their number. Leans on ``moved``; scipy.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt

from scipy.special import ndtri

from wickstats.design.trial import Trial
from wickstats.sizing.moved import Place, room_of, smallest_shown

AROUND = (0.85, 1.0, 1.2)
BEYOND = 1.25  # read no further past the differences that were simulated
LEAST_BLOCKS = 2


def differences(place: Place, target: float) -> tuple[tuple[float, Trial], ...]:
    """Signed differences about the smallest one, each with the trial that assumes it."""
    start = smallest_shown(place, target)
    sign = place.signs[0] if start is None else (1.0 if start > 0.0 else -1.0)
    most = None if place.what.ratio else room_of(place, sign)
    if start is None and not most:
        return ()
    middle = abs(start) if start is not None else 0.9 * (most or 0.0)
    sizes = sorted({min(f * middle, most or f * middle) for f in AROUND})
    found = ((sign * size, place.trial_at(sign * size)) for size in sizes)
    return tuple((size, trial) for size, trial in found if trial is not None)


def smallest_between(
    points: Sequence[tuple[float, float]], target: float, most: float | None
) -> float | None:
    """Size at which the chance is ``target``: (size, chance), sizes increasing.

    None where it lies past ``most``, or too far from what was simulated.
    """
    found = _crossing([(size, _probit(chance)) for size, chance in points], target)
    if found is None or not points:
        return None
    near = points[0][0] / BEYOND <= found <= points[-1][0] * BEYOND
    return found if near and (most is None or found <= most) else None


def blocks_between(points: Sequence[tuple[int, float]], target: float) -> int | None:
    """Fewest blocks with a chance of ``target``: (blocks, chance), blocks increasing."""
    if points and points[0][1] >= target:
        return points[0][0] if points[0][0] <= LEAST_BLOCKS else None
    for (few, low), (many, high) in pairwise(points):
        if low < target <= high:
            ends = [(sqrt(few), _probit(low)), (sqrt(many), _probit(high))]
            root = _crossing(ends, target)
            return None if root is None else int(-(-(root**2 - 1e-9) // 1))
    return None


def _crossing(points: list[tuple[float, float]], target: float) -> float | None:
    """Where lines through (x, probit) reach the target; the outer ones go on."""
    if len(points) < 2:
        return None
    aim = float(ndtri(target))
    pairs = list(pairwise(points))
    one, two = next((p for p in pairs if p[1][1] >= aim), pairs[-1])
    if two[1] <= one[1]:
        return None
    return one[0] + (aim - one[1]) / (two[1] - one[1]) * (two[0] - one[0])


def _probit(chance: float) -> float:
    return float(ndtri(min(max(chance, 1e-6), 1.0 - 1e-6)))
