"""Tests of fixed effects in mixed models: Kenward-Roger, with Satterthwaite beside it.

Symbols, at the estimate: V = sum_k theta_k G_k, Phi = (X'V^-1 X)^-1,
P_k = X'V^-1 G_k V^-1 X, Q_kl = X'V^-1 G_k V^-1 G_l V^-1 X, W = 2 (expected information of
-2 l)^-1, the covariance of the components. Then (Kenward & Roger 1997, equations 4 to 9)

    Phi_A = Phi + 2 Phi [ sum_kl W_kl (Q_kl - P_k Phi P_l) ] Phi
    F     = scaling x (L b)'(L Phi_A L')^-1 (L b) / rank L

For one row of L the scaling is 1 and df = 2 v^2 / var(v), v = L Phi L', taken directly: the
general formula is 0/0 at 2 df. For the same reason a joint test whose scaling leaves
[1/2, 3/2] goes unscaled on df = 2 rank / A2 (A2 as in the paper), which is the one-row rule
when there is one row and exact when one component counts; near 2 df pbkrtest there scales F
down to nothing. Components at zero stay in W and in the sums, as in pbkrtest (Halekoh &
Hojsgaard 2014). Satterthwaite's df use the observed information and are never given for a
fit with a component at zero. Leans on reml, scipy.special.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special
from scipy.linalg import solve_triangular

from wickstats.core.words import say
from wickstats.models.linear.grouping import Array
from wickstats.models.linear.reml import MixedFit

Method = Literal["kenward-roger", "satterthwaite"]

ESTIMABLE = 1e-8
SAME = 1e-8  # relative agreement taken as exact
FEWEST_DF = 0.5  # fewer say nothing: Student's t then has no quantiles to speak of
SCALINGS = (0.5, 1.5)  # outside, the scaling of a joint F is that of a 0/0
NEAR_TWO = 1e-2  # around 2 df the scaling is taken as 1, as in pbkrtest


@dataclass(frozen=True, slots=True)
class MixedContrast:
    """One contrast L b. All numbers None where ``not_estimable`` says why.

    ``se_model`` is the standard error before the Kenward-Roger adjustment.
    """

    estimate: float | None
    se: float | None
    se_model: float | None
    df: float | None
    t: float | None
    p: float | None
    low: float | None
    high: float | None
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class JointTest:
    """F test of L b = 0. All numbers None where ``not_estimable`` says why."""

    f: float | None
    df_num: float | None
    df_den: float | None
    p: float | None
    scaling: float | None
    not_estimable: str | None = None


def mixed_contrasts(
    fit: MixedFit,
    L: Array,
    *,
    method: Method = "kenward-roger",
    level: float = 0.95,
    design_df: float | None = None,
) -> tuple[MixedContrast, ...]:
    """Estimate each row of L on its own.

    Parameters
    ----------
    fit
        From ``fit_mixed``.
    L
        (m, p) contrasts of the fixed effects.
    method
        Kenward-Roger: adjusted standard error and df. Satterthwaite: model's standard error.
    level
        Confidence of the (unadjusted) intervals.
    design_df
        Degrees of freedom of the stratum by the design: the smaller of the two counts.
    """
    rows, problems = _rows(fit, L)
    if fit.reason is not None:
        return tuple(_no_contrast(fit.reason) for _ in rows)
    covariance, parameters, reason = _machinery(fit, method)
    at, square = fit.inner.at, fit.inner.scale**2
    estimates = rows @ fit.inner.coordinates
    models = np.einsum("ij,ij->i", rows @ at.phi, rows)
    variances = square * np.einsum("ij,ij->i", rows @ covariance, rows)
    dfs = _row_dfs(fit, rows, models, parameters)
    if design_df is not None:
        dfs = np.minimum(dfs, design_df)
    good = np.isfinite(dfs) & (variances > 0)
    df = np.where(good, dfs, 1.0)
    se = np.sqrt(np.where(good, variances, 1.0))
    half = se * special.stdtrit(df, 0.5 + level / 2)
    t = estimates / se
    p = 2.0 * special.stdtr(df, -np.abs(t))
    se_model = np.sqrt(square * models)
    table = np.column_stack(
        [estimates, se, se_model, df, t, p, estimates - half, estimates + half]
    )
    out = []
    for numbers, problem, fine in zip(table.tolist(), problems, good.tolist(), strict=True):
        stop = problem or reason or (None if fine else say("mixed no df"))
        out.append(_no_contrast(stop) if stop else MixedContrast(*numbers))
    return tuple(out)


def mixed_test(fit: MixedFit, L: Array, *, method: Method = "kenward-roger") -> JointTest:
    """Test all rows of L (m, p) together; rows that depend on others count once.

    Kenward-Roger scales F and approximates its denominator df. Satterthwaite follows Fai &
    Cornelius (1996): the rows' own df are matched in the mean of F.
    """
    rows, problems = _rows(fit, L)
    stop = fit.reason or next((p for p in problems if p), None)
    if stop:
        return _no_test(stop)
    covariance, parameters, reason = _machinery(fit, method)
    if reason:
        return _no_test(reason)
    basis = _independent(rows)
    q = len(basis)
    if q == 0:
        return _no_test(say("mixed not estimable"))
    effect = basis @ fit.inner.coordinates / fit.inner.scale
    wald = float(effect @ np.linalg.solve(basis @ covariance @ basis.T, effect)) / q
    if method == "satterthwaite":
        df, scaling = _fai_cornelius(fit, rows, parameters), 1.0
    elif q == 1:
        model = float(basis[0] @ fit.inner.at.phi @ basis[0])
        df, scaling = _one_row_df(fit, basis[0], model, parameters), 1.0
    else:
        df, scaling = _scaled_df(fit, basis, parameters)
    if df is None or df < FEWEST_DF or wald < 0:
        return _no_test(say("mixed no df"))
    f = scaling * wald
    return JointTest(f, float(q), df, float(special.fdtrc(q, df, f)), scaling)


def contrast_covariance(fit: MixedFit, L: Array, *, method: Method = "kenward-roger") -> Array:
    """Covariance (m, m) of L b: Kenward-Roger adjusted, or the model's own.

    Raises
    ------
    ValueError
        Where a row is not estimable or the fit did not converge, in words.
    """
    rows, problems = _rows(fit, L)
    stop = fit.reason or next((p for p in problems if p), None)
    if stop:
        raise ValueError(stop)
    covariance, _, reason = _machinery(fit, method)
    if reason:
        raise ValueError(reason)
    return np.asarray(fit.inner.scale**2 * (rows @ covariance @ rows.T))


def _rows(fit: MixedFit, L: Array) -> tuple[Array, list[str | None]]:
    """Rows of L in orthonormal coordinates (m, r), and which cannot be estimated."""
    L = np.atleast_2d(np.asarray(L, dtype=float))
    root, kept = fit.inner.root, list(fit.inner.kept)
    if L.shape[1] != root.shape[1]:
        raise ValueError("L needs one column for each column of the fixed part")
    rows = solve_triangular(root[:, kept], L[:, kept].T, trans="T").T
    lengths = np.maximum(np.linalg.norm(root, axis=0), 1e-300)
    left = np.max(np.abs(rows @ root - L) / lengths, axis=1)
    size = np.linalg.norm(rows, axis=1)
    bad = (size == 0) | (left > ESTIMABLE * size)
    problems = [say("mixed not estimable") if wrong else None for wrong in bad.tolist()]
    return rows, problems


def _machinery(fit: MixedFit, method: Method) -> tuple[Array, Array, str | None]:
    """Covariance of the coordinates, covariance of the components, or why there is none."""
    at = fit.inner.at
    r = len(at.phi)
    if method == "satterthwaite":
        if fit.singular:
            return at.phi, at.expected, say("mixed singular")
        scale = np.sqrt(np.abs(np.diagonal(at.observed)))
        if (
            np.any(scale == 0)
            or np.linalg.eigvalsh(at.observed / np.outer(scale, scale))[0] <= SAME
        ):
            return at.phi, at.expected, say("mixed not minimum")
        return at.phi, np.asarray(2.0 * np.linalg.inv(at.observed)), None
    parameters = np.asarray(2.0 * np.linalg.inv(at.expected))
    P = at.first
    middle = (parameters.reshape(-1) @ fit.inner.second.reshape(parameters.size, -1)).reshape(
        r, r
    )
    for k, weights in enumerate(parameters):
        middle -= P[k] @ at.phi @ np.tensordot(weights, P, axes=1)
    adjusted = at.phi + at.phi @ (middle + middle.T) @ at.phi
    return adjusted, parameters, None


def _gradients(fit: MixedFit, basis: Array) -> Array:
    """(m, q, q) derivatives of L Phi L' with respect to the components."""
    at = fit.inner.at
    side = basis @ at.phi
    return np.asarray(side @ at.first @ side.T)


