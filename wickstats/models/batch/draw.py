"""Normal seasons on one layout: unit values, or plants one by one.

y = level of the cell + block + unit + plant, all normal and apart; the random numbers are
numpy's PCG64 streams of ``models.redraw.scheme.generator``. Leans on numpy.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array


def draw_units(
    rng: np.random.Generator,
    seasons: int,
    levels: ArrayLike,
    *,
    unit_sd: ArrayLike,
    groups: Sequence[tuple[ArrayLike, float]] = (),
) -> Array:
    """(S, n) unit values.

    Parameters
    ----------
    levels
        (n,) expected value of each unit.
    unit_sd
        Standard deviation of the units, one or (n,).
    groups
        (codes (n,), standard deviation) of blocks, rows, columns, whole plots.
    """
    expected = np.asarray(levels, dtype=float)
    y = rng.standard_normal((seasons, expected.size))
    y *= np.asarray(unit_sd, dtype=float)
    y += expected
    for codes, sd in groups:
        number = np.asarray(codes, dtype=np.int64)
        if sd > 0.0:
            y += (sd * rng.standard_normal((seasons, int(number.max()) + 1)))[:, number]
    return y


def draw_plants(
    rng: np.random.Generator,
    seasons: int,
    levels: ArrayLike,
    units: ArrayLike,
    *,
    plant_sd: ArrayLike,
    unit_sd: ArrayLike,
    groups: Sequence[tuple[ArrayLike, float]] = (),
) -> Array:
    """(S, N) plants.

    Parameters
    ----------
    levels
        (n,) expected value of each unit.
    units
        (N,) unit of each plant, 0..n-1.
    plant_sd
        One, or one a plant.
    unit_sd, groups
        As in ``draw_units``.
    """
    number = np.asarray(units, dtype=np.int64)
    base = draw_units(rng, seasons, levels, unit_sd=unit_sd, groups=groups)
    y = rng.standard_normal((seasons, number.size))
    y *= np.asarray(plant_sd, dtype=float)
    y += base[:, number]
    return y


def unit_means(plants: Array, units: ArrayLike, n: int) -> Array:
    """(S, n) means of plants (S, N) by unit; every unit must hold a plant.

    Raises
    ------
    ValueError
        For a unit without plants.
    """
    number = np.asarray(units, dtype=np.int64)
    counts = np.bincount(number, minlength=n)
    if counts.size != n or (counts == 0).any():
        raise ValueError("every unit needs a plant")
    if (np.diff(number) >= 0).all():
        if (counts == counts[0]).all():
            means: Array = plants.reshape(len(plants), n, counts[0]).mean(axis=2)
            return means
        starts = np.r_[0, np.cumsum(counts)[:-1]]
        sums: Array = np.add.reduceat(plants, starts, axis=1)
        return sums / counts
    weights = np.zeros((number.size, n))
    weights[np.arange(number.size), number] = 1.0 / counts[number]
    found: Array = plants @ weights
    return found
