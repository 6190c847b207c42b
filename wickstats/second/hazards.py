"""Grouped proportional hazards computed again: statsmodels for the fit, CR2 by hand.

Deaths and survivors of each unit in each step, a step lying between two cuts that no death's
interval straddles; a binomial model with complementary log-log link (Prentice & Gloeckler
1978, Biometrics 34:57) of step, treatment and block. Covariance with units as
clusters, bias corrected (Bell & McCaffrey 2002, Survey Methodology 28:169), on its own loops.
Leans on numpy and statsmodels.
"""

import warnings
from collections.abc import Hashable, Sequence
from itertools import pairwise
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from wickstats.second.answers import ContrastAnswer

Array = NDArray[np.float64]
ENGINE = "statsmodels, complementary log-log"
LARGEST = 10_000  # rows; dense columns of steps are slow beyond


def hazard_contrasts(
    lows: Sequence[float],
    highs: Sequence[float],
    units: Sequence[Hashable],
    treatments: Sequence[Hashable],
    blocks: Sequence[Hashable] | None,
    pairs: Sequence[tuple[Hashable, Hashable]],
) -> list[ContrastAnswer]:
    """Log ratio of hazards of the first of each pair to the second; one entry a plant.

    Raises
    ------
    ValueError
        Where there are too many rows, or nothing to fit.
    """
    where: list[Hashable] = [0] * len(lows) if blocks is None else list(blocks)
    # a treatment without deaths has no finite rate, and tells the others nothing
    lethal = {treatments[k] for k, end in enumerate(highs) if isfinite(end)}
    held = [k for k, arm in enumerate(treatments) if arm in lethal]
    lows, highs = [lows[k] for k in held], [highs[k] for k in held]
    units, treatments = [units[k] for k in held], [treatments[k] for k in held]
    where = [where[k] for k in held]
    counts: dict[tuple[Hashable, int], list[int]] = {}
    place: dict[Hashable, int] = {}
    for k, step, end in _rows(list(lows), list(highs), where):
        place.setdefault(units[k], k)
        held = counts.setdefault((units[k], step), [0, 0])
        held[0 if end else 1] += 1
    if not counts or len(counts) > LARGEST:
        raise ValueError(f"{len(counts)} rows of units and steps cannot be fitted plainly")
    steps = sorted({step for _, step in counts})
    arms = list(dict.fromkeys(treatments[place[unit]] for unit, _ in counts))
    grounds = list(dict.fromkeys(where[place[unit]] for unit, _ in counts))
    if any(arm not in arms for pair in pairs for arm in pair):
        raise ValueError("a treatment has no plants at risk where deaths were seen")
    x = np.array(
        [
            [float(step == s) for s in steps]
            + [float(treatments[place[unit]] == arm) for arm in arms[1:]]
            + [float(where[place[unit]] == ground) for ground in grounds[1:]]
            for unit, step in counts
        ]
    )
    told = np.array(list(counts.values()), dtype=float)
    beta = _fit(x, told)
    out = []
    for pair in pairs:
        contrast = np.zeros(x.shape[1])
        for arm, sign in zip(pair, (1.0, -1.0), strict=True):
            if arm != arms[0]:
                contrast[len(steps) + arms.index(arm) - 1] += sign
        variance, df = _clustered(x, told, beta, [unit for unit, _ in counts], contrast)
        out.append(ContrastAnswer(float(contrast @ beta), variance**0.5, df, ENGINE))
    return out


def _rows(
    lows: list[float], highs: list[float], blocks: list[Hashable]
) -> list[tuple[int, int, bool]]:
    """(plant, step, whether it died there) of steps and blocks where some lived, some not."""
    died = [k for k, end in enumerate(highs) if isfinite(end)]
    if not died:
        return []
    ends = sorted({lows[k] for k in died} | {highs[k] for k in died})
    cuts = [t for t in ends if not any(lows[k] < t < highs[k] for k in died)]
    if any(lows[k] == highs[k] for k in died):
        cuts.insert(0, -inf)
    steps = list(pairwise(cuts))
    out = []
    for k, (low, high) in enumerate(zip(lows, highs, strict=True)):
        for j, (_, end) in enumerate(steps):
            if isfinite(high):
                if end <= high or _in(steps[j], high):
                    out.append((k, j, _in(steps[j], high)))
            elif end <= low:
                out.append((k, j, False))
    before = -1
    while before != len(out):
        before = len(out)
        out = _mixed(out, [j for _, j, _ in out])
        out = _mixed(out, [blocks[k] for k, _, _ in out])
    return out


def _mixed(
    rows: list[tuple[int, int, bool]], names: Sequence[Hashable]
) -> list[tuple[int, int, bool]]:
    """The rows of names under which some died and some did not."""
    fates: dict[Hashable, set[bool]] = {}
    for name, (_, _, died) in zip(names, rows, strict=True):
        fates.setdefault(name, set()).add(died)
    return [row for name, row in zip(names, rows, strict=True) if len(fates[name]) > 1]


def _in(step: tuple[float, float], time: float) -> bool:
    return step[0] < time <= step[1]


def _fit(x: Array, told: Array) -> Array:
    import statsmodels.api as sm

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of separation; what does not settle is far off
        model = sm.GLM(told, x, family=sm.families.Binomial(sm.families.links.CLogLog()))
        return np.asarray(model.fit(tol=1e-14, maxiter=200).params, dtype=float)


def _clustered(
    x: Array, told: Array, beta: Array, clusters: Sequence[Hashable], contrast: Array
) -> tuple[float, float]:
    """Variance and Satterthwaite's df of a contrast."""
    u = np.exp(x @ beta)
    p = 1.0 - np.exp(-u)
    many = told.sum(axis=1)
    root = u * np.sqrt(many * (1.0 - p) / p)
    rows, rest = root[:, None] * x, (told[:, 0] - many * p) / np.sqrt(many * p * (1.0 - p))
    inverse = np.linalg.pinv(rows.T @ rows, hermitian=True)
    half = rows @ inverse
    names = list(dict.fromkeys(clusters))
    parts = []
    variance = 0.0
    for name in names:
        mine = np.array([k for k, other in enumerate(clusters) if other == name])
        values, vectors = np.linalg.eigh(np.eye(mine.size) - half[mine] @ rows[mine].T)
        power = np.array([v**-0.5 if v > 1e-10 else 0.0 for v in values])
        pulled = vectors @ (power * (vectors.T @ (half[mine] @ contrast)))
        variance += float(pulled @ rest[mine]) ** 2
        part = -half @ (rows[mine].T @ pulled)
        part[mine] += pulled
        parts.append(part)
    inner = np.array(parts) @ np.array(parts).T
    return variance, float(np.trace(inner) ** 2 / np.sum(inner * inner))
