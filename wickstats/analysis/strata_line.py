"""First line by strata: one stratum, or the two of a split-plot without gaps.

Leans on models.linear.strata, dispersion, split_plot and anova.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import StrataRow
from wickstats.models.linear.anova import split_plot_table, strata_table
from wickstats.models.linear.dispersion import fit_restricted_means, fit_shares
from wickstats.models.linear.estimates import Estimate, TermTest
from wickstats.models.linear.split_plot import SplitPlotFit, fit_split_plot
from wickstats.models.linear.strata import UnitFit, fit_units


@dataclass(frozen=True, slots=True, eq=False)
class StrataLine:
    """One stratum: pooled variance, or one dispersion over each arm's own."""

    fit: UnitFit
    unit_word: str
    notes: tuple[str, ...] = ()
    bonferroni: bool = False

    @property
    def rule(self) -> str:
        """Strata or dispersion."""
        return self.fit.rule

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells."""
        return self.fit.contrast(weights)

    def mean(self, weights: Array) -> Estimate:
        """Mean over the average block."""
        return self.fit.mean(weights)

    def test(self, rows: Array) -> TermTest:
        """F test."""
        return self.fit.test(rows)

    def covariance(self, rows: Array) -> Array:
        """Covariance of contrasts."""
        return self.fit.covariance(rows)

    def unit_row(self, weights: Array) -> Array | None:
        """Unit weights of a mean."""
        return self.fit.mean_row(weights)[0]

    @property
    def fitted(self) -> Array:
        """Fitted values."""
        return self.fit.fitted

    @property
    def residuals(self) -> Array:
        """Residuals."""
        return self.fit.residuals

    @property
    def residual_sd(self) -> float | None:
        """Root of the residual mean square."""
        ms = self.fit.residual_ms
        return None if ms is None else float(np.sqrt(ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """Classical table where the trial is complete (pooled variance only)."""
        if self.fit.rule != "strata" or self.fit.residual_df == 0:
            return ()
        return strata_table(self.fit, term_names, unit=self.unit_word) or ()


@dataclass(frozen=True, slots=True, eq=False)
class SplitLine:
    """Both strata of a split-plot; cells are re-ordered to whole factors first."""

    fit: SplitPlotFit
    order: IntArray  # position in the trial's order of each cell of the fit
    whole_shape: tuple[int, ...]
    sub_shape: tuple[int, ...]
    names: tuple[str, str]
    notes: tuple[str, ...] = ()
    bonferroni: bool = False
    rule: str = "strata"

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells, each part in its stratum."""
        return self.fit.contrast(weights[self.order])

    def mean(self, weights: Array) -> Estimate:
        """Mean of cells."""
        return self.fit.mean(weights[self.order])

    def test(self, rows: Array) -> TermTest:
        """Test of contrasts in one stratum; whole-plot sums of squares per subplot."""
        given = np.atleast_2d(rows)[:, self.order]
        found = self.fit.test(given)
        cells = given.reshape(-1, self.fit.n_whole, self.fit.n_sub)
        whole = np.abs(cells - cells.mean(axis=2, keepdims=True)).max() < 1e-12
        if whole and found.sum_of_squares is not None:
            return TermTest(
                found.f,
                found.df_num,
                found.df_den,
                found.p,
                found.sum_of_squares * self.fit.subplots,
                found.basis,
                found.not_estimable,
            )
        return found

    def covariance(self, rows: Array) -> Array:
        """Covariance of contrasts."""
        return self.fit.covariance(np.atleast_2d(rows)[:, self.order])

    def unit_row(self, weights: Array) -> Array | None:
        """Not given: two strata hold a mean."""
        del weights
        return None

    @property
    def fitted(self) -> Array:
        """Fitted values."""
        return self.fit.fitted

    @property
    def residuals(self) -> Array:
        """Residuals of both strata together."""
        return self.fit.residuals

    @property
    def residual_sd(self) -> float | None:
        """Of the subplot stratum."""
        ms = self.fit.sub.residual_ms
        return None if ms is None else float(np.sqrt(ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """Classical table where no whole plot is lost and two factors are crossed."""
        if len(term_names) != 2 or self.fit.sub.residual_df == 0:
            return ()
        return split_plot_table(self.fit, self.names[0], self.names[1]) or ()


def fit_strata(used: Used) -> StrataLine:
    """One stratum with pooled variance, blocks fixed."""
    summary = used.summary
    covariate = None if summary.covariate is None else summary.covariate[used.where]
    fit = fit_units(
        used.values,
        used.cells,
        used.units.n_cells,
        blocks=used.blocks,
        plants=used.plants if summary.guard else None,
        covariate=covariate,
        confidence=used.confidence,
    )
    return StrataLine(fit, used.units.unit_word)


def fit_dispersed(used: Used) -> StrataLine:
    """One dispersion over each arm's own variance: shares and restricted means."""
    summary, t = used.summary, used.units.n_cells
    if summary.lived is not None:
        fit = fit_restricted_means(
            used.values,
            used.plants,
            used.cells,
            t,
            plant_times=summary.lived.times,
            plant_cells=used.units.cells[summary.lived.units],
            full_time=summary.lived.full_time,
            blocks=used.blocks,
            confidence=used.confidence,
        )
    elif summary.alive is not None:
        fit = fit_shares(
            summary.alive[used.where],
            used.plants,
            used.cells,
            t,
            blocks=used.blocks,
            confidence=used.confidence,
        )
    else:
        raise ValueError("the dispersion rule needs shares or lived times")
    return StrataLine(fit, used.units.unit_word)


def whole_first(units: Units) -> tuple[IntArray, tuple[int, ...], tuple[int, ...]]:
    """Order of cells with whole-plot factors first, and both shapes."""
    whole = units.whole_factors
    sub = tuple(k for k in range(len(units.factors)) if k not in whole)
    grid = np.arange(units.n_cells).reshape(units.shape).transpose(*whole, *sub)
    shapes = units.shape
    return (
        grid.reshape(-1).astype(np.int64),
        tuple(shapes[k] for k in whole),
        tuple(shapes[k] for k in sub),
    )


def fit_split(used: Used) -> SplitLine | str:
    """Both strata, or in words why they cannot be separated."""
    units = used.units
    if units.whole_plots is None:
        raise ValueError("not a split-plot")
    order, whole_shape, sub_shape = whole_first(units)
    n_whole, n_sub = int(np.prod(whole_shape)), int(np.prod(sub_shape))
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    code = place[used.cells]
    fit = fit_split_plot(
        used.values,
        code // n_sub,
        code % n_sub,
        units.whole_plots[used.where],
        n_whole=n_whole,
        n_sub=n_sub,
        blocks=used.block_codes,
        plants=used.plants if used.summary.guard and used.plants.min(initial=0) > 0 else None,
        confidence=used.confidence,
    )
    if isinstance(fit, str):
        return fit
    names = (
        " x ".join(units.factors[k] for k in units.whole_factors),
        " x ".join(f for k, f in enumerate(units.factors) if k not in units.whole_factors),
    )
    return SplitLine(fit, order, whole_shape, sub_shape, names)
