"""The F statistic and the least-squares estimate of many layouts at once.

Model: y = block + cell + e on the units that have a value, blocks fixed. With r the
cells' counts, N (t, b) their incidence in blocks of size k, the reduced normal equations
are C tau = Q with C = diag(r) - N diag(1/k) N' and Q the cells' totals of the values less
their block means (Searle 1971, Linear Models, section 7.1). The sum of squares of the
contrasts L is (L C- Q)'(L C- L')-(L C- Q), the residual one y'y within blocks less Q'C-Q.

C depends on a layout only through the cells laid on lost units, so it is solved once for
each such pattern and the layouts then need one matrix product. Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.redraw.scheme import IntArray, group_codes

Array = NDArray[np.float64]
RANK = 1e-9  # relative size below which an eigenvalue is zero
EXACT_FIT = 1e-12  # share of the sum of squares below which it is rounding


@dataclass(frozen=True, slots=True, eq=False)
class Stratum:
    """Units laid out, and the values of those that have one.

    Attributes
    ----------
    cells, group
        (n,) observed cell codes and block codes of all units laid out.
    kept
        (n,) True where the unit has a value.
    centered
        (n,) values less the mean of the kept units of their block; 0 where lost.
    contrasts
        (q, t) rows of cell weights.
    sizes
        (b,) kept units of each block.
    space
        (t, t) projector on what cells may differ by; None: by anything. The equations are
        then those of the projected cells, P C P tau = P Q.
    """

    cells: IntArray
    group: IntArray
    kept: NDArray[np.bool_]
    centered: Array
    contrasts: Array
    sizes: IntArray
    space: Array | None = None

    @property
    def n_cells(self) -> int:
        """Number of cells t."""
        return int(self.contrasts.shape[1])


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """Per pattern of cells on lost units: what the layouts with that pattern need."""

    inverse: Array  # (P, t, t) C-
    middle: Array  # (P, q, q) (L C- L')-
    estimable: NDArray[np.bool_]
    df_num: IntArray
    df_den: IntArray


def lay_stratum(
    values: ArrayLike,
    cells: ArrayLike,
    contrasts: ArrayLike | None,
    blocks: ArrayLike | None,
    lost: ArrayLike | None,
    space: Array | None = None,
) -> Stratum:
    """Check the arrays and center the values inside blocks.

    Raises
    ------
    ValueError
        For shapes that do not fit, negative codes, a value that is not finite where the
        unit is not lost, or contrasts whose weights do not sum to zero.
    """
    y = np.asarray(values, dtype=float)
    codes = np.asarray(cells, dtype=np.int64)
    n = codes.size
    if y.shape != (n,) or codes.ndim != 1 or n == 0:
        raise ValueError("values and cells must be lists of the same length, one a unit")
    if codes.min() < 0:
        raise ValueError("a cell code is negative")
    gone = np.zeros(n, dtype=bool) if lost is None else np.asarray(lost, dtype=bool)
    if gone.shape != (n,):
        raise ValueError("lost must be one flag a unit")
    if not np.isfinite(y[~gone]).all():
        raise ValueError("a unit that is not lost has no finite value")
    group = group_codes(blocks, n)
    sizes = np.bincount(group[~gone], minlength=int(group.max()) + 1)
    kept_y = np.where(gone, 0.0, y)
    means = np.bincount(group, weights=kept_y, minlength=sizes.size) / np.maximum(sizes, 1)
    return Stratum(
        cells=codes,
        group=group,
        kept=~gone,
        centered=np.where(gone, 0.0, y - means[group]),
        contrasts=contrast_rows(contrasts, int(codes.max()) + 1),
        sizes=sizes.astype(np.int64),
        space=space,
    )


def contrast_rows(contrasts: ArrayLike | None, t: int) -> Array:
    """(q, t) contrasts that sum to zero; None: all differences of cells."""
    if contrasts is None:
        return np.eye(t)[1:] - np.eye(t)[:1]
    rows = np.atleast_2d(np.asarray(contrasts, dtype=float))
    if rows.shape[1] < t or not np.isfinite(rows).all():
        raise ValueError(f"contrasts need one finite weight a cell, {t} of them")
    if not np.allclose(rows.sum(axis=1), 0.0, rtol=0, atol=1e-9 * np.abs(rows).max(initial=1)):
        raise ValueError("the weights of a contrast must sum to zero")
    return rows


def f_statistics(stratum: Stratum, layouts: IntArray) -> Array:
    """(d,) F of the contrasts in each layout; inf where the fit is exact, nan where none.

    There is none where the contrasts cannot be estimated or nothing is left for the error.
    """
    solved, which = _solve_patterns(stratum, layouts)
    q = _totals(stratum, layouts)
    tau = _apply(solved.inverse, which, q)
    total = float(stratum.centered @ stratum.centered)
    residual = np.maximum(total - np.einsum("dt,dt->d", q, tau), 0.0)
    effects = tau @ stratum.contrasts.T
    explained = np.einsum("dq,dq->d", effects, _apply(solved.middle, which, effects))
    residual[residual <= EXACT_FIT * total] = 0.0
    explained[explained <= EXACT_FIT * total] = 0.0
    top = explained / np.maximum(solved.df_num, 1)[which]
    bottom = residual / np.maximum(solved.df_den, 1)[which]
    f = np.zeros(len(layouts))
    np.divide(top, bottom, out=f, where=bottom > 0.0)
    f[(bottom == 0.0) & (top > 0.0)] = np.inf
    f[~(solved.estimable & (solved.df_den > 0))[which]] = np.nan
    return f


def estimates(stratum: Stratum, layouts: IntArray, side: int = 0) -> Array:
    """(d,) |estimate| of the first contrast in each layout; nan where not estimable.

    With a ``side`` (1 or -1) the estimate itself, large on that side.
    """
    solved, which = _solve_patterns(stratum, layouts)
    tau = _apply(solved.inverse, which, _totals(stratum, layouts))
    out: Array = tau @ stratum.contrasts[0]
    out = side * out if side else np.abs(out)
    # what rounding leaves of equal values is zero, not a tie-breaker
    out[np.abs(out) <= 1e-12 * np.abs(stratum.centered).max(initial=0.0)] = 0.0
    out[~solved.estimable[which]] = np.nan
    return out


def observed_state(stratum: Stratum) -> tuple[bool, int]:
    """Whether the contrasts are estimable in the observed layout, and the residual df."""
    solved, _ = _solve_patterns(stratum, stratum.cells[None, :])
    return bool(solved.estimable[0]), int(solved.df_den[0])


def _totals(stratum: Stratum, layouts: IntArray) -> Array:
    y = stratum.centered
    out = np.stack([(layouts == c) @ y for c in range(stratum.n_cells)], axis=1)
    return out if stratum.space is None else np.asarray(out @ stratum.space)


def _apply(matrices: Array, which: IntArray, vectors: Array) -> Array:
    if len(matrices) == 1:
        return np.asarray(vectors @ matrices[0])
    return np.asarray(np.einsum("dij,dj->di", matrices[which], vectors))


def _solve_patterns(stratum: Stratum, layouts: IntArray) -> tuple[_Solved, IntArray]:
    """C- and its kin for each distinct set of cells on lost units, and who has which."""
    lost = np.flatnonzero(~stratum.kept)
    if lost.size == 0:
        patterns, which = layouts[:1, lost], np.zeros(len(layouts), dtype=np.int64)
        full = layouts[:1]
    else:
        patterns, first, which = np.unique(
            layouts[:, lost], axis=0, return_index=True, return_inverse=True
        )
        full, which = layouts[first], which.reshape(-1)
    t, b = stratum.n_cells, stratum.sizes.size
    incidence = np.zeros((len(patterns), t, b))
    kept = np.flatnonzero(stratum.kept)
    rows = np.repeat(np.arange(len(patterns)), kept.size)
    np.add.at(
        incidence,
        (rows, full[:, kept].reshape(-1), np.tile(stratum.group[kept], len(patterns))),
        1.0,
    )
    c = -(incidence / np.maximum(stratum.sizes, 1)) @ incidence.transpose(0, 2, 1)
    c[:, np.arange(t), np.arange(t)] += incidence.sum(axis=2)
    if stratum.space is not None:
        c = stratum.space @ c @ stratum.space
    inverse, rank = pseudo_inverse(c)
    rows_left = stratum.contrasts - stratum.contrasts @ inverse @ c
    size = np.abs(stratum.contrasts).max()
    middle, df_num = pseudo_inverse(stratum.contrasts @ inverse @ stratum.contrasts.T)
    blocks = int(np.count_nonzero(stratum.sizes))
    return (
        _Solved(
            inverse=inverse,
            middle=middle,
            estimable=np.abs(rows_left).max(axis=(1, 2)) <= 1e-7 * size,
            df_num=df_num,
            df_den=kept.size - blocks - rank,
        ),
        which,
    )


def pseudo_inverse(matrices: Array) -> tuple[Array, IntArray]:
    """Pseudo-inverses and ranks of a stack of symmetric matrices."""
    w, v = np.linalg.eigh(matrices)
    good = w > RANK * np.maximum(w[:, -1:], 1e-300)
    scale = np.where(good, 1.0 / np.where(good, w, 1.0), 0.0)
    return (v * scale[:, None, :]) @ v.transpose(0, 2, 1), good.sum(axis=1).astype(np.int64)
