"""Woodbury's identity over the levels of the random terms that are left in the rows.

Symbols as in likelihood: U, B, S, Omega, Y, F, T, N_k; theta is spread over the levels as
the diagonal Theta. A variance of zero is a plain value here: its levels have Omega = 0.
Where theta is positive S = Theta^-1/2 (I + Theta^1/2 U Theta^1/2)^-1 Theta^1/2, a symmetric
positive definite inverse; F = S B and T = S U are then free of the cancellation that
B - U Y would suffer. For terms k, l that are left (R) or belong to the rows (O),

    tr V^-1 G_k                 R: tr T_kk         O: - tr Omega U^(k)
    tr V^-1 G_k V^-1 G_l       RR: |T_kl|^2       OO: tr(Omega U^(k) Omega U^(l))
                               RO: tr (S U^(l) S')_kk       - 2 tr Omega U^(kl)
    W'V^-1 G_k V^-1 W           R: F_k'F_k         O: - Y'(B^(k) + N_k)
    W'V^-1 G_k V^-1 G_l V^-1 W RR: F_k'T_kl F_l   OO: - Y'(2 B^(kl) - U^(kl) Y)
                               RO: F_k'(S N_l)_k            - N_k'Omega N_l

beside what the rows alone give (O only). B^(kl) weighs B_j by a_jk a_jl / lambda_j^3, and
likewise U^(kl). Leans on reduction, numpy, scipy.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from wickstats.models.linear.grouping import Array, Codes
from wickstats.models.linear.reduction import Blocks


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """How the kinds of rows are weighed at one theta.

    Attributes
    ----------
    own
        (o,) terms that belong to the rows themselves.
    pairs
        (2, r) places in ``own`` of each pair k <= l.
    inverse
        (kinds,) 1 / lambda.
    single, double
        (o, kinds) a_k / lambda^2 and (r, kinds) a_k a_l / lambda^3.
    """

    own: Codes
    pairs: Codes
    inverse: Array
    single: Array
    double: Array


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The levels of one ``Blocks`` at one theta (c sets of q levels, w columns).

    Attributes
    ----------
    logdet
        log|I + U Theta|.
    gram_taken
        (w, w) B'Y.
    spread
        (q,) diagonal of Theta.
    U, S, omega, T
        (c, q, q).
    Y, F
        (c, q, w).
    shares, sums
        (o + r, c, q, q) and (o + r, c, q, w): U^(k), U^(kl) and B^(k), B^(kl).
    N
        (o, c, q, w).
    """

    blocks: Blocks
    weights: Weights
    logdet: float
    gram_taken: Array
    spread: Array
    U: Array
    S: Array
    omega: Array
    T: Array
    Y: Array
    F: Array
    shares: Array
    sums: Array
    N: Array

    def add_first(self, out: Array) -> None:
        """Add to (m, w, w) W'V^-1 G_k V^-1 W what the levels change."""
        for k, levels in self.blocks.slots:
            out[k] += _crossed(self.F[:, levels], self.F[:, levels])
        for j, k in enumerate(self.weights.own):
            taken = _crossed(self.Y, self.sums[j] + self.N[j])
            out[k] -= 0.5 * (taken + taken.T)

    def add_traces(self, traces: Array, pairs: Array) -> None:
        """Add to (m,) tr(V^-1 G_k) and (m, m) tr(V^-1 G_k V^-1 G_l)."""
        own, of = self.weights.own, self.blocks.of
        o = len(own)
        traces += np.einsum("cqq->q", self.T) @ of
        pairs += of.T @ np.einsum("cqr,cqr->qr", self.T, self.T) @ of
        taken = self.shares.reshape(len(self.shares), -1) @ self.omega.reshape(-1)
        traces[own] -= taken[:o]
        within = self.S @ self.shares[:o]
        self._add_cross(pairs, np.einsum("ocqr,cqr->oq", within, self.S))
        turned = self.omega @ self.shares[:o]
        both = turned.reshape(o, -1) @ turned.transpose(0, 1, 3, 2).reshape(o, -1).T
        self._add_own(pairs, both, 2.0 * taken[o:])

    def add_second(self, phi: Array, c: Array, traces: Array, values: Array) -> None:
        """Add to (m, m) tr(phi M) and c'M c, M = W'V^-1 G_k V^-1 G_l V^-1 W.

        ``phi`` is (w, w) symmetric, ``c`` (w,).
        """
        o = len(self.weights.own)
        N, sums = self.N, self.sums[o:]
        self._add_forms(
            traces, (self.F @ phi, self.F), (N @ phi, N), (self.Y @ phi, self.Y), sums
        )
        column = c[:, None]
        F, N, Y = self.F @ column, N @ column, self.Y @ column
        self._add_forms(values, (F, F), (N, N), (Y, Y), sums @ column)

    def _add_forms(
        self,
        out: Array,
        F: tuple[Array, Array],
        N: tuple[Array, Array],
        Y: tuple[Array, Array],
        sums: Array,
    ) -> None:
        """Traces of the second products; each pair is a factor times phi, and plain."""
        o, of = len(self.weights.own), self.blocks.of
        turned = F[0] @ F[1].transpose(0, 2, 1)
        out += of.T @ np.einsum("cqr,cqr->qr", self.T, turned) @ of
        self._add_cross(out, np.einsum("cqw,ocqw->oq", F[0], self.S @ N[1]))
        both = N[0].reshape(o, -1) @ (self.omega @ N[1]).reshape(o, -1).T
        squares = (Y[0] @ Y[1].transpose(0, 2, 1)).reshape(-1)
        taken = 2.0 * (sums.reshape(len(sums), -1) @ Y[0].reshape(-1))
        taken -= self.shares[o:].reshape(len(sums), -1) @ squares
        self._add_own(out, -both, taken)

    def _add_cross(self, out: Array, by_level: Array) -> None:
        """Add (o, q) to the pairs of a term that is left and one of the rows."""
        cross = by_level @ self.blocks.of  # (o, m)
        out[self.weights.own] += cross
        out[:, self.weights.own] += cross.T

    def _add_own(self, out: Array, both: Array, taken: Array) -> None:
        """Add (o, o), less (r,) by pair, to the terms of the rows."""
        one, other = self.weights.pairs
        whole = np.zeros_like(both)
        whole[one, other] = whole[other, one] = taken
        both -= whole
        out[self.weights.own[:, None], self.weights.own] += both

    def second(self) -> Array:
        """(m, m, w, w) part of W'V^-1 G_k V^-1 G_l V^-1 W that the levels make."""
        m, w = self.blocks.of.shape[1], self.F.shape[2]
        out = np.zeros((m, m, w, w))
        own, o = self.weights.own, len(self.weights.own)
        halves, turned = self.S @ self.N, self.omega @ self.N
        for k, mine in self.blocks.slots:
            for other, others in self.blocks.slots:
                if other >= k:
                    T = self.T[:, mine, others]
                    out[k, other] = _crossed(self.F[:, mine], T @ self.F[:, others])
                    out[other, k] = out[k, other].T
            for j, other in enumerate(own):
                out[k, other] = _crossed(self.F[:, mine], halves[j][:, mine])
                out[other, k] = out[k, other].T
        for place, (i, j) in enumerate(self.weights.pairs.T):
            half = 2.0 * self.sums[o + place] - self.shares[o + place] @ self.Y
            taken = _crossed(self.Y, half)
            found = -0.5 * (taken + taken.T) - _crossed(self.N[i], turned[j])
            out[own[j], own[i]] = found.T
            out[own[i], own[j]] = found
        return out

    def least_eigenvalue(self) -> float:
        """Smallest eigenvalue of I + U^1/2 Theta U^1/2."""
        return float(_eigen(self.U, self.spread).min())


