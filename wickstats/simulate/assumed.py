"""What is assumed about one response, with every number filled in.

The models are plain values: what a scientist says (mean, coefficient of variation, share
alive, correlation) on the scale on which numbers are drawn. Leans on numpy.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """Sizes, totals, liters: normal, or lognormal where ``log``.

    Attributes
    ----------
    means
        (t,) expected value of one plant's size or one plot's total, as measured.
    unit_sd, plant_sd
        (t,) standard deviations between units of one treatment in one place and between
        plants of one unit, on the model's scale (logarithms where ``log``).
    ground_sd, piece_sd
        Between blocks (rows, columns, squares, replicates: each) and between larger pieces.
    limits
        Smallest and largest value that can be written down; scores are whole numbers.
    start
        Mean size at planting, for growth.
    """

    name: str
    kind: str
    log: bool
    means: Array
    unit_sd: Array
    plant_sd: Array
    ground_sd: float
    piece_sd: float
    limits: tuple[float, float] | None = None
    start: float | None = None

    def centers(self, grounds: int, pieces: int) -> Array:
        """(t,) expected value on the model's scale, with so many grounds and pieces.

        Of a lognormal quantity E log = log mean - variance/2 (Aitchison & Brown 1957).
        """
        if not self.log:
            return self.means
        shared = grounds * self.ground_sd**2 + pieces * self.piece_sd**2
        return np.log(self.means) - 0.5 * (shared + self.unit_sd**2 + self.plant_sd**2)


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Counts of a plot: Poisson around a lognormal mean.

    ``means`` (t,) per plot; the others are standard deviations of the mean's logarithm.
    """

    name: str
    means: Array
    unit_sd: float
    ground_sd: float
    piece_sd: float
    kind: str = "count"


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Lives of plants.

    Attributes
    ----------
    alive
        (t,) share alive at the season's end.
    plot_correlation, ground_correlation, piece_correlation
        Correlation of the fates of two plants of one plot beyond what their block and
        larger piece bring; of one block (row, ...); of one larger piece.
    shape
        Weibull shape of the time of death: 1 constant hazard, below 1 early deaths.
    causes
        Cause of death -> share of deaths.
    """

    name: str
    alive: Array
    plot_correlation: float
    ground_correlation: float
    piece_correlation: float
    shape: float
    causes: dict[str, float] = field(default_factory=lambda: {"drought": 1.0})
    kind: str = "survival"


@dataclass(frozen=True, slots=True, eq=False)
class Ratio:
    """Yield over water: the two drawn apart."""

    name: str
    above: Quantity
    below: Quantity
    kind: str = "yield per liter"


Model = Quantity | Counts | Shares | Ratio


@dataclass(frozen=True, slots=True)
class Crew:
    """What happens to plots, plants and readings in a season.

    Attributes
    ----------
    plots_lost
        Chance that a unit is lost to a flood or theft.
    plants_lost
        Chance that a plant is lost without having died: stolen, trampled, pulled out.
    not_found
        Chance that a living plant is not found at one visit.
    replaced
        Chance that a plant found dead in the first quarter of the season is replaced.
    visits_every_d, visits_spread_d
        Days between visits; days before it over which one round is spread by block.
    reading_cv
        Coefficient of variation of a reading of size, mass or water.
    doubtful
        Chance that a plant that died is called doubtful at the visit after, and dead later.
    browsed
        Chance that a living plant is found browsed at one visit.
    leaks
        Chance that a reservoir leaks once in the season.
    """

    plots_lost: float = 0.02
    plants_lost: float = 0.01
    not_found: float = 0.01
    replaced: float = 0.0
    visits_every_d: int = 14
    visits_spread_d: int = 1
    reading_cv: float = 0.01
    doubtful: float = 0.0
    browsed: float = 0.0
    leaks: float = 0.0


NO_LOSSES = Crew(0.0, 0.0, 0.0, 0.0, 14, 0, 0.0)
