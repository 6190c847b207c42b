"""Counts in many seasons: the log-linear fit with the largest of three half-widths.

The rule of ``models.ratios.counts``. Iteratively reweighted least squares (McCullagh &
Nelder 1989) runs on all seasons at once in the orthonormal coordinates U of the units'
geometry: with eta = U g, a contrast of cells with unit weights a has the estimate a'eta and
the variance phi a'U (U'WU)^-1 U'a. Seasons with an empty block or arm, or that do not
settle, go through the single-season code one by one. Leans on ``strata`` and the
single-season counts.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc

from wickstats.models.batch.layout import BatchLayout, season_values
from wickstats.models.batch.results import FIELDS, Answers, Judged
from wickstats.models.batch.strata import judge_units, t_quantiles, t_tails
from wickstats.models.linear.estimates import Array
from wickstats.models.ratios.counts import fit_counts

STEPS = 30
FARTHEST = 30.0


def judge_counts(layout: BatchLayout, counts: ArrayLike, *, confidence: float = 0.95) -> Judged:
    """Judge the layout's contrasts of log totals: (S, n) ``counts``.

    Raises
    ------
    ValueError
        For negative counts, or a layout that asks for means (they are not linear in the
        logarithms; take ``models.ratios.counts``).
    """
    x = season_values(counts, layout.n, "counts")
    if (x < 0.0).any():
        raise ValueError("a count cannot be negative")
    if len(layout.means.rows):
        raise ValueError("means of counts are judged season by season")
    out = Judged.empty(x.shape[0], len(layout.contrasts.rows), 0)
    plain = _plain(layout, x)
    if plain.any():
        out.put(np.flatnonzero(plain), _many(layout, x[plain], confidence))
    settled = plain & np.isfinite(out.contrasts.p).any(axis=1)
    for s in np.flatnonzero(~settled):
        _single(layout, x[s], out, int(s), confidence)
    return out


def _plain(layout: BatchLayout, x: Array) -> np.ndarray:
    """(S,) whether every arm and block holds a count."""
    g = layout.geometry
    held = np.broadcast_to(
        bool(layout.contrasts.estimable.all()) and layout.test is not None and g.df > 0,
        x.shape[0],
    )
    arms = (x @ np.eye(g.n_cells)[g.cells] > 0.0)[:, g.counts > 0]
    return np.asarray(held & arms.all(axis=1) & (x @ g.shares > 0.0).all(axis=1))


def _many(layout: BatchLayout, x: Array, confidence: float) -> Judged:
    g = layout.geometry
    df = float(g.df)
    eta, inverse, settled = _fit(x, g.basis)
    mu = np.exp(eta)
    phi = ((x - mu) ** 2 / mu).sum(axis=1) / df
    events = np.maximum(x.sum(axis=1) - x.shape[1], df)
    logs = judge_units(layout, np.log(x + 0.5), confidence=confidence)
    rows = layout.contrasts.rows
    inside = rows @ g.basis
    poisson = np.einsum("ki,sij,kj->sk", inside, inverse, inside, optimize=True)
    poisson[~settled] = np.nan  # the single-season code decides on these
    estimate = eta @ rows.T
    phi = np.where(phi > 1e-12, phi, 0.0)
    # in the order of the single-season code, which keeps the first of equals
    candidates = [
        (phi[:, None] * poisson, np.full(estimate.shape, df)),
        (poisson, np.broadcast_to(events[:, None], estimate.shape)),
        (logs.contrasts.se**2, np.full(estimate.shape, df)),
    ]
    half, p = np.zeros_like(estimate), np.zeros_like(estimate)
    se, own_df = np.full_like(estimate, np.nan), np.full_like(estimate, np.nan)
    for variance, its_df in candidates:
        own = np.sqrt(variance)
        width = t_quantiles(confidence, its_df) * own
        wider = width > half * (1.0 + 1e-12)
        half, se = np.where(wider, width, half), np.where(wider, own, se)
        own_df = np.where(wider, its_df, own_df)
        there = own > 0.0
        t = estimate / np.where(there, own, 1.0)
        p = np.fmax(p, np.where(there, t_tails(t, its_df), 0.0))
    judged = np.isfinite(poisson)
    half, p, se, own_df = (np.where(judged, part, np.nan) for part in (half, p, se, own_df))
    contrasts = Answers(
        estimate=estimate,
        se=se,
        df=own_df,
        low=estimate - half,
        high=estimate + half,
        p=p,
        judged=judged,
    )
    p_all = _p_all(layout, eta, inverse, (phi, events), settled)
    return Judged(contrasts, Answers.empty(len(x), 0), np.fmax(p_all, logs.p_all))


def _p_all(
    layout: BatchLayout,
    eta: Array,
    inverse: Array,
    scatter: tuple[Array, Array],
    settled: np.ndarray,
) -> Array:
    """The larger p of the quasi-Poisson and the Poisson F."""
    if layout.test_rows is None:
        return np.full(len(eta), np.nan)
    phi, events = scatter
    q = float(layout.rank)
    inside = layout.test_rows @ layout.geometry.basis
    spread = inside @ inverse @ inside.T
    spread[~settled] = np.eye(layout.rank)
    effects = eta @ layout.test_rows.T
    solved = np.linalg.solve(spread, effects[:, :, None])[:, :, 0]
    f = np.einsum("sq,sq->s", effects, solved) / q
    found = fdtrc(q, events, f)
    there = phi > 0.0
    quasi = fdtrc(q, float(layout.geometry.df), f / np.where(there, phi, 1.0))
    product: Array = np.where(settled, np.maximum(found, np.where(there, quasi, 0.0)), np.nan)
    return product


def _fit(x: Array, basis: Array) -> tuple[Array, Array, np.ndarray]:
    """Linear predictors (S, n), (U'WU)^-1 (S, r, r) and whether the season settled."""
    r = basis.shape[1]
    products = (basis[:, :, None] * basis[:, None, :]).reshape(-1, r * r)
    eta: Array = np.log(x + 0.5)
    inner = np.zeros((x.shape[0], r))
    change = np.full(x.shape[0], np.inf)
    for _ in range(STEPS):
        mu = np.exp(np.clip(eta, -FARTHEST, FARTHEST))
        information = (mu @ products).reshape(-1, r, r)
        # a hair of ridge keeps seasons solvable that run to infinity; they do not settle
        information += 1e-13 * np.eye(r)
        right = (mu * eta + x - mu) @ basis
        new = np.linalg.solve(information, right[:, :, None])[:, :, 0]
        change = np.asarray(np.abs(new - inner).max(axis=1), dtype=float)
        inner = np.asarray(new, dtype=float)
        eta = np.clip(inner @ basis.T, -FARTHEST, FARTHEST)
        if change.max() < 1e-11:
            break
    mu = np.exp(eta)
    settled = (change < 1e-9) & (mu >= 1e-5 * x.mean(axis=1, keepdims=True)).all(axis=1)
    information = (mu @ products).reshape(-1, r, r)
    information[~settled] = np.eye(r)
    inverse = np.asarray(np.linalg.inv(information), dtype=float)
    return eta, inverse, np.asarray(settled)


def _single(layout: BatchLayout, x: Array, out: Judged, s: int, confidence: float) -> None:
    g = layout.geometry
    fit = fit_counts(x, g.cells, g.n_cells, geometry=g, confidence=confidence)
    for k, weights in enumerate(layout.contrasts.weights):
        found = fit.contrast(weights)
        for name in FIELDS:
            value = getattr(found, name)
            getattr(out.contrasts, name)[s, k] = np.nan if value is None else value
        out.contrasts.judged[s, k] = found.p is not None
    p = fit.test(layout.together).p
    out.p_all[s] = np.nan if p is None else p
