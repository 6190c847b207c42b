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
nodes in log m a copy: each c and df then costs 48 evaluations of F. Directions and m are held
in single precision, whose rounding of some 1e-7 a direction leaves 1e-9 of the mean; sums
are in double precision.

The statistics are first put in an order and given signs that depend on R alone, not on how
it was handed over (color refinement, Weisfeiler & Leman 1968), so that neither the order of
the arms nor the direction of a difference moves the answer. Leans on ``sphere``, numpy and
scipy.special.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, fdtrc, ndtri

from wickstats.models.linear.estimates import NORMAL_DF, Array, IntArray
from wickstats.models.linear.sphere import spread_on_circle, spread_on_sphere

Singles = NDArray[np.float32]

COPIES = 8  # shifted by multiples of the square roots of primes
NODES = 48
ALIKE = 1e-7  # correlations no further apart count as the same when ordering
RANK = 1e-8
# of a normal mean of eight copies: 3.5 standard errors at 7 df hold in 99 of 100 cases
ERRORS = 3.5
# points (a prime) and generator of the lattice by rank: for ranks 4 and 5 the least mean
# square error among 300 for periodic functions with square-integrable mixed derivatives,
# above the least scatter of shifted copies among some thirty on pairs of unequal arms; for
# 10 and 11 (pairs of 11 and 12 arms) on 14 sets of arms of 2 to 11 units, tails of 1e-3 up;
# for 6, 8 and 9 those of 7 and 10, which they were not picked on: bounds below 1.4e-4 on 15
# sets of arms of 1 to 30 units
LATTICES = {
    4: (16381, 2994),
    5: (16381, 4119),
    6: (65521, 392),
    7: (65521, 392),
    8: (196613, 69819),
    9: (196613, 69819),
    10: (196613, 69819),
    11: (131071, 64266),
    12: (65521, 21141),
}
# lattices from this rank on were picked for their small scatter, which therefore says a little
# too little: the bound is not below this share of the tail, nor need it be above
CHOSEN, CHOSEN_SHARE, CHOSEN_MOST = 10, 4e-4, 1e-4
QUADRATURE_ERROR = 1e-7
STRETCH = 1024  # directions at a time
BINS = 4096  # of log m, between which directions are shared out
TAIL = 200  # lattice points next to 0 and 1 whose normals are not expanded


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
    root = matrix_root(canonical(r))
    rank = root.shape[1]
    if rank == 1:
        return Spread(1, np.abs(root).max(keepdims=True).ravel(), np.ones((COPIES, 1)))
    if rank == 2:
        nodes, weights = spread_on_circle(root)
        return Spread(rank, nodes, weights[None, :])
    if rank == 3:
        nodes, weights = spread_on_sphere(root)
        return Spread(rank, *_rule(np.log(nodes), weights[None, :]))
    logs = np.array([_log_largest(one, root) for one in lattice_directions(rank, rank)])
    return Spread(rank, *_binned_rule(logs))


def _log_largest(directions: Singles, root: Array) -> Singles:
    """(n,) log m(u) of directions (rank, n), a stretch at a time that the cache holds."""
    across = root.astype(np.float32)
    out = np.empty(directions.shape[1], dtype=np.float32)
    for start in range(0, out.size, STRETCH):
        found = across @ directions[:, start : start + STRETCH]
        np.abs(found, out=found).max(axis=0, out=out[start : start + STRETCH])
    return np.log(out, out=out)


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


def matrix_root(r: Array) -> Array:
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


