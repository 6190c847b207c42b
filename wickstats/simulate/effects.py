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
Group = tuple[NDArray[np.int64], float]  # (n,) codes and standard deviation


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
        without variation spends no random numbers.
    """
    sd = np.asarray(unit_sd, dtype=float)
    out: Array | None = None
    for codes, size in groups:
        if size > 0.0:
            drawn = size * rng.standard_normal((seasons, int(codes.max()) + 1))[:, codes]
            out = drawn if out is None else out + drawn
    own: Array = rng.standard_normal((seasons, sd.size))
    own *= sd
    return own if out is None else out + own


def plants_of_units(plants: NDArray[np.int64]) -> NDArray[np.int64]:
    """(N,) unit of each plant, the plants of a unit side by side."""
    return np.repeat(np.arange(plants.size), plants)
