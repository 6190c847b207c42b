"""The restricted likelihood at fixed variances, with its derivatives.

With V = sum_k theta_k G_k and W = [X y],

    -2 l(theta) = log|V| + log|X'V^-1 X| + y'Py + (n - p) log 2 pi
    d/d theta_k = tr(P G_k) - y'P G_k P y
    observed    = 2 y'P G_k P G_l P y - tr(P G_k P G_l),  expected = tr(P G_k P G_l)

where P = V^-1 - V^-1 X Phi X'V^-1 and Phi = (X'V^-1 X)^-1. All of them follow from
log|V|, W'V^-1 W and their first two derivatives, which ``moments`` returns; the
adjustment of Kenward & Roger (1997) needs the same quantities and no others.
Source: Patterson & Thompson (1971); Searle, Casella & McCulloch (1992), section 6.6.
Leans on reduction, numpy, scipy.linalg.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from wickstats.models.linear.reduction import Array, Reduced

# A variance this far below the largest counts as not positive.
EDGE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """log|V|, W'V^-1 W and derivatives at one theta (m = K + 1 components, w = p + 1).

    Attributes
    ----------
    logdet, gram
        log|V| and (w, w) W'V^-1 W.
    traces, trace_pairs
        (m,) tr(V^-1 G_k) and (m, m) tr(V^-1 G_k V^-1 G_l).
    first, second
        (m, w, w) W'V^-1 G_k V^-1 W and (m, m, w, w) W'V^-1 G_k V^-1 G_l V^-1 W.
    """

    logdet: float
    gram: Array
    traces: Array
    trace_pairs: Array
    first: Array
    second: Array


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """The objective at one theta: -2 log restricted likelihood and what follows from it.

    ``gradient`` (m,), ``observed`` and ``expected`` (m, m) are derivatives of -2 l;
    ``phi`` is (X'V^-1 X)^-1, ``fixed`` the generalized least squares solution.
    """

    theta: Array
    objective: float
    fixed: Array
    phi: Array
    gradient: Array
    observed: Array
    expected: Array
    moments: Moments


def moments(data: Reduced, theta: Array) -> Moments | None:
    """Return the moments, or None where V is not positive definite."""
    m, w = len(theta), data.core.shape[1]
    lam = data.coefficients @ theta
    largest = float(np.max(np.abs(theta)))
    if np.any(lam <= EDGE * largest):
        return None
    V = np.tensordot(theta, data.core_terms, axes=1)
    factor, info = lapack.dpotrf(V, lower=1)
    if info != 0:
        return None
    diagonal = np.diagonal(factor)
    if float(np.min(diagonal)) ** 2 <= EDGE * largest:
        return None
    lower, _ = lapack.dpotri(factor, lower=1)
    inverse = np.tril(lower) + np.tril(lower, -1).T
    VW = inverse @ data.core
    VG = inverse @ data.core_terms  # (m, c, c)
    GVW = data.core_terms @ VW  # (m, c, w)
    VGVW = VG @ VW
    a = data.coefficients / lam[:, None]
    scaled = data.grams / lam[:, None, None]
    flat = scaled.reshape(len(lam), w * w)
    pairs = (a[:, :, None] * a[:, None, :]).reshape(len(lam), m * m)
    return Moments(
        logdet=2.0 * float(np.sum(np.log(diagonal))) + float(data.dims @ np.log(lam)),
        gram=data.core.T @ VW + scaled.sum(axis=0),
        traces=np.trace(VG, axis1=1, axis2=2) + data.dims @ a,
        trace_pairs=_trace_pairs(VG) + (data.dims @ pairs).reshape(m, m),
        first=np.matmul(VW.T, GVW) + (a.T @ flat).reshape(m, w, w),
        second=np.matmul(GVW.transpose(0, 2, 1)[:, None], VGVW[None])
        + (pairs.T @ flat).reshape(m, m, w, w),
    )


def _trace_pairs(VG: Array) -> Array:
    m = len(VG)
    left = VG.reshape(m, -1)
    right = np.ascontiguousarray(VG.transpose(0, 2, 1)).reshape(m, -1)
    return np.asarray(left @ right.T)


def evaluate(data: Reduced, theta: Array) -> Evaluation | None:
    """Return the objective and its derivatives at ``theta`` (m,); no optimizer involved.

    None where V is not positive definite. X must have full column rank.
    """
    found = moments(data, theta)
    if found is None:
        return None
    gram = found.gram
    p = len(gram) - 1
    xx, xy = gram[:p, :p], gram[:p, p]
    logdet_x, phi = 0.0, np.zeros((0, 0))
    if p:
        factor, info = lapack.dpotrf(xx, lower=1)
        if info != 0:
            return None
        logdet_x = 2.0 * float(np.sum(np.log(np.diagonal(factor))))
        half, _ = lapack.dpotri(factor, lower=1)
        phi = np.tril(half) + np.tril(half, -1).T
    fixed = phi @ xy
    c = np.append(-fixed, 1.0)  # W c = y - X b
    first_c = found.first @ c  # (m, w)
    quadratic = first_c @ c
    second_c = found.second @ c @ c
    x_part = first_c[:, :p]
    pyy = float(c @ gram @ c)
    phi_first = phi @ found.first[:, :p, :p]  # (m, p, p)
    trace_one = np.trace(phi_first, axis1=1, axis2=2)
    trace_two = np.einsum("ij,klji->kl", phi, found.second[:, :, :p, :p])
    both = _trace_pairs(phi_first)
    expected = found.trace_pairs - (trace_two + trace_two.T) + both
    curvature = second_c - x_part @ phi @ x_part.T  # y'P G P G P y
    observed = (curvature + curvature.T) - expected
    return Evaluation(
        theta=theta,
        objective=found.logdet + logdet_x + pyy + (data.n - p) * math.log(2 * math.pi),
        fixed=fixed,
        phi=phi,
        gradient=found.traces - trace_one - quadratic,
        observed=observed,
        expected=expected,
        moments=found,
    )
