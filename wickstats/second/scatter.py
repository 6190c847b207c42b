"""One dispersion over known unit variances, by explicit matrices.

y = blocking + treatment + e, var(e_u) = phi d_u: phi = RSS / sum_u M_uu d_u, not below the
floor; df = (sum_u M_uu d_u)^2 / sum_uv M_uv^2 d_u d_v; M = I - X X^+ (Satterthwaite 1946;
Box 1954). Shares: d_u = p(1 - p)/m_u with p = (x + 0.5)/(n + 1) of the arm; restricted
means: the variance of the arm's plants with half a plant of 0 and half of the full time,
over m_u; where plants per unit differ also with their harmonic mean for all, and the wider
interval counts. Leans on ``columns``.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.second.answers import ContrastAnswer, wider
from wickstats.second.columns import columns_of

ENGINE = "dispersion by explicit matrices"
LARGEST = 2_000


def scatter_contrast(
    values: Sequence[float],
    variances: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    floor: float = 1.0,
    covariate: ArrayLike | None = None,
) -> ContrastAnswer:
    """Contrast whose units have variances phi times ``variances``.

    ``floor`` 1 for variances known from plants, 0 where only their ratios are known.

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
    phi = max(float(residual @ residual) / trace, floor)
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
    """Contrast of shares alive per unit, each arm with its own binomial variance."""
    smooth: dict[object, float] = {}
    for arm in dict.fromkeys(treatments):
        x = sum(a for a, t in zip(alive, treatments, strict=True) if t == arm)
        n = sum(m for m, t in zip(plants, treatments, strict=True) if t == arm)
        p = (x + 0.5) / (n + 1.0)
        smooth[arm] = p * (1.0 - p)
    shares = [a / m for a, m in zip(alive, plants, strict=True)]
    return _wider(shares, plants, smooth, treatments, weights, blockings, confidence)


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
    own: dict[object, float] = {}
    for arm in dict.fromkeys(treatments):
        mine = [x for x, t in zip(plant_times, plant_treatments, strict=True) if t == arm]
        weighted = [(float(x), 1.0) for x in mine] + [(0.0, 0.5), (full_time, 0.5)]
        total = sum(w for _, w in weighted)
        center = sum(w * x for x, w in weighted) / total
        own[arm] = sum(w * (x - center) ** 2 for x, w in weighted) / total
    return _wider(values, plants, own, treatments, weights, blockings, confidence)


def _wider(
    values: Sequence[float],
    plants: Sequence[float],
    own: Mapping[object, float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike],
    confidence: float,
) -> ContrastAnswer:
    inverse = sum(1.0 / m for m in plants) / len(plants)
    answers = []
    for rates in ([1.0 / m for m in plants], [inverse] * len(plants)):
        v = [own[t] * r for t, r in zip(treatments, rates, strict=True)]
        answers.append(scatter_contrast(values, v, treatments, weights, blockings))
    return wider(answers, confidence)