def solve_levels(blocks: Blocks, theta: Array, weights: Weights) -> Solved | None:
    """Solve for the levels at theta (m,); None where V is not positive definite."""
    spread = theta[blocks.owner]
    all_weights = np.vstack([weights.inverse, weights.single, weights.double])
    shares = _weigh(all_weights, blocks.shares)
    sums = _weigh(all_weights, blocks.sums)
    U, B = shares[0], sums[0]
    found = _positive(U, spread) if spread.min() >= 0 else _signed(U, spread)
    if found is None:
        return None
    S, omega, logdet = found
    T = S @ U
    Y = omega @ B
    o = len(weights.own)
    return Solved(
        blocks=blocks,
        weights=weights,
        logdet=logdet,
        gram_taken=_crossed(B, Y),
        spread=spread,
        U=U,
        S=S,
        omega=omega,
        T=0.5 * (T + T.transpose(0, 2, 1)),
        Y=Y,
        F=S @ B,
        shares=shares[1:],
        sums=sums[1:],
        N=sums[1 : 1 + o] - shares[1 : 1 + o] @ Y,
    )


def _weigh(weights: Array, parts: Array) -> Array:
    flat = weights @ parts.reshape(len(parts), -1)
    return np.asarray(flat.reshape(len(weights), *parts.shape[1:]))


