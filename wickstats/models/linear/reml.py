"""Mixed models with random intercept terms by restricted maximum likelihood.

Model: y = X b + sum_k Z_k u_k + e, u_k ~ N(0, theta_k I), e ~ N(0, theta_e I); each
Z_k marks the groups of one term (block, whole plot, plot, plant), nested or crossed.
The fixed part is made orthonormal and the response brought to unit residual scale before
fitting, so that no verdict depends on a unit of measure. Source: Patterson & Thompson
(1971); Searle, Casella & McCulloch (1992). Leans on reduction, likelihood, solver.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.models.linear.grouping import Array, Codes, distinct_rows, number_codes
from wickstats.models.linear.likelihood import Evaluation, evaluate, second_products
from wickstats.models.linear.reduction import Reduced, reduce_cells
from wickstats.models.linear.solver import (
    TOLERANCE,
    ZERO_TOLERANCE,
    Solution,
    search,
)

Mode = Literal["nonnegative", "strata"]

ALIASED = 1e-9  # share of a column's length left by the columns before it
CONSTANT = 1e-13  # scatter relative to the largest value, below which there is none
REASONS = {"edge": "mixed edge", "no residual": "mixed no residual"}
NOT_SEPARABLE = 1e-9  # smallest eigenvalue of the information, scaled to unit diagonal


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The fixed part of many rows as few distinct ones: row i is table[number[i]].

    ``number`` (n,) from 0 to cells - 1, ``table`` (cells, p). The same as the (n, p) columns
    written out, and as quick as it is short.
    """

    number: NDArray[np.int_]
    table: Array


@dataclass(frozen=True, slots=True)
class Diary:
    """What the solver did (components and objective on the scale of the response)."""

    start: tuple[float, ...]
    end: tuple[float, ...]
    objective_start: float
    objective_end: float
    iterations: int
    evaluations: int
    gradient_norm: float  # Newton decrement: has no unit
    tolerance: float
    zero_tolerance: float
    code: str  # converged | iteration limit | no step improves | edge | no residual


@dataclass(frozen=True, slots=True, eq=False)
class Inner:
    """The fit in orthonormal, unit-scale coordinates, for degrees of freedom and profiles.

    Attributes
    ----------
    reduced, at
        Reduced rows (None where the covariance is not one of plain intercepts) and the
        likelihood with its derivatives at the estimate.
    second
        (m, m, r, r) Q'V^-1 G_k V^-1 G_l V^-1 Q at the estimate, less a quarter of what second
        derivatives of V add (Kenward & Roger 1997, equation 5).
    root
        (r, p) with X = Q root, Q orthonormal.
    kept
        Columns of X that are not aliased.
    coordinates
        (r,) fixed effects in the coordinates of Q, on the scale of the response.
    scale
        The response was divided by this.
    shift
        What to add to the unit-scale objective to get the reported one.
    """

    reduced: Reduced | None
    at: Evaluation
    second: Array
    root: Array
    kept: tuple[int, ...]
    coordinates: Array
    scale: float
    shift: float


@dataclass(frozen=True, slots=True, eq=False)
class MixedFit:
    """A fitted mixed model, complete.

    Attributes
    ----------
    names
        The random terms in the order given, then "residual".
    components
        (K + 1,) variances in that order, response squared.
    levels
        Groups per term; rows for the residual.
    fixed, covariance
        (p,), (p, p) fixed effects and their covariance; columns named in ``aliased`` are
        linear combinations of earlier ones and are held at zero.
    objective
        -2 log restricted likelihood with its constant (n - rank) log 2 pi, log|X'V^-1 X|
        taken over the columns that are not aliased.
    singular
        A component stands at zero (an answer, not a failure).
    reason
        Why the fit is not converged, in words; None where it is.
    """

    names: tuple[str, ...]
    components: tuple[float, ...]
    levels: tuple[int, ...]
    fixed: Array
    covariance: Array
    aliased: tuple[int, ...]
    n: int
    rank: int
    objective: float
    mode: Mode
    singular: bool
    converged: bool
    reason: str | None
    diary: Diary
    inner: Inner = field(repr=False)

    def component(self, name: str) -> float:
        """Return the variance of that term (ValueError where there is none)."""
        return self.components[self.names.index(name)]


