"""What every rule of the first line answers: contrasts, means and tests of cells.

A line is fitted on the units that have a value and knows the layout of all of them.
Leans on models.linear.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import StrataRow
from wickstats.models.linear.estimates import Estimate, TermTest


class CellFit(Protocol):
    """What answers contrasts, means and tests of cells."""

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells at the confidence of the fit."""
        ...

    def mean(self, weights: Array) -> Estimate:
        """Mean of cells at the confidence of the fit."""
        ...

    def test(self, rows: Array) -> TermTest:
        """Test of contrasts that are all zero."""
        ...

    def covariance(self, rows: Array) -> Array:
        """Covariance of estimable contrasts."""
        ...


class Line(CellFit, Protocol):
    """A fitted first line."""

    @property
    def rule(self) -> str:
        """strata, dispersion, paired or mixed."""
        ...

    @property
    def bonferroni(self) -> bool:
        """Whether several comparisons can only be judged by Holm and Bonferroni."""
        ...

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences that belong into the cautions."""
        ...

    def unit_row(self, weights: Array) -> Array | None:
        """Weights of the used units in a mean of cells, where the line has such."""
        ...

    @property
    def fitted(self) -> Array:
        """(n used,) fitted values."""
        ...

    @property
    def residuals(self) -> Array:
        """(n used,) residuals."""
        ...

    @property
    def residual_sd(self) -> float | None:
        """Standard deviation of the stratum in which units were treated."""
        ...

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """Classical table of strata; empty where the trial is not complete."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Used:
    """The units that have a value, as the models want them."""

    units: Units
    summary: Summary
    where: IntArray  # positions in the layout
    values: Array
    cells: IntArray
    blocks: IntArray | Array | None
    plants: Array
    confidence: float

    @property
    def n(self) -> int:
        """How many."""
        return int(self.where.size)

    @property
    def block_codes(self) -> IntArray | None:
        """(n,) codes, None without blocks or where units span them."""
        codes = self.units.block_codes
        return None if codes is None else codes[self.where]

    @property
    def pair_codes(self) -> IntArray | None:
        """(n,) codes of what sets treatments side by side: blocks, else rows."""
        codes = self.units.pairs
        return None if codes is None else codes[self.where]

    @property
    def grounds(self) -> list[Array]:
        """Shares of what is fixed beside the treatments: blocks, squares, rows, columns."""
        return [shares[self.where] for _, shares in self.units.grounds]

    @property
    def ground_names(self) -> tuple[str, ...]:
        """Their names."""
        return self.units.ground_names


def used_units(units: Units, summary: Summary, confidence: float) -> Used:
    """Pick the units that have a value."""
    where = np.flatnonzero(summary.used).astype(np.int64)
    blocks = None if units.blocks is None else units.blocks[where]
    return Used(
        units=units,
        summary=summary,
        where=where,
        values=summary.values[where],
        cells=units.cells[where],
        blocks=blocks,
        plants=summary.plants[where],
        confidence=confidence,
    )
