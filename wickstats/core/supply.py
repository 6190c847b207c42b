"""Result types of supply: the weather's demand, water against it, reservoirs and visits.

Rows that a table shows as they stand are mappings. Leans on core.frames and core.notebook.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wickstats.core.frames import frame_of
from wickstats.core.notebook import Shown

if TYPE_CHECKING:
    import pandas as pd

Number = float | None
SupplyRow = Mapping[str, float | str | None]


@dataclass(frozen=True, slots=True)
class SupplyBasis:
    """What demand was reckoned with.

    ``wetted_m2`` is the area that one plant uses; ``share`` how much of the place may be
    told: where it is withheld, quantities that tell the place are left out of the days.
    """

    latitude: Number
    elevation_m: Number
    crop_coefficient: Number
    wetted_m2: Number
    share: str
    route: str  # Penman-Monteith | Hargreaves | both | none


@dataclass(frozen=True, slots=True)
class VisitNeed:
    """What a reservoir must hold to last from one visit to the next.

    ``loss_from``: demand, loss seen, bench flow. ``cv``: how wicks differ; ``upper_l_d`` is the
    loss at the 95 % quantile between wicks in the thirstiest stretch.
    """

    treatment: str
    loss_from: str
    plants: int
    every_d: int
    rate_l_d: float
    upper_l_d: float
    cv: float
    cv_from: str
    unusable_l: float
    volume_l: float
    with_reserve_l: float
    holds_l: Number
    lasts_d: Number  # how long what it holds lasts at upper_l_d


@dataclass(frozen=True, slots=True)
class DryChance:
    """Chance that a reservoir is dry before the next visit, with its Monte Carlo error."""

    treatment: str
    loss_from: str
    volume_l: float
    every_d: int
    chance: float
    error: float


@dataclass(frozen=True, slots=True)
class ReservoirPlan:
    """Reservoirs and visits: what is needed, the chances, both in words."""

    needs: tuple[VisitNeed, ...]
    chances: tuple[DryChance, ...]
    sentences: tuple[str, ...]
    draws: int


@dataclass(frozen=True, slots=True)
class Supply(Shown):
    """Demand of water, supply against it, reservoirs.

    Attributes
    ----------
    days
        One row a day (or month) of weather, with every intermediate.
    table
        Per plant: one row a week and treatment, then one a season and treatment.
    basis, reservoirs
        None where there is nothing to reckon with; ``notes`` then say why.
    notes
        What a reader must know of the numbers.
    """

    days: tuple[SupplyRow, ...] = ()
    table: tuple[SupplyRow, ...] = ()
    basis: SupplyBasis | None = None
    reservoirs: ReservoirPlan | None = None
    supply_notes: tuple[str, ...] | None = None

    def to_frame(self, table: str = "supply") -> "pd.DataFrame":
        """Return water against demand by week and season, or another table, one row each.

        Parameters
        ----------
        table
            "supply"; "days" (the weather with every intermediate); "needs" (reservoirs that
            last from visit to visit); "chances" (of running dry).

        Raises
        ------
        KeyError
            Naming the tables there are.
        """
        plan = self.reservoirs
        known: Mapping[str, Sequence[object]] = {
            "supply": self.table,
            "days": self.days,
            "needs": () if plan is None else plan.needs,
            "chances": () if plan is None else plan.chances,
        }
        if table not in known:
            raise KeyError(f"no table {table!r}; there are {list(known)}")
        return frame_of(known[table])