def fit_mixed(
    values: Array,
    fixed: Array | Cells,
    groups: Mapping[str, NDArray[np.int_]],
    *,
    mode: Mode = "nonnegative",
) -> MixedFit:
    """Fit by restricted maximum likelihood.

    Parameters
    ----------
    values
        (n,) finite responses.
    fixed
        (n, p) finite columns of the fixed part (with the intercept or cell indicators), or
        the same as ``Cells``; columns that depend on earlier ones are dropped and named
        in ``aliased``.
    groups
        Term -> (n,) integer group codes, nested or crossed. Codes must be unique over the
        trial (plot 1 of block 2 is not plot 1 of block 1). At least one term must not
        split the rows singly.
    mode
        "nonnegative": components at or above zero. "strata": they may go below while the
        covariance matrix stays positive definite (balanced data: the classical components).

    Returns
    -------
    MixedFit
        With ``converged`` False and a ``reason`` where no maximum was found.

    Raises
    ------
    AnalysisError
        In words: no scatter, no residual degrees of freedom, a term that cannot be told
        from another, from the residual or from the fixed part.
    ValueError
        For arrays that do not fit together or are not finite.
    """
    y, cells = _checked(values, fixed, groups)
    n = len(y)
    counts = np.bincount(cells.number, minlength=len(cells.table))
    weights = np.sqrt(counts)[:, None]
    Q, root, kept = orthonormal(cells.table * weights)
    Q = Q / weights
    rank = Q.shape[1]
    names = (*groups, "residual")
    if n - rank < len(names):
        raise AnalysisError(say("mixed no residual df", n=n, components=len(names), rank=rank))
    ols, scatter = _least_squares(cells.number, Q, y)
    scale = math.sqrt(float(scatter @ scatter) / (n - rank))
    if scale <= CONSTANT * float(np.max(np.abs(y))) or scale == 0:
        raise AnalysisError(say("mixed constant"))
    numbered = [number_codes(code) for code in groups.values()]
    codes = [code for code, _ in numbered]
    reduced = reduce_cells(cells.number, Q, scatter / scale, codes)
    start = np.full(len(names), 1.0 / len(names))
    at_start = evaluate(reduced, start)
    if at_start is None:  # V = identity plus non-negative parts
        raise ValueError("the covariance matrix is not positive definite at the start")
    _refuse_inseparable(at_start, names)
    found = search(reduced, at_start, bounded=mode == "nonnegative")
    kept_root = root[:, list(kept)]
    shift = 2.0 * float(np.sum(np.log(np.abs(np.diagonal(kept_root))))) + 2.0 * (
        n - rank
    ) * math.log(scale)
    inner = Inner(
        reduced=reduced,
        at=found.at,
        second=second_products(reduced, found.at.theta),
        root=root,
        kept=kept,
        coordinates=ols + scale * found.at.fixed,
        scale=scale,
        shift=shift,
    )
    levels = (*(count for _, count in numbered), n)
    return _finish(inner, found, start, names, levels, root.shape[1], mode)


def _checked(
    values: Array, fixed: Array | Cells, groups: Mapping[str, NDArray[np.int_]]
) -> tuple[Array, Cells]:
    y = np.asarray(values, dtype=float)
    if isinstance(fixed, Cells):
        X, rows = np.asarray(fixed.table, dtype=float), np.shape(fixed.number)
    else:
        X = np.asarray(fixed, dtype=float)
        rows = X.shape[:1]
    if y.ndim != 1 or X.ndim != 2 or rows != y.shape or len(y) == 0:
        raise ValueError("values (n,) and fixed (n, p) do not fit together")
    if any(np.shape(code) != y.shape for code in groups.values()):
        raise ValueError("every grouping needs one code a row")
    if not (np.all(np.isfinite(y)) and np.all(np.isfinite(X))):
        raise ValueError("values and fixed must be finite: leave missing rows out")
    if "residual" in groups:
        raise ValueError("the name 'residual' is taken")
    return y, _present_cells(fixed.number, X) if isinstance(fixed, Cells) else Cells(
        *distinct_rows(X)
    )


