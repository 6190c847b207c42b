"""One error stratum in many seasons: totals and sizes, with the plants' guard.

The rules of ``models.linear.strata`` on (S, n) arrays: least squares on unit values,
unit variances phi d_j,

    phi = y'My / tr(MD),    df = tr(MD)^2 / tr(MDMD),    Var(a'y) = phi a'Da,

tr(MD) = sum_j M_jj d_j, tr(MDMD) = sum_ij M_ij^2 d_i d_j (Satterthwaite 1946; Box 1954).
Of several d the one with the widest interval counts. Where d is shared by all seasons all
of this but phi is worked out once; ``d`` is (1, n) then and (S, n) otherwise. A test holds
these numbers equal to the single-season code. Leans on ``layout``, ``results``, ``between``.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, ndtr, ndtri, stdtr, stdtrit

from wickstats.models.batch.between import combine, combine_means, mean_parts
from wickstats.models.batch.layout import (
    BatchLayout,
    Flags,
    by_pattern,
    left_over,
    season_values,
    unit_plants,
)
from wickstats.models.batch.results import Answers, Judged
from wickstats.models.linear.estimates import NORMAL_DF, Array, IntArray

Variance = Callable[[int], tuple[Array, Array]]  # of a scale: variances and df, (D, k)


def judge_units(
    layout: BatchLayout,
    values: ArrayLike,
    *,
    plants: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Judged:
    """Judge unit values (S, n) of totals or sizes.

    Parameters
    ----------
    plants
        (n,) or (S, n) plants behind each value: the guard, as in ``strata.fit_units``.

    Raises
    ------
    ValueError
        For shapes that do not fit, or numbers that are not finite or not above zero.
    """
    y = season_values(values, layout.n)
    scales = [np.ones((1, layout.n))]
    if plants is not None:
        count = unit_plants(plants, y.shape[0], layout.n)
        if (np.ptp(count, axis=1) > 0.0).any():
            scales.append(count.mean(axis=1, keepdims=True) / count)
    return judge_scales(layout, y, scales, floor=0.0, confidence=confidence)


def judge_patterns(
    layout: BatchLayout,
    present: Flags,
    judge: Callable[[BatchLayout, IntArray, IntArray], Judged],
) -> Judged:
    """Judge seasons whose units (S, n) ``present`` differ, pattern by pattern.

    ``judge(left, seasons, units)`` gets the layout of the units that are left.
    """
    out = Judged.empty(present.shape[0], len(layout.contrasts.rows), len(layout.means.rows))
    for which, units in by_pattern(present):
        if units.size:
            kept = np.zeros(layout.n, dtype=bool)
            kept[units] = True
            left = layout if kept.all() else left_over(layout, kept)
            out.put(which, judge(left, which, units))
    return out


def judge_scales(
    layout: BatchLayout,
    y: Array,
    scales: Sequence[Array],
    *,
    floor: float,
    confidence: float,
    dispersion: bool = False,
) -> Judged:
    """Judge values (S, n) under every d of ``scales`` ((1, n) or (S, n))."""
    seasons = y.shape[0]
    rss, judged = scatter(layout, y)
    judged = judged if floor == 0.0 else np.broadcast_to(layout.geometry.df > 0, seasons)
    rss = np.where(judged & ((rss > 0.0) | (floor > 0.0)), rss, 1.0)  # a stand-in
    parts = []
    if layout.geometry.df:
        for d in scales:
            phi, df = unit_scale(layout, d, rss)
            parts.append((np.maximum(phi, floor), df))

    def of_contrast(k: int) -> tuple[Array, Array]:
        phi, df = parts[k]
        return phi[:, None] * (scales[k] @ (layout.contrasts.rows**2).T), df[:, None]

    def of_mean(k: int) -> tuple[Array, Array]:
        phi, df = parts[k]
        found = mean_parts(layout, y, scales[k], phi, df, dispersion=dispersion)
        return combine(*found) if dispersion else combine_means(*found)

    contrasts = answer(
        y @ layout.contrasts.rows.T, layout.contrasts.estimable, judged, of_contrast,
        len(parts), confidence,
    )  # fmt: skip
    means = answer(
        y @ layout.means.rows.T, layout.means.estimable, judged, of_mean,
        len(parts) if len(layout.means.rows) else 0, confidence,
    )  # fmt: skip
    p_all = np.full(seasons, np.nan)
    for (phi, df), d in zip(parts, scales, strict=False):
        if layout.test is not None:
            np.fmax(p_all, joint_p(layout, y, d, phi, df), out=p_all)
    p_all[~judged] = np.nan
    return Judged(contrasts, means, p_all)


def answer(
    estimate: Array,
    estimable: Flags,
    judged: Flags,
    variance: Variance,
    scales: int,
    confidence: float,
) -> Answers:
    """Estimates (S, k) with the widest interval of several variances and df.

    ``judged`` is (S,), or (S, k) by question.
    """
    half = np.zeros_like(estimate)
    se, df = np.full_like(estimate, np.nan), np.full_like(estimate, np.nan)
    for k in range(scales):
        squares, own_df = variance(k)
        with np.errstate(invalid="ignore"):
            own = np.sqrt(squares)
            width = t_quantiles(confidence, own_df) * own
            # as for single seasons: a hair wider through rounding does not count
            wider = width > half * (1.0 + 1e-12)
        half = np.where(wider, width, half)
        se = np.where(wider, own, se)
        df = np.where(wider, own_df, df)
    there = judged if judged.ndim == 2 else judged[:, None]
    there = there & estimable[None, :] & (half > 0.0)
    estimate = np.where(estimable[None, :], estimate, np.nan)
    se, df, half = (np.where(there, part, np.nan) for part in (se, df, half))
    return Answers(
        estimate=estimate,
        se=se,
        df=df,
        low=estimate - half,
        high=estimate + half,
        p=t_tails(estimate / se, df),
        judged=there,
    )


def t_quantiles(confidence: float, df: Array) -> Array:
    """Half-widths in standard errors; the normal one at very many df."""
    share = 0.5 * (1.0 + confidence)
    found: Array = np.where(df > NORMAL_DF, ndtri(share), stdtrit(df, share))
    return found


def t_tails(t: Array, df: Array) -> Array:
    """Two-sided p of Student's t."""
    found: Array = 2.0 * stdtr(df, -np.abs(t))
    many = df > NORMAL_DF
    if many.any():
        found = np.where(many, 2.0 * ndtr(-np.abs(t)), found)
    return found


