"""The restricted likelihood at fixed variances, with its derivatives.

With V = sum_k theta_k G_k and W = [X y],

    -2 l(theta) = log|V| + log|X'V^-1 X| + y'Py + (n - p) log 2 pi
    d/d theta_k = tr(P G_k) - y'P G_k P y
    observed    = 2 y'P G_k P G_l P y - tr(P G_k P G_l),  expected = tr(P G_k P G_l)

where P = V^-1 - V^-1 X Phi X'V^-1 and Phi = (X'V^-1 X)^-1. All of them follow from
log|V|, W'V^-1 W and their first two derivatives (Patterson & Thompson 1971; Searle,
Casella & McCulloch 1992, section 6.6), and so does the adjustment of Kenward & Roger
(1997).

No matrix has the size of the rows. V = D + Z Theta Z' with D diagonal, lambda_j = a_j'theta
for the rows of kind j (see reduction), and Z the levels of the terms that are left. With
U = sum_j U_j / lambda_j, B = sum_j B_j / lambda_j and S = (I + U Theta)^-1,

    log|V| = sum_j d_j log lambda_j - log|S|         Omega = Theta S = S'Theta
    W'V^-1 W = sum_j A_j / lambda_j - B'Y            Y = Omega B
    Z'V^-1 W = F = S B                               Z'V^-1 Z = T = S U

(Woodbury's identity; Henderson's equations in another order). A term k that is left has
G_k = Z_k Z_k', so W'V^-1 G_k V^-1 W = F_k'F_k. A term that belongs to the rows themselves
has G_k = sum_j a_jk I_j, and Z'V^-1 G_k V^-1 W = S N_k with N_k = B^(k) - U^(k) Y, where
B^(k) = sum_j a_jk B_j / lambda_j^2 and likewise U^(k). Leans on reduction, numpy, scipy.linalg.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from wickstats.models.linear.grouping import Array
from wickstats.models.linear.levels import Solved, Weights, solve_levels
from wickstats.models.linear.reduction import Reduced

# A variance this far below the largest counts as not positive.
EDGE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """The objective at one theta: -2 log restricted likelihood and what follows from it.

    Attributes
    ----------
    theta
        (m,) variances.
    objective, quadratic
        -2 l, and y'Py in it.
    fixed, phi
        (p,) generalized least squares solution and (p, p) (X'V^-1 X)^-1.
    gradient, observed, expected
        (m,), (m, m), (m, m) derivatives of -2 l.
    whole
        (m,) tr(V^-1 G_k V^-1 G_k): what the information would be without a fixed part.
    first
        (m, p, p) X'V^-1 G_k V^-1 X.
    """

    theta: Array
    objective: float
    quadratic: float
    fixed: Array
    phi: Array
    gradient: Array
    observed: Array
    expected: Array
    whole: Array
    first: Array


def evaluate(data: Reduced, theta: Array) -> Evaluation | None:
    """Return the objective and its derivatives at ``theta`` (m,); no optimizer involved.

    None where V is not positive definite. X must have full column rank.
    """
    prepared = _prepare(data, theta)
    if prepared is None:
        return None
    weights, levels = prepared
    m, w = len(theta), data.grams.shape[1]
    p = w - 1
    flat = data.grams.reshape(-1, w * w)
    gram = (weights.inverse @ flat).reshape(w, w)
    logdet = -float(data.dims @ np.log(weights.inverse))
    for solved in levels:
        logdet += solved.logdet
        gram -= solved.gram_taken
    inverse = _invert(gram[:p, :p])
    if inverse is None:
        return None
    phi, logdet_x = inverse
    fixed = phi @ gram[:p, p]
    c = np.append(-fixed, 1.0)  # W c = y - X b
    first = np.zeros((m, w, w))
    first[data.own] = (weights.single @ flat).reshape(-1, w, w)
    for solved in levels:
        solved.add_first(first)
    traces, trace_pairs = _traces(data, weights, levels)
    second_traces, second_values = _second(data, weights, levels, phi, c)
    phi_first = phi @ first[:, :p, :p]  # (m, p, p)
    both = phi_first.reshape(m, -1) @ phi_first.transpose(0, 2, 1).reshape(m, -1).T
    first_c = first @ c
    expected = trace_pairs - 2.0 * second_traces + both
    curvature = second_values - first_c[:, :p] @ phi @ first_c[:, :p].T  # y'P G P G P y
    quadratic = float(c @ gram @ c)
    return Evaluation(
        theta=theta,
        objective=logdet + logdet_x + quadratic + (data.n - p) * math.log(2 * math.pi),
        quadratic=quadratic,
        fixed=fixed,
        phi=phi,
        gradient=traces - np.einsum("kii->k", phi_first) - first_c @ c,
        observed=2.0 * curvature - expected,
        expected=expected,
        whole=np.diagonal(trace_pairs).copy(),
        first=first[:, :p, :p],
    )


def second_products(data: Reduced, theta: Array) -> Array:
    """(m, m, p, p) X'V^-1 G_k V^-1 G_l V^-1 X, the transposed for (l, k).

    ``theta`` must be one at which ``evaluate`` gives a value.
    """
    prepared = _prepare(data, theta)
    if prepared is None:
        raise ValueError("the covariance matrix is not positive definite")
    weights, levels = prepared
    m, w = len(theta), data.grams.shape[1]
    out = np.zeros((m, m, w, w))
    found = (weights.double @ data.grams.reshape(-1, w * w)).reshape(-1, w, w)
    for (i, j), part in zip(weights.pairs.T, found, strict=True):
        out[data.own[i], data.own[j]] = out[data.own[j], data.own[i]] = part
    for solved in levels:
        out += solved.second()
    return out[:, :, :-1, :-1]


def smallest_share(data: Reduced, theta: Array) -> float:
    """How far V is from losing its positive definiteness, 0 at the edge, 1 far from it.

    The least, over kinds of rows, of the variance over what it would be with all components
    positive; or the least eigenvalue of D^-1/2 V D^-1/2.
    """
    prepared = _prepare(data, theta)
    if prepared is None:
        return 0.0
    weights, levels = prepared
    least = float(np.min(1.0 / (weights.inverse * (data.coefficients @ np.abs(theta)))))
    return min([least, *(solved.least_eigenvalue() for solved in levels)])


def _prepare(data: Reduced, theta: Array) -> tuple[Weights, list[Solved]] | None:
    variance = data.coefficients @ theta
    if variance.min() <= EDGE * max(theta.max(), -theta.min()):
        return None
    a = data.coefficients[:, data.own].T
    one, other = data.pairs
    inverse = 1.0 / variance
    single = a * inverse**2
    double = a[one] * single[other] * inverse
    weights = Weights(data.own, data.pairs, inverse, single, double)
    levels = []
    for blocks in data.blocks:
        solved = solve_levels(blocks, theta, weights)
        if solved is None:
            return None
        levels.append(solved)
    return weights, levels


def _invert(xx: Array) -> tuple[Array, float] | None:
    """Phi and log|X'V^-1 X|; None where it is singular."""
    if not len(xx):
        return xx, 0.0
    factor, info = lapack.dpotrf(xx, lower=1)
    if info != 0:
        return None
    half, _ = lapack.dpotri(factor, lower=1)
    phi = np.tril(half) + np.tril(half, -1).T
    return phi, 2.0 * float(np.sum(np.log(np.diagonal(factor))))


def _traces(data: Reduced, weights: Weights, levels: list[Solved]) -> tuple[Array, Array]:
    """(m,) tr(V^-1 G_k) and (m, m) tr(V^-1 G_k V^-1 G_l)."""
    m, own = data.coefficients.shape[1], data.own
    spread = data.dims / weights.inverse
    traces, pairs = np.zeros(m), np.zeros((m, m))
    traces[own] = weights.single @ spread
    pairs[own[:, None], own] = _by_pair(data, weights.double @ spread)
    for solved in levels:
        solved.add_traces(traces, pairs)
    return traces, pairs


def _second(
    data: Reduced, weights: Weights, levels: list[Solved], phi: Array, c: Array
) -> tuple[Array, Array]:
    """(m, m) tr(Phi Q_kl) and (y - X b)'V^-1 G_k V^-1 G_l V^-1 (y - X b)."""
    m, own, w = data.coefficients.shape[1], data.own, len(c)
    wide = np.zeros((w, w))
    wide[:-1, :-1] = phi
    traces, values = np.zeros((m, m)), np.zeros((m, m))
    rows = data.grams.reshape(-1, w * w) @ np.column_stack(
        [wide.ravel(), np.outer(c, c).ravel()]
    )
    found = weights.double @ rows
    at = (own[:, None], own)
    traces[at], values[at] = _by_pair(data, found[:, 0]), _by_pair(data, found[:, 1])
    for solved in levels:
        solved.add_second(wide, c, traces, values)
    return traces, values


def _by_pair(data: Reduced, values: Array) -> Array:
    """Symmetric (o, o) matrix from its values (r,) by pair."""
    out = np.zeros((len(data.own), len(data.own)))
    one, other = data.pairs
    out[one, other] = out[other, one] = values
    return out
