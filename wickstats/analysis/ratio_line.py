"""First line of counts (log ratio of arm totals) and of yields with zeros (ratio of sums).

Leans on line_bases and models.ratios.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.line_bases import FitLine, UnpooledLine
from wickstats.analysis.units import Array
from wickstats.core.responses import StrataRow
from wickstats.core.words import say
from wickstats.models.linear.estimates import Estimate, only_estimate
from wickstats.models.linear.geometry import lay_units
from wickstats.models.ratios.counts import CountRatios, fit_counts
from wickstats.models.ratios.sums import log_ratio_of_sums


@dataclass(frozen=True, slots=True, eq=False)
class CountsLine(FitLine[CountRatios]):
    """Log ratios of arm totals with the wider of two half-widths; a test's larger p of two.

    A mean is the log of the expected total a unit.
    """

    notes: tuple[str, ...]
    used: Used
    bonferroni: bool = False
    rule: str = "dispersion"

    def unit_row(self, weights: Array) -> Array | None:
        """Not given."""
        del weights
        return None

    @property
    def fitted(self) -> Array:
        """Of log(total + 0.5)."""
        return self.fit.logs.fitted

    @property
    def residuals(self) -> Array:
        """Of log(total + 0.5)."""
        return self.fit.logs.residuals

    @property
    def residual_sd(self) -> float | None:
        """Of log(total + 0.5)."""
        ms = self.fit.logs.residual_ms
        return None if ms is None else float(np.sqrt(ms))

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """None: not a sum of squares."""
        del term_names
        return ()


@dataclass(frozen=True, slots=True, eq=False)
class ZeroLine(UnpooledLine):
    """Log ratios of sums, leaving out one block at a time."""

    yields: Array
    water: Array
    notes: tuple[str, ...] = ()
    bonferroni: bool = True
    rule: str = "paired"

    def contrast(self, weights: Array) -> Estimate:
        """Log ratio of the two sides' sums of yield over sums of water."""
        up, down = weights > 0, weights < 0
        sizes = np.abs(weights[weights != 0])
        if up.sum() != down.sum() or np.ptp(sizes) > 1e-9:
            return only_estimate(None, say("zero rule pairs only"))
        arms = np.where(up[self.used.cells], 0, np.where(down[self.used.cells], 1, 2))
        return log_ratio_of_sums(
            self.yields,
            arms,
            arms=(0, 1),
            water=self.water,
            blocks=self.used.pair_codes,
            confidence=self.used.confidence,
        )

    def mean(self, weights: Array) -> Estimate:
        """Log ratio of the arm's sums."""
        arms = np.where(weights[self.used.cells] > 0, 0, 1)
        return log_ratio_of_sums(
            self.yields,
            arms,
            arms=(0,),
            water=self.water,
            blocks=self.used.pair_codes,
            confidence=self.used.confidence,
        )

    @property
    def fitted(self) -> Array:
        """The arm's ratio of sums."""
        used, t = self.used, self.used.units.n_cells
        top = np.bincount(used.cells, weights=self.yields, minlength=t)
        bottom = np.bincount(used.cells, weights=self.water, minlength=t)
        product: Array = (top / np.where(bottom > 0, bottom, 1.0))[used.cells]
        return product


def fit_count_line(used: Used) -> CountsLine:
    """Fit unit totals of counts."""
    fit = fit_counts(
        used.values,
        used.cells,
        used.units.n_cells,
        geometry=lay_units(
            used.cells, used.units.n_cells, blocks=used.grounds, space=used.units.space
        ),
        confidence=used.confidence,
    )
    there = np.bincount(used.cells, minlength=used.units.n_cells) > 0
    few = [
        name
        for name, small, held in zip(used.units.cell_names, fit.approximate, there, strict=True)
        if small and held
    ]
    notes = (say("counts approximate", names=", ".join(few)),) if few else ()
    return CountsLine(fit, notes, used)


def fit_zero_line(used: Used) -> ZeroLine:
    """Ratios of sums, for yields with zeros."""
    summary = used.summary
    if summary.numerators is None or summary.denominators is None:
        raise ValueError("the zero rule needs totals and what they are divided by")
    return ZeroLine(used, summary.numerators[used.where], summary.denominators[used.where])
