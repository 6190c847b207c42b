"""The least-squares geometry of one stratum: what units can tell about cells.

Model: y = X b + e, X = [cell indicators (t) | block shares (B) | covariate] (without
interactions: the indicators times a projector on the main effects), blocks fixed, unit
values unweighted. Blocks may be several classifications beside one another,
nested or crossed: rows and columns of a Latin square, replicates and their blocks, row
strips and column strips. With X = U S V' (thin, rank r) the residual projector is
M = I - U U', an estimable function c'b has the unit weights a = U S^-1 V'c, so that its
estimate is a'y, and it is estimable when c lies in the span of V (Searle 1971, Linear
Models, section 5.4).

For unit variances proportional to D = diag(d) the scale and its degrees of freedom
(Satterthwaite 1946; Box 1954, Ann. Math. Stat. 25:290) need tr(MD) and tr(MDMD);
both come from U in O(n r^2).

What each classification k adds is taken after cells, covariate and every classification
that does not refine it (fitting constants: Henderson 1953, Biometrics 9:226, method 3);
its sum of squares then has expectation sum_j s_j^2 tr(B_j' P_k B_j) + phi tr(P_k D), with
j = k and the classifications nested in k.

The geometry holds no values: one serves every response on the same units.
Leans on numpy.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import Array, IntArray

RANK_TOLERANCE = 1e-9  # relative to the largest singular value; columns are of size one


Blocks = ArrayLike | Sequence[ArrayLike] | None


@dataclass(frozen=True, slots=True, eq=False)
class Classification:
    """One fixed classification of the units: blocks, rows, columns.

    Attributes
    ----------
    shares
        (n, B) share of each unit in each of its classes.
    basis
        (n, k) orthonormal basis of the classes after cells, covariate and whatever does
        not refine them.
    """

    shares: Array
    basis: Array


@dataclass(frozen=True, slots=True, eq=False)
class Geometry:
    """What the layout of the units allows, before any value.

    Attributes
    ----------
    cells
        (n,) cell code of each unit.
    n_cells, n_blocks
        Cells t (empty ones included) and blocks that hold units (0 without blocks); of
        several classifications all classes together.
    counts
        (t,) units of each cell.
    shares
        (n, B) share of each unit in each block, classification after classification.
    classes
        The classifications in the order given.
    expected
        (K, K) tr(B_j' P_k B_j): weight of the variance of classification j in the sum of
        squares of k.
    basis
        (n, r) orthonormal basis U of the model's columns.
    solver
        (p, n) coefficients from values: V S^-1 U'.
    row_space
        (p, r) V.
    leverage
        (n,) diagonal of U U'.
    df
        Residual degrees of freedom n - r.
    space
        (t, t) projector on what cells may differ by; None: by anything. Contrasts and means
        are those of the projected cells.
    """

    cells: IntArray
    n_cells: int
    n_blocks: int
    counts: IntArray
    shares: Array
    basis: Array
    solver: Array
    row_space: Array
    leverage: Array
    df: int
    classes: tuple[Classification, ...]
    expected: Array
    space: Array | None = None

    def cell_row(self, weights: ArrayLike) -> tuple[Array | None, str | None]:
        """Unit weights (n,) of a contrast of cells, or None and why it is not estimable."""
        return self._row(self._extended(weights, mean=False))

    def mean_row(self, weights: ArrayLike) -> tuple[Array | None, str | None]:
        """Unit weights (n,) of a mean of cells over all blocks with equal weight.

        Of several classifications each gives equal weight to its classes.
        """
        return self._row(self._extended(weights, mean=True))

    def _extended(self, weights: ArrayLike, *, mean: bool) -> Array:
        cell_weights = np.asarray(weights, dtype=float)
        if cell_weights.shape != (self.n_cells,):
            raise ValueError(f"expected {self.n_cells} weights, found {cell_weights.shape}")
        if not np.isfinite(cell_weights).all():
            raise ValueError("a weight is not a finite number")
        if self.space is not None:
            cell_weights = cell_weights @ self.space
        full = np.zeros(self.solver.shape[0])
        full[: self.n_cells] = cell_weights
        start = self.n_cells
        for held in self.classes if mean else ():
            stop = start + held.shares.shape[1]
            full[start:stop] = 1.0 / held.shares.shape[1]
            start = stop
        return full

    def _row(self, full: Array) -> tuple[Array | None, str | None]:
        size = float(np.abs(full).max(initial=0.0))
        if size == 0.0:
            raise ValueError("all weights are zero")
        weighted = np.abs(full[: self.n_cells]) > 1e-12 * size
        if self.space is None and (self.counts[weighted] == 0).any():
            return None, say("linear no unit")
        inside = self.row_space @ (self.row_space.T @ full)
        if float(np.abs(full - inside).max()) > 1e-7 * size:
            return None, say("linear not connected")
        return full @ self.solver, None

    def traces(self, d: Array) -> tuple[float, float]:
        """tr(MD) and tr(MDMD) for D = diag(d)."""
        first = float(np.sum(d * (1.0 - self.leverage)))
        inner = self.basis.T @ (d[:, None] * self.basis)
        second = float(np.sum(d * d * (1.0 - 2.0 * self.leverage)) + np.sum(inner * inner))
        return first, second


def lay_units(
    cells: ArrayLike,
    n_cells: int,
    *,
    blocks: Blocks = None,
    covariate: ArrayLike | None = None,
    space: Array | None = None,
) -> Geometry:
    """Lay out the geometry of one stratum.

    Parameters
    ----------
    cells
        (n,) integer codes 0..t-1; cells without units are allowed.
    n_cells
        t.
    blocks
        (n,) integer codes, or (n, B) shares whose rows sum to one, or None; a list of
        such where there are several classifications.
    covariate
        (n,) a unit covariate, or None; means are given at its average.
    space
        (t, t) projector on what cells may differ by, or None.

    Raises
    ------
    ValueError
        For codes out of range, shapes that do not fit, shares that do not sum to one,
        or numbers that are not finite.
    """
    codes = np.asarray(cells, dtype=np.int64)
    if codes.ndim != 1:
        raise ValueError("cells must be a list of codes")
    n = codes.size
    if n and (codes.min() < 0 or codes.max() >= n_cells):
        raise ValueError("a cell code is out of range")
    indicators = np.zeros((n, n_cells))
    indicators[np.arange(n), codes] = 1.0
    if space is not None:
        indicators = indicators @ space
    parts = [block_shares(given, n) for given in classifications(blocks)]
    parts = [part for part in parts if part.shape[1]]
    shares = np.hstack([np.zeros((n, 0)), *parts])
    others = [] if covariate is None else [_standard(covariate, n)]
    x = np.hstack([indicators, shares, *others])
    basis, solver, row_space = _factor(x)
    classes = _classes(np.hstack([indicators, *others]), parts)
    return Geometry(
        cells=codes,
        n_cells=n_cells,
        n_blocks=shares.shape[1],
        counts=np.bincount(codes, minlength=n_cells),
        shares=shares,
        basis=basis,
        solver=solver,
        row_space=row_space,
        leverage=np.einsum("ij,ij->i", basis, basis),
        df=n - basis.shape[1],
        classes=classes,
        expected=_expected(classes),
        space=space,
    )


def classifications(blocks: Blocks) -> tuple[ArrayLike, ...]:
    """Each classification apart: a list or tuple of numpy arrays holds several."""
    if blocks is None:
        return ()
    if isinstance(blocks, list | tuple):
        parts = [part for part in blocks if isinstance(part, np.ndarray) and part.ndim]
        if len(parts) == len(blocks):
            return tuple(parts)
    return (np.asarray(blocks),)


def block_shares(blocks: ArrayLike | None, n: int) -> Array:
    """(n, B) shares from codes, shares or None; blocks without units are left out."""
    if blocks is None:
        return np.zeros((n, 0))
    given = np.asarray(blocks)
    if given.ndim == 1:
        if given.shape != (n,):
            raise ValueError(f"expected {n} block codes, found {given.size}")
        found, codes = np.unique(given, return_inverse=True)
        shares = np.zeros((n, found.size))
        shares[np.arange(n), codes] = 1.0
        return shares
    shares = given.astype(float)
    if shares.shape[0] != n or not np.isfinite(shares).all() or (shares < 0).any():
        raise ValueError("block shares must be one row a unit, at or above zero")
    if not np.allclose(shares.sum(axis=1), 1.0, rtol=0, atol=1e-9):
        raise ValueError("a unit's block shares must sum to one")
    return shares[:, shares.sum(axis=0) > 0.0]


def piece_means(covariate: Array, piece: IntArray) -> Array:
    """(pieces,) mean of a covariate over the units of each piece, rounding taken out."""
    centered = covariate - covariate.mean()
    means = np.bincount(piece, weights=centered) / np.bincount(piece)
    small = 1e-9 * float(np.abs(centered).max(initial=0.0))
    product: Array = np.where(np.abs(means) <= small, 0.0, means)
    return product


def _standard(covariate: ArrayLike, n: int) -> Array:
    x = np.asarray(covariate, dtype=float)
    if x.shape != (n,) or not np.isfinite(x).all():
        raise ValueError("the covariate must be one finite number a unit")
    centered = x - x.mean() if n else x
    size = float(np.abs(centered).max(initial=0.0))
    if n == 0 or size <= 1e-12 * float(np.abs(x).max(initial=0.0)):
        return np.zeros((n, 1))
    return (centered / size)[:, None]


def _factor(x: Array) -> tuple[Array, Array, Array]:
    n, p = x.shape
    if n == 0 or p == 0:
        return np.zeros((n, 0)), np.zeros((p, n)), np.zeros((p, 0))
    u, s, vt = np.linalg.svd(x, full_matrices=False)
    rank = int(np.sum(s > RANK_TOLERANCE * s[0])) if s[0] > 0 else 0
    u, s, v = u[:, :rank], s[:rank], vt[:rank].T
    return u, (v / s) @ u.T, v


def _classes(first: Array, parts: list[Array]) -> tuple[Classification, ...]:
    """Each classification after cells, covariate and whatever does not refine it."""
    out = []
    for k, shares in enumerate(parts):
        others = [
            other for j, other in enumerate(parts) if j != k and not _refines(other, shares)
        ]
        out.append(Classification(shares, _after(np.hstack([first, *others]), shares)))
    return tuple(out)


def _refines(fine: Array, coarse: Array) -> bool:
    """Whether the coarse classes are unions of the fine ones (and not the same)."""
    if fine.shape[1] <= coarse.shape[1]:
        return False
    u, _, _ = _factor(fine)
    return float(np.abs(coarse - u @ (u.T @ coarse)).max(initial=0.0)) < 1e-9


def _after(first: Array, shares: Array) -> Array:
    """Orthonormal basis of the shares after ``first``."""
    if shares.shape[0] == 0:
        return np.zeros((0, 0))
    u, _, _ = _factor(first)
    left = shares - u @ (u.T @ shares)
    w, s, _ = np.linalg.svd(left, full_matrices=False)
    return w[:, s > 1e-8]


def _expected(classes: tuple[Classification, ...]) -> Array:
    out = np.zeros((len(classes), len(classes)))
    for k, held in enumerate(classes):
        for j, other in enumerate(classes):
            inner = held.basis.T @ other.shares
            out[k, j] = float(np.sum(inner * inner))
    out[out < 1e-9] = 0.0
    return out
