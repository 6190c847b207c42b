"""Dispersion over each arm's own variance, by explicit matrices.

y = blocking + treatment + e. Two intervals, the wider counts, each with every unit's own
m_u and, where these differ, with their harmonic mean for all:

units   var(e_u) = phi d_u, d_u = v/m_u, v the variance of the arm's plants (shares:
        p(1 - p)); phi = RSS / sum_u M_uu d_u, df = (sum_u M_uu d_u)^2 / sum_uv M_uv^2 d_u d_v,
        M = I - X X^+ (Satterthwaite 1946; Box 1954)
plants  var(e_u) = w/m_u, w the variance of the arm's plants and one of 0 and one of the full
        time (Agresti & Caffo 2000); df Satterthwaite's of plants - 1 by arm; the n plants of
        an arm that shared one fate count as n/(1 + r (n/units - 1)), r the larger of 0.1 and
        (phi - 1)/(mean plants - 1), at most 1

Leans on ``columns``.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.second.answers import ContrastAnswer, wider
from wickstats.second.columns import columns_of

ENGINE = "dispersion by explicit matrices"
LARGEST = 2_000
Point = tuple[float, float]  # a value, and how many plants have it


def scatter_contrast(
    values: Sequence[float],
    variances: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    floor: float | None = 1.0,
    covariate: ArrayLike | None = None,
) -> ContrastAnswer:
    """Contrast whose units have variances phi times ``variances``.

    phi is not taken below ``floor``; without a floor the variances are taken as they are.

    Raises
    ------
    ValueError
        When the contrast cannot be estimated, no error is left, or units are too many.
    """
    y, d = np.asarray(values, dtype=float), np.asarray(variances, dtype=float)
    if y.size > LARGEST:
        raise ValueError(f"{y.size} units are too many for explicit matrices")
    model = columns_of(np.asarray(treatments, dtype=object), blockings, covariate)
    row = model.row(weights)
    if y.size <= model.rank:
        raise ValueError("no degrees of freedom are left for the error")
    inverse = np.linalg.pinv(model.lean)
    use = row @ inverse
    m = np.eye(y.size) - model.lean @ inverse
    residual = m @ y
    trace = float(np.diag(m) @ d)
    square = float(d @ (m * m) @ d)
    phi = 1.0 if floor is None else max(float(residual @ residual) / trace, floor)
    se = float((phi * (use * use) @ d) ** 0.5)
    return ContrastAnswer(float(use @ y), se, trace**2 / square, ENGINE)


def share_contrast(
    alive: Sequence[float],
    plants: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    confidence: float = 0.95,
) -> ContrastAnswer:
    """Contrast of shares alive per unit, each arm with its own binomial variance.

    ``alive`` need not be whole: a plant that nobody found later counts for a part.
    """
    lives: dict[object, list[Point]] = {}
    for a, m, arm in zip(alive, plants, treatments, strict=True):
        lives.setdefault(arm, []).extend([(1.0, a), (0.0, m - a)])
    shares = [a / m for a, m in zip(alive, plants, strict=True)]
    return _wider(shares, plants, lives, 1.0, treatments, weights, blockings, confidence)


def restricted_contrast(
    values: Sequence[float],
    plants: Sequence[float],
    plant_times: Sequence[float],
    plant_treatments: Sequence[object],
    full_time: float,
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    confidence: float = 0.95,
) -> ContrastAnswer:
    """Contrast of restricted means per unit, each arm with its own plants' variance."""
    lives: dict[object, list[Point]] = {}
    for time, arm in zip(plant_times, plant_treatments, strict=True):
        lives.setdefault(arm, []).append((float(time), 1.0))
    return _wider(values, plants, lives, full_time, treatments, weights, blockings, confidence)


def _wider(
    values: Sequence[float],
    plants: Sequence[float],
    lives: Mapping[object, Sequence[Point]],
    full: float,
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike],
    confidence: float,
) -> ContrastAnswer:
    inverse = sum(1.0 / m for m in plants) / len(plants)
    own = {arm: _variance(points) for arm, points in lives.items()}
    first = [own[t] / m for t, m in zip(treatments, plants, strict=True)]
    phi = _phi(values, first, treatments, blockings)
    extra = sum(plants) / len(plants) - 1.0
    alike = min(max(0.1, (phi - 1.0) / extra if extra > 0.0 else 0.0), 1.0)
    guarded: dict[object, float] = {}
    for arm, points in lives.items():
        units = max(sum(t == arm for t in treatments), 1)
        held = [x for x, w in points if w > 1e-12]
        same = max(held) - min(held) <= 1e-12 * full
        share = 1.0 / (1.0 + alike * (_count(points) / units - 1.0)) if same else 1.0
        ends = [(0.0, 1.0), (full, 1.0)]
        guarded[arm] = _variance([*((x, share * w) for x, w in points), *ends]) / share
    answers = []
    for rates in ([1.0 / m for m in plants], [inverse] * len(plants)):
        d = [own[t] * r for t, r in zip(treatments, rates, strict=True)]
        w = [guarded[t] * r for t, r in zip(treatments, rates, strict=True)]
        plain = scatter_contrast(values, w, treatments, weights, blockings, floor=None)
        answers.append(_by_arm(plain, w, lives, treatments, weights, blockings))
        if phi > 0.0:
            answers.append(scatter_contrast(values, d, treatments, weights, blockings, 0.0))
    return wider(answers, confidence)


def _phi(
    values: Sequence[float],
    variances: Sequence[float],
    treatments: Sequence[object],
    blockings: Sequence[ArrayLike],
) -> float:
    """Residual sum of squares over its expectation; 0 where nothing is left to compare."""
    y, d = np.asarray(values, dtype=float), np.asarray(variances, dtype=float)
    model = columns_of(np.asarray(treatments, dtype=object), blockings)
    m = np.eye(y.size) - model.lean @ np.linalg.pinv(model.lean)
    residual, trace = m @ y, float(np.diag(m) @ d)
    if float(np.abs(residual).max()) <= 1e-13 * float(np.abs(y).max()) or trace <= 0.0:
        return 0.0
    return float(residual @ residual) / trace


def _count(points: Sequence[Point]) -> float:
    return sum(w for _, w in points)


def _variance(points: Sequence[Point]) -> float:
    total = _count(points)
    center = sum(w * x for x, w in points) / total
    return sum(w * (x - center) ** 2 for x, w in points) / total


def _by_arm(
    plain: ContrastAnswer,
    variances: Sequence[float],
    lives: Mapping[object, Sequence[Point]],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike],
) -> ContrastAnswer:
    """The same answer with Satterthwaite's df of the arms' own plants."""
    model = columns_of(np.asarray(treatments, dtype=object), blockings)
    use = model.row(weights) @ np.linalg.pinv(model.lean)
    parts: dict[object, float] = {}
    for u, arm in enumerate(treatments):
        parts[arm] = parts.get(arm, 0.0) + float(use[u]) ** 2 * variances[u]
    total = sum(parts.values())
    below = sum(v**2 / max(_count(lives[arm]) - 1.0, 1.0) for arm, v in parts.items())
    return ContrastAnswer(plain.estimate, plain.se, total**2 / below, plain.engine)
