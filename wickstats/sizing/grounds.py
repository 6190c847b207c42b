"""Power where rows, columns or blocks take up some of the information on treatments.

From the layout: C, the information on treatments in the units' stratum with the ground fixed,
and its degrees of freedom for error. A trial of n times the size has n C, and every unit
of size adds as many degrees of freedom for error and treatments as this one has; the
efficiency of larger layouts differs a little. Leans on layout.efficiency; numpy.
"""

from collections import Counter
from dataclasses import dataclass
from math import gcd

import numpy as np
from numpy.typing import NDArray

from wickstats.layout.efficiency import information
from wickstats.layout.plots import Layout
from wickstats.layout.strata import strata_of
from wickstats.layout.structure import degrees
from wickstats.models.linear.contrasts import main_effects_space

Array = NDArray[np.float64]
ONE_STRATUM = ("Latin square", "incomplete block", "row-column")


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a layout knows of its treatments.

    Attributes
    ----------
    count
        Replicates of the least replicated treatment; blocks where blocks are complete.
    units
        (t,) units of each treatment.
    step
        The trial grows by so many replicates at once: a Latin square by a whole square.
    inverse
        (t, t) generalized inverse of C.
    error, terms
        Degrees of freedom for error and of the treatments.
    """

    count: int
    units: NDArray[np.int64]
    step: int
    inverse: Array
    error: int
    terms: int

    def rounded(self, count: int) -> int:
        """The next size that can be laid out."""
        return -(-count // self.step) * self.step

    def units_at(self, count: int) -> NDArray[np.int64]:
        """(t,) units of each treatment in a trial of that size."""
        return np.ceil(self.units * self.rounded(count) / self.count - 1e-9).astype(np.int64)

    def inverse_at(self, count: int) -> Array:
        """Covariance of the treatments in units' variances, for contrasts."""
        out: Array = self.inverse * (self.count / self.rounded(count))
        return out

    def error_at(self, count: int) -> float:
        """Degrees of freedom for error in a trial of that size."""
        each = (self.error + self.terms) / self.count
        return self.rounded(count) * each - self.terms


def ground_of(layout: Layout, cells: tuple[str, ...]) -> Ground | None:
    """Read it off a layout; None where some treatments cannot be compared."""
    strata = strata_of(layout)
    info, replication = information(strata)
    names = list(dict.fromkeys(plot.treatment for plot in strata.units))
    if set(names) != set(cells):
        return None
    order = [names.index(cell) for cell in cells]
    info, units = info[np.ix_(order, order)], replication[order].astype(np.int64)
    terms = len(cells) - 1
    if layout.main_effects:
        levels = [len({p.levels[f] for p in layout.plots}) for f in layout.factors]
        space = main_effects_space(levels)
        info, terms = space @ info @ space, sum(levels) - len(levels)
    values, vectors = np.linalg.eigh(info)
    values, vectors = values[-terms:], vectors[:, -terms:]
    if values[0] < 1e-9 * values[-1]:
        return None
    inverse = (vectors / values) @ vectors.T
    count = int(units.min())
    if layout.type == "randomized complete block":
        count = len({plot.block for plot in strata.units})
    error = next(row.df for row in reversed(degrees(layout)) if row.term == "residual")
    return Ground(count, units, _step(layout, len(cells), count), inverse, error, terms)


def _step(layout: Layout, t: int, count: int) -> int:
    if layout.type == "randomized complete block":
        return 1
    if layout.type == "Latin square":
        return t
    units = {layout.unit_of[plot.plot]: plot for plot in layout.plots}
    if layout.type == "row-column":
        arrays = len({plot.replicate for plot in units.values()})
        return max(1, count // arrays)
    sizes = Counter((plot.replicate, plot.block) for plot in units.values())
    size = max(sizes.values())
    return size // gcd(t, size)
