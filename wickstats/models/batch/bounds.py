"""Pairs with an arm of one fate (all lived, all died) in many seasons: limits of the bound.

As ``analysis.bounds`` for single seasons: the one-sided limit of the arm of one fate at
n/(1 + (m - 1) rho) plants beside the one-sided limit of the other side (logit, leaving one
unit out), their distances added as squares (Newcombe 1998, Stat. Med. 17:873; Zou & Donner
2008, Stat. Med. 27:1693). A test holds them equal. Leans on ``layout``; numpy and scipy.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from wickstats.models.batch.layout import BatchLayout, Flags
from wickstats.models.lifetimes.intervals import LEAST_CORRELATION
from wickstats.models.linear.estimates import Array


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """(S,) share of one side of a contrast, its one-sided limits, whether of one fate."""

    share: Array
    low: Array
    high: Array
    extreme: Flags


def bounded_limits(
    layout: BatchLayout,
    alive: Array,
    plants: Array,
    weights: Array,
    estimate: Array,
    *,
    level: float,
    planned: float | None = None,
) -> tuple[Array, Array, Flags]:
    """Limits (S,) of one contrast, and the seasons in which a side is of one fate.

    Parameters
    ----------
    alive, plants
        (S, n) plants alive of those there were.
    weights, estimate
        (t,) of the cells; (S,) the line's estimate.
    level
        Confidence of each limit alone.
    planned
        Plot correlation that the plan assumes.
    """
    rho = plot_correlations(layout, alive, plants, planned)
    cells = layout.geometry.cells
    sides = [np.isin(cells, np.flatnonzero(side)) for side in (weights > 0.0, weights < 0.0)]
    if any(int(mine.sum()) < 2 for mine in sides):  # one unit says nothing of others
        none = np.full(len(alive), np.nan)
        return none, none, np.zeros(len(alive), dtype=bool)
    up, down = (_side(alive[:, mine], plants[:, mine], rho, level) for mine in sides)
    both = up.extreme & down.extreme
    center = np.where(both, up.share - down.share, estimate)
    low = center - np.hypot(up.share - up.low, down.high - down.share)
    high = center + np.hypot(up.high - up.share, down.share - down.low)
    return low, high, up.extreme | down.extreme


def plot_correlations(
    layout: BatchLayout, alive: Array, plants: Array, planned: float | None = None
) -> Array:
    """(S,) correlation of plants of a plot: plan, units' dispersion or 0.1, the largest."""
    g = layout.geometry
    least = max(LEAST_CORRELATION, planned or 0.0)
    if not g.df:
        return np.full(len(alive), least)
    cells = np.eye(g.n_cells)[g.cells]
    p = (alive @ cells) / np.maximum(plants @ cells, 1.0)
    d = (p * (1.0 - p))[:, g.cells] / plants
    held = (alive / plants) @ layout.residual_basis
    rss = np.einsum("sj,sj->s", held, held)
    first = d @ np.sum(layout.residual_basis**2, axis=1)
    tells = (rss > 1e-20) & (first > 1e-12 * d.max(axis=1, initial=0.0))
    phi = np.where(tells, rss / np.where(tells, first, 1.0), 0.0)
    m = plants.mean(axis=1)
    found: Array = np.clip((phi - 1.0) / np.maximum(m - 1.0, 1e-9), least, 1.0)
    return found


def _side(alive: Array, plants: Array, rho: Array, level: float) -> _Side:
    x, n = alive.sum(axis=1), plants.sum(axis=1)
    m = np.sum(plants**2, axis=1) / n
    n_eff = n / (1.0 + (m - 1.0) * rho)
    lived, died = x == n, x == 0.0
    limit = (1.0 - level) ** (1.0 / n_eff)
    others = np.log(x[:, None] - alive + 0.5) - np.log(
        n[:, None] - plants - x[:, None] + alive + 0.5
    )
    u = alive.shape[1]
    apart = others - others.mean(axis=1, keepdims=True)
    spread = np.sqrt((u - 1) / u * np.sum(apart**2, axis=1))
    scatter = np.sqrt(1.0 / (x + 0.5) + 1.0 / (n - x + 0.5))
    half = np.maximum(float(stdtrit(u - 1, level)) * spread, float(ndtri(level)) * scatter)
    center = np.log(x + 0.5) - np.log(n - x + 0.5)
    low, high = 1.0 / (1.0 + np.exp(half - center)), 1.0 / (1.0 + np.exp(-half - center))
    low = np.where(lived, limit, np.where(died, 0.0, low))
    high = np.where(died, 1.0 - limit, np.where(lived, 1.0, high))
    return _Side(x / n, low, high, lived | died)
