"""One dispersion over each arm's own variance: shares and restricted means.

Where arms vary differently, one pooled variance fails, worst when two equal arms stand
beside different ones. Unit j of arm i has variance phi v_ij with v known from the arm's
own plants; phi (not below 1) and its df come from the unit stratum as in ``strata``
(D = diag(v)), the same df for every contrast. Complete blocks:
df = (b - 1)(sum_i C_ii v_i)^2 / sum_ij C_ij^2 v_i v_j, C = I - J/t
(Satterthwaite 1946; Box 1954, Ann. Math. Stat. 25:290).

    shares            v = p (1 - p)/m, p = (x + 0.5)/(n + 1) of the arm, m plants in the unit
    restricted means  v = variance of the arm's plants with half a plant of 0 and half of
                      the full time added, over m

Where plants per unit differ, v is taken with each unit's own m and with one common m
(their harmonic mean); the wider interval counts. Leans on ``strata``.
"""

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.linear.estimates import Array
from wickstats.models.linear.geometry import Blocks, Geometry, lay_units
from wickstats.models.linear.strata import UnitFit, finite_values, fit_scales

OWN = "own dispersion"
COMMON = "own dispersion, common number of plants"


def share_variances(
    alive: ArrayLike, plants: ArrayLike, cells: ArrayLike, n_cells: int
) -> Array:
    """(t,) p (1 - p) of each cell, p = (x + 0.5)/(n + 1) from the cell's totals."""
    codes = np.asarray(cells, dtype=np.int64)
    x = np.bincount(codes, weights=np.asarray(alive, dtype=float), minlength=n_cells)
    n = np.bincount(codes, weights=np.asarray(plants, dtype=float), minlength=n_cells)
    p = (x + 0.5) / (n + 1.0)
    product: Array = p * (1.0 - p)
    return product


def restricted_variances(
    plant_times: ArrayLike, plant_cells: ArrayLike, n_cells: int, full_time: float
) -> Array:
    """(t,) variance of each cell's plants with half a plant of 0 and half of ``full_time``.

    ``plant_times`` are restricted survival times, or pseudo-values when censored; the
    divisor is the number of plants plus one.
    """
    if not full_time > 0.0:
        raise ValueError("the full time must be above zero")
    times = finite_values(plant_times)
    codes = np.asarray(plant_cells, dtype=np.int64)
    n = np.bincount(codes, minlength=n_cells) + 1.0
    first = np.bincount(codes, weights=times, minlength=n_cells) + 0.5 * full_time
    center = first / n
    squares = np.bincount(codes, weights=(times - center[codes]) ** 2, minlength=n_cells)
    ends = 0.5 * center**2 + 0.5 * (full_time - center) ** 2
    product: Array = (squares + ends) / n
    return product


def fit_dispersion(
    values: ArrayLike,
    cells: ArrayLike,
    n_cells: int,
    *,
    plant_variance: ArrayLike,
    plants: ArrayLike,
    blocks: Blocks = None,
    confidence: float = 0.95,
    geometry: Geometry | None = None,
) -> UnitFit:
    """Fit unit values whose cells have plant variances ``plant_variance`` (t,).

    Parameters
    ----------
    values
        (n,) unit values (shares, restricted means).
    plants
        (n,) plants of each unit, above zero.

    Raises
    ------
    ValueError
        For shapes that do not fit, a unit without plants, a variance not above zero.
    """
    y = finite_values(values)
    layout = geometry or lay_units(cells, n_cells, blocks=blocks)
    m = finite_values(plants)
    if layout.cells.size != y.size or m.shape != y.shape or (m <= 0).any():
        raise ValueError("one value and a number of plants above zero are needed a unit")
    per_plant = finite_values(plant_variance)
    if per_plant.shape != (n_cells,) or (per_plant[layout.counts > 0] <= 0).any():
        raise ValueError("every cell needs a plant variance above zero")
    v = per_plant[layout.cells]
    bases = [(OWN, v / m)]
    if np.ptp(m) > 0:
        bases.append((COMMON, v * float(np.mean(1.0 / m))))
    return fit_scales(y, layout, bases, confidence=confidence, rule="dispersion", floor=1.0)


def fit_shares(
    alive: ArrayLike,
    plants: ArrayLike,
    cells: ArrayLike,
    n_cells: int,
    *,
    blocks: Blocks = None,
    confidence: float = 0.95,
    geometry: Geometry | None = None,
) -> UnitFit:
    """Fit the units' shares ``alive / plants``; units without plants must be left out.

    Raises
    ------
    ValueError
        Where more are alive than there were, or a unit has no plants.
    """
    x = finite_values(alive)
    m = finite_values(plants)
    if x.shape != m.shape or (m <= 0).any() or (x < 0).any() or (x > m).any():
        raise ValueError("alive must lie between 0 and plants, and plants above zero")
    return fit_dispersion(
        x / m,
        cells,
        n_cells,
        plant_variance=share_variances(x, m, cells, n_cells),
        plants=m,
        blocks=blocks,
        confidence=confidence,
        geometry=geometry,
    )


def fit_restricted_means(
    values: ArrayLike,
    plants: ArrayLike,
    cells: ArrayLike,
    n_cells: int,
    *,
    plant_times: ArrayLike,
    plant_cells: ArrayLike,
    full_time: float,
    blocks: Blocks = None,
    confidence: float = 0.95,
    geometry: Geometry | None = None,
) -> UnitFit:
    """Fit the units' restricted means.

    Parameters
    ----------
    values, plants
        (n,) restricted mean of each unit and the plants behind it.
    plant_times, plant_cells
        (N,) restricted time (or pseudo-value) of every plant, and its cell.
    full_time
        The time to which means are restricted, in the same unit.

    Raises
    ------
    ValueError
        As ``fit_dispersion``.
    """
    return fit_dispersion(
        values,
        cells,
        n_cells,
        plant_variance=restricted_variances(plant_times, plant_cells, n_cells, full_time),
        plants=plants,
        blocks=blocks,
        confidence=confidence,
        geometry=geometry,
    )
