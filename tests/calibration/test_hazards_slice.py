"""Grouped hazards with every block a parameter: how far ratios go from 1 by deaths a block.

True log ratio log 2.5; block effects of SD 0.5; ten visits. The excess falls about as one
over the deaths a block (a consequence of Neyman & Scott 1948, from memory), which sets the
limit of eight below which the ratio is called descriptive. From there on CR2's intervals miss a
true null in about 5 % of seasons.
"""

import numpy as np
import pytest

from wickstats.analysis.hazards_line import ENOUGH_DEATHS
from wickstats.models.lifetimes.grouped import group_lives
from wickstats.models.lifetimes.hazards import HazardFit, fit_hazards

TRUE = float(np.log(2.5))


def ratios(blocks: int, plants: int, rate: float, seasons: int, seed: int):
    """Log ratios of settled, not penalized fits, and deaths a block."""
    rng = np.random.default_rng(seed)
    arms, block = np.tile([0, 1], blocks), np.repeat(np.arange(blocks), 2)
    unit = np.repeat(np.arange(2 * blocks), plants)
    found, deaths = [], []
    for _ in range(seasons):
        speed = rate * np.exp(0.5 * rng.standard_normal(blocks)[block] + TRUE * arms)
        time = rng.exponential(1.0 / speed[unit])
        low = np.minimum(np.floor(time), 10.0)
        high = np.where(low < 10.0, low + 1.0, np.inf)
        data = group_lives(low, high, unit, arms, block)
        if isinstance(data, str):
            continue
        fit = fit_hazards(data)
        if isinstance(fit, HazardFit) and not fit.penalized:
            found.append(fit.contrast([-1.0, 1.0]).estimate)
            deaths.append(np.isfinite(high).sum() / blocks)
    return np.array(found, dtype=float), float(np.mean(deaths))


@pytest.mark.parametrize(
    ("blocks", "plants", "rate", "least", "most"),
    [(25, 2, 0.03, 1.1, 1.7), (12, 4, 0.03, 1.03, 1.5), (8, 20, 0.03, 0.9, 1.15)],
)
def test_ratios_are_too_far_from_one_where_blocks_hold_few_deaths(
    blocks: int, plants: int, rate: float, least: float, most: float
) -> None:
    found, deaths = ratios(blocks, plants, rate, 60, 5)
    assert found.size >= 50
    factor = found.mean() / TRUE
    assert least < factor < most
    # the limit parts the settings with an excess from the one without
    assert (deaths < ENOUGH_DEATHS) == (least > 1.0)


@pytest.mark.parametrize(("shape", "dead"), [(1e9, 0.8), (1.0, 0.9)])
def test_with_enough_deaths_a_true_null_is_rejected_in_about_one_of_twenty(
    shape: float, dead: float
) -> None:
    # six blocks of two plots of ten; plots share their fates by a gamma factor on the rate
    rng = np.random.default_rng(8)
    arms, block = np.tile([0, 1], 6), np.repeat(np.arange(6), 2)
    unit = np.repeat(np.arange(12), 10)
    rejected, seasons, deaths = 0, 200, 0
    for _ in range(seasons):
        speed = -np.log(1.0 - dead) / 10.0 * rng.gamma(shape, 1.0 / shape, 12)
        time = rng.exponential(1.0 / speed[unit])
        low = np.minimum(np.floor(time), 10.0)
        high = np.where(low < 10.0, low + 1.0, np.inf)
        deaths += int(np.isfinite(high).sum())
        found = fit_hazards(group_lives(low, high, unit, arms, block)).contrast([-1.0, 1.0])
        rejected += found.p is not None and found.p < 0.05
    assert deaths / (6 * seasons) >= ENOUGH_DEATHS
    # four standard errors of 200 seasons around 0.05, not above
    assert rejected / seasons <= 0.05 + 4.0 * np.sqrt(0.05 * 0.95 / seasons)
    assert rejected > 0