@lru_cache(maxsize=2)  # up to 63 megabytes each
def lattice_directions(lattice: int, rank: int) -> Singles:
    """(copies, rank, points) unit vectors, by the lattice of that rank."""
    count, generator = LATTICES[min(lattice, max(LATTICES))]
    points = np.arange(count)
    places = [points * pow(generator, j, count) % count for j in range(rank)]
    golden = 0.5 * (np.sqrt(5.0) - 1.0)
    shifts = np.arange(COPIES)[:, None] * np.sqrt(_primes(rank))
    shifts += golden * np.arange(1, rank + 1)
    normals = _Normals.at(count)
    out = np.empty((COPIES, rank, count), dtype=np.float32)
    for copy, shift in enumerate(shifts):
        square = np.zeros(count)
        held = []
        for place, by in zip(places, shift, strict=True):
            whole, part = divmod(float(by % 1.0) * count, 1.0)
            moved = place + int(whole)
            moved[moved >= count] -= count
            held.append(normals.shifted(part)[moved])
            square += held[-1] * held[-1]
        length = 1.0 / np.sqrt(square)
        for j, one in enumerate(held):
            out[copy, j] = one * length
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Normals:
    """Normal quantiles of (k + part)/n for all k: (n,) Taylor coefficients at part 1/2.

    The first and last ``TAIL`` are worked out; elsewhere the fourth power leaves 1e-10.
    """

    coefficients: tuple[Array, ...]

    @classmethod
    def at(cls, n: int) -> "_Normals":
        z = ndtri((np.arange(n) + 0.5) / n)
        d = np.sqrt(2.0 * np.pi) * np.exp(0.5 * z * z) / n
        third = (1.0 + 2.0 * z**2) * d**3 / 6.0
        fourth = (7.0 * z + 6.0 * z**3) * d**4 / 24.0
        return cls((z, d, z * d**2 / 2.0, third, fourth))

    def shifted(self, part: float) -> Array:
        """(n,) quantiles for one ``part`` in [0, 1)."""
        n = self.coefficients[0].size
        out = self.coefficients[-1] * (part - 0.5)
        for coefficient in self.coefficients[-2:0:-1]:
            out += coefficient
            out *= part - 0.5
        out += self.coefficients[0]
        ends = np.r_[0:TAIL, n - TAIL : n]
        out[ends] = ndtri(np.clip((ends + part) / n, 1e-12, 1.0 - 1e-12))
        return out


def _primes(count: int) -> Array:
    out: list[int] = []
    candidate = 2
    while len(out) < count:
        if all(candidate % p for p in out):
            out.append(candidate)
        candidate += 1
    return np.array(out, dtype=float)


def _binned_rule(logs: Singles) -> tuple[Array, Array]:
    """Nodes m (q,) and weights (copies, q) whose rule is the mean over log m (copies, n).

    Every direction is shared out to the three nearest of ``BINS`` points, which keeps its
    first two moments, and the points are what the rule is of.
    """
    low, high = float(logs.min()), float(logs.max())
    width = max(high - low, 1e-12) / (BINS - 2)
    points = np.asarray(low + width * np.arange(-1, BINS), dtype=float)
    shares = np.empty((len(logs), points.size))
    for copy, log in enumerate(logs):
        place = (log - np.float32(low)) * np.float32(1.0 / width)
        place += np.float32(1.0)
        nearest = np.rint(place).astype(np.int64)
        off = place - nearest
        many, first, second = (
            np.bincount(nearest, weights=w, minlength=points.size)
            for w in (None, off, off * off)
        )
        shares[copy] = many - second
        shares[copy, 1:] += 0.5 * (second + first)[:-1]
        shares[copy, :-1] += 0.5 * (second - first)[1:]
    return _rule(points, shares / logs.shape[1])


def _rule(logs: Array, weights: Array) -> tuple[Array, Array]:
    """Nodes m (q,) and weights (copies, q) of the means over log m (n,).

    ``weights`` (copies, n), each copy's of sum one.
    """
    low, high = float(logs.min()), float(logs.max())
    if high - low < 1e-12:
        return np.exp(np.array([high])), np.ones((len(weights), 1))
    x = (2.0 * logs - (low + high)) / (high - low)
    angles = (np.arange(NODES) + 0.5) * (np.pi / NODES)
    each = np.cos(np.arange(NODES)[:, None] * np.arccos(np.clip(x, -1.0, 1.0)))
    basis = np.cos(np.arange(NODES)[:, None] * angles[None, :]) * (2.0 / NODES)
    basis[0] *= 0.5
    nodes = np.exp(0.5 * (low + high) + 0.5 * (high - low) * np.cos(angles))
    return nodes, weights @ each.T @ basis