def _present_cells(number: NDArray[np.int_], table: Array) -> Cells:
    """Cells renumbered without those that no row has."""
    if int(number.min()) < 0 or int(number.max()) >= len(table):
        raise ValueError("a cell's number points outside its table")
    present = np.bincount(number, minlength=len(table)) > 0
    if present.all():
        return Cells(np.asarray(number, dtype=np.intp), table)
    return Cells((np.cumsum(present) - 1)[number], table[present])


def _least_squares(x: Codes, Q: Array, y: Array) -> tuple[Array, Array]:
    """Coordinates (r,) and residuals (n,)."""
    ols = Q.T @ np.bincount(x, weights=y, minlength=len(Q))
    return ols, y - (Q @ ols)[x]


def orthonormal(X: Array) -> tuple[Array, Array, tuple[int, ...]]:
    """Q (n, r) orthonormal, R (r, p) with X = Q R, and the columns that are kept.

    A column that earlier ones explain is left out, as most programs do; where there is one,
    Gram-Schmidt taken twice keeps Q orthonormal to rounding.
    """
    lengths = np.linalg.norm(X, axis=0)
    if 0 < X.shape[1] <= len(X):
        Q, R = np.linalg.qr(X)
        if np.all(np.abs(np.diagonal(R)) > ALIASED * lengths):
            return Q, np.triu(R), tuple(range(X.shape[1]))
    basis: list[Array] = []
    kept: list[int] = []
    for j, (column, length) in enumerate(zip(X.T, lengths.tolist(), strict=True)):
        rest = column
        if basis and length > 0:
            B = np.array(basis)
            rest = rest - B.T @ (B @ rest)
            rest = rest - B.T @ (B @ rest)
        left = float(np.linalg.norm(rest))
        if length > 0 and left > ALIASED * length:
            basis.append(rest / left)
            kept.append(j)
    Q = np.array(basis).T.reshape(len(X), len(basis))
    return Q, Q.T @ X, tuple(kept)


def _refuse_inseparable(at: Evaluation, names: tuple[str, ...]) -> None:
    """Refuse terms without information of their own (scaled expected information)."""
    information = np.diagonal(at.expected)
    for k, name in enumerate(names):
        if information[k] <= NOT_SEPARABLE * at.whole[k]:
            raise AnalysisError(say("mixed no information", term=name))
    unit = at.expected / np.sqrt(np.outer(information, information))
    eigen, vectors = np.linalg.eigh(unit)
    if eigen[0] <= NOT_SEPARABLE:
        mixed = [n for n, v in zip(names, vectors[:, 0], strict=True) if abs(v) > 1e-3]
        raise AnalysisError(say("mixed not separable", terms=", ".join(mixed)))


def _finish(
    inner: Inner,
    found: Solution,
    start: Array,
    names: tuple[str, ...],
    levels: tuple[int, ...],
    columns: int,
    mode: Mode,
) -> MixedFit:
    """Bring the solution back to the user's scale and columns."""
    square = inner.scale**2
    kept = list(inner.kept)
    rank = len(kept)
    back = solve_triangular(inner.root[:, kept], np.eye(rank)) if rank else np.zeros((0, 0))
    fixed = np.zeros(columns)
    fixed[kept] = back @ inner.coordinates
    covariance = np.zeros((columns, columns))
    covariance[np.ix_(kept, kept)] = square * (back @ found.at.phi @ back.T)
    converged = found.code == "converged"
    reason = None
    if not converged:
        reason = say(REASONS.get(found.code, "mixed no convergence"), code=found.code)
    theta = found.at.theta
    return MixedFit(
        names=names,
        components=tuple(float(v) for v in square * theta),
        levels=levels,
        fixed=fixed,
        covariance=covariance,
        aliased=tuple(j for j in range(columns) if j not in kept),
        n=levels[-1],
        rank=rank,
        objective=found.at.objective + inner.shift,
        mode=mode,
        singular=bool(np.any(theta == 0)),
        converged=converged,
        reason=reason,
        diary=Diary(
            start=tuple(float(v) for v in square * start),
            end=tuple(float(v) for v in square * theta),
            objective_start=found.objective_start + inner.shift,
            objective_end=found.at.objective + inner.shift,
            iterations=found.iterations,
            evaluations=found.evaluations,
            gradient_norm=found.decrement,
            tolerance=TOLERANCE,
            zero_tolerance=ZERO_TOLERANCE,
            code=found.code,
        ),
        inner=inner,
    )
