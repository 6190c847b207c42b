"""The first line for counts in many seasons on the same units.

The package's rule: log-linear fit on arms and blocks, half-width the larger of the
quasi-Poisson one and that of the least-squares fit of log(count + 0.5), both with the
design's df. Iteratively reweighted least squares runs on all seasons at once; seasons
with an empty block or arm, or that do not settle, go through the package one by one.
Leans on numpy, scipy.special, study_linear and the package's counts.
"""

from functools import partial

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit
from study_linear import Judged, judge_by, judge_scales
from study_seasons import Seasons

from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.geometry import Geometry
from wickstats.models.ratios.counts import fit_counts

ITERATIONS = 30


def judge_counts(seasons: Seasons, contrasts: np.ndarray) -> Judged:
    """Judge (k, t) contrasts of log totals in every season."""
    return judge_by(seasons, contrasts, partial(_judge_one, seasons, contrasts))


def _judge_one(
    seasons: Seasons,
    contrasts: np.ndarray,
    which: np.ndarray,
    units: np.ndarray,
    layout: Geometry,
) -> Judged:
    x = seasons.values[np.ix_(which, units)]
    out = Judged.empty(which.size, len(contrasts))
    plain = _plain(x, layout)
    if plain.any():
        out.put(np.flatnonzero(plain), _many(x[plain], layout, contrasts))
    settled = np.isfinite(out.p).all(axis=1)
    for s in np.flatnonzero(~settled):
        _single(x[s], layout, contrasts, out, int(s))
    return out


def _plain(x: np.ndarray, layout: Geometry) -> np.ndarray:
    """(S,) whether every arm and block holds a count, and all are connected."""
    arms = x @ np.eye(layout.n_cells)[layout.cells]
    held = np.logical_and((arms > 0).all(axis=1), (x @ layout.shares > 0).all(axis=1))
    connected = layout.basis.shape[1] == layout.n_cells + layout.n_blocks - 1
    return np.asarray(held & connected)


def _many(x: np.ndarray, layout: Geometry, contrasts: np.ndarray) -> Judged:
    t, df = layout.n_cells, float(layout.df)
    full = np.hstack([np.eye(t)[layout.cells], layout.shares[:, 1:]])
    coefficients, mu, inverse, settled = _fit(x, full)
    phi = np.maximum(1.0, ((x - mu) ** 2 / mu).sum(axis=1) / df)
    phi[~settled] = np.nan  # the package decides on these
    spread = phi[:, None, None] * inverse[:, :t, :t]
    logs = judge_scales(np.log(x + 0.5), layout, contrasts, [np.ones_like(x)], floor=0.0)
    out = Judged.empty(x.shape[0], len(contrasts))
    quantile = float(stdtrit(df, 0.975))
    for k, weights in enumerate(contrasts):
        estimate = coefficients[:, :t] @ weights
        quasi = np.sqrt(np.einsum("i,sij,j->s", weights, spread, weights))
        pooled = (logs.high[:, k] - logs.estimate[:, k]) / quantile
        se = np.fmax(quasi, pooled)  # without scatter in the logs the first one alone
        se[~settled] = np.nan
        out.estimate[:, k] = estimate
        out.low[:, k], out.high[:, k] = estimate - quantile * se, estimate + quantile * se
        out.p[:, k] = 2.0 * stdtr(df, -np.abs(estimate / se))
    rows = steps(t)
    effects = coefficients[:, :t] @ rows.T
    middle = rows @ spread @ rows.T
    middle[~settled] = np.eye(t - 1)
    solved = np.linalg.solve(middle, effects[:, :, None])[:, :, 0]
    p = fdtrc(t - 1.0, df, np.einsum("sq,sq->s", effects, solved) / (t - 1.0))
    out.p_all[:] = np.maximum(p, logs.p_all)
    return out


def _fit(
    x: np.ndarray, design: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Coefficients, means, (X'WX)^-1 and whether the season settled."""
    seasons, p = x.shape[0], design.shape[1]
    products = (design[:, :, None] * design[:, None, :]).reshape(-1, p * p)
    eta = np.log(x + 0.5)
    coefficients = np.zeros((seasons, p))
    change = np.full(seasons, np.inf)
    for _ in range(ITERATIONS):
        mu = np.exp(np.clip(eta, -30.0, 30.0))
        information = (mu @ products).reshape(-1, p, p)
        # a hair of ridge keeps seasons solvable that run to infinity; they do not settle
        information += 1e-13 * np.eye(p)
        right = (mu * eta + x - mu) @ design
        new = np.linalg.solve(information, right[:, :, None])[:, :, 0]
        change = np.abs(new - coefficients).max(axis=1)
        coefficients = new
        eta = np.clip(coefficients @ design.T, -30.0, 30.0)
        if change.max() < 1e-11:
            break
    mu = np.exp(eta)
    settled = (change < 1e-9) & (mu >= 1e-5 * x.mean(axis=1, keepdims=True)).all(axis=1)
    information = (mu @ products).reshape(-1, p, p)
    information[~settled] = np.eye(p)
    return coefficients, mu, np.linalg.inv(information), settled


def _single(
    x: np.ndarray, layout: Geometry, contrasts: np.ndarray, out: Judged, s: int
) -> None:
    fit = fit_counts(x, layout.cells, layout.n_cells, geometry=layout)
    for k, weights in enumerate(contrasts):
        found = fit.contrast(weights)
        values = (found.estimate, found.low, found.high, found.p)
        for name, value in zip(("estimate", "low", "high", "p"), values, strict=True):
            getattr(out, name)[s, k] = np.nan if value is None else value
    p = fit.test(steps(layout.n_cells)).p
    out.p_all[s] = np.nan if p is None else p
