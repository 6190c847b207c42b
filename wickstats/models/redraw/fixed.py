"""The F statistic of many layouts with anything fixed: rows and columns, strips, a covariate.

Model: y = N g + cell + e on the units that have a value. With U an orthonormal basis of N
on those units, C = diag(r) - (X'U)(X'U)' and Q = X'(y - U U'y) for the layout's cell
indicators X; then as in ``statistic`` (Searle 1971, Linear Models, section 7.1). C is the
same for all layouts of a Latin square without losses and is then solved once.
Leans on statistic; numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.redraw.scheme import IntArray
from wickstats.models.redraw.statistic import EXACT_FIT, Array, contrast_rows, pseudo_inverse

SAME = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class FixedPart:
    """Values with what is fixed taken out.

    Attributes
    ----------
    cells
        (n,) observed codes of all units laid out.
    kept
        (n,) True where the unit has a value.
    basis
        (n, r) orthonormal basis of what is fixed; rows of lost units are zero.
    left
        (n,) values less their fit; 0 where lost.
    contrasts
        (q, t).
    space
        (t, t) projector on what cells may differ by; None: by anything.
    """

    cells: IntArray
    kept: NDArray[np.bool_]
    basis: Array
    left: Array
    contrasts: Array
    space: Array | None = None


def lay_fixed(
    values: ArrayLike,
    cells: ArrayLike,
    contrasts: ArrayLike | None,
    fixed: ArrayLike,
    lost: ArrayLike | None,
    n_cells: int,
    space: Array | None = None,
) -> FixedPart:
    """Take the columns ``fixed`` (n, p) and the mean out of the values.

    Raises
    ------
    ValueError
        For shapes that do not fit, a value that is not finite where the unit is not lost,
        or contrasts whose weights do not sum to zero.
    """
    y = np.asarray(values, dtype=float)
    codes = np.asarray(cells, dtype=np.int64)
    columns = np.asarray(fixed, dtype=float)
    gone = np.zeros(y.size, dtype=bool) if lost is None else np.asarray(lost, dtype=bool)
    if codes.shape != y.shape or gone.shape != y.shape or len(columns) != y.size:
        raise ValueError("values, cells, fixed columns and lost must be one entry a unit")
    if not np.isfinite(y[~gone]).all():
        raise ValueError("a unit that is not lost has no finite value")
    here = np.where(gone, 0.0, 1.0)[:, None]
    u, s, _ = np.linalg.svd(np.hstack([here, columns * here]), full_matrices=False)
    basis = u[:, s > SAME * max(float(s.max(initial=0.0)), 1e-300)]
    kept_y = np.where(gone, 0.0, y)
    return FixedPart(
        cells=codes,
        kept=~gone,
        basis=basis,
        left=kept_y - basis @ (basis.T @ kept_y),
        contrasts=contrast_rows(contrasts, n_cells),
        space=space,
    )


def f_statistics(part: FixedPart, layouts: IntArray) -> Array:
    """(d,) F of the contrasts in each layout; inf where the fit is exact, nan where none."""
    t = part.contrasts.shape[1]
    marks = [(layouts == c) & part.kept for c in range(t)]
    q = np.stack([mark @ part.left for mark in marks], axis=1)
    inside = np.stack([mark @ part.basis for mark in marks], axis=1)
    c = -inside @ inside.transpose(0, 2, 1)
    c[:, np.arange(t), np.arange(t)] += np.stack([mark.sum(axis=1) for mark in marks], axis=1)
    if part.space is not None:
        c, q = part.space @ c @ part.space, q @ part.space
    same = len(c) > 1 and float(np.abs(c - c[0]).max()) < SAME
    solve = _inverses if part.space is None else pseudo_inverse
    inverse, rank = solve(c[:1] if same else c)
    rows = part.contrasts
    tau = np.einsum("dij,dj->di", np.broadcast_to(inverse, c.shape), q)
    if np.linalg.matrix_rank(rows) == t - 1:  # all differences: no need to single them out
        estimable, df_num = rank == t - 1, rank
        explained = np.einsum("dt,dt->d", q, tau)
    else:
        left = rows - rows @ inverse @ (c[:1] if same else c)
        estimable = np.abs(left).max(axis=(1, 2)) <= 1e-7 * np.abs(rows).max()
        middle, df_num = pseudo_inverse(rows @ inverse @ rows.T)
        effects = tau @ rows.T
        shape = (len(c), len(rows), len(rows))
        explained = np.einsum("dq,dqp,dp->d", effects, np.broadcast_to(middle, shape), effects)
    df_den = int(part.kept.sum()) - part.basis.shape[1] - rank
    total = float(part.left @ part.left)
    residual = np.maximum(total - np.einsum("dt,dt->d", q, tau), 0.0)
    residual[residual <= EXACT_FIT * total] = 0.0
    explained[explained <= EXACT_FIT * total] = 0.0
    top = explained / np.maximum(df_num, 1)
    bottom = residual / np.maximum(df_den, 1)
    f = np.zeros(len(c))
    np.divide(top, bottom, out=f, where=bottom > 0.0)
    f[(bottom == 0.0) & (top > 0.0)] = np.inf
    f[np.broadcast_to(~(estimable & (df_den > 0)), f.shape)] = np.nan
    return f


def _inverses(c: Array) -> tuple[Array, IntArray]:
    """Pseudo-inverses and ranks; those of connected layouts without eigenvalues.

    C of a connected layout has the constant vector as its only null vector, so that
    (C + J/t)^-1 - J/t is its pseudo-inverse.
    """
    t = c.shape[1]
    try:
        inverse = np.linalg.inv(c + 1.0 / t) - 1.0 / t
    except np.linalg.LinAlgError:
        return pseudo_inverse(c)
    rank = np.full(len(c), t - 1, dtype=np.int64)
    off = np.abs(c @ inverse @ c - c).max(axis=(1, 2)) > 1e-9 * np.abs(c).max()
    off |= np.abs(inverse).max(axis=(1, 2)) > 1e8 / np.abs(c).max()
    if off.any():
        inverse[off], rank[off] = pseudo_inverse(c[off])
    return inverse, rank


def observed_state(part: FixedPart) -> tuple[bool, int]:
    """Whether the contrasts are estimable in the observed layout, and the residual df."""
    t = part.contrasts.shape[1]
    x = (part.cells[:, None] == np.arange(t)) * part.kept[:, None].astype(float)
    inside = x.T @ part.basis
    c = x.T @ x - inside @ inside.T
    if part.space is not None:
        c = part.space @ c @ part.space
    inverse, rank = pseudo_inverse(c[None])
    left = part.contrasts - part.contrasts @ inverse[0] @ c
    size = np.abs(part.contrasts).max()
    df = int(part.kept.sum()) - part.basis.shape[1] - int(rank[0])
    return bool(np.abs(left).max() <= 1e-7 * size), df
