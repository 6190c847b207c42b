"""Counts: log ratio of arm totals with an interval that real plots can bear.

Estimate: the log-linear fit of unit totals on cells and blocks (complete blocks: the log
ratio of arm totals). Half-width: the largest of

    quasi-Poisson   t(df) sqrt(phi c'(X'WX)^- c), phi by Pearson, as it is
                    (Wedderburn 1974, Biometrika 61:439)
    pooled          t(df) times the standard error of the least-squares fit of
                    log(total + 0.5)
    Poisson         t(counts - units) sqrt(c'(X'WX)^- c): what single events scatter

The first two have the design's df, since plots vary more than in proportion to their mean;
either alone beside the third rejects up to 0.08. The third keeps them honest where plots
happen to agree; phi held at or above one with the design's df instead was blind at three
blocks (mean power over the cells of the calibration study in which arms differ: 0.37, as it
is 0.43). Measured at 3 to 8 blocks (``reports/validation``, means of 12 to 36 a plot): null
pairs reject at most 0.058; at a third of these means 0.055 (3,000 seasons a cell).
Arms with totals under 30 are called approximate. Without interactions the ratios are those
of the additive log-linear fit, on which an arm without any count is no obstacle. Leans on
``poisson`` and the linear strata.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    TermTest,
    f_tail,
    only_estimate,
    widest,
)
from wickstats.models.linear.geometry import Blocks, Geometry, lay_units
from wickstats.models.linear.strata import UnitFit, finite_values, fit_units
from wickstats.models.ratios.poisson import CountFit, fit_counts_log_linear

QUASI = "quasi-Poisson"
POOLED = "pooled logarithms"
POISSON = "Poisson"
SMALL_TOTAL = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class CountRatios:
    """Log ratios of arm totals; complete when returned.

    Attributes
    ----------
    logs
        The least-squares fit of log(total + 0.5).
    fit
        The log-linear fit, or None with ``not_estimable``.
    phi
        Pearson dispersion as it is; None without df or fit.
    totals
        (t,) counts of each arm.
    approximate
        (t,) whether an arm's total is under 30.
    """

    counts: Array
    logs: UnitFit
    fit: CountFit | None
    phi: float | None
    totals: Array
    approximate: tuple[bool, ...]
    not_estimable: str | None

    def contrast(self, weights: ArrayLike) -> Estimate:
        """Contrast of log arm totals (weights (t,) that sum to zero): a log ratio."""
        plain = self.logs.contrast(weights)
        full = self._full(weights, 0.0)
        if self._empty(weights):
            return only_estimate(None, say("ratio empty arm"))
        if plain.estimate is None or self.fit is None:
            reason = plain.not_estimable if plain.estimate is None else self.not_estimable
            return only_estimate(None, reason or "")
        if not self.fit.holds(full):
            return only_estimate(None, say("linear not connected"))
        estimate = float(full @ self.fit.coefficients)
        quasi = float(full @ self.fit.inverse @ full)
        return self._widest(estimate, quasi, plain)

    def mean(self, weights: ArrayLike) -> Estimate:
        """Log of the arm's expected total a unit, over the average block.

        The half-width is the largest of the quasi-Poisson and Poisson ones of the total and
        that of the mean of log(total + 0.5), which includes the block stratum.
        """
        plain = self.logs.mean(weights)
        given = self._cells(weights)
        if self._empty(weights):
            return only_estimate(None, say("ratio empty arm"))
        if plain.estimate is None or self.fit is None:
            reason = plain.not_estimable if plain.estimate is None else self.not_estimable
            return only_estimate(None, reason or "")
        layout = self.logs.geometry
        blocks = self.fit.coefficients[layout.n_cells :]
        present = self._blocks_with_counts()
        shift = 0.0
        full = np.zeros(self.fit.coefficients.size)
        full[: layout.n_cells] = given
        start = 0
        for held in layout.classes:
            # blocks without any count add nothing to the total but stay in the average
            stop = start + held.shares.shape[1]
            sizes = np.where(present[start:stop], np.exp(blocks[start:stop]), 0.0)
            shift += float(np.log(sizes.sum() / sizes.size))
            full[layout.n_cells + start : layout.n_cells + stop] = sizes / sizes.sum()
            start = stop
        estimate = float(given @ self.fit.coefficients[: layout.n_cells]) + shift
        if not self.fit.holds(full):
            return only_estimate(None, say("linear not connected"))
        quasi = float(full @ self.fit.inverse @ full)
        return self._widest(estimate, quasi, plain)

    def covariance(self, contrasts: ArrayLike) -> Array:
        """Covariance (k, k) of log ratios under the Poisson model.

        Raises
        ------
        ValueError
            Without a fit or df.
        """
        if self.fit is None or self.phi is None:
            raise ValueError(self.not_estimable or self.logs.no_inference or "no fit")
        stack = np.array([self._full(w, 0.0) for w in np.atleast_2d(np.asarray(contrasts))])
        product: Array = stack @ self.fit.inverse @ stack.T
        return product

    def test(self, contrasts: ArrayLike) -> TermTest:
        """All contrasts at once: quasi-Poisson, Poisson and logs, the largest p."""
        plain = self.logs.test(contrasts)
        if any(self._empty(w) for w in np.atleast_2d(np.asarray(contrasts, dtype=float))):
            return TermTest(
                None, plain.df_num, None, None, None, "none", say("ratio empty arm")
            )
        if self.fit is None:
            return TermTest(None, plain.df_num, None, None, None, "none", self.not_estimable)
        if plain.sum_of_squares is None or self.phi is None:
            return plain  # not connected, or no df; without scatter in the logs others hold
        given = np.atleast_2d(np.asarray(contrasts, dtype=float))
        _, _, vt = np.linalg.svd(given, full_matrices=False)
        stack = np.array([self._full(w - w.mean(), 0.0) for w in vt[: int(plain.df_num)]])
        if not all(self.fit.holds(row) for row in stack):
            reason = say("linear not connected")
            return TermTest(None, plain.df_num, None, None, None, "none", reason)
        effects = stack @ self.fit.coefficients
        spread = stack @ self.fit.inverse @ stack.T
        f = float(effects @ np.linalg.solve(spread, effects)) / plain.df_num
        found = [
            TermTest(f / phi, plain.df_num, df, f_tail(f / phi, plain.df_num, df), None, name)
            for name, phi, df in self._dispersions()
        ]
        if plain.p is not None:
            found.append(TermTest(plain.f, plain.df_num, plain.df_den, plain.p, None, POOLED))
        return max(found, key=lambda one: one.p or 0.0)

    def _widest(self, estimate: float, quasi: float, plain: Estimate) -> Estimate:
        if self.phi is None:
            return only_estimate(estimate, self.logs.no_inference or say("linear no df"))
        candidates = [(name, (phi * quasi, df)) for name, phi, df in self._dispersions()]
        if plain.se is not None and plain.df is not None:
            candidates.append((POOLED, (plain.se**2, plain.df)))
        return widest(estimate, candidates, self.logs.confidence, rivals=True)

    def _dispersions(self) -> list[tuple[str, float, float]]:
        """Name, dispersion and df of the log-linear intervals."""
        df = float(self.logs.residual_df)
        events = max(float(self.counts.sum()) - self.counts.size, df)
        found = [(POISSON, 1.0, events)]
        if self.phi is not None and self.phi > 1e-12:
            found.insert(0, (QUASI, self.phi, df))
        return found

    def _full(self, weights: ArrayLike, block_share: float) -> Array:
        layout = self.logs.geometry
        full = np.full(layout.n_cells + layout.n_blocks, block_share)
        full[: layout.n_cells] = self._cells(weights)
        return full

    def _cells(self, weights: ArrayLike) -> Array:
        """Weights of cells as weights of what the cells may differ by."""
        given, space = np.asarray(weights, dtype=float), self.logs.geometry.space
        return given if space is None else np.asarray(given @ space)

    def _empty(self, weights: ArrayLike) -> bool:
        """Whether an arm with units but without any count takes part, and cannot."""
        if self.logs.geometry.space is not None:
            return False
        used = np.abs(np.asarray(weights, dtype=float)) > 0.0
        held = self.logs.geometry.counts > 0
        return bool((used & held & (self.totals == 0.0)).any())

    def _blocks_with_counts(self) -> Array:
        shares = self.logs.geometry.shares
        present: Array = (self.counts[:, None] * (shares > 0.0)).sum(axis=0) > 0.0
        return present


def fit_counts(
    counts: ArrayLike,
    cells: ArrayLike,
    n_cells: int,
    *,
    blocks: Blocks = None,
    confidence: float = 0.95,
    geometry: Geometry | None = None,
) -> CountRatios:
    """Fit unit totals (n,) of counts.

    Raises
    ------
    ValueError
        For negative counts, numbers that are not finite, shapes that do not fit.
    """
    x = finite_values(counts)
    if (x < 0).any():
        raise ValueError("a count cannot be negative")
    layout = geometry or lay_units(cells, n_cells, blocks=blocks)
    logs = fit_units(np.log(x + 0.5), cells, n_cells, confidence=confidence, geometry=layout)
    totals = np.bincount(layout.cells, weights=x, minlength=n_cells).astype(float)
    found = fit_counts_log_linear(x, layout)
    fit = None if isinstance(found, str) else found
    phi = None
    if fit is not None and layout.df > 0:
        phi = fit.pearson / layout.df
    return CountRatios(
        counts=x,
        logs=logs,
        fit=fit,
        phi=phi,
        totals=totals,
        approximate=tuple(bool(total < SMALL_TOTAL) for total in totals),
        not_estimable=found if isinstance(found, str) else None,
    )
