"""Mixed models with slopes, serial correlation and unequal residual variances by REML.

Model: y = X b + e, Var(e) the sum of the terms (see terms): a plant's growth line, visits
of a plant that are the more alike the closer, residuals that vary by arm or visit, plots
and blocks above them. The fit is a ``MixedFit``, so that contrasts and their degrees of
freedom are taken by the same functions as for plain intercepts (degrees). Kenward & Roger
(1997) is on the scale of the parameters as they are named: variances, covariances, and the
correlation at one unit of distance. Leans on subjects, structured, ascent, reml.
"""

import math
from collections.abc import Sequence

import numpy as np
from scipy.linalg import solve_triangular

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.models.linear.ascent import SMALL, TOLERANCE, Ascent, climb
from wickstats.models.linear.grouping import Array, number_codes
from wickstats.models.linear.reml import (
    CONSTANT,
    REASONS,
    Diary,
    Inner,
    MixedFit,
    orthonormal,
)
from wickstats.models.linear.structured import kenward_roger_products
from wickstats.models.linear.subjects import Arranged, arrange
from wickstats.models.linear.terms import (
    CORRELATIONS,
    SIZES,
    Residual,
    Serial,
    Slope,
    Term,
    parameter_names,
    scales,
    working,
)

# Correlations from which the search starts, the best end counting.
STARTS = (0.3, 0.8)
# A variance this much below the total counts as none.
NONE = 1e-10
# Smallest eigenvalue of the information, scaled to unit diagonal.
NOT_SEPARABLE = 1e-10


def fit_terms(values: Array, fixed: Array, terms: Sequence[Term]) -> MixedFit:
    """Fit by restricted maximum likelihood.

    Parameters
    ----------
    values, fixed
        (n,) finite responses and (n, p) finite columns; columns that depend on earlier ones
        are dropped and named in ``aliased``.
    terms
        Random terms, at most one ``Serial`` grouping, and a ``Residual`` (last) unless the
        serial term is all there is within a group. A random term over a serial term's
        groups is either theirs or wider.

    Returns
    -------
    MixedFit
        ``names`` and ``components`` are the parameters of the terms in their order; ``levels``
        the groups of each parameter's term. ``converged`` False with a ``reason`` where no
        maximum was found or a correlation has run to its end.

    Raises
    ------
    AnalysisError
        In words: no scatter, no residual degrees of freedom, parameters that the data cannot
        tell apart.
    ValueError
        For arrays that do not fit together or are not finite.
    """
    y, X = _checked(values, fixed, terms)
    n = len(y)
    Q, root, kept = orthonormal(X)
    rank = Q.shape[1]
    names = tuple(name for term in terms for name in parameter_names(term))
    if n - rank < len(names):
        raise AnalysisError(say("mixed no residual df", n=n, components=len(names), rank=rank))
    ols = Q.T @ y
    scatter = y - Q @ ols
    scale = math.sqrt(float(scatter @ scatter) / (n - rank))
    if scale <= CONSTANT * float(np.max(np.abs(y))) or scale == 0:
        raise AnalysisError(say("mixed constant"))
    data = arrange(np.column_stack([Q, scatter / scale]), terms)
    ends = [climb(data, start) for start in _starts(terms)]
    done = [end for end in ends if end.code == "converged"] or ends
    best = min(done, key=lambda end: end.end.at.objective)
    unit = np.array(
        [_is_variance(s) for t in terms for s in scales(t) for _ in range(SIZES[s])]
    )
    return _finish(data, best, names, unit, (Q, root, kept), ols, scale, X.shape[1])


def _checked(values: Array, fixed: Array, terms: Sequence[Term]) -> tuple[Array, Array]:
    y, X = np.asarray(values, dtype=float), np.asarray(fixed, dtype=float)
    if y.ndim != 1 or X.ndim != 2 or len(X) != len(y) or len(y) == 0:
        raise ValueError("values (n,) and fixed (n, p) do not fit together")
    if not (np.all(np.isfinite(y)) and np.all(np.isfinite(X))):
        raise ValueError("values and fixed must be finite: leave missing rows out")
    for term in terms:
        for part in _arrays(term):
            if np.shape(part) != y.shape or not np.all(np.isfinite(part)):
                raise ValueError(f"term {term.name!r} needs one finite value a row")
    residuals = [k for k, t in enumerate(terms) if isinstance(t, Residual)]
    serial = [t for t in terms if isinstance(t, Serial)]
    if residuals not in ([], [len(terms) - 1]) or not (residuals or serial):
        raise ValueError("one residual term, the last, unless a serial term stands for it")
    for term in serial:
        lags = np.asarray(term.times, dtype=float) / term.unit
        if term.equal and not np.allclose(lags, np.rint(lags), rtol=0, atol=1e-9):
            raise ValueError("equally spaced times must be whole numbers of units")
    return y, X


def _arrays(term: Term) -> list[Array]:
    parts: list[Array] = []
    if not isinstance(term, Residual):
        parts.append(np.asarray(term.group))
    if isinstance(term, Slope):
        parts.append(np.asarray(term.x))
    if isinstance(term, Serial):
        parts.append(np.asarray(term.times))
    if isinstance(term, Serial | Residual) and term.by is not None:
        parts.append(np.asarray(term.by))
    return parts


