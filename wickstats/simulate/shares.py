"""Deaths of plants: plots whose chances are beta, plants that die at a rate of their plot.

Model. A unit of treatment k has a chance P that a plant lives to the season's end,

    P ~ beta(p a, (1 - p) a),   a = (1 - r)/r,   E P = p,   var P = r p (1 - p)

so that two of its plants have correlation r of their fates (beta-binomial: Skellam 1948,
J. R. Stat. Soc. B 10:257; Griffiths 1973, Biometrics 29:637). Given P a plant is alive at
the part f of the season with chance P^(f^shape) (Weibull; shape 1: constant rate -log P).
Where blocks or larger pieces differ, r = sum of their correlations and the plot's, and the
units' chances are tied by a normal copula: P = F^-1(Phi(z)), z = sum sqrt(r_g/r) z_g +
sqrt(r_plot/r) z_j (Nelsen 2006, sec. 2.10; Joe 2014, ch. 2). Inverses are read off a table
of 4,801 points a treatment, right to 1e-4 of a chance. Plants of different units then
correlate by very nearly r_g of their block (exactly as p nears 1/2 and r is small).
The calibration study of survival draws its plots and plants here too.
Leans on numpy, scipy.special.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.simulate.effects import Array, Group, unit_effects

IntArray = NDArray[np.int64]
_STEPS = np.linspace(-6.0, 6.0, 4801)


def beta_chances(
    rng: np.random.Generator, seasons: int, share: ArrayLike, correlation: float
) -> Array:
    """(S, n) chances of units apart from one another: beta around (n,) shares."""
    p = np.asarray(share, dtype=float)
    if correlation <= 0.0:
        return np.array(np.broadcast_to(p, (seasons, p.size)))
    a = (1.0 - correlation) / correlation
    inside = (p > 0.0) & (p < 1.0)
    if inside.all():
        return np.asarray(rng.beta(p * a, (1.0 - p) * a, size=(seasons, p.size)))
    held = np.where(inside, p, 0.5)
    drawn = rng.beta(held * a, (1.0 - held) * a, size=(seasons, p.size))
    return np.where(inside, drawn, p)


def tied_chances(
    rng: np.random.Generator,
    seasons: int,
    alive: Array,
    cells: IntArray,
    correlation: float,
    groups: Sequence[Group],
) -> Array:
    """(S, n) chances of units whose blocks or larger pieces differ.

    Parameters
    ----------
    alive
        (t,) share alive of each treatment.
    cells
        (n,) treatments.
    correlation
        Of the plot alone.
    groups
        (codes (n,), correlation) of each block, row, column or larger piece; of units that
        span several, parts (n, k): theirs is the mean of them, with less variation.
    """
    tied = [(codes, r) for codes, r in groups if r > 0.0]
    if not tied:
        return beta_chances(rng, seasons, alive[cells], correlation)
    total = correlation + sum(r for _, r in tied)
    own = np.full(cells.size, np.sqrt(correlation / total))
    z = unit_effects(rng, seasons, own, [(c, float(np.sqrt(r / total))) for c, r in tied])
    held = np.full(cells.size, 1.0)  # part of the variance that units have
    for codes, r in tied:
        if codes.ndim == 2:
            held -= r / total * (1.0 - np.square(codes).sum(axis=1))
    out = np.empty_like(z)
    for k, p in enumerate(alive):
        for part in np.unique(held[cells == k]):
            here = (cells == k) & (held == part)
            out[:, here] = _table(float(p), total * part, z[:, here] / np.sqrt(part))
    return out


def _table(p: float, correlation: float, z: Array) -> Array:
    if p <= 0.0 or p >= 1.0:
        return np.full(z.shape, p)
    return np.asarray(np.interp(z, _STEPS, _quantiles(p, correlation)))


@lru_cache(maxsize=256)
def _quantiles(p: float, correlation: float) -> Array:
    """(4801,) chances at the table's steps; one table serves all chunks of a study."""
    from scipy.special import betaincinv, ndtr

    a = (1.0 - correlation) / correlation
    points = np.asarray(betaincinv(p * a, (1.0 - p) * a, ndtr(_STEPS)))
    points.flags.writeable = False
    return points


def alive_at_end(rng: np.random.Generator, chances: Array, plants: ArrayLike) -> Array:
    """(S, n) plants alive at the season's end."""
    m = np.broadcast_to(np.asarray(plants), chances.shape)
    return rng.binomial(m.astype(np.int64), np.clip(chances, 0.0, 1.0)).astype(float)


def deaths_by_visit(
    rng: np.random.Generator,
    chances: Array,
    plants: ArrayLike,
    parts: ArrayLike,
    *,
    shape: float = 1.0,
) -> Array:
    """(S, n, V + 1) plants first found dead at each visit, and those alive at the last.

    Parameters
    ----------
    chances
        (S, n) chance to live to the season's end.
    plants
        (n,) or (S, n).
    parts
        (V,) visits as parts of the season, increasing, above 0, at most 1.
    """
    left = np.broadcast_to(np.asarray(plants), chances.shape).astype(np.int64)
    steps = np.diff(np.asarray(parts, dtype=float) ** shape, prepend=0.0)
    with np.errstate(divide="ignore"):
        log = np.log(np.clip(chances, 0.0, 1.0))
    out = np.empty((*chances.shape, steps.size + 1))
    for v, step in enumerate(steps):
        died = rng.binomial(left, -np.expm1(step * log))
        out[:, :, v] = died
        left = left - died
    out[:, :, -1] = left
    return out


def times_of_death(
    rng: np.random.Generator, chances: Array, most: int, *, shape: float = 1.0
) -> Array:
    """(S, n, most) times of death in parts of the season; above 1: alive at its end.

    The rate -log P is kept from 0 and from infinity by 1e-16 and 1e-300.
    """
    rate = -np.log(np.clip(chances, 1e-300, 1.0 - 1e-16))
    drawn = rng.standard_exponential((*chances.shape, most)) / rate[:, :, None]
    return drawn if shape == 1.0 else drawn ** (1.0 / shape)


def split_by_cause(rng: np.random.Generator, deaths: Array, shares: ArrayLike) -> Array:
    """(..., C) deaths of each cause: multinomial, the causes apart from time and plot."""
    p = np.asarray(shares, dtype=float)
    return rng.multinomial(deaths.astype(np.int64), p / p.sum()).astype(float)


def alive_over_threshold(plants: Array, effects: Array, threshold: Array) -> NDArray[np.bool_]:
    """(S, n, m) whether a plant's standing, normal, lies above minus the threshold.

    The other usual model of shares, by which the calibration study of means draws them:
    plant + block + plot + sqrt(1 + variances) Phi^-1(p) > 0, so that p is the share over
    all blocks and plots (probit: Emrich & Piedmonte 1991, Am. Stat. 45:302).
    """
    out: NDArray[np.bool_] = plants + effects[:, :, None] + threshold[:, None] > 0
    return out
