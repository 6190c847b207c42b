"""One cell of the study of costs.

Seasons are drawn with a known truth; intervals are those of the single-season code, for all
seasons at once: ``tests/calibration/test_costs_slice.py`` holds them equal. Leans on
cost_cells, water_run, water_seasons, study_cells, numpy and scipy.
"""

from typing import Any

import numpy as np
from cost_cells import CostCell
from scipy.special import expit, logit, stdtrit
from study_cells import generator
from water_run import bearing_error, left_out
from water_seasons import unit_factors

Array = np.ndarray

LEVEL = 0.95
PLANTS = 8
SHIFT = 0.3  # standard deviation of blocks on the logit
ITEMS, WORK, WORK_CV = 10.0, 20.0, 0.2  # money a plot; the work's hours differ
KG = 3.0  # a plot
SAVED, DEARER, DEARER_SD = 0.1, 5.0, 2.0  # m3 and money a plot
BASE = 0.5  # share alive of the reference, where one more survivor is bought


def run_costs(cell: CostCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    ``rate`` is over the seasons with a finite interval, ``none`` the share without one (said
    in words); ``or open`` counts an interval without an end as one that holds the truth.
    """
    rng = generator(seed, cell.key)
    work = {"survivor": _survivor, "kg": _kg, "m3 saved": _saved, "extra survivor": _extra}
    held, open_ = work[cell.kind](cell, seasons, rng)
    known = np.isfinite(held)
    return {
        "settings": cell.settings(),
        "seasons": seasons,
        "rate": float(held[known].mean()) if known.any() else None,
        "judged": int(known.sum()),
        "none": float(1.0 - known.mean()),
        "or open": float((np.where(known, held, 0.0) + open_).sum() / (known | open_).sum()),
    }


def mean_share(share: float) -> float:
    """Mean over blocks of the share that survives, by Gauss-Hermite quadrature."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    return float(weights @ expit(logit(share) + SHIFT * nodes) / weights.sum())


def alive_of(share: float, correlation: float, block: Array, rng: np.random.Generator) -> Array:
    """Survivors of ``PLANTS`` in every plot (beta-binomial around the block's share)."""
    p = expit(logit(share) + SHIFT * block)
    if correlation > 0.0:
        size = 1.0 / correlation - 1.0
        p = rng.beta(p * size, (1.0 - p) * size)
    return rng.binomial(PLANTS, p).astype(float)


def work_of(shape: tuple[int, ...], rng: np.random.Generator) -> Array:
    """Money for the work of a plot."""
    return WORK * rng.gamma(WORK_CV**-2, WORK_CV**2, shape)


def per_one(gave: Array, paid: Array) -> tuple[Array, Array]:
    """(seasons,) log of cost over what the first arm gave, and its half-width; NaN: none.

    ``gave, paid``: (seasons, blocks, arms).
    """
    n = gave.shape[1]
    found, error = left_out(gave, paid)
    wide = bearing_error(gave[..., 0], paid[..., 0])
    zero = (gave <= 0.0).any(axis=(1, 2))
    se = np.where(zero, np.fmax(error[:, 0], wide), error[:, 0])
    usable = ((gave[..., 0] > 0.0).sum(axis=1) >= 2) & (error[:, 0] > 1e-12)
    half = stdtrit(n - 1, 0.5 + 0.5 * LEVEL) * se
    return -found[:, 0], np.where(usable, half, np.nan)


def fieller(cost: Array, gain: Array) -> tuple[Array, Array, Array]:
    """(seasons,) limits of cost over gain from blocks' differences; whether they are open."""
    n = cost.shape[1]
    t2 = stdtrit(n - 1, 0.5 + 0.5 * LEVEL) ** 2
    a, b = cost.mean(axis=1), gain.mean(axis=1)
    da, db = cost - a[:, None], gain - b[:, None]
    scale = 1.0 / (n * (n - 1.0))
    va, vb, vab = ((x * y).sum(axis=1) * scale for x, y in ((da, da), (db, db), (da, db)))
    told = (a > 0.0) & (b > 0.0)  # cheaper, or nothing gained: said in words
    with np.errstate(divide="ignore", invalid="ignore"):
        g = t2 * vb / b**2
        middle = a / b - t2 * vab / b**2
        root = np.maximum(middle**2 - (1.0 - g) * ((a / b) ** 2 - t2 * va / b**2), 0.0)
        low, high = ((middle + sign * np.sqrt(root)) / (1.0 - g) for sign in (-1.0, 1.0))
    finite = told & (g < 1.0)
    return np.where(finite, low, np.nan), np.where(finite, high, np.nan), told & (g >= 1.0)


def _survivor(cell: CostCell, seasons: int, rng: np.random.Generator) -> tuple[Array, Array]:
    shape = (seasons, cell.blocks, 2)
    block = rng.standard_normal((seasons, cell.blocks, 1))
    alive = alive_of(cell.level, cell.more, np.broadcast_to(block, shape), rng)
    truth = np.log((ITEMS + WORK) / (PLANTS * mean_share(cell.level)))
    return _held(alive, ITEMS + work_of(shape, rng), truth)


def _kg(cell: CostCell, seasons: int, rng: np.random.Generator) -> tuple[Array, Array]:
    shape = (seasons, cell.blocks, 2)
    block = unit_factors(0.1, (seasons, cell.blocks, 1), rng)
    kg = KG * block * unit_factors(cell.level, shape, rng) * (rng.random(shape) >= cell.more)
    truth = np.log((ITEMS + WORK) / (KG * (1.0 - cell.more)))
    return _held(kg, ITEMS + work_of(shape, rng), truth)


def _held(gave: Array, paid: Array, truth: float) -> tuple[Array, Array]:
    center, half = per_one(gave, paid)
    held = np.where(np.isfinite(half), np.abs(center - truth) <= half, np.nan)
    return held, np.zeros(held.size, dtype=bool)


def _saved(cell: CostCell, seasons: int, rng: np.random.Generator) -> tuple[Array, Array]:
    shape = (seasons, cell.blocks)
    own = rng.gamma(cell.level**-2, cell.level**2, shape)  # mean one
    apart = np.sqrt(1.0 - cell.more**2) * rng.standard_normal(shape)
    cost = DEARER + DEARER_SD * (apart + cell.more * (own - 1.0) / cell.level)
    return _within(cost, SAVED * own, DEARER / SAVED)


def _extra(cell: CostCell, seasons: int, rng: np.random.Generator) -> tuple[Array, Array]:
    block = rng.standard_normal((seasons, cell.blocks))
    less = alive_of(BASE, cell.more, block, rng)
    more = alive_of(BASE + cell.level, cell.more, block, rng)
    cost = DEARER + DEARER_SD * rng.standard_normal(block.shape)
    gain = PLANTS * (mean_share(BASE + cell.level) - mean_share(BASE))
    return _within(cost, more - less, DEARER / gain)


def _within(cost: Array, gain: Array, truth: float) -> tuple[Array, Array]:
    low, high, open_ = fieller(cost, gain)
    held = np.where(np.isfinite(low), (low <= truth) & (truth <= high), np.nan)
    return held, open_
