"""Normal effects of the ground, of larger pieces, of units and of plants.

    y_j = sum over groups g of s_g z_g(j) + s_j z_j,   all z standard normal and apart

the variance-components model (Searle, Casella & McCulloch 1992, ch. 3). The groups'
numbers are drawn first, in their order, then the units'. The calibration study draws its
blocks and plots here too. Leans on numpy.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
# (n,) codes, or (n, k) parts of units that span several; standard deviation
Group = tuple[NDArray[np.int64] | Array, float]


def unit_effects(
    rng: np.random.Generator,
    seasons: int,
    unit_sd: ArrayLike,
    groups: Sequence[Group] = (),
) -> Array:
    """(S, n) effects of units, those of their groups included.

    Parameters
    ----------
    unit_sd
        (n,) standard deviations of the units.
    groups
        (codes (n,), standard deviation) of blocks, rows, columns, whole plots; a group
        without variation spends no random numbers. A unit that spans several, told by parts
        (n, k), has the mean of theirs.
    """
    sd = np.asarray(unit_sd, dtype=float)
    out: Array | None = None
    for codes, size in groups:
        if size > 0.0:
            drawn = size * _of_group(rng, seasons, codes)
            out = drawn if out is None else out + drawn
    own: Array = rng.standard_normal((seasons, sd.size))
    own *= sd
    return own if out is None else out + own


def _of_group(
    rng: np.random.Generator, seasons: int, codes: NDArray[np.int64] | Array
) -> Array:
    if codes.ndim == 2:
        return np.asarray(rng.standard_normal((seasons, codes.shape[1])) @ codes.T)
    held = codes.astype(np.int64)
    return np.asarray(rng.standard_normal((seasons, int(held.max()) + 1))[:, held])


def plants_of_units(plants: NDArray[np.int64]) -> NDArray[np.int64]:
    """(N,) unit of each plant, the plants of a unit side by side."""
    return np.repeat(np.arange(plants.size), plants)