def _row_dfs(fit: MixedFit, rows: Array, models: Array, parameters: Array) -> Array:
    """Twice v^2 over the variance of v for each row (M, r); infinite where there is none."""
    side = rows @ fit.inner.at.phi
    slopes = np.array([np.einsum("ij,ij->i", side @ P, side) for P in fit.inner.at.first])
    variance = np.einsum("ki,kl,li->i", slopes, parameters, slopes)
    found = np.full(len(rows), np.inf)
    np.divide(2.0 * models**2, variance, out=found, where=variance > 0)
    return np.where(found >= FEWEST_DF, found, np.inf)


def _one_row_df(fit: MixedFit, row: Array, model: float, parameters: Array) -> float | None:
    """The same for one row; None where there is none."""
    df = float(_row_dfs(fit, row[None, :], np.array([model]), parameters)[0])
    return df if math.isfinite(df) else None


def _independent(rows: Array) -> Array:
    """Orthonormal rows (q, r) that span the same contrasts."""
    lengths = np.linalg.norm(rows, axis=1, keepdims=True)
    _, size, vectors = np.linalg.svd(rows / np.where(lengths == 0, 1, lengths))
    return np.asarray(vectors[: int(np.sum(size > 1e-9 * size[0]))])


def _scaled_df(fit: MixedFit, basis: Array, parameters: Array) -> tuple[float | None, float]:
    """Denominator df and scaling of a joint test (Kenward & Roger 1997, section 3)."""
    q = len(basis)
    half = np.linalg.cholesky(basis @ fit.inner.at.phi @ basis.T)
    rotated = np.linalg.solve(half, basis)
    slopes = _gradients(fit, rotated)
    traces = np.trace(slopes, axis1=1, axis2=2)
    flat = slopes.reshape(len(slopes), -1)
    A1 = float(traces @ parameters @ traces)
    A2 = float(np.sum(parameters * (flat @ flat.T)))
    if A2 <= 0:
        return None, 1.0
    own = 2.0 * q / A2
    if abs(A1 - q * A2) <= SAME * A1:  # one component alone: F is exact
        return own, 1.0
    B = (A1 + 6.0 * A2) / (2.0 * q)
    g = ((q + 1) * A1 - (q + 4) * A2) / ((q + 2) * A2)
    d = 3.0 * q + 2.0 * (1.0 - g)
    V0 = 1.0 + g / d * B
    V1 = 1.0 - (q - g) / d * B
    V2 = 1.0 - (q + 2.0 - g) / d * B
    E = 1.0 - A2 / q
    with np.errstate(divide="ignore", invalid="ignore"):
        rho = np.float64(E / q) * E * V0 / (np.float64(V1) ** 2 * V2)
        df = float(4.0 + (q + 2.0) / (q * rho - 1.0))
        scaling = float(df * E / np.float64(df - 2.0))
    if abs(df - 2.0) < NEAR_TWO:
        scaling = 1.0
    if not (math.isfinite(df) and df > 0 and SCALINGS[0] <= scaling <= SCALINGS[1]):
        return own, 1.0
    return df, scaling


def _fai_cornelius(fit: MixedFit, rows: Array, parameters: Array) -> float | None:
    """Denominator df of a joint test from the df of its principal rows.

    The principal rows are those of L Phi L' for L as it was given, as in lmerTest.
    """
    covariance = rows @ fit.inner.at.phi @ rows.T
    size, vectors = np.linalg.eigh(covariance)
    vectors = vectors[:, size > 1e-9 * size[-1]]
    dfs: list[float] = []
    for row in vectors.T @ rows:
        df = _one_row_df(fit, row, float(row @ fit.inner.at.phi @ row), parameters)
        if df is None:
            return None
        dfs.append(df)
    if len(dfs) == 1 or max(dfs) - min(dfs) <= SAME * min(dfs):
        return sum(dfs) / len(dfs)
    if min(dfs) <= 2:
        return 2.0
    E = sum(df / (df - 2.0) for df in dfs)
    return 2.0 * E / (E - len(dfs))


def _no_contrast(reason: str) -> MixedContrast:
    return MixedContrast(None, None, None, None, None, None, None, None, reason)


def _no_test(reason: str) -> JointTest:
    return JointTest(None, None, None, None, None, reason)
