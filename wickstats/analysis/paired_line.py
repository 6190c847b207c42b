"""First line where arms vary on their own: differences within blocks, else Welch.

Leans on line_bases and models.linear.paired.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.line_bases import UnpooledLine
from wickstats.analysis.units import Array, IntArray
from wickstats.core.words import say
from wickstats.models.linear.estimates import Estimate
from wickstats.models.linear.paired import paired_contrast, welch_contrast


@dataclass(frozen=True, slots=True, eq=False)
class PairedLine(UnpooledLine):
    """Each contrast on its own arms alone."""

    bonferroni: bool = True
    rule: str = "paired"

    @property
    def notes(self) -> tuple[str, ...]:
        """In Latin squares: what the pairs are."""
        units = self.used.units
        return (
            (say("paired in rows"),) if units.blocks is None and units.pairs is not None else ()
        )

    def contrast(self, weights: Array) -> Estimate:
        """Differences within blocks, else the arms' own units."""
        mine = weights[self.used.cells] != 0.0
        return paired_contrast(
            self.used.values[mine],
            self.used.cells[mine],
            weights,
            blocks=self._blocks(mine),
            confidence=self.used.confidence,
        )

    def _blocks(self, mine: NDArray[np.bool_]) -> IntArray | None:
        """Block codes of those units; None where one of them spans blocks."""
        blocks = self.used.blocks
        if blocks is None:
            rows = self.used.pair_codes
            return None if rows is None else rows[mine]
        if blocks.ndim == 1:
            return blocks[mine].astype(np.int64)
        shares = blocks[mine]
        if shares.size and (shares.max(axis=1) > 1.0 - 1e-9).all():
            return np.asarray(shares.argmax(axis=1), dtype=np.int64)
        return None

    def mean(self, weights: Array) -> Estimate:
        """Mean of the arms' own units."""
        return welch_contrast(
            self.used.values, self.used.cells, weights, confidence=self.used.confidence
        )

    @property
    def fitted(self) -> Array:
        """Means of the cells."""
        used = self.used
        count = np.bincount(used.cells, minlength=used.units.n_cells)
        total = np.bincount(used.cells, weights=used.values, minlength=used.units.n_cells)
        means = total / np.maximum(count, 1)
        product: Array = means[used.cells]
        return product
