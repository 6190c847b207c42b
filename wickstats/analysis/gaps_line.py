"""First line of several strata with gaps: REML on unit summaries, blocks fixed.

Comparisons inside the last stratum are least squares with whole plots, plots or strips
fixed, which stays exact whatever is lost (a restricted likelihood would pool the strata
where a component is estimated at zero, and then rejects too often). All others: whole
plots, plots and strips are random, nested or crossed as they were laid out;
Kenward-Roger, with df never above those of the stratum that the design offers. Terms whose
component is not positive are left out of the weights. Where none is positive: least
squares with the last stratum's own residual mean square and df, never above the design's
either. A covariate has one slope for each size of piece, as in several strata without
gaps. Leans on models.linear.reml, degrees and strata.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.strata_line import error_strata
from wickstats.analysis.units import Array, IntArray
from wickstats.core.errors import AnalysisError
from wickstats.core.responses import StrataRow
from wickstats.core.words import say
from wickstats.models.linear.degrees import (
    contrast_covariance,
    mixed_contrasts,
    mixed_test,
)
from wickstats.models.linear.estimates import (
    Estimate,
    TermTest,
    f_tail,
    only_estimate,
    t_quantile,
    t_tail,
)
from wickstats.models.linear.geometry import Geometry, lay_units, piece_means
from wickstats.models.linear.reml import MixedFit, fit_mixed
from wickstats.models.linear.strata import UnitFit, fit_units


@dataclass(frozen=True, slots=True, eq=False)
class GapsLine:
    """Several strata with gaps."""

    used: Used
    layout: Geometry  # cells and blocks
    columns: Array  # (n, p) of the fixed part: cells, blocks, covariate
    n_slopes: int  # its last columns
    fit: MixedFit | None  # None: no positive component above the units
    mean_fit: MixedFit | None  # blocks random: means carry the block stratum
    inner: UnitFit  # all pieces fixed: the last stratum alone
    dfs: tuple[int, ...]  # of each stratum, by the design
    notes: tuple[str, ...]
    bonferroni: bool = False
    rule: str = "mixed"

    @property
    def within_ms(self) -> float | None:
        """Residual mean square of the last stratum; None without df."""
        return self.inner.residual_ms

    def _is_inner(self, rows: Array) -> bool:
        """Whether contrasts lie in the last stratum and can be estimated there."""
        last = len(self.used.units.strata) - 1
        return self.inner.no_inference is None and all(
            self.used.units.strata_of(weights) == (last,)
            and self.inner.contrast_row(weights - weights.mean())[0] is not None
            for weights in np.atleast_2d(np.asarray(rows, dtype=float))
        )

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells."""
        if self._is_inner(weights):
            return self.inner.contrast(weights)
        row, reason = self.layout.cell_row(weights)
        return self._estimate(np.asarray(weights, dtype=float), row, reason, block_share=0.0)

    def mean(self, weights: Array) -> Estimate:
        """Mean over blocks drawn at random, else over the average block as it is."""
        if self.mean_fit is not None:
            found = mixed_contrasts(
                self.mean_fit,
                np.append(np.asarray(weights, dtype=float), np.zeros(self.n_slopes))[None, :],
                level=self.used.confidence,
            )[0]
            if found.se is not None and found.df is not None and found.estimate is not None:
                basis = "restricted likelihood"
                return _finish(found.estimate, found.se, found.df, self.used.confidence, basis)
        row, reason = self.layout.mean_row(weights)
        share = 1.0 / self.layout.n_blocks if self.layout.n_blocks else 0.0
        return self._estimate(np.asarray(weights, dtype=float), row, reason, block_share=share)

    def test(self, rows: Array) -> TermTest:
        """Kenward-Roger F; df never above the design's."""
        given = np.atleast_2d(np.asarray(rows, dtype=float))
        if self._is_inner(given):
            return self.inner.test(given)
        q = int(np.linalg.matrix_rank(given))
        for weights in given:
            _, reason = self.layout.cell_row(weights)
            if reason:
                return TermTest(None, q, None, None, None, "none", reason)
        limit = float(min(self._limit(weights) for weights in given))
        if limit <= 0:
            return TermTest(None, q, None, None, None, "none", say("linear no df"))
        if self.fit is None:
            return self._plain_test(given, q, limit)
        found = mixed_test(self.fit, self._extended(given, 0.0))
        if found.f is None or found.df_den is None:
            return TermTest(None, q, None, None, None, "none", found.not_estimable)
        df = min(found.df_den, limit)
        return TermTest(found.f, q, df, f_tail(found.f, q, df), None, "restricted likelihood")

    def covariance(self, rows: Array) -> Array:
        """Covariance of contrasts."""
        given = np.atleast_2d(np.asarray(rows, dtype=float))
        if self._is_inner(given):
            return self.inner.covariance(given)
        if self.fit is not None:
            return np.asarray(contrast_covariance(self.fit, self._extended(given, 0.0)))
        if self.within_ms is None:
            raise ValueError(say("linear no df"))
        stack = np.array([self.layout.cell_row(weights)[0] for weights in given])
        product: Array = self.within_ms * stack @ stack.T
        return product

    def unit_row(self, weights: Array) -> Array | None:
        """Not given."""
        del weights
        return None

    @property
    def fitted(self) -> Array:
        """Fixed part."""
        if self.fit is None:
            product: Array = self.layout.basis @ (self.layout.basis.T @ self.used.values)
        else:
            product = self.columns @ self.fit.fixed
        return product

    @property
    def residuals(self) -> Array:
        """Of both strata together."""
        product: Array = self.used.values - self.fitted
        return product

    @property
    def residual_sd(self) -> float | None:
        """Of the last stratum."""
        return None if self.within_ms is None else float(np.sqrt(self.within_ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """None: sums of squares overlap."""
        del term_names
        return ()

    def _limit(self, weights: Array) -> int:
        """Design df of the strata in which the contrast lies, all of them together."""
        return sum(self.dfs[k] for k in self.used.units.strata_of(weights))

    def _extended(self, rows: Array, block_share: float) -> Array:
        rest = self.columns.shape[1] - rows.shape[1] - self.n_slopes
        parts = [(rest, block_share), (self.n_slopes, 0.0)]
        return np.hstack([rows, *(np.full((len(rows), n), share) for n, share in parts)])

    def _estimate(
        self, weights: Array, row: Array | None, reason: str | None, *, block_share: float
    ) -> Estimate:
        if row is None:
            return only_estimate(None, reason or "")
        limit = float(self._limit(weights))
        confidence = self.used.confidence
        if self.fit is None:
            estimate = float(row @ self.used.values)
            if self.within_ms is None or limit <= 0:
                return only_estimate(estimate, say("linear no df"))
            se = float(np.sqrt(self.within_ms * (row @ row)))
            return _finish(estimate, se, min(limit, self.dfs[-1]), confidence, "unit stratum")
        found = mixed_contrasts(
            self.fit,
            self._extended(weights[None, :], block_share),
            level=confidence,
            design_df=limit if limit > 0 else None,
        )[0]
        if found.se is None or found.df is None or found.estimate is None or limit <= 0:
            return only_estimate(found.estimate, found.not_estimable or say("linear no df"))
        return _finish(found.estimate, found.se, found.df, confidence, "restricted likelihood")

    def _plain_test(self, given: Array, q: int, limit: float) -> TermTest:
        if self.within_ms is None:
            return TermTest(None, q, None, None, None, "none", say("linear no df"))
        if not self.within_ms > 0.0:
            return TermTest(None, q, None, None, None, "none", say("linear no scatter"))
        u = np.linalg.svd(given, full_matrices=False)[2][:q]
        stack = np.array([self.layout.cell_row(weights - weights.mean())[0] for weights in u])
        effects = stack @ self.used.values
        f = float(effects @ np.linalg.solve(self.within_ms * stack @ stack.T, effects)) / q
        df = min(limit, float(self.dfs[-1]))
        return TermTest(f, q, df, f_tail(f, q, df), None, "unit stratum")


def _finish(estimate: float, se: float, df: float, confidence: float, basis: str) -> Estimate:
    if not se > 0.0:
        return only_estimate(estimate, say("linear no scatter"))
    half = t_quantile(confidence, df) * se
    t = estimate / se
    return Estimate(estimate, se, df, estimate - half, estimate + half, t, t_tail(t, df), basis)


def fit_gaps(used: Used, why: str) -> GapsLine:
    """Fit several strata with gaps; ``why`` says why they do not separate."""
    units = used.units
    beside = used.summary.covariate
    covariate = None if beside is None else beside[used.where]
    space = units.space
    layout = lay_units(
        used.cells, units.n_cells, blocks=used.grounds, covariate=covariate, space=space
    )
    indicators = np.zeros((used.n, units.n_cells))
    indicators[np.arange(used.n), used.cells] = 1.0
    if space is not None:
        indicators = indicators @ space
    pieces = _pieces(used)
    slopes = _slopes(covariate, pieces)
    columns = np.hstack([indicators, layout.shares, slopes])
    guarded = used.summary.guard and used.plants.min(initial=0) > 0
    inner = fit_units(
        used.values,
        used.cells,
        units.n_cells,
        plants=used.plants if guarded else None,
        geometry=lay_units(
            used.cells,
            units.n_cells,
            blocks=list(pieces.values()),
            covariate=covariate,
            space=space,
        ),
        confidence=used.confidence,
    )
    notes = [why]
    fit, gone = _positive_fit(used, columns, pieces, notes)
    if gone:
        notes.append(say("no variance of pieces", names=" and ".join(f"{n}s" for n in gone)))
    return GapsLine(
        used=used,
        layout=layout,
        columns=columns,
        n_slopes=slopes.shape[1],
        fit=fit,
        mean_fit=_mean_fit(used, np.hstack([indicators, slopes]), pieces),
        inner=inner,
        dfs=(*_design_dfs(used), inner.residual_df),
        notes=tuple(notes),
    )


def _pieces(used: Used) -> dict[str, IntArray]:
    """Codes of the strata above the units, by name."""
    return {
        s.name: np.unique(s.codes[used.where], return_inverse=True)[1].astype(np.int64)
        for s in used.units.strata[:-1]
    }


def _slopes(covariate: Array | None, pieces: dict[str, IntArray]) -> Array:
    """Columns of the covariate: its mean over each size of piece, and itself; centered."""
    if covariate is None:
        return np.zeros((next(iter(pieces.values())).size, 0))
    parts = [piece_means(covariate, codes)[codes] for codes in pieces.values()]
    centered = [part - part.mean() for part in (*parts, covariate)]
    varying = [part for part in centered if float(np.ptp(part)) > 0.0]
    return np.column_stack([np.zeros((covariate.size, 0)), *varying])


def _positive_fit(
    used: Used, columns: Array, pieces: dict[str, IntArray], notes: list[str]
) -> tuple[MixedFit | None, list[str]]:
    """The fit with every component positive, and the terms that had to be left out."""
    kept, gone = dict(pieces), list[str]()
    while kept:
        try:
            found = fit_mixed(used.values, columns, kept)
        except AnalysisError as error:
            notes.append(str(error))
            return None, list(pieces)
        if not found.converged:
            return None, list(pieces)
        zero = [
            name
            for name, value in zip(found.names, found.components, strict=False)
            if name in kept and value <= 0.0
        ]
        if not zero:
            return found, gone
        gone.extend(zero)
        kept = {name: codes for name, codes in kept.items() if name not in zero}
    return None, gone


def _mean_fit(used: Used, indicators: Array, pieces: dict[str, IntArray]) -> MixedFit | None:
    """The fit with blocks random; None without blocks or where a component is not positive."""
    codes = used.block_codes
    if codes is None or np.unique(codes).size < 2:
        return None
    try:
        found = fit_mixed(used.values, indicators, {"block": codes, **pieces})
    except AnalysisError:
        return None
    positive = min(found.components[:-1]) > 0.0
    return found if found.converged and positive else None


def _design_dfs(used: Used) -> tuple[int, ...]:
    """Error df of each stratum above the units, for the pieces that are left."""
    out = []
    levels = np.array(np.unravel_index(used.cells, used.units.shape))
    for stratum in error_strata(used.units, used.where)[:-1]:
        first = np.unique(stratum.units, return_index=True)[1]
        code = np.zeros(first.size, dtype=np.int64)
        for k in stratum.factors:
            code = code * used.units.shape[k] + levels[k][first]
        cells = int(np.prod([used.units.shape[k] for k in stratum.factors]))
        within = [np.asarray(part)[first] for part in stratum.within]
        mean = None
        if used.summary.covariate is not None:
            piece = np.unique(stratum.units, return_inverse=True)[1].reshape(-1)
            mean = piece_means(used.summary.covariate[used.where], piece)
        space = used.units.space_of(stratum.factors)
        out.append(lay_units(code, cells, blocks=within, covariate=mean, space=space).df)
    return tuple(out)
