"""Sizes, scores, totals and liters of many seasons.

    size     x = center of the treatment + ground + piece + unit + plant
    total    y = center of the treatment + ground + piece + unit

normal on the model's scale; where that is the logarithm the center is log mean - half the
variance, so that the mean as measured is the one assumed (Aitchison & Brown 1957). The mean
of a unit's m plants has the plants' variance over m: drawn at once where nobody asks for
plants. Scores are rounded to whole numbers inside their range, from a normal whose center
is moved until the rounded mean is the one assumed. Leans on numpy and ``effects``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.simulate.assumed import Quantity
from wickstats.simulate.effects import Array, Group, plants_of_units, unit_effects
from wickstats.simulate.places import Places


@dataclass(frozen=True, slots=True, eq=False)
class PlantSeasons:
    """(S, N) plants one by one; ``units`` (N,) is the unit of each."""

    values: Array
    units: NDArray[np.int64]


def groups_of(places: Places, ground_sd: float, piece_sd: float) -> list[Group]:
    """Grounds and pieces with their standard deviations."""
    shares = places.shares or (None,) * len(places.grounds)
    grounds: list[Group] = [
        (codes if parts is None else parts, ground_sd)
        for (_, codes), parts in zip(places.grounds, shares, strict=True)
    ]
    return grounds + [(codes, piece_sd) for _, codes in places.pieces]


def unit_levels(
    rng: np.random.Generator, seasons: int, model: Quantity, places: Places
) -> Array:
    """(S, n) levels of units on the model's scale, without the plants' scatter."""
    groups = groups_of(places, model.ground_sd, model.piece_sd)
    y = unit_effects(rng, seasons, model.unit_sd[places.cells], groups)
    y += _centers(model, places)[places.cells]
    return y


def _centers(model: Quantity, places: Places) -> Array:
    centers = model.centers(len(places.grounds), len(places.pieces))
    if model.kind != "score" or model.limits is None:
        return centers
    shared = len(places.grounds) * model.ground_sd**2 + len(places.pieces) * model.piece_sd**2
    sd = np.sqrt(shared + model.unit_sd**2 + model.plant_sd**2)
    return score_centers(model.means, sd, model.limits)


def mean_of_plants(
    rng: np.random.Generator, levels: Array, model: Quantity, places: Places, found: Array
) -> Array:
    """(S, n) means of ``found`` (S, n) plants around the levels; whole where it is 0."""
    sd = model.plant_sd[places.cells]
    if not (sd > 0.0).any():
        return levels
    scatter: Array = rng.standard_normal(levels.shape)
    scatter *= sd / np.sqrt(np.maximum(found, 1.0))
    return levels + scatter


def plants_around(
    rng: np.random.Generator, levels: Array, model: Quantity, places: Places
) -> PlantSeasons:
    """Plants one by one; scores rounded inside their range."""
    units = plants_of_units(places.plants)
    y = rng.standard_normal((levels.shape[0], units.size))
    y *= model.plant_sd[places.cells][units]
    y += levels[:, units]
    return PlantSeasons(rounded(y, model), units)


def log_totals(plants: Array, level: Array, sd: float) -> Array:
    """(S, n) log totals of plots whose plants (S, n, m), standard normal, are lognormal.

    level + log sum exp(sd z): a total made plant by plant, as the calibration study draws it.
    """
    out: Array = level + np.log(np.exp(sd * plants).sum(axis=2))
    return out


def rounded(values: Array, model: Quantity) -> Array:
    """Scores as whole numbers of their range; everything else as it is."""
    if model.kind != "score" or model.limits is None:
        return values
    low, high = np.ceil(model.limits[0]), np.floor(model.limits[1])
    return np.clip(np.rint(values), low, high)


def rounded_mean(center: Array, sd: Array, limits: tuple[float, float]) -> Array:
    """Mean of a normal value rounded to the whole numbers of a range."""
    from scipy.special import ndtr

    low, high = int(np.ceil(limits[0])), int(np.floor(limits[1]))
    steps = np.arange(low, high) + 0.5
    # one more for every step that is passed
    passed = ndtr((center[:, None] - steps) / np.maximum(sd, 1e-9)[:, None])
    return np.asarray(low + passed.sum(axis=1))


def score_centers(means: Array, sd: Array, limits: tuple[float, float]) -> Array:
    """(t,) centers of the normal whose rounded values have these means, by bisection."""
    span = limits[1] - limits[0] + 10.0 * float(sd.max(initial=1.0)) + 10.0
    low, high = means - span, means + span
    for _ in range(80):
        middle = 0.5 * (low + high)
        under = rounded_mean(middle, sd, limits) < means
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return 0.5 * (low + high)
