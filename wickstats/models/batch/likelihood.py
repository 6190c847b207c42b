"""The restricted likelihood of blocks, plots and plants, many seasons at once.

Model: y = cell + block + plot + plant, blocks and plots random, theta = (block, plot,
residual). Plants enter by their unit's mean and the sum of squares w inside units, which is
sufficient. With D_j = plot + residual/m_j, a = 1/D, A_b = sum a, t_b = 1/(1 + block A_b),

    V^-1 (unit means, block by block) = diag(a) - block t_b a a',

so that everything the likelihood, its derivatives and Kenward & Roger's (1997) adjustment
need are sums over units and blocks (Searle, Casella & McCulloch 1992, section 6.6; symbols
as in ``models.linear.likelihood``). Seasons run along the last axis. Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.models.linear.estimates import Array, IntArray

BLOCK, PLOT, RESIDUAL = 0, 1, 2
PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Plots:
    """The units, sorted by block.

    Attributes
    ----------
    x
        (n, p) indicators of the cells that hold units.
    starts, block
        (B,) first unit of each block and (n,) block of each unit; one unit a block, whose
        component is left out, where there are no blocks.
    m
        (n, 1) plants of each unit.
    inside
        Plants minus units: df of w.
    """

    x: Array
    starts: IntArray
    block: IntArray
    m: Array
    inside: float


@dataclass(frozen=True, slots=True, eq=False)
class _Inverse:
    """V^-1 of the unit means: a (n, S) and, by block, sums A, t and u = block t (B, S)."""

    a: Array
    sums: Array
    t: Array
    u: Array
    starts: IntArray

    def total(self, values: Array) -> Array:
        """Sums over the units of each block."""
        found: Array = np.add.reduceat(values, self.starts, axis=0)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Evaluated:
    """-2 log restricted likelihood (without its constant) and what follows from it.

    Shapes with S seasons last: theta (3, S), objective (S,), fixed (p, S), phi (p, p, S),
    gradient (3, S), observed and expected (3, 3, S), first (3, p, p, S),
    second (3, 3, p, p, S).
    """

    theta: Array
    objective: Array
    fixed: Array
    phi: Array
    gradient: Array
    observed: Array
    expected: Array
    first: Array
    second: Array


def evaluate_seasons(plots: Plots, y: Array, w: Array, theta: Array) -> Evaluated:
    """Evaluate at theta (3, S): unit means y (n, S), squares inside units w (S,)."""
    x, m, block = plots.x, plots.m, plots.block
    n, p = x.shape
    seasons = y.shape[1]
    residual = theta[RESIDUAL]

    d = theta[PLOT] + residual / m
    a = 1.0 / d
    sums = np.add.reduceat(a, plots.starts, axis=0)
    grown = 1.0 + theta[BLOCK] * sums
    t = 1.0 / grown
    u = theta[BLOCK] * t
    v = _Inverse(a, sums, t, u, plots.starts)
    ax = a[:, None, :] * x[:, :, None]
    cx, cy = v.total(ax), v.total(a * y)
    hx = ax - a[:, None, :] * (u[:, None, :] * cx)[block]
    hy = a * (y - (u * cy)[block])
    rx = t[:, None, :] * cx
    xx = (x.T @ hx.reshape(n, -1)).reshape(p, p, seasons)
    phi, logdet_x = _inverse(xx)
    fixed = np.einsum("ijs,js->is", phi, x.T @ hy)
    e = hy - np.einsum("nis,is->ns", hx, fixed)
    eb = t * cy - np.einsum("bis,is->bs", rx, fixed)
    left = w / residual
    pyy = np.einsum("ns,ns->s", y - x @ fixed, e) + left
    logdet = plots.inside * np.log(residual) + np.log(d).sum(axis=0)
    logdet += np.log(grown).sum(axis=0)
    # G_k H for each component: the block's sums, the units' own, those over m
    hm, em = hx / m[:, :, None], e / m
    first = np.stack([_cross(rx, rx), _cross(hx, hx), _cross(hm, hx)])
    quadratic = np.stack([(eb * eb).sum(0), (e * e).sum(0), (em * e).sum(0) + left / residual])
    parts = np.stack([_apply(rx, eb), _apply(hx, e), _apply(hm, e)])  # X'V^-1 G_k P y
    traces, pairs = _traces(plots, v, residual)
    second = _second(v, rx, hx, hm)
    curved = _curvature(v, eb, e, em)
    curved[RESIDUAL, RESIDUAL] += left / residual**2
    curved -= np.einsum("kis,ijs,ljs->kls", parts, phi, parts, optimize=True)
    turned = np.einsum("ijs,kjls->kils", phi, first)
    expected = pairs - 2.0 * np.einsum("ijs,klijs->kls", phi, second)
    expected += np.einsum("kijs,ljis->kls", turned, turned)
    return Evaluated(
        theta=theta,
        objective=logdet + logdet_x + pyy,
        fixed=fixed,
        phi=phi,
        gradient=traces - np.einsum("kiis->ks", turned) - quadratic,
        observed=2.0 * curved - expected,
        expected=expected,
        first=first,
        second=second,
    )


def _inverse(matrices: Array) -> tuple[Array, Array]:
    """Inverses (p, p, S) and log determinants of positive definite matrices."""
    stacked = np.ascontiguousarray(np.moveaxis(matrices, -1, 0))
    root = np.linalg.cholesky(stacked)
    logdet = 2.0 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    half = np.linalg.inv(root)
    inverse = half.transpose(0, 2, 1) @ half
    return np.ascontiguousarray(np.moveaxis(inverse, 0, -1)), logdet


def _cross(left: Array, right: Array) -> Array:
    """(p, p, S) sums of products over the first axis."""
    product: Array = np.einsum("nis,njs->ijs", left, right)
    return product


def _apply(matrix: Array, vector: Array) -> Array:
    product: Array = np.einsum("nis,ns->is", matrix, vector)
    return product


def _traces(plots: Plots, v: _Inverse, residual: Array) -> tuple[Array, Array]:
    """tr(V^-1 G_k) (3, S) and tr(V^-1 G_k V^-1 G_l) (3, 3, S)."""
    m, block = plots.m, plots.block
    a, sums, t, u = v.a, v.sums, v.t, v.u
    square = a * a
    own = a - u[block] * square
    traces = np.stack(
        [
            (sums * t).sum(0),
            own.sum(0),
            (own / m).sum(0) + plots.inside / residual,
        ]
    )
    at = (a * t[block]) ** 2
    twice = square - 2.0 * u[block] * square * a
    s1, s2 = v.total(square), v.total(square / m)
    uu = u * u
    pairs = np.empty((3, 3, a.shape[1]))
    values = (
        ((sums * t) ** 2).sum(0),
        at.sum(0),
        (at / m).sum(0),
        twice.sum(0) + (uu * s1 * s1).sum(0),
        (twice / m).sum(0) + (uu * s1 * s2).sum(0),
        (twice / (m * m)).sum(0) + (uu * s2 * s2).sum(0) + plots.inside / residual**2,
    )
    for (j, k), value in zip(PAIRS, values, strict=True):
        pairs[j, k] = pairs[k, j] = value
    return traces, pairs


def _second(v: _Inverse, rx: Array, hx: Array, hm: Array) -> Array:
    """(3, 3, p, p, S) X'V^-1 G_k V^-1 G_l V^-1 X."""
    ah, am = v.a[:, None, :] * hx, v.a[:, None, :] * hm
    bh, bm = v.total(ah), v.total(am)
    tr, ub, um = v.t[:, None, :], v.u[:, None, :] * bh, v.u[:, None, :] * bm
    values = (
        _cross(rx, (tr * v.sums[:, None, :]) * rx),
        _cross(rx, tr * bh),
        _cross(rx, tr * bm),
        _cross(hx, ah) - _cross(bh, ub),
        _cross(hx, am) - _cross(bh, um),
        _cross(hm, am) - _cross(bm, um),
    )
    p, seasons = hx.shape[1], hx.shape[2]
    out = np.empty((3, 3, p, p, seasons))
    for (j, k), value in zip(PAIRS, values, strict=True):
        out[j, k] = value
        if j != k:
            out[k, j] = value.transpose(1, 0, 2)
    return out


def _curvature(v: _Inverse, eb: Array, e: Array, em: Array) -> Array:
    """(3, 3, S) y'P G_k V^-1 G_l P y."""
    t, u, sums = v.t, v.u, v.sums
    ae, am = v.a * e, v.a * em
    be, bm = v.total(ae), v.total(am)
    values = (
        (eb * eb * t * sums).sum(0),
        (eb * t * be).sum(0),
        (eb * t * bm).sum(0),
        (e * ae).sum(0) - (u * be * be).sum(0),
        (e * am).sum(0) - (u * be * bm).sum(0),
        (em * am).sum(0) - (u * bm * bm).sum(0),
    )
    out = np.empty((3, 3, e.shape[1]))
    for (j, k), value in zip(PAIRS, values, strict=True):
        out[j, k] = out[k, j] = value
    return out
