"""One cell of the water study.

The formulas are those of the single-season code, for all seasons at once:
``tests/calibration/test_water_slice.py`` holds them equal. Leans on water_cells,
water_seasons, study_cells and numpy.
"""

from typing import Any

import numpy as np
from scipy.special import ndtri, stdtrit
from study_cells import generator
from water_cells import WaterCell
from water_seasons import (
    CAN_WITHIN,
    STEP,
    Log,
    delivered_by_log,
    keep_log,
    true_logs,
    unit_factors,
)

Array = np.ndarray

TRUTH_UNITS = 400_000
CHUNK = 2_500
LEVEL = 0.95
PER_LITER = (0.010, 0.013)  # kg a liter by arm
BOUND = 1.10  # of equal water
FALL = -0.07  # logarithm a place
PLANT_SD = 0.25


def run_water(cell: WaterCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell; rates over the seasons that gave an interval."""
    rng = generator(seed, cell.key)
    work = {
        "ledger": _ledger,
        "yield per liter": _yield,
        "equal water": _equal,
        "along a line": _along,
    }[cell.kind]
    starts = range(0, seasons, CHUNK)
    parts = [work(cell, min(CHUNK, seasons - start), rng, seed) for start in starts]
    names = parts[0].keys()
    rates = {}
    for name in names:
        hit = np.concatenate([part[name] for part in parts]).astype(float)
        known = np.isfinite(hit)
        rates[name] = {
            "rate": float(hit[known].mean()) if known.any() else None,
            "judged": int(known.sum()),
        }
    return {"settings": cell.settings(), "seasons": seasons, "rates": rates}


def own_interval(values: Array, level: float = LEVEL) -> tuple[Array, Array]:
    """Center and half-width of t over the last axis."""
    n = values.shape[-1]
    half = stdtrit(n - 1, 0.5 + 0.5 * level) * values.std(axis=-1, ddof=1) / np.sqrt(n)
    return values.mean(axis=-1), half


def calibration(cell: WaterCell) -> tuple[float, float]:
    """Shared error on the log scale: of the first arm's mean, of the ratio of the arms."""
    bound = float(-np.log1p(-CAN_WITHIN))
    return bound, 0.0 if cell.instrument == "one can" else bound


def unit_half_widths(log: Log) -> Array:
    """(seasons, blocks, arms) half-width of every unit's own delivered water."""
    seasons = log.given.shape[0]
    balance = (log.before + log.given - log.after)[..., :-1]
    poured = np.maximum(log.given[..., :-1], 1e-12)
    parts = []
    for instrument in set(log.metered):
        mine = [arm for arm in (0, 1) if log.metered[arm] is instrument]
        off, given = balance[:, :, mine], poured[:, :, mine]
        wrong = np.median((off / given).reshape(seasons, -1), axis=1)
        parts.append((off - wrong[:, None, None, None] * given).reshape(seasons, -1))
    balance = np.concatenate(parts, axis=1)
    middle = np.median(np.abs(balance), axis=1, keepdims=True)
    typical = np.abs(balance) <= np.maximum(6.0 * 1.4826 * middle, 1e-9)
    variance = (balance**2 * typical).sum(axis=1) / np.maximum(typical.sum(axis=1), 1)
    least = STEP**2 / 12.0
    level = np.maximum(least, 0.5 * variance)[:, None, None]
    refill = np.maximum(variance - 2.0 * least, 0.0)[:, None, None]
    ends = (log.after[..., -1] > 0.0).astype(float)  # the first reading is an empty vessel
    refills = (log.given > 0.0).sum(axis=-1) * ~np.array(log.metered)
    scatter = ndtri(0.5 + 0.5 * LEVEL) * np.sqrt(ends * level + refills * refill)
    shared = np.where(np.array(log.metered), 0.0, CAN_WITHIN * log.given.sum(axis=-1))
    return shared + CAN_WITHIN * log.leaked.sum(axis=-1) + scatter


def _ledger(
    cell: WaterCell, seasons: int, rng: np.random.Generator, seed: int
) -> dict[str, Array]:
    log = keep_log(cell, seasons, rng)
    found = delivered_by_log(log)
    truth = true_logs(cell, TRUTH_UNITS // 4, generator(seed, f"truth|{cell.key}"))
    y = np.log(found)
    mean_half, pair_half = calibration(cell)
    center, half = own_interval(y[..., 0])
    arm = np.abs(center - truth[0]) <= half + mean_half
    difference, wide = own_interval(y[..., 1] - y[..., 0])
    pair = np.abs(difference - (truth[1] - truth[0])) <= wide + pair_half
    units = np.abs(found - log.delivered) <= unit_half_widths(log)
    return {"unit": units.reshape(-1), "arm mean": arm, "ratio of arms": pair}


def _yield(
    cell: WaterCell, seasons: int, rng: np.random.Generator, seed: int
) -> dict[str, Array]:
    del seed
    shape = (seasons, cell.blocks, 2)
    water = unit_factors(0.15, shape, rng) * np.array([240.0, 180.0])
    block = unit_factors(0.1, (seasons, cell.blocks, 1), rng)
    noise = unit_factors(cell.cv, shape, rng)
    bears = rng.random(shape) >= cell.zeros
    yields = np.array(PER_LITER) * water * block * noise * bears
    log_truth = float(np.log(PER_LITER[1] / PER_LITER[0]))
    zero = (yields <= 0.0).any(axis=(1, 2))
    ratio = np.log(np.where(yields > 0.0, yields, 1.0) / water)  # zeros are not judged by it
    plain = np.where(zero[:, None], 0.0, ratio[..., 1] - ratio[..., 0])
    center, half = own_interval(plain)
    logs = np.where(zero, np.nan, np.abs(center - log_truth) <= half)
    own = np.log(PER_LITER[0]) - 0.5 * np.log1p(0.01) - 0.5 * np.log1p(cell.cv**2)
    mid, wide = own_interval(np.where(zero[:, None], 0.0, ratio[..., 0]))
    log_arm = np.where(zero, np.nan, np.abs(mid - own) <= wide)
    # zeros in the season: sums, leaving out one block at a time
    found, error = left_out(yields, water)
    with np.errstate(invalid="ignore"):
        pair, spread = found[:, 1] - found[:, 0], error[:, 2]
    critical = stdtrit(cell.blocks - 1, 0.5 + 0.5 * LEVEL)
    sums = np.abs(pair - log_truth) <= critical * spread
    arm_truth = np.log(PER_LITER[0] * (1.0 - cell.zeros))
    wider = np.fmax(error[:, 0], bearing_error(yields[..., 0], water[..., 0]))
    sums_arm = np.abs(found[:, 0] - arm_truth) <= critical * wider
    few = (yields > 0.0).sum(axis=1) < 2
    return {
        "log ratio": logs,
        "log ratio, one arm": log_arm,
        "zero rule": np.where(zero & ~few.any(axis=1), sums, np.nan),
        "zero rule, one arm": np.where(zero & ~few[:, 0], sums_arm, np.nan),
    }


def left_out(yields: Array, water: Array) -> tuple[Array, Array]:
    """(seasons, arms) log ratios of sums; standard errors of both arms and of the pair."""
    n = yields.shape[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.log(yields.sum(axis=1)) - np.log(water.sum(axis=1))
        each = np.log(yields.sum(axis=1, keepdims=True) - yields)
        each = each - np.log(water.sum(axis=1, keepdims=True) - water)
        theta = np.concatenate([each, (each[..., 1] - each[..., 0])[..., None]], axis=2)
        off = theta - theta.mean(axis=1, keepdims=True)
        error = np.sqrt((n - 1.0) / n * (off**2).sum(axis=1))
    return found, error


def bearing_error(yields: Array, water: Array) -> Array:
    """(seasons,) standard error of one arm from its bearing units and their share."""
    n = yields.shape[1]
    bears = yields > 0.0
    x = bears.sum(axis=1)
    held = water * bears
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.log(yields.sum(axis=1, keepdims=True) - yields)
        each = each - np.log(held.sum(axis=1, keepdims=True) - held)
        mean = np.where(bears, each, 0.0).sum(axis=1, keepdims=True) / x[:, None]
        off = np.where(bears, each - mean, 0.0)
        own = (x - 1.0) / x * (off**2).sum(axis=1)
    share = (x + 1.0) / (n + 2.0)
    return np.sqrt(own + (1.0 - share) / (n * share))


def _equal(
    cell: WaterCell, seasons: int, rng: np.random.Generator, seed: int
) -> dict[str, Array]:
    """Arms that differ by just the bound: how often they are called equal."""
    del seed
    y = np.log(unit_factors(cell.cv, (seasons, cell.blocks, 2), rng))
    y[..., 1] += np.log(BOUND)
    bound = np.log(BOUND)

    def called(values: Array) -> Array:
        center, half = own_interval(values, 0.90)  # two one-sided tests at 5 %
        return (center - half >= -bound) & (center + half <= bound)

    return {
        "called equal, two arms": called(y[..., 1] - y[..., 0]),
        "called equal, one arm": called(y[..., 1] + 0.5 * np.log1p(cell.cv**2)),
    }


def _along(
    cell: WaterCell, seasons: int, rng: np.random.Generator, seed: int
) -> dict[str, Array]:
    del seed
    slope = FALL + cell.cv * rng.standard_normal((seasons, cell.blocks, 1))
    x = np.arange(1, cell.places + 1) - 0.5 * (cell.places + 1)
    line = 0.3 * rng.standard_normal((seasons, cell.blocks, 1))
    noise = PLANT_SD * rng.standard_normal((seasons, cell.blocks, cell.places))
    slopes = ((line + slope * x + noise) * x).sum(axis=2) / (x * x).sum()
    center, half = own_interval(slopes)
    return {"fall a place": np.abs(center - FALL) <= half}
