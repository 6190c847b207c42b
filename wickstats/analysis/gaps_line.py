"""First line of split-plots with gaps: REML on unit summaries, blocks fixed.

Kenward-Roger, with df never above those of the stratum that the design offers. Where the
whole-plot component is not positive: least squares (the weights of that fit) with the
subplot stratum's own residual mean square and df, never above the design's either.
Leans on models.linear.reml, degrees and strata.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.strata_line import whole_first
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
from wickstats.models.linear.geometry import Geometry, lay_units
from wickstats.models.linear.reml import MixedFit, fit_mixed


@dataclass(frozen=True, slots=True, eq=False)
class GapsLine:
    """A split-plot with gaps."""

    used: Used
    layout: Geometry  # cells and blocks
    columns: Array  # (n, p) of the fixed part
    fit: MixedFit | None  # None: no positive whole-plot component
    mean_fit: MixedFit | None  # blocks random: means carry the block stratum
    within_ms: float | None
    whole_df: int
    sub_df: int
    notes: tuple[str, ...]
    bonferroni: bool = False
    rule: str = "mixed"

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells."""
        row, reason = self.layout.cell_row(weights)
        return self._estimate(np.asarray(weights, dtype=float), row, reason, block_share=0.0)

    def mean(self, weights: Array) -> Estimate:
        """Mean over blocks drawn at random, else over the average block as it is."""
        if self.mean_fit is not None:
            found = mixed_contrasts(
                self.mean_fit,
                np.asarray(weights, dtype=float)[None, :],
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
        """Of the subplot stratum."""
        return None if self.within_ms is None else float(np.sqrt(self.within_ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """None: sums of squares overlap."""
        del term_names
        return ()

    def _limit(self, weights: Array) -> int:
        """Design df of the stratum in which the contrast lies (the whole plots' if both)."""
        order, _, sub_shape = whole_first(self.used.units)
        n_sub = int(np.prod(sub_shape))
        cells = np.asarray(weights, dtype=float)[order].reshape(-1, n_sub)
        sums = np.abs(cells.sum(axis=1)).max()
        inside = np.abs(cells - cells.mean(axis=1, keepdims=True)).max()
        if sums <= 1e-12:
            return self.sub_df
        if inside <= 1e-12:
            return self.whole_df
        return self.whole_df + self.sub_df

    def _extended(self, rows: Array, block_share: float) -> Array:
        rest = self.columns.shape[1] - rows.shape[1]
        return np.hstack([rows, np.full((rows.shape[0], rest), block_share)])

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
            return _finish(estimate, se, min(limit, self.sub_df), confidence, "subplot stratum")
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
        u = np.linalg.svd(given, full_matrices=False)[2][:q]
        stack = np.array([self.layout.cell_row(weights - weights.mean())[0] for weights in u])
        effects = stack @ self.used.values
        f = float(effects @ np.linalg.solve(self.within_ms * stack @ stack.T, effects)) / q
        df = min(limit, float(self.sub_df))
        return TermTest(f, q, df, f_tail(f, q, df), None, "subplot stratum")


def _finish(estimate: float, se: float, df: float, confidence: float, basis: str) -> Estimate:
    half = t_quantile(confidence, df) * se
    t = estimate / se
    return Estimate(estimate, se, df, estimate - half, estimate + half, t, t_tail(t, df), basis)


def fit_gaps(used: Used, why: str) -> GapsLine:
    """Fit a split-plot with gaps; ``why`` says why the strata do not separate."""
    units = used.units
    if units.whole_plots is None:
        raise ValueError("not a split-plot")
    layout = lay_units(used.cells, units.n_cells, blocks=used.blocks)
    indicators = np.zeros((used.n, units.n_cells))
    indicators[np.arange(used.n), used.cells] = 1.0
    columns = np.hstack([indicators, layout.shares])
    plots = np.unique(units.whole_plots[used.where], return_inverse=True)[1].astype(np.int64)
    inner = lay_units(used.cells, units.n_cells, blocks=plots)
    left = used.values - inner.basis @ (inner.basis.T @ used.values)
    within = float(left @ left) / inner.df if inner.df > 0 else None
    fit: MixedFit | None = None
    notes = [why]
    try:
        found = fit_mixed(used.values, columns, {"whole plot": plots})
        fit = found if found.converged and found.components[0] > 0.0 else None
    except AnalysisError as error:
        notes.append(str(error))
    if fit is None:
        notes.append(say("no whole-plot variance"))
    return GapsLine(
        used=used,
        layout=layout,
        columns=columns,
        fit=fit,
        mean_fit=_mean_fit(used, indicators, plots),
        within_ms=within,
        whole_df=_whole_df(used, plots),
        sub_df=inner.df,
        notes=tuple(notes),
    )


def _mean_fit(used: Used, indicators: Array, plots: IntArray) -> MixedFit | None:
    """The fit with blocks random; None without blocks or where a component is not positive."""
    codes = used.block_codes
    if codes is None or np.unique(codes).size < 2:
        return None
    try:
        found = fit_mixed(used.values, indicators, {"block": codes, "whole plot": plots})
    except AnalysisError:
        return None
    positive = min(found.components[:2]) > 0.0
    return found if found.converged and positive else None


def _whole_df(used: Used, plots: IntArray) -> int:
    order, _, sub_shape = whole_first(used.units)
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    whole = place[used.cells] // int(np.prod(sub_shape))
    first = np.unique(plots, return_index=True)[1]
    blocks = None if used.blocks is None else used.blocks[first]
    return lay_units(whole[first], int(whole.max(initial=0)) + 1, blocks=blocks).df
