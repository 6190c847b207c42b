"""Several error strata in many seasons: split-plots, split-split-plots, strip-plots.

The rules of ``models.linear.error_strata``: the means of each stratum's units are fitted by
least squares apart, a contrast's parts and their variances add, df are Satterthwaite's
(1946). What depends on the layout alone is taken from the single-season code once.
Leans on ``layout``, ``between``, ``strata`` and the single-season error strata.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.batch.between import combine, combine_means, mean_parts
from wickstats.models.batch.layout import BatchLayout, Flags, lay_batch, season_values
from wickstats.models.batch.results import Judged
from wickstats.models.batch.strata import answer, joint_p, scatter, unit_scale
from wickstats.models.linear.error_strata import ErrorStratum, fit_error_strata
from wickstats.models.linear.estimates import Array


@dataclass(frozen=True, slots=True, eq=False)
class StratumPart:
    """One stratum of the layout.

    Attributes
    ----------
    averages
        (n, u) takes values of the smallest units to means of the stratum's units.
    layout
        Of the stratum's units; its contrasts and means are the parts that lie in it.
    contrasts, means
        (k,), (l,) whether a part of the contrast or mean lies here.
    """

    averages: Array
    layout: BatchLayout
    contrasts: Flags
    means: Flags


@dataclass(frozen=True, slots=True, eq=False)
class StrataLayout:
    """All strata, and which of them tests the contrasts that go together (or none)."""

    n: int
    parts: tuple[StratumPart, ...]
    tested_in: int | None


def lay_error_strata(
    cells: ArrayLike,
    shape: Sequence[int],
    strata: Sequence[ErrorStratum],
    *,
    contrasts: ArrayLike,
    means: ArrayLike | None = None,
    together: ArrayLike | None = None,
    main_effects: bool = False,
) -> StrataLayout | str:
    """Lay out a batch, or say in words why the strata cannot be separated.

    Parameters
    ----------
    cells, shape, strata, main_effects
        As in ``error_strata.fit_error_strata``.
    contrasts, means, together
        As in ``layout.lay_batch``, on all cells; ``together`` must lie in one stratum, and
        there is no joint test without it.

    Raises
    ------
    ValueError
        For shapes that do not fit, contrasts that a stratum cannot estimate, or contrasts
        together that lie in several strata.
    """
    codes = np.asarray(cells, dtype=np.int64)
    # any values will do: only what the layout decides is kept of this fit
    fit = fit_error_strata(
        np.cos(np.arange(codes.size) ** 2.0), codes, shape, strata, main_effects=main_effects
    )
    if isinstance(fit, str):
        return fit
    size = int(np.prod(shape))
    asked = np.atleast_2d(np.asarray(contrasts, dtype=float))
    averages = np.zeros((0, size)) if means is None else np.atleast_2d(np.asarray(means))
    joint = None if together is None else np.atleast_2d(np.asarray(together, dtype=float))
    parts: list[StratumPart] = []
    tested: list[int] = []
    for k, (stratum, one) in enumerate(zip(strata, fit.fits, strict=True)):
        unit = np.unique(stratum.units, return_inverse=True)[1].reshape(-1)
        counts = np.bincount(unit)
        to_means = np.zeros((codes.size, counts.size))
        to_means[np.arange(codes.size), unit] = 1.0 / counts[unit]
        own = _part(asked, fit.splits[k])
        own_means = _part(averages, fit.splits[k])
        test = None if joint is None else _part(joint, fit.splits[k])
        if test is not None and test.any():
            tested.append(k)
        else:
            test = None
        # beyond the first stratum a part of a mean is a contrast of the stratum's cells
        later = own_means if k else np.zeros((0, one.geometry.n_cells))
        layout = lay_batch(
            one.geometry.cells,
            one.geometry.n_cells,
            contrasts=np.vstack([own, later]),
            means=None if k else own_means,
            together=test,
            geometry=one.geometry,
        )
        there: Flags = np.any(layout.contrasts.weights != 0.0, axis=1, keepdims=True)[:, 0]
        if not layout.contrasts.estimable[there].all():
            raise ValueError("a contrast cannot be estimated in its stratum")
        count = len(asked)
        parts.append(
            StratumPart(
                averages=to_means,
                layout=layout,
                contrasts=there[:count],
                means=there[count:] if k else np.ones(len(averages), dtype=bool),
            )
        )
    if len(tested) > 1:
        raise ValueError("these contrasts mix the strata: no exact F exists")
    return StrataLayout(codes.size, tuple(parts), tested[0] if tested else None)


def judge_error_strata(
    layout: StrataLayout, values: ArrayLike, *, confidence: float = 0.95
) -> Judged:
    """Judge values (S, n) of the smallest units.

    Raises
    ------
    ValueError
        For another shape, or numbers that are not finite.
    """
    y = season_values(values, layout.n)
    seasons, k = y.shape[0], layout.parts[0].contrasts.size
    averaged = layout.parts[0].means.size
    estimate, averages = np.zeros((seasons, k)), np.zeros((seasons, averaged))
    variances: list[Array] = []
    dfs: list[Array] = []
    mean_variances: list[Array] = []
    mean_dfs: list[Array] = []
    judged = np.ones((seasons, k + averaged), dtype=bool)
    p_all = np.full(seasons, np.nan)
    for place, part in enumerate(layout.parts):
        here = y @ part.averages
        own = part.layout
        rss, there = scatter(own, here)
        d = np.ones((1, own.n))
        phi, df = np.ones(seasons), np.ones(1)  # stand-ins, where nothing is given
        if own.geometry.df:
            phi, df = unit_scale(own, d, np.where(there, rss, 1.0))
        rows = own.contrasts.rows
        squares = phi[:, None] * np.sum(rows * rows, axis=1)
        spread = np.broadcast_to(df[:, None], squares.shape)
        sums = here @ rows.T
        estimate += sums[:, :k]
        variances.append(squares[:, :k])
        dfs.append(spread[:, :k])
        if place:
            averages += sums[:, k:]
            mean_variances.append(squares[:, k:, None])
            mean_dfs.append(spread[:, k:, None])
        else:
            averages += here @ own.means.rows.T
            squares, spread = mean_parts(own, here, d, phi, df, dispersion=False)
            mean_variances.append(squares)
            mean_dfs.append(spread)
        used = np.r_[part.contrasts, part.means]
        judged &= ~used[None, :] | there[:, None]
        if place == layout.tested_in:
            p_all = np.where(there, joint_p(own, here, d, phi, df), np.nan)
    every = np.ones(k + averaged, dtype=bool)
    total, total_df = combine(np.stack(variances, axis=-1), np.stack(dfs, axis=-1))
    spread_means = combine_means(
        np.concatenate(mean_variances, axis=-1), np.concatenate(mean_dfs, axis=-1)
    )
    return Judged(
        answer(estimate, every[:k], judged[:, :k], lambda _: (total, total_df), 1, confidence),
        answer(averages, every[k:], judged[:, k:], lambda _: spread_means, 1, confidence),
        p_all,
    )


def _part(weights: Array, split: Array) -> Array:
    """The part of weights (k, t) that lies in a stratum, free of rounding."""
    part = weights @ split.T
    size = np.abs(weights).max(initial=0.0)
    out: Array = np.where(np.abs(part) <= 1e-12 * size, 0.0, part)
    return out
