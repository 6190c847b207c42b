"""First line by strata: one stratum, or the several of split-plots and strip-plots.

Leans on line_bases and models.linear.strata, dispersion, error_strata and anova.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.line_bases import FitLine
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import StrataRow
from wickstats.core.words import say
from wickstats.models.linear.anova import error_strata_table, strata_table
from wickstats.models.linear.dispersion import fit_restricted_means, fit_shares
from wickstats.models.linear.error_strata import (
    ErrorStrataFit,
    ErrorStratum,
    fit_error_strata,
)
from wickstats.models.linear.geometry import Geometry, lay_units
from wickstats.models.linear.scores import fit_scores_twice
from wickstats.models.linear.strata import UnitFit, fit_units


@dataclass(frozen=True, slots=True, eq=False)
class StrataLine(FitLine[UnitFit]):
    """One stratum: pooled variance, or one dispersion over each arm's own."""

    unit_word: str
    grounds: tuple[str, ...] = ()
    all_there: bool = False  # no unit was lost
    notes: tuple[str, ...] = ()
    bonferroni: bool = False

    @property
    def rule(self) -> str:
        """Strata or dispersion."""
        return self.fit.rule

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
        table = strata_table(
            self.fit,
            term_names,
            unit=self.unit_word,
            blocks=self.grounds,
            all_there=self.all_there,
        )
        return table or ()


@dataclass(frozen=True, slots=True, eq=False)
class SeveralLine(FitLine[ErrorStrataFit]):
    """Several strata without gaps: each part of a contrast in its stratum."""

    grounds: tuple[str, ...]
    notes: tuple[str, ...] = ()
    bonferroni: bool = False
    rule: str = "strata"

    def unit_row(self, weights: Array) -> Array | None:
        """Not given: several strata hold a mean."""
        del weights
        return None

    @property
    def fitted(self) -> Array:
        """Fitted values."""
        return self.fit.fitted

    @property
    def residuals(self) -> Array:
        """Residuals of all strata together."""
        return self.fit.residuals

    @property
    def residual_sd(self) -> float | None:
        """Of the last stratum, in which the units lie."""
        ms = self.fit.fits[-1].residual_ms
        return None if ms is None else float(np.sqrt(ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """Classical table where no piece of a stratum is lost."""
        if self.fit.fits[-1].residual_df == 0:
            return ()
        names = [name for name, _ in term_names]
        return error_strata_table(self.fit, names, blocks=self.grounds) or ()


def _geometry(used: Used, covariate: Array | None = None) -> Geometry:
    return lay_units(
        used.cells,
        used.units.n_cells,
        blocks=used.grounds,
        covariate=covariate,
        space=used.units.space,
    )


def fit_strata(used: Used) -> StrataLine:
    """One stratum with pooled variance, blocks fixed."""
    summary = used.summary
    if summary.aligned is not None:
        told = (summary.plant_variance, summary.aligned, summary.aligned_variance)
        own, aligned, spread = (part[used.where] for part in told if part is not None)
        scored = fit_scores_twice(
            (used.values, own),
            (aligned, spread),
            used.cells,
            used.units.n_cells,
            plants=used.plants,
            geometry=_geometry(used),
            confidence=used.confidence,
        )
        return _one(used, scored)
    covariate = None if summary.covariate is None else summary.covariate[used.where]
    fit = fit_units(
        used.values,
        used.cells,
        used.units.n_cells,
        plants=used.plants if summary.guard else None,
        geometry=_geometry(used, covariate),
        confidence=used.confidence,
    )
    return _one(used, fit)


def _one(used: Used, fit: UnitFit) -> StrataLine:
    return StrataLine(fit, used.units.unit_word, used.ground_names, used.n == used.units.n)


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
            geometry=_geometry(used),
            confidence=used.confidence,
        )
    elif summary.alive is not None:
        fit = fit_shares(
            summary.alive[used.where],
            used.plants,
            used.cells,
            t,
            geometry=_geometry(used),
            confidence=used.confidence,
        )
    else:
        raise ValueError("the dispersion rule needs shares or lived times")
    return _one(used, fit)


def error_strata(units: Units, where: IntArray) -> list[ErrorStratum]:
    """The strata of the units at those places of the layout."""
    grounds = [shares[where] for _, shares in units.grounds]
    out: list[ErrorStratum] = []
    crossed = units.coils_in_runs
    for k, stratum in enumerate(units.strata):
        within: list[IntArray | Array] = [units.strata[j].codes[where] for j in stratum.within]
        beside = within or [*grounds]
        if crossed:
            # every coil in every run alike: runs cancel between coils, not between pieces
            beside = [*within, *grounds] if k else []
        codes = stratum.codes[where]
        out.append(ErrorStratum(stratum.name, codes, stratum.factors, tuple(beside)))
    return out


def _runs_whole(used: Used) -> bool:
    """Whether every coil has equally many pieces in every run."""
    coils = used.units.strata[0].codes[used.where]
    marks = (coils[:, None] == np.unique(coils)).astype(float)
    return all(np.ptp(marks.T @ shares) <= 1e-9 for shares in used.grounds)


def fit_several(used: Used) -> SeveralLine | str:
    """All strata, or in words why they cannot be separated."""
    if used.units.coils_in_runs and not _runs_whole(used):
        return say("linear split-plot gaps")
    guarded = used.summary.guard and used.plants.min(initial=0) > 0
    covariate = used.summary.covariate
    fit = fit_error_strata(
        used.values,
        used.cells,
        used.units.shape,
        error_strata(used.units, used.where),
        plants=used.plants if guarded else None,
        covariate=None if covariate is None else covariate[used.where],
        main_effects=used.units.main_effects,
        confidence=used.confidence,
    )
    return fit if isinstance(fit, str) else SeveralLine(fit, used.ground_names)
