"""Means in many seasons: the classifications' strata and the units' beside one another.

As ``UnitFit.mean_parts`` of the single-season code: the variance of each classification k
(blocks; rows and columns) from its sum of squares Q_k = |B_k'y|^2, whose expectation is
sum_j E_kj s_j^2 + phi tr(B_k'D B_k) (Henderson 1953, method 3); a mean's variance is a sum
of those and of phi, its df Satterthwaite's (1946), corrected where a part has few df (as
``estimates.combine_mean``). Leans on numpy and ``layout``.
"""

import numpy as np

from wickstats.models.batch.layout import BatchLayout
from wickstats.models.linear.estimates import Array
from wickstats.models.linear.geometry import Classification


def mean_parts(
    layout: BatchLayout, y: Array, d: Array, phi: Array, df: Array, *, dispersion: bool
) -> tuple[Array, Array]:
    """Parts (S, l, m) of the variance of the layout's means, and their df.

    Unit variances are phi d; the last part is the units', the others the classifications'.

    ``d`` is (1, n) or (S, n), ``phi`` (S,), ``df`` (1,) or (S,), or (S, l) by mean.
    """
    g = layout.geometry
    rows = layout.means.rows
    own = phi[:, None] * (d @ (rows * rows).T)  # (S, l)
    own_df = np.broadcast_to(df if df.ndim == 2 else df[:, None], own.shape)
    kept = [k for k in range(len(g.classes)) if g.expected[k, k] > 0.0]
    if not kept:
        return own[:, :, None], own_df[:, :, None]
    classes = [g.classes[k] for k in kept]
    squares = np.stack([np.sum((y @ c.basis) ** 2, axis=1) for c in classes], axis=1)
    units = np.stack([d @ np.sum(c.basis**2, axis=1) for c in classes], axis=1)
    expected = g.expected[np.ix_(kept, kept)]
    excess = squares - phi[:, None] * units
    variances = np.maximum(np.linalg.solve(expected, excess.T).T, 0.0)
    dfs = _class_df(classes, d, phi, variances)
    out = np.zeros((*own.shape, len(kept) + 1))
    out_df = np.zeros_like(out)
    for i, row in enumerate(rows):
        weights = np.array([float(np.sum((row @ c.shares) ** 2)) for c in classes])
        shares = np.linalg.solve(expected.T, weights)
        size = np.abs(weights / np.diag(expected)).max(initial=0.0)
        shares[np.abs(shares) < 1e-12 * size] = 0.0
        alone = d @ (row * row)
        left = alone - units @ shares
        # unequal unit variances: the parts no longer split the mean squares
        bounded = (left < -1e-9 * alone) | dispersion | bool((shares < 0.0).any())
        unit_part = phi * np.where(bounded, alone, np.maximum(left, 0.0))
        of_classes = np.where(bounded[:, None], weights * variances, shares * squares)
        out[:, i] = np.hstack([of_classes, unit_part[:, None]])
        out_df[:, i] = np.hstack([dfs, own_df[:, i : i + 1]])
    return out, out_df


def _class_df(classes: list[Classification], d: Array, phi: Array, variances: Array) -> Array:
    """(S, K) Satterthwaite's df of the classifications' sums of squares."""
    out = np.empty_like(variances)
    for k, held in enumerate(classes):
        basis = held.basis
        between = [(basis.T @ c.shares) @ (basis.T @ c.shares).T for c in classes]
        within = np.einsum("ni,sn,nj->sij", basis, d, basis, optimize=True)
        traces = np.array([np.trace(part) for part in between])
        trace = variances @ traces + phi * np.trace(within, axis1=1, axis2=2)
        flat = np.array([part.ravel() for part in between])
        inner = within.reshape(len(within), -1)
        cross = variances * (inner @ flat.T)
        square = np.einsum("sj,jl,sl->s", variances, flat @ flat.T, variances)
        square += 2.0 * phi * cross.sum(axis=1)
        square += phi**2 * np.einsum("si,si->s", inner, inner)
        out[:, k] = trace**2 / np.maximum(square, 1e-300)
    return out


def combine(parts: Array, dfs: Array) -> tuple[Array, Array]:
    """Sum of independent variances (..., m) and its df; parts at or below zero stay out."""
    held = np.maximum(parts, 0.0)
    total = held.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(held > 0.0, held / total[..., None], 0.0)
        inverse = np.where(held > 0.0, share * share / dfs, 0.0).sum(axis=-1)
        df = np.where(total > 0.0, 1.0 / inverse, np.nan)
    return total, df


def combine_means(parts: Array, dfs: Array) -> tuple[Array, Array]:
    """The same for means, corrected where a part has few df: ``estimates.combine_mean``."""
    held = np.maximum(parts, 0.0)
    total = held.sum(axis=-1)
    there = held > 0.0
    few = np.where(there, np.clip(3.0 - dfs, 0.0, 1.0), 0.0)
    most = few.max(axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        weights = np.where(there, held / total[..., None] * ((dfs + 2.0) / dfs) ** few, 0.0)
        share = weights / weights.sum(axis=-1, keepdims=True)
        inverse = np.where(there, share * share / (dfs + most), 0.0).sum(axis=-1)
        df = np.where(total > 0.0, 1.0 / inverse - most[..., 0], np.nan)
    return total, df
