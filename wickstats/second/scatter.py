"""One dispersion over known unit variances, in plain loops.

y = block + treatment + e, var(e_u) = phi d_u: phi = RSS / sum_u M_uu d_u, not below the
floor; df = (sum_u M_uu d_u)^2 / sum_uv M_uv^2 d_u d_v; M = I - X X^+ (Satterthwaite 1946;
Box 1954). Shares: d_u = p(1 - p)/m_u with p = (x + 0.5)/(n + 1) of the arm; where plants
per unit differ also with their harmonic mean for all, and the wider interval counts.
Leans on numpy and scipy.special.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from wickstats.second.answers import ContrastAnswer

ENGINE = "dispersion by plain loops"


def scatter_contrast(
    values: Sequence[float],
    variances: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blocks: Sequence[object] | None = None,
    floor: float = 1.0,
) -> ContrastAnswer:
    """Contrast whose units have variances phi times ``variances``.

    ``floor`` 1 for variances known from plants, 0 where only their ratios are known.

    Raises
    ------
    ValueError
        When the contrast cannot be estimated or no error is left.
    """
    n = len(values)
    arms = list(dict.fromkeys(treatments))
    places = list(dict.fromkeys(blocks)) if blocks is not None else []
    x = np.zeros((n, len(arms) + len(places)))
    for u in range(n):
        x[u, arms.index(treatments[u])] = 1.0
        if blocks is not None:
            x[u, len(arms) + places.index(blocks[u])] = 1.0
    pinv = np.linalg.pinv(x)
    m = np.eye(n) - x @ pinv
    row = np.zeros(x.shape[1])
    for arm, weight in weights.items():
        row[arms.index(arm)] = weight
    if float(np.abs(row @ pinv @ x - row).max()) > 1e-8:
        raise ValueError("the contrast cannot be estimated from these units")
    if n - np.linalg.matrix_rank(x) < 1:
        raise ValueError("no degrees of freedom are left for the error")
    use = row @ pinv
    estimate = rss = trace = square = spread = 0.0
    for u in range(n):
        estimate += float(use[u]) * float(values[u])
        residual = sum(float(m[u, w]) * float(values[w]) for w in range(n))
        rss += residual**2
        trace += float(m[u, u]) * float(variances[u])
        spread += float(use[u]) ** 2 * float(variances[u])
        for w in range(n):
            square += float(m[u, w]) ** 2 * float(variances[u]) * float(variances[w])
    phi = max(rss / trace, floor)
    return ContrastAnswer(estimate, float((phi * spread) ** 0.5), trace**2 / square, ENGINE)


def share_contrast(
    alive: Sequence[float],
    plants: Sequence[float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blocks: Sequence[object] | None = None,
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
    return _wider(shares, plants, smooth, treatments, weights, blocks, confidence)


def restricted_contrast(
    values: Sequence[float],
    plants: Sequence[float],
    plant_times: Sequence[float],
    plant_treatments: Sequence[object],
    full_time: float,
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blocks: Sequence[object] | None = None,
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
    return _wider(values, plants, own, treatments, weights, blocks, confidence)


def _wider(
    values: Sequence[float],
    plants: Sequence[float],
    own: Mapping[object, float],
    treatments: Sequence[object],
    weights: Mapping[object, float],
    blocks: Sequence[object] | None,
    confidence: float,
) -> ContrastAnswer:
    from scipy.special import stdtrit

    inverse = sum(1.0 / m for m in plants) / len(plants)
    best: ContrastAnswer | None = None
    widest = -1.0
    for rates in ([1.0 / m for m in plants], [inverse] * len(plants)):
        v = [own[t] * r for t, r in zip(treatments, rates, strict=True)]
        answer = scatter_contrast(values, v, treatments, weights, blocks)
        if answer.se is None or answer.df is None:
            continue
        half = float(stdtrit(answer.df, 0.5 * (1.0 + confidence))) * answer.se
        if half > widest * (1.0 + 1e-12):
            best, widest = answer, half
    if best is None:
        raise ValueError("no standard error for the contrast")
    return best
