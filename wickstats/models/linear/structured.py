"""The restricted likelihood where rows within a subject are correlated, with derivatives.

V = D + Z G Z', D the covariance within subjects (one block a subject), Z and G the columns
and the covariance of the upper terms. With U = Z'D^-1 Z, B = Z'D^-1 W, S = (I + U G)^-1,
Omega = G S, Y = Omega B and R = V^-1 W = D^-1 (W - Z Y), by subject,

    log|V| = log|D| - log|S|,    W'V^-1 W = W'D^-1 W - B'Y

Derivatives V_k = dV / d theta_k are Z E_k Z' for an upper term and a block a subject D_k
otherwise; only the latter may have second ones, V_kl = D_kl. With F = Z'V^-1 W = S B,
T = Z'V^-1 Z = S U, N_k = Z'D^-1 D_k R, and sums over subjects understood,

    W'V^-1 V_k V^-1 W            upper: F'E_k F         within: R'D_k R
    W'V^-1 V_k V^-1 V_l V^-1 W   upper: F'E_k T E_l F   within: R'D_k D^-1 D_l R - N_k'Omega N_l
                                 both:  F'E_k S N_l
    W'V^-1 V_kl V^-1 W                                  within: R'D_kl R

and -2 l, its gradient and expected information are as in likelihood, while the observed
information gains tr(P V_kl) - y'P V_kl P y. Kenward & Roger (1997) subtract a quarter of
X'V^-1 V_kl V^-1 X from Q_kl, their equation 5, which ``products`` hands over ready made.
Leans on subjects, numpy, scipy.linalg.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from wickstats.models.linear.grouping import Array
from wickstats.models.linear.likelihood import EDGE, Evaluation
from wickstats.models.linear.subjects import Arranged, Batch, within_subjects

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One batch at one theta: D^-1 and D^-1 z by pattern, D's derivatives, R by subject."""

    batch: Batch
    inverse: Array
    slope: Array
    first: Array
    second: dict[Pair, Array]
    R: Array


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """All batches and the upper levels at one theta (sets of q levels).

    ``within`` are the places in theta of parameters within subjects, ``selected`` those of
    the upper terms with their E_k (q, q).
    """

    data: Arranged
    parts: tuple[_Part, ...]
    U: Array
    S: Array
    omega: Array
    T: Array
    F: Array
    gram: Array
    logdet: float
    within: tuple[int, ...]
    selected: dict[int, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Products:
    """Derivatives of W'V^-1 W in the columns W J.

    ``first`` (m, w, w); ``second`` and ``bent`` (m, m, w, w), or (m, m, w) where only the
    diagonals were asked for.
    """

    first: Array
    second: Array
    bent: Array


def prepare(data: Arranged, theta: Array) -> State | None:
    """Work out all that does not need the fixed part; None where V is not positive definite."""
    w, q = data.width, data.q
    gram, logdet = np.zeros((w, w)), 0.0
    flat_U, flat_B = np.zeros(data.n_sets * q * q), np.zeros((data.n_sets * q, w))
    halves = []
    for batch in data.batches:
        cov, first, second = within_subjects(data, batch, theta)
        try:
            factor = np.linalg.cholesky(cov)
        except np.linalg.LinAlgError:
            return None
        diagonal = np.einsum("pii->pi", factor)
        if not np.all(diagonal**2 > EDGE * np.einsum("pii->pi", cov).max()):
            return None
        logdet += 2.0 * float(batch.counts @ np.log(diagonal).sum(axis=1))
        inverse = np.linalg.inv(cov)
        inverse = 0.5 * (inverse + inverse.transpose(0, 2, 1))
        slope = inverse @ batch.z
        solved = inverse[batch.pattern] @ batch.W
        gram += np.tensordot(batch.W, solved, axes=((0, 1), (0, 1)))
        if q:
            shares = batch.z.transpose(0, 2, 1) @ slope
            flat_U += np.bincount(_flat(batch, q), shares[batch.pattern].ravel(), len(flat_U))
            flat_B += _to_levels(data, batch, slope[batch.pattern].transpose(0, 2, 1) @ batch.W)
        halves.append((batch, inverse, slope, first, second, solved))
    U, B = flat_U.reshape(data.n_sets, q, q), flat_B.reshape(data.n_sets, q, w)
    G = np.tensordot(theta[data.selected], data.selectors, axes=1) if q else np.zeros((0, 0))
    inner = np.eye(q) + U @ G
    sign, size = np.linalg.slogdet(inner)
    if not np.all(sign > 0):
        return None
    S = np.asarray(np.linalg.inv(inner), dtype=float)
    omega = G @ S
    Y = omega @ B
    T = S @ U
    parts = []
    for batch, inverse, slope, first, second, solved in halves:
        R = solved
        if q:
            R = solved - slope[batch.pattern] @ Y[batch.sets[:, None], batch.slots]
        parts.append(_Part(batch, inverse, slope, first, second, R))
    gram -= np.tensordot(B, Y, axes=((0, 1), (0, 1)))
    return State(
        data=data,
        parts=tuple(parts),
        U=U,
        S=S,
        omega=0.5 * (omega + omega.transpose(0, 2, 1)),
        T=0.5 * (T + T.transpose(0, 2, 1)),
        F=S @ B,
        gram=0.5 * (gram + gram.T),
        logdet=logdet + float(size.sum()),
        within=tuple(k for k in range(len(theta)) if k not in data.selected),
        selected=dict(zip(data.selected.tolist(), data.selectors, strict=True)),
    )


def products(state: State, J: Array, *, whole: bool) -> Products:
    """Derivatives in the columns W J (w, v); ``whole`` matrices or their diagonals only."""
    m, v = state.parts[0].first.shape[0], J.shape[1]
    sums = _crossed if whole else _columns
    shape = (v, v) if whole else (v,)
    out = Products(np.zeros((m, v, v)), np.zeros((m, m, *shape)), np.zeros((m, m, *shape)))
    levels = {k: np.zeros((state.data.n_sets, state.data.q, v)) for k in state.within}
    for part in state.parts:
        _add_within(state, part, J, levels, out, sums)
    turned = {k: state.omega @ N for k, N in levels.items()}
    for k, j in _pairs(state.within):
        out.second[k, j] -= sums(levels[k], turned[j])
    F, selected = state.F @ J, state.selected
    for k, E in selected.items():
        EF = E @ F
        out.first[k] += _crossed(F, EF)
        for j, other in selected.items():
            if j >= k:
                out.second[k, j] += sums(EF, state.T @ (other @ F))
        for j in state.within:
            found = sums(EF, state.S @ levels[j])
            if k < j:
                out.second[k, j] += found
            else:
                out.second[j, k] += found.T
    _mirror(out.second, whole=whole)
    _mirror(out.bent, whole=False)
    return out


def _add_within(
    state: State,
    part: _Part,
    J: Array,
    levels: dict[int, Array],
    out: Products,
    sums: Callable[[Array, Array], Array],
) -> None:
    """What one batch adds to the products, and to N_k on the levels."""
    R, pattern, data = part.R @ J, part.batch.pattern, state.data
    moved = {k: part.first[k][pattern] @ R for k in state.within}
    solved = {k: part.inverse[pattern] @ moved[k] for k in state.within}
    for k in state.within:
        out.first[k] += _crossed(R, moved[k])
        if data.q:
            upward = part.slope[pattern].transpose(0, 2, 1) @ moved[k]
            levels[k] += _to_levels(data, part.batch, upward).reshape(levels[k].shape)
    for k, j in _pairs(state.within):
        out.second[k, j] += sums(moved[k], solved[j])
    for pair, curve in part.second.items():
        out.bent[pair] += sums(R, curve[pattern] @ R)


def traces(state: State, m: int) -> tuple[Array, Array, Array]:
    """(m,) tr V^-1 V_k, (m, m) tr V^-1 V_k V^-1 V_l and (m, m) tr V^-1 V_kl."""
    one, two, bent = np.zeros(m), np.zeros((m, m)), np.zeros((m, m))
    shares = _Shares(state.data)
    for part in state.parts:
        counts = part.batch.counts
        solved = {k: part.inverse @ part.first[k] for k in state.within}
        for k in state.within:
            one[k] += counts @ np.einsum("pii->p", solved[k])
            shares.add((k,), part, part.first[k])
        for k, j in _pairs(state.within):
            two[k, j] += counts @ np.einsum("pij,pji->p", solved[k], solved[j])
            shares.add((k, j), part, part.first[k] @ solved[j])
        for (k, j), curve in part.second.items():
            bent[k, j] += counts @ np.einsum("pij,pji->p", part.inverse, curve)
            shares.add((k, j, 2), part, curve)
    if state.data.q:
        _add_levels(state, shares.held, one, two, bent)
    _mirror(two, whole=False)
    _mirror(bent, whole=False)
    return one, two, bent


class _Shares:
    """Sums of z'D^-1 M D^-1 z on the levels, for several M."""

    def __init__(self, data: Arranged) -> None:
        self.data = data
        self.held: dict[tuple[int, ...], Array] = {}

    def add(self, key: tuple[int, ...], part: _Part, middle: Array) -> None:
        """Add one batch's; ``middle`` (P, n, n)."""
        sets, q = self.data.n_sets, self.data.q
        if not q:
            return
        found = part.slope.transpose(0, 2, 1) @ middle @ part.slope
        weights = found[part.batch.pattern].ravel()
        flat: Array = np.asarray(
            np.bincount(_flat(part.batch, q), weights, sets * q * q), dtype=float
        ).reshape(sets, q, q)
        self.held[key] = self.held[key] + flat if key in self.held else flat


def _add_levels(
    state: State, shares: dict[tuple[int, ...], Array], one: Array, two: Array, bent: Array
) -> None:
    """What the upper terms change in the traces."""
    omega, selected = state.omega, state.selected
    turned = {k: omega @ shares[(k,)] for k in state.within}
    for k in state.within:
        one[k] -= np.einsum("cii->", turned[k])
    for k, j in _pairs(state.within):
        two[k, j] -= 2.0 * np.sum(omega * shares[(k, j)])
        two[k, j] += np.einsum("cij,cji->", turned[k], turned[j])
    for k, j in state.parts[0].second:
        bent[k, j] -= np.sum(omega * shares[(k, j, 2)])
    for k, E in selected.items():
        ET = E @ state.T
        one[k] += np.einsum("cii->", ET)
        for j, other in selected.items():
            if j >= k:
                two[k, j] += np.einsum("cij,cji->", ET, other @ state.T)
        for j in state.within:
            inner = state.S @ shares[(j,)] @ state.S.transpose(0, 2, 1)
            two[min(j, k), max(j, k)] += np.sum(E * inner.sum(axis=0))


def _pairs(numbers: tuple[int, ...]) -> list[Pair]:
    return [(k, j) for k in numbers for j in numbers if j >= k]


def evaluate_structured(data: Arranged, theta: Array) -> tuple[Evaluation, State] | None:
    """The objective and its derivatives at ``theta`` (m,); None where there is none."""
    state = prepare(data, theta)
    if state is None:
        return None
    m, w = len(theta), data.width
    p = w - 1
    phi, logdet_x = np.zeros((0, 0)), 0.0
    J = np.zeros((w, w))
    if p:
        factor, info = lapack.dpotrf(state.gram[:p, :p], lower=0, clean=1)
        if info != 0:
            return None
        J[:p, :p], _ = lapack.dtrtri(factor, lower=0)
        phi = J[:p, :p] @ J[:p, :p].T
        logdet_x = 2.0 * float(np.sum(np.log(np.diagonal(factor))))
    fixed = phi @ state.gram[:p, p]
    J[:p, p], J[p, p] = -fixed, 1.0
    found = products(state, J, whole=False)
    one, two, bent = traces(state, m)
    inner = found.first[:, :p, :p]
    flat = inner.reshape(m, -1)
    expected = two - 2.0 * found.second[:, :, :p].sum(axis=2) + flat @ flat.T
    cross = found.first[:, :p, p]
    curvature = found.second[:, :, p] - cross @ cross.T
    bending = bent - found.bent[:, :, :p].sum(axis=2) - found.bent[:, :, p]
    quadratic = float(J[:, p] @ state.gram @ J[:, p])
    back = np.linalg.inv(J[:p, :p]) if p else np.zeros((0, 0))
    at = Evaluation(
        theta=theta,
        objective=state.logdet + logdet_x + quadratic + (data.n - p) * math.log(2 * math.pi),
        quadratic=quadratic,
        fixed=fixed,
        phi=phi,
        gradient=one - np.einsum("kii->k", inner) - found.first[:, p, p],
        observed=bending + 2.0 * curvature - expected,
        expected=expected,
        whole=np.diagonal(two).copy(),
        first=back.T @ inner @ back,
    )
    return at, state


def kenward_roger_products(state: State) -> Array:
    """(m, m, p, p) Q_kl - R_kl / 4 of Kenward & Roger (1997)."""
    w = state.data.width
    found = products(state, np.eye(w)[:, :-1], whole=True)
    return found.second - 0.25 * found.bent


def _flat(batch: Batch, q: int) -> Array:
    rows = batch.sets[:, None] * q + batch.slots
    return np.asarray(rows[:, :, None] * q + batch.slots[:, None, :]).ravel()


def _to_levels(data: Arranged, batch: Batch, values: Array) -> Array:
    """Sum (J, c, v) into the levels (sets x q, v)."""
    at = (batch.sets[:, None] * data.q + batch.slots).ravel()
    out = np.zeros((data.n_sets * data.q, values.shape[2]))
    np.add.at(out, at, values.reshape(-1, values.shape[2]))
    return out


def _crossed(left: Array, right: Array) -> Array:
    v = left.shape[2]
    return np.asarray(left.reshape(-1, v).T @ right.reshape(-1, v))


def _columns(left: Array, right: Array) -> Array:
    return np.asarray(np.einsum("ijv,ijv->v", left, right))


def _mirror(out: Array, *, whole: bool) -> None:
    """Fill in (l, k) from (k, l), transposed where the entries are matrices with an order."""
    for k in range(len(out)):
        for j in range(k):
            out[k, j] = out[j, k].T if whole else out[j, k]
