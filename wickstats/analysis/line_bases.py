"""What several rules of the first line share: a fit to hand on to, or no pooled variance.

Leans on line and models.linear.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np

from wickstats.analysis.line import CellFit, Used
from wickstats.analysis.units import Array
from wickstats.core.responses import StrataRow
from wickstats.core.words import say
from wickstats.models.linear.estimates import Estimate, TermTest

Fit = TypeVar("Fit", bound=CellFit)


@dataclass(frozen=True, slots=True, eq=False)
class FitLine(Generic[Fit]):
    """A line whose fit answers for it."""

    fit: Fit

    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells, as the fit has it."""
        return self.fit.contrast(weights)

    def mean(self, weights: Array) -> Estimate:
        """Mean of cells, as the fit has it."""
        return self.fit.mean(weights)

    def test(self, rows: Array) -> TermTest:
        """Test of contrasts, as the fit has it."""
        return self.fit.test(rows)

    def covariance(self, rows: Array) -> Array:
        """Covariance of contrasts, as the fit has it."""
        return self.fit.covariance(rows)


@dataclass(frozen=True, slots=True, eq=False)
class UnpooledLine(ABC):
    """A line that judges each contrast on its own arms: no variance is common to all."""

    used: Used

    @abstractmethod
    def contrast(self, weights: Array) -> Estimate:
        """Contrast of cells."""

    @property
    @abstractmethod
    def fitted(self) -> Array:
        """(n used,) fitted values."""

    def test(self, rows: Array) -> TermTest:
        """One contrast by its own t; several have no common variance to be judged by."""
        given = np.atleast_2d(np.asarray(rows, dtype=float))
        q = int(given.shape[0])
        if q > 1:
            return TermTest(None, q, None, None, None, "none", say("no common variance"))
        found = self.contrast(given[0])
        if found.t is None:
            return TermTest(None, 1, None, None, None, "none", found.not_estimable)
        return TermTest(found.t**2, 1, found.df, found.p, None, found.basis)

    def covariance(self, rows: Array) -> Array:
        """None exists: Holm and Bonferroni are used."""
        raise ValueError(say("no common variance"))

    def unit_row(self, weights: Array) -> Array | None:
        """Not given."""
        del weights
        return None

    @property
    def residuals(self) -> Array:
        """Deviations of the units' values from the fitted ones."""
        product: Array = self.used.values - self.fitted
        return product

    @property
    def residual_sd(self) -> float | None:
        """None: no pooled variance."""
        return None

    def strata(self, term_names: tuple[tuple[str, int], ...]) -> tuple[StrataRow, ...]:
        """None: no pooled variance."""
        del term_names
        return ()