def _is_variance(scale: str) -> bool:
    return scale not in CORRELATIONS


def _starts(terms: Sequence[Term]) -> list[Array]:
    """Working parameters to start from: equal shares of the variance for all terms."""
    share = 1.0 / len(terms)
    serial = any(isinstance(t, Serial) for t in terms)
    out = []
    for rho in STARTS if serial else STARTS[:1]:
        parts = []
        for term in terms:
            spread = 1.0
            if isinstance(term, Slope):
                x = np.asarray(term.x, dtype=float)
                spread = float(np.sqrt(np.mean(x**2))) or 1.0
            for scale in scales(term):
                if scale == "pair":
                    parts.append(np.sqrt(share / 2) * np.array([1.0, 0.0, 1.0 / spread]))
                else:
                    value = share if _is_variance(scale) else rho
                    parts.append(working(scale, np.array([value])))
        out.append(np.concatenate(parts))
    return out


def _finish(
    data: Arranged,
    found: Ascent,
    names: tuple[str, ...],
    unit: Array,
    basis: tuple[Array, Array, tuple[int, ...]],
    ols: Array,
    scale: float,
    columns: int,
) -> MixedFit:
    """Bring the solution back to the user's scale and columns."""
    Q, root, kept_columns = basis
    kept, rank, at = list(kept_columns), Q.shape[1], found.end.at
    kept_root = root[:, kept]
    spread = np.where(unit, scale**2, 1.0)
    shift = 2.0 * float(np.sum(np.log(np.abs(np.diagonal(kept_root)))))
    shift += 2.0 * (data.n - rank) * math.log(scale)
    coordinates = ols + scale * at.fixed
    back = solve_triangular(kept_root, np.eye(rank)) if rank else np.zeros((0, 0))
    fixed = np.zeros(columns)
    fixed[kept] = back @ coordinates
    covariance = np.zeros((columns, columns))
    covariance[np.ix_(kept, kept)] = scale**2 * (back @ at.phi @ back.T)
    reason = _reason(found, names)
    inner = Inner(
        reduced=None,
        at=at,
        second=kenward_roger_products(found.end.state),
        root=root,
        kept=kept_columns,
        coordinates=coordinates,
        scale=scale,
        shift=shift,
    )
    components = tuple(float(v) for v in spread * at.theta)
    return MixedFit(
        names=names,
        components=components,
        levels=_group_counts(data),
        fixed=fixed,
        covariance=covariance,
        aliased=tuple(j for j in range(columns) if j not in kept),
        n=data.n,
        rank=rank,
        objective=at.objective + shift,
        mode="nonnegative",
        singular=_singular(data, at.theta),
        converged=reason is None,
        reason=reason,
        diary=Diary(
            start=tuple(float(v) for v in spread * found.start),
            end=components,
            objective_start=found.objective_start + shift,
            objective_end=at.objective + shift,
            iterations=found.iterations,
            evaluations=found.evaluations,
            gradient_norm=found.decrement,
            tolerance=TOLERANCE,
            zero_tolerance=SMALL,
            code=found.code,
        ),
        inner=inner,
    )


def _reason(found: Ascent, names: tuple[str, ...]) -> str | None:
    """Why the fit gives no numbers, in words."""
    if found.code == "runaway":
        farthest = names[int(np.argmax(np.abs(found.end.phi)))]
        return say("mixed runaway", parameter=farthest)
    if found.code != "converged":
        theta = found.end.at.theta
        plain = isinstance(found.end.state.data.terms[-1], Residual)
        gone = plain and theta[-1] <= SMALL * np.sum(np.abs(theta))
        code = "no residual" if gone else found.code
        return say(REASONS.get(code, "mixed no convergence"), code=code)
    information = found.end.at.expected
    scale = np.sqrt(np.maximum(np.diagonal(information), 0.0))
    if np.any(scale == 0):
        lost = [n for n, s in zip(names, scale, strict=True) if s == 0]
        return say("mixed no information", term=", ".join(lost))
    eigen, vectors = np.linalg.eigh(information / np.outer(scale, scale))
    if eigen[0] <= NOT_SEPARABLE:
        mixed = [n for n, v in zip(names, vectors[:, 0], strict=True) if abs(v) > 1e-2]
        return say("mixed not separable", terms=", ".join(mixed))
    return None


def _singular(data: Arranged, theta: Array) -> bool:
    """Whether a variance stands at zero, or an intercept and a slope are one."""
    start = 0
    for term in data.terms:
        for scale in scales(term):
            own = theta[start : start + SIZES[scale]]
            start += SIZES[scale]
            if scale == "variance" and own[0] == 0:
                return True
            if scale == "pair" and own[0] * own[2] - own[1] ** 2 <= NONE * own[0] * own[2]:
                return True
    return False


def _group_counts(data: Arranged) -> tuple[int, ...]:
    """Groups of each parameter's term; rows for residuals."""
    out: list[int] = []
    for term, place in zip(data.terms, data.places, strict=True):
        count = data.n if isinstance(term, Residual) else number_codes(term.group)[1]
        out += [count] * (place.stop - place.start)
    return tuple(out)