def _positive(U: Array, spread: Array) -> tuple[Array, Array, float] | None:
    """S, Omega and log|I + U Theta| for variances at or above zero."""
    root = np.sqrt(spread)
    inner = root[:, None] * U * root
    diagonal = np.arange(len(spread))
    inner[:, diagonal, diagonal] += 1.0
    solved = _inverse(inner)
    if solved is None:
        return None
    inverse, logdet = solved
    omega = root[:, None] * inverse * root
    positive = root > 0
    if positive.all():
        return inverse * root / root[:, None], omega, logdet
    S = inverse * root / np.where(positive, root, 1.0)[:, None]
    zero = ~positive
    S[:, zero] = np.eye(len(spread))[zero] - U[:, zero] @ omega
    return S, omega, logdet


def _inverse(inner: Array) -> tuple[Array, float] | None:
    """Inverses (c, q, q) and the sum of log determinants; None unless positive definite."""
    if len(inner) == 1:  # one large set: half the work of the general routine
        factor, bad = lapack.dpotrf(inner[0], lower=1)
        if bad:
            return None
        logdet = 2.0 * float(np.sum(np.log(np.diagonal(factor))))
        half = np.tril(lapack.dpotri(factor, lower=1)[0])
        return (half + np.tril(half, -1).T)[None], logdet
    try:
        factor = np.linalg.cholesky(inner)
    except np.linalg.LinAlgError:
        return None
    diagonal = np.arange(inner.shape[1])
    logdet = 2.0 * float(np.sum(np.log(factor[:, diagonal, diagonal])))
    return np.asarray(np.linalg.inv(inner)), logdet


def _signed(U: Array, spread: Array) -> tuple[Array, Array, float] | None:
    """The same where variances may lie below zero."""
    share = _eigen(U, spread)
    if share.min() <= 0:
        return None
    q = len(spread)
    S = np.asarray(np.linalg.inv(np.eye(q) + U * spread), dtype=float)
    omega = spread[:, None] * S
    even: Array = np.asarray(0.5 * (omega + omega.transpose(0, 2, 1)), dtype=float)
    return S, even, float(np.sum(np.log(share)))


def _eigen(U: Array, spread: Array) -> Array:
    """Eigenvalues (c, q) of I + U^1/2 Theta U^1/2: those of D^-1/2 V D^-1/2 and some ones."""
    values, vectors = np.linalg.eigh(U)
    half = vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]
    return 1.0 + np.linalg.eigvalsh(half.transpose(0, 2, 1) @ (spread[:, None] * half))


def _crossed(left: Array, right: Array) -> Array:
    """Sum of left'right over the sets: (w, w)."""
    w = left.shape[2]
    return np.asarray(left.reshape(-1, w).T @ right.reshape(-1, w))
