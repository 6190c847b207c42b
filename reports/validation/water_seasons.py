"""Simulated water: reservoirs refilled every week, cans that read wrong, levels on a scale.

A unit's demand is its arm's, times its own factor (log-normal), times the week's course and
scatter; a reservoir gives what it holds. Every week it is filled up; the can is counted in
tenths and holds a few percent more or less than it should, the same for the whole season;
levels are read with error on a scale of quarter liters. Planted mishaps: in one unit of six
a leak that was caught and measured, in one of six a wick that is blocked for two weeks. All
arrays are (seasons, blocks, arms, weeks). Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np
from water_cells import WaterCell

Array = np.ndarray

WEEKS = 12
HOLDS = 60.0
WEEKLY = (12.0, 18.0)  # liters a week by arm
WEEK_CV = 0.15
CAN_L, CAN_WITHIN = 9.0, 0.06
READ_SD, STEP = 0.15, 0.25
MISHAP = 1.0 / 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """What the crew wrote, and what was true.

    ``given, before, after, leaked`` per visit (weeks + 1 of them; the last adds nothing);
    ``delivered`` the truth; ``metered`` by arm: given was read off an exact meter.
    """

    given: Array
    before: Array
    after: Array
    leaked: Array
    delivered: Array
    metered: tuple[bool, bool]


def unit_factors(cv: float, shape: tuple[int, ...], rng: np.random.Generator) -> Array:
    """Log-normal with mean 1 and that coefficient of variation."""
    log_sd = np.sqrt(np.log1p(cv * cv))
    return np.exp(log_sd * rng.standard_normal(shape) - 0.5 * log_sd**2)


def demand(cell: WaterCell, seasons: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Liters a week that a unit would draw, and leaks in the same weeks."""
    shape = (seasons, cell.blocks, 2)
    course = 0.5 + np.sin(np.pi * (np.arange(WEEKS) + 0.5) / WEEKS)
    block = unit_factors(0.1, (seasons, cell.blocks, 1), rng)
    own = block * unit_factors(cell.cv, shape, rng) * np.array(WEEKLY)
    week = unit_factors(WEEK_CV, (*shape, WEEKS), rng)
    draw = own[..., None] * course * week
    leaks = np.zeros(draw.shape)
    if cell.mishaps == "planted":
        at = rng.integers(0, WEEKS - 1, shape)
        blocked = rng.random(shape) < MISHAP
        weeks = np.arange(WEEKS)
        shut = blocked[..., None] & ((weeks == at[..., None]) | (weeks == at[..., None] + 1))
        draw = np.where(shut, 0.1 * draw, draw)
        leaky = rng.random(shape) < MISHAP
        when = rng.integers(0, WEEKS, shape)
        size = rng.uniform(3.0, 12.0, shape)
        leaks = np.where(leaky[..., None] & (weeks == when[..., None]), size[..., None], 0.0)
    return draw, leaks


def keep_log(cell: WaterCell, seasons: int, rng: np.random.Generator) -> Log:
    """A season's log of every unit."""
    draw, leaks = demand(cell, seasons, rng)
    shape = draw.shape[:-1]
    metered = (False, cell.instrument != "one can")
    wrong = 1.0 + CAN_WITHIN * rng.uniform(-1.0, 1.0, (seasons, 1, 1))
    wrong = np.where(np.array(metered), 1.0, wrong)
    held, delivered = np.zeros(shape), np.zeros(shape)
    given, before, after = (np.zeros((*shape, WEEKS + 1)) for _ in range(3))
    leaked = np.zeros((*shape, WEEKS + 1))
    for week in range(WEEKS + 1):
        if week:
            lost = np.minimum(leaks[..., week - 1], held)
            used = np.minimum(draw[..., week - 1], held - lost)
            delivered += used
            held = held - used - lost
            told = lost * (1.0 + 0.05 * rng.standard_normal(shape))
            leaked[..., week] = np.where(lost > 0.0, np.maximum(told, 0.1), 0.0)
        before[..., week] = read_level(held, rng) if week else 0.0
        if week < WEEKS:
            cans = np.maximum(
                np.rint(10.0 * (HOLDS - 2.0 - held) / (CAN_L * wrong)) / 10.0, 0.0
            )
            poured = np.where(np.array(metered), HOLDS - 2.0 - held, cans * CAN_L * wrong)
            given[..., week] = np.where(np.array(metered), poured, cans * CAN_L)
            held = held + poured
            after[..., week] = read_level(held, rng)
        else:
            after[..., week] = before[..., week]
    return Log(given, before, after, leaked, delivered, metered)


def read_level(held: Array, rng: np.random.Generator) -> Array:
    """Read levels off by the reading error and rounded to the scale's marks; liters."""
    seen = held + READ_SD * rng.standard_normal(held.shape)
    return np.maximum(np.rint(seen / STEP) * STEP, 0.0)


def delivered_by_log(log: Log) -> Array:
    """(seasons, blocks, arms) applied less stored change less leaked, as the ledger has it."""
    stored = log.after[..., -1] - log.before[..., 0]
    return log.given.sum(axis=-1) - stored - log.leaked.sum(axis=-1)


def true_logs(cell: WaterCell, units: int, seed_rng: np.random.Generator) -> Array:
    """(arms,) expected logarithm of a unit's delivered water, from many units."""
    whole = WaterCell("ledger", 1, cell.cv, cell.mishaps, cell.instrument)
    log = keep_log(whole, units, seed_rng)
    return np.log(log.delivered[:, 0, :]).mean(axis=0)
