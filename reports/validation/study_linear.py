"""The first line for many seasons on the same units: totals, sizes and shares.

The same formulas as the package's strata (least squares on unit values, unit variances
phi d, Satterthwaite 1946), written for (S, n) arrays: with M the residual projector,

    tr(MD) = sum_j M_jj d_j,    tr(MDMD) = sum_ij M_ij^2 d_i d_j.

Shares go through the package's batch engine. A test holds these numbers equal to the
package's own, season by season. Leans on numpy, scipy.special, the package's models and
study_seasons.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit
from study_seasons import Seasons

from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import lay_batch
from wickstats.models.batch.results import Judged as BatchJudged
from wickstats.models.linear.contrasts import steps
from wickstats.models.linear.geometry import Geometry, lay_units


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """(S, k) estimate, low, high and p of k contrasts; (S,) p of all arms.

    NaN where the season gives no inference.
    """

    estimate: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray
    p_all: np.ndarray

    @classmethod
    def empty(cls, seasons: int, contrasts: int) -> "Judged":
        """Nothing judged yet."""
        a, b, c, d = (np.full((seasons, contrasts), np.nan) for _ in range(4))
        return cls(a, b, c, d, np.full(seasons, np.nan))

    def put(self, where: np.ndarray, part: "Judged") -> None:
        """Write the seasons of one pattern into place."""
        for name in ("estimate", "low", "high", "p", "p_all"):
            getattr(self, name)[where] = getattr(part, name)


def by_pattern(seasons: Seasons) -> Iterator[tuple[np.ndarray, np.ndarray, Geometry]]:
    """Seasons that have values on the same units: season numbers, units, geometry."""
    packed = np.packbits(seasons.present, axis=1)
    _, first, group = np.unique(packed, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(group.ravel(), kind="stable")
    ends = np.cumsum(np.bincount(group.ravel()))[:-1]
    t = int(seasons.cells.max()) + 1
    for which, one in zip(np.split(order, ends), first, strict=True):
        units = np.flatnonzero(seasons.present[one])
        layout = lay_units(seasons.cells[units], t, blocks=seasons.blocks[units])
        yield which, units, layout


def judge(seasons: Seasons, contrasts: np.ndarray, *, pooled: bool = False) -> Judged:
    """Judge (k, t) contrasts in every season of a total, a size or a share.

    ``pooled`` takes plot shares with one pooled variance, as a usual route does.
    """
    return judge_by(
        seasons,
        contrasts,
        lambda which, units, layout: _judge_one(
            seasons, which, units, layout, contrasts, pooled=pooled
        ),
    )


def from_batch(found: BatchJudged) -> Judged:
    """What the package's batch engine judged, in the study's terms."""
    a = found.contrasts
    return Judged(a.estimate, a.low, a.high, a.p, found.p_all)


Pattern = Callable[[np.ndarray, np.ndarray, Geometry], Judged]


def judge_by(seasons: Seasons, contrasts: np.ndarray, one: Pattern) -> Judged:
    """Judge pattern by pattern with ``one``."""
    out = Judged.empty(seasons.values.shape[0], len(contrasts))
    for which, units, layout in by_pattern(seasons):
        if layout.df > 0:
            out.put(which, one(which, units, layout))
    return out


def _judge_one(
    seasons: Seasons,
    which: np.ndarray,
    units: np.ndarray,
    layout: Geometry,
    contrasts: np.ndarray,
    *,
    pooled: bool,
) -> Judged:
    y = seasons.values[np.ix_(which, units)]
    m = seasons.plants[np.ix_(which, units)]
    if seasons.kind == "share" and not pooled:
        asked = lay_batch(layout.cells, layout.n_cells, contrasts=contrasts, geometry=layout)
        return from_batch(judge_shares(asked, y, m))
    if seasons.kind == "share":
        return judge_scales(y / m, layout, contrasts, [np.ones_like(y)])
    scales = [np.ones_like(y)]
    if seasons.kind == "size":
        scales.append(m.mean(axis=1, keepdims=True) / m)
    return judge_scales(y, layout, contrasts, scales)


def judge_scales(
    y: np.ndarray,
    layout: Geometry,
    contrasts: np.ndarray,
    scales: Sequence[np.ndarray],
) -> Judged:
    """Judge values (S, n) under every variance assumption; the widest interval counts."""
    out = Judged.empty(y.shape[0], len(contrasts))
    rows = [layout.cell_row(w)[0] for w in contrasts]
    terms = _term_rows(layout)
    projector = np.eye(y.shape[1]) - layout.basis @ layout.basis.T
    rss = ((y @ projector) ** 2).sum(axis=1)
    # as in the package: what rounding alone leaves behind counts as no scatter
    rounding = 64.0 * np.finfo(float).eps * np.abs(y).max(axis=1)
    rss = np.where(rss <= y.shape[1] * rounding**2, 0.0, rss)
    blind = rss == 0.0
    half_best = np.zeros_like(out.p)
    for k, row in enumerate(rows):
        if row is not None:
            out.estimate[:, k] = y @ row
    for d in scales:
        first = d @ np.diag(projector)
        df = first**2 / np.einsum("sn,sn->s", d @ (projector * projector), d)
        phi = np.where(blind, 1.0, rss / first)
        quantile = stdtrit(df, 0.975)
        for k, row in enumerate(rows):
            if row is None:
                continue
            se = np.sqrt(phi * (d @ (row * row)))
            # as in the package: a hair wider through rounding does not count
            wider = quantile * se > half_best[:, k] * (1.0 + 1e-12)
            half_best[wider, k] = (quantile * se)[wider]
            p = 2.0 * stdtr(df, -np.abs(out.estimate[:, k] / se))
            out.p[wider, k] = p[wider]
        if terms is not None:
            np.fmax(out.p_all, _p_all(y, terms, d, phi, df), out=out.p_all)
    out.low[:] = out.estimate - half_best
    out.high[:] = out.estimate + half_best
    for held in (out.low, out.high, out.p, out.p_all):
        held[blind] = np.nan
    return out


def _term_rows(layout: Geometry) -> np.ndarray | None:
    """(t - 1, n) unit weights of an orthonormal basis of all differences of arms."""
    _, _, basis = np.linalg.svd(steps(layout.n_cells), full_matrices=False)
    found = [layout.cell_row(w - w.mean())[0] for w in basis]
    kept = [row for row in found if row is not None]
    return np.array(kept) if len(kept) == len(found) else None


def _p_all(
    y: np.ndarray, terms: np.ndarray, d: np.ndarray, phi: np.ndarray, df: np.ndarray
) -> np.ndarray:
    """F under equal variances, else the ANOVA-type statistic (Brunner et al. 1997)."""
    q = float(len(terms))
    effects = y @ terms.T
    spread = phi[:, None, None] * np.einsum("qn,sn,pn->sqp", terms, d, terms, optimize=True)
    equal = (np.ptp(d, axis=1) == 0.0) | (q == 1.0)
    trace = np.trace(spread, axis1=1, axis2=2)
    solved = np.linalg.solve(spread, effects[:, :, None])[:, :, 0]
    exact = np.einsum("sq,sq->s", effects, solved) / q
    f = np.where(equal, exact, np.einsum("sq,sq->s", effects, effects) / trace)
    q_used = np.where(equal, q, trace**2 / np.einsum("sqp,sqp->s", spread, spread))
    result: np.ndarray = fdtrc(q_used, df, f)
    return result
