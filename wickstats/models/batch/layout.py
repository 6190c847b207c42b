"""What all seasons of a batch share: the units, the questions, and what follows from them.

Everything that does not depend on values is worked out once: with the residual projector
M = N N' of the units' least-squares geometry (``models.linear.geometry``), the unit weights
of every contrast and mean, an orthonormal basis of each joint test, diag(M) and the squares
M_ij^2, from which tr(MD) and tr(MDMD) follow for any unit variances D = diag(d).
Seasons that lost different units are grouped by what is left. Leans on numpy and the linear
geometry.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.estimates import Array, IntArray
from wickstats.models.linear.geometry import Blocks, Geometry, lay_units

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Unit weights of some combinations of cells.

    Attributes
    ----------
    weights
        (k, t) weights of the cells.
    rows
        (k, n) weights of the units; zero where not estimable.
    estimable
        (k,) whether the units can tell.
    """

    weights: Array
    rows: Array
    estimable: Flags


@dataclass(frozen=True, slots=True, eq=False)
class BatchLayout:
    """One set of units with the questions put to every season on it.

    Attributes
    ----------
    geometry
        Of the n units (or of those that are left).
    contrasts, means
        The contrasts of cells asked for, and the means (none unless asked for).
    test
        (q, n) orthonormal unit weights of the joint test, or None where it cannot be made.
    test_rows
        (q, n) unit weights of an orthonormal basis of those contrasts of cells, or None.
    together, rank
        The contrasts of the joint test as asked for, and their rank q.
    covariate
        (n,) as given, or None.
    residual_basis
        (n, df) N, orthonormal.
    """

    geometry: Geometry
    contrasts: Rows
    means: Rows
    test: Array | None
    test_rows: Array | None
    together: Array
    rank: int
    covariate: Array | None
    residual_basis: Array

    @property
    def n(self) -> int:
        """Number of units."""
        return int(self.geometry.cells.size)


def lay_batch(
    cells: ArrayLike,
    n_cells: int,
    *,
    contrasts: ArrayLike,
    means: ArrayLike | None = None,
    together: ArrayLike | None = None,
    blocks: Blocks = None,
    covariate: ArrayLike | None = None,
    space: Array | None = None,
    geometry: Geometry | None = None,
) -> BatchLayout:
    """Lay out a batch.

    Parameters
    ----------
    cells, n_cells, blocks, covariate, space, geometry
        As in ``geometry.lay_units``; a geometry already laid out replaces the others.
    contrasts
        (k, t) weights that sum to zero.
    means
        (l, t) weights that sum to one, or None for no means.
    together
        (q, t) contrasts of the joint test; all differences of cells where None.

    Raises
    ------
    ValueError
        For shapes that do not fit, or weights with another sum.
    """
    layout = geometry or lay_units(
        cells, n_cells, blocks=blocks, covariate=covariate, space=space
    )
    asked = _rows(layout, contrasts, mean=False)
    averages = _rows(layout, np.zeros((0, n_cells)) if means is None else means, mean=True)
    given = np.atleast_2d(np.asarray(steps(n_cells) if together is None else together, float))
    if layout.space is not None:  # all differences that there may be
        given = given @ layout.space
    test_rows, rank = _test_rows(layout, given)
    orthonormal = None
    if test_rows is not None:
        orthonormal = np.linalg.svd(test_rows, full_matrices=False)[2]
    return BatchLayout(
        geometry=layout,
        contrasts=asked,
        means=averages,
        test=orthonormal,
        test_rows=test_rows,
        together=given,
        rank=rank,
        covariate=None if covariate is None else np.asarray(covariate, dtype=float),
        residual_basis=_complement(layout.basis),
    )


