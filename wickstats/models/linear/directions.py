"""The largest of correlated normals along fixed directions: any correlation matrix.

Z ~ N(0, R), R = A A' of rank r: Z = A u rho with u uniform on the sphere of dimension r
and rho^2 ~ chi-square(r) apart from it, so that with s^2 ~ chi-square(df)/df

    P(max |Z_j| / s > c) = mean over u of P(F(r, df) > c^2 / (r m(u)^2)),
    m(u) = max_j |a_j'u|.

For r of 2 and 3 the mean is a sum of smooth integrals (``sphere``). Beyond, directions are
those of normals on a good lattice (Korobov 1959; Sloan & Joe 1994, Lattice Methods for
Multiple Integration), eight shifted copies whose scatter gives the error bound (Cranley &
Patterson 1976). The integrand has one value on opposite directions, so that it is periodic
on the lattice. What m(u) does in the mean is kept as a quadrature rule of 48 Chebyshev
nodes in log m a copy: each c and df then costs 48 evaluations of F.

The statistics are first put in an order and given signs that depend on R alone, not on how
it was handed over (color refinement, Weisfeiler & Leman 1968), so that neither the order of
the arms nor the direction of a difference moves the answer. Leans on ``sphere``, numpy and
scipy.special.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import chdtrc, fdtrc, ndtri

from wickstats.models.linear.estimates import NORMAL_DF, Array, IntArray
from wickstats.models.linear.sphere import spread_on_circle, spread_on_sphere

COPIES = 8  # shifted by multiples of the square roots of primes
NODES = 48
ALIKE = 1e-7  # correlations no further apart count as the same when ordering
RANK = 1e-8
# of a normal mean of eight copies: 3.5 standard errors at 7 df hold in 99 of 100 cases
ERRORS = 3.5
# points (a prime) and generator of the lattice by rank: for ranks 4 and 5 the least mean
# square error among 300 for periodic functions with square-integrable mixed derivatives,
# above the least scatter of shifted copies among some thirty on pairs of unequal arms; for
# 10 and 11 (pairs of 11 and 12 arms) on 14 sets of arms of 2 to 11 units, tails of 1e-3 up
LATTICES = {
    4: (16381, 2994),
    5: (16381, 4119),
    6: (32749, 2289),
    7: (65521, 392),
    8: (32749, 15628),
    9: (32749, 4761),
    10: (196613, 69819),
    11: (131071, 64266),
    12: (65521, 21141),
}
# lattices from this rank on were picked for their small scatter, which therefore says a little
# too little: the bound is not below this share of the tail, nor need it be above
CHOSEN, CHOSEN_SHARE, CHOSEN_MOST = 10, 4e-4, 1e-4
QUADRATURE_ERROR = 1e-7
STRETCH = 1024  # directions at a time


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """How m(u) is spread over directions.

    Attributes
    ----------
    rank
        r.
    nodes
        (q,) values of m.
    weights
        (copies, q) weights of the nodes, each copy's of sum one; one copy where the mean is
        a sum of integrals.
    """

    rank: int
    nodes: Array
    weights: Array

    def tail(self, c: float, df: float) -> tuple[float, float]:
        """P(max |T| > c) and a bound on its error."""
        ratio = (c / self.nodes) ** 2
        if df > NORMAL_DF:
            inner = chdtrc(self.rank, ratio)
        else:
            inner = fdtrc(self.rank, df, ratio / self.rank)
        copies = self.weights @ inner
        if copies.size == 1:
            return float(copies[0]), QUADRATURE_ERROR
        scatter = float(copies.std(ddof=1)) / float(np.sqrt(copies.size))
        mean, error = float(copies.mean()), ERRORS * scatter + 1e-9
        if self.rank >= CHOSEN:
            error = max(error, min(CHOSEN_SHARE * mean, CHOSEN_MOST))
        return mean, error


def spread_over_directions(r: Array) -> Spread:
    """Lay out the directions for a correlation matrix (k, k).

    Raises
    ------
    ValueError
        For a matrix that is not positive semidefinite.
    """
    values = np.linalg.eigvalsh(r)
    if values[0] < -1e-8 * values[-1]:
        raise ValueError("the matrix is not positive semidefinite")
    root = _root(canonical(r))
    rank = root.shape[1]
    if rank == 1:
        return Spread(1, np.abs(root).max(keepdims=True).ravel(), np.ones((COPIES, 1)))
    if rank == 2:
        nodes, weights = spread_on_circle(root)
        return Spread(rank, nodes, weights[None, :])
    if rank == 3:
        nodes, weights = spread_on_sphere(root)
        return Spread(rank, *_rule(np.log(nodes)[None, :], weights))
    logs = np.array([_log_largest(one, root) for one in _directions(rank)])
    return Spread(rank, *_rule(logs))


def _log_largest(directions: Array, root: Array) -> Array:
    """(n,) log m(u) of directions (n, rank), a stretch at a time that the cache holds."""
    across = np.ascontiguousarray(root.T)
    out = np.empty(len(directions))
    held = np.empty((STRETCH, across.shape[1]))
    for start in range(0, len(out), STRETCH):
        here = directions[start : start + STRETCH]
        found = np.matmul(here, across, out=held[: len(here)])
        np.abs(found, out=found).max(axis=1, out=out[start : start + STRETCH])
    return np.log(out)


def canonical(r: Array) -> Array:
    """The matrix in an order and with signs that do not depend on those it came in."""
    order = canonical_order(r)
    placed = r[np.ix_(order, order)]
    sign = np.zeros(len(order))
    for start in range(sign.size):
        waiting = [] if sign[start] else [start]
        sign[start] = sign[start] or 1.0
        while waiting:  # through the tree of the first connections
            i = waiting.pop(0)
            new = np.flatnonzero((sign == 0.0) & (np.abs(placed[i]) > ALIKE))
            sign[new] = sign[i] * np.sign(placed[i, new])
            waiting.extend(int(j) for j in new)
    product: Array = placed * np.outer(sign, sign)
    return product


def canonical_order(r: Array) -> IntArray:
    """(k,) order of the statistics that depends on R alone, up to its own symmetries.

    Statistics are told apart by their correlations and by those of the triangles and
    squares that they stand in, then by the colors of the others; of statistics that stay
    alike one is set apart, the signs of its neighbors settled by it, and the rest told
    apart by both.
    """
    k = r.shape[0]
    square = r @ r
    # these products keep their value when statistics change sign
    labels = _colors(np.abs(r)) * k**2 + _colors(r * square)
    labels = _colors(labels.astype(float)) * k**2 + _colors(r * (square @ r))
    labels = _colors(labels.astype(float))
    color = np.zeros(k, dtype=np.int64)
    sign = np.zeros(k)
    while True:
        color = _refine(3 * labels + _sides(r, sign), color)
        counts = np.bincount(color)
        _give_signs(r, color, counts, sign)
        fresh = _refine(3 * labels + _sides(r, sign), color)
        if fresh.max() > color.max():
            color = fresh
            continue
        if counts.size == k:
            return np.argsort(color).astype(np.int64)
        shared = int(np.argmax(counts > 1))
        apart = int(np.flatnonzero(color == shared)[0])
        color = 2 * color + 1
        color[apart] -= 1
        sign[apart] = sign[apart] or 1.0


def _sides(r: Array, sign: Array) -> IntArray:
    """(k, k) 1 or 2 where both signs are settled, by that of the correlation; else 0."""
    settled = r * np.outer(sign, sign)
    return np.where(settled > ALIKE, 1, np.where(settled < -ALIKE, 2, 0)).astype(np.int64)


def _give_signs(r: Array, color: IntArray, counts: IntArray, sign: Array) -> None:
    """Settle signs through the statistics that stand alone in their color, in its order."""
    for number in np.flatnonzero(counts == 1):
        alone = int(np.flatnonzero(color == number)[0])
        if sign[alone]:
            new = (sign == 0.0) & (np.abs(r[alone]) > ALIKE)
            sign[new] = sign[alone] * np.sign(r[alone, new])


def _refine(labels: IntArray, color: IntArray) -> IntArray:
    color = np.unique(color, return_inverse=True)[1].astype(np.int64)
    while True:
        count = int(color.max()) + 1
        seen = np.sort(labels * count + color[None, :], axis=1)
        full = np.hstack([color[:, None], seen])
        new = np.unique(full, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)
        if int(new.max()) + 1 == count:
            return new
        color = new


def _colors(values: Array) -> IntArray:
    """Numbers for values, the same where they are alike to rounding, by size."""
    flat = values.ravel()
    order = np.argsort(flat, kind="stable")
    step = np.r_[0, np.cumsum(np.diff(flat[order]) > ALIKE)]
    out = np.empty(flat.size, dtype=np.int64)
    out[order] = step
    return out.reshape(values.shape)


def _root(r: Array) -> Array:
    """(k, rank) pivoted Cholesky root; of pivots that are alike the first."""
    left = np.diag(r).copy()
    columns: list[Array] = []
    while float(left.max()) > RANK:
        pivot = int(np.argmax(left >= left.max() - ALIKE))
        done = np.array(columns).T if columns else np.zeros((len(r), 0))
        column = (r[:, pivot] - done @ done[pivot]) / np.sqrt(left[pivot])
        columns.append(column)
        left = left - column * column
        left[pivot] = 0.0
    return np.array(columns).T


@lru_cache(maxsize=2)  # up to 126 megabytes each
def _directions(rank: int) -> Array:
    """(copies, points, rank) unit vectors."""
    count, generator = LATTICES[min(rank, max(LATTICES))]
    powers = np.array([pow(generator, j, count) for j in range(rank)], dtype=np.int64)
    lattice = (np.arange(count)[:, None] * powers % count) / count
    golden = 0.5 * (np.sqrt(5.0) - 1.0)
    shifts = np.arange(COPIES)[:, None] * np.sqrt(_primes(rank))
    shifts += golden * np.arange(1, rank + 1)
    points = (lattice[None, :, :] + shifts[:, None, :]) % 1.0
    normal = ndtri(np.clip(points, 1e-12, 1.0 - 1e-12))
    product: Array = normal / np.sqrt(np.sum(normal * normal, axis=2, keepdims=True))
    return product


def _primes(count: int) -> Array:
    out: list[int] = []
    candidate = 2
    while len(out) < count:
        if all(candidate % p for p in out):
            out.append(candidate)
        candidate += 1
    return np.array(out, dtype=float)


def _rule(logs: Array, weights: Array | None = None) -> tuple[Array, Array]:
    """Nodes m (q,) and weights (copies, q) whose rule is the mean over log m (copies, n).

    ``weights`` (n,), of sum one, are those of the mean.
    """
    low, high = float(logs.min()), float(logs.max())
    if high - low < 1e-12:
        return np.exp(np.array([high])), np.ones((logs.shape[0], 1))
    each = np.full(logs.shape[1], 1.0 / logs.shape[1]) if weights is None else weights
    means = np.zeros((logs.shape[0], NODES))
    for start in range(0, logs.shape[1], STRETCH):
        here = slice(start, start + STRETCH)
        x = (2.0 * logs[:, here] - (low + high)) / (high - low)
        before, now, twice = each[here] * np.ones_like(x), each[here] * x, 2.0 * x
        means[:, 1] += now.sum(axis=1)
        for order in range(2, NODES):
            before *= -1.0
            before += twice * now
            before, now = now, before
            means[:, order] += now.sum(axis=1)
    means[:, 0] = 1.0
    angles = (np.arange(NODES) + 0.5) * (np.pi / NODES)
    basis = np.cos(np.arange(NODES)[:, None] * angles[None, :]) * (2.0 / NODES)
    basis[0] *= 0.5
    nodes = np.exp(0.5 * (low + high) + 0.5 * (high - low) * np.cos(angles))
    return nodes, means @ basis