def scatter(layout: BatchLayout, y: Array) -> tuple[Array, Flags]:
    """Residual sum of squares (S,), and whether it says anything.

    As for single seasons what rounding alone leaves behind counts as no scatter.
    """
    held = y @ layout.residual_basis
    rss = np.einsum("sj,sj->s", held, held)
    rounding = 64.0 * np.finfo(float).eps * np.abs(y).max(axis=1, initial=0.0)
    rss = np.where(rss <= layout.n * rounding**2, 0.0, rss)
    return rss, (rss > 0.0) & (layout.geometry.df > 0)


def unit_scale(layout: BatchLayout, d: Array, rss: Array) -> tuple[Array, Array]:
    """Scale phi (S,) and its df (1,) or (S,) under unit variances phi d."""
    g = layout.geometry
    n_basis = layout.residual_basis
    first = d @ np.einsum("ij,ij->i", n_basis, n_basis)
    projector = n_basis @ n_basis.T
    second = np.einsum("sn,sn->s", d @ (projector * projector), d)
    equal = np.ptp(d, axis=1) == 0.0  # the exact df, free of rounding
    first = np.where(equal, g.df * d[:, 0], first)
    df = np.where(equal, float(g.df), first**2 / second)
    return rss / first, df


def joint_p(layout: BatchLayout, y: Array, d: Array, phi: Array, df: Array) -> Array:
    """F under equal variances, else the ANOVA-type statistic (Brunner et al. 1997)."""
    if layout.test is None or layout.test_rows is None:
        raise ValueError("there is no joint test")
    q = float(layout.rank)
    equal = np.ptp(d, axis=1) == 0.0
    f, q_used = np.zeros(y.shape[0]), np.full(d.shape[0], q)
    if equal.any():
        inside = y @ layout.test.T
        f = np.einsum("sq,sq->s", inside, inside) / (q * phi * d[:, 0])
    if not equal.all():
        effects = y @ layout.test_rows.T
        spread = np.einsum(
            "qn,sn,pn->sqp", layout.test_rows, d, layout.test_rows, optimize=True
        )
        trace = np.trace(spread, axis1=1, axis2=2)
        other = np.einsum("sq,sq->s", effects, effects) / (phi * trace)
        f = np.where(equal, f, other)
        q_used = np.where(equal, q, trace**2 / np.einsum("sqp,sqp->s", spread, spread))
    found: Array = fdtrc(q_used, df, f)
    return found