def left_over(layout: BatchLayout, units: ArrayLike) -> BatchLayout:
    """The same questions on those ``units`` that are left ((n,) flags)."""
    kept = np.asarray(units, dtype=bool)
    g = layout.geometry
    if kept.shape != (layout.n,):
        raise ValueError(f"expected {layout.n} flags, found shape {kept.shape}")
    blocks = [held.shares[kept] for held in g.classes]
    return lay_batch(
        g.cells[kept],
        g.n_cells,
        contrasts=layout.contrasts.weights,
        means=layout.means.weights,
        together=layout.together,
        blocks=blocks or None,
        covariate=None if layout.covariate is None else layout.covariate[kept],
        space=g.space,
    )


def by_pattern(present: Flags) -> Iterator[tuple[IntArray, IntArray]]:
    """Seasons whose flags (S, n) agree: their numbers, and the units that are there."""
    packed = np.packbits(present, axis=1)
    _, first, group = np.unique(packed, axis=0, return_index=True, return_inverse=True)
    group = group.ravel()
    order = np.argsort(group, kind="stable")
    ends = np.cumsum(np.bincount(group))[:-1]
    for which, one in zip(np.split(order, ends), first, strict=True):
        yield which, np.flatnonzero(present[one])


def season_values(values: ArrayLike, n: int, name: str = "values") -> Array:
    """(S, n) finite floats.

    Raises
    ------
    ValueError
        For another shape, NaN or infinity.
    """
    given = np.asarray(values, dtype=float)
    if given.ndim != 2 or given.shape[1] != n:
        raise ValueError(f"{name} must be (seasons, {n}), found {given.shape}")
    if not np.isfinite(given).all():
        raise ValueError(f"{name} must be finite")
    return given


def unit_plants(plants: ArrayLike, seasons: int, n: int) -> Array:
    """(1, n) plants that all seasons share, or (S, n) each season's own; above zero.

    Raises
    ------
    ValueError
        For another shape or numbers not above zero.
    """
    given = np.atleast_2d(np.asarray(plants, dtype=float))
    if given.shape not in {(1, n), (seasons, n)}:
        raise ValueError(f"plants must be ({n},) or ({seasons}, {n}), found {given.shape}")
    if not np.isfinite(given).all() or (given <= 0.0).any():
        raise ValueError("plants must be above zero")
    return given


def _rows(layout: Geometry, weights: ArrayLike, *, mean: bool) -> Rows:
    given = np.atleast_2d(np.asarray(weights, dtype=float))
    if given.shape[1] != layout.n_cells:
        raise ValueError(f"expected {layout.n_cells} weights, found {given.shape[1]}")
    goal = 1.0 if mean else 0.0
    if (np.abs(given.sum(axis=1) - goal) > 1e-9).any():
        raise ValueError(f"the weights must sum to {goal:g}")
    rows = np.zeros((len(given), layout.cells.size))
    estimable = np.zeros(len(given), dtype=bool)
    for k, one in enumerate(given):
        if not one.any():  # nothing asked: a part of a contrast that lies elsewhere
            continue
        row, _ = layout.mean_row(one) if mean else layout.cell_row(one)
        if row is not None:
            rows[k], estimable[k] = row, True
    return Rows(given, rows, estimable)


def _test_rows(layout: Geometry, together: Array) -> tuple[Array | None, int]:
    """Unit weights of an orthonormal basis of the contrasts, and its rank."""
    _, s, vt = np.linalg.svd(together, full_matrices=False)
    q = int(np.sum(s > 1e-9 * s[0])) if s.size and s[0] > 0 else 0
    if q == 0:
        raise ValueError("all contrasts of the joint test are zero")
    found = [layout.cell_row(w - w.mean())[0] for w in vt[:q]]
    kept = [row for row in found if row is not None]
    return (np.array(kept), q) if len(kept) == q else (None, q)


def _complement(basis: Array) -> Array:
    """(n, n - r) orthonormal basis of what is orthogonal to ``basis`` (n, r)."""
    n, r = basis.shape
    if n == r:
        return np.zeros((n, 0))
    full, _ = np.linalg.qr(np.hstack([basis, np.eye(n)]))
    product: Array = full[:, r:n]
    return product
