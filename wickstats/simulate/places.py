"""The units of a layout as arrays: treatment, plants, ground and larger pieces.

Units stand in walking order, as the analysis lays them out. Leans on layout.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.design.defaults import cells_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.layout.strata import strata_of

IntArray = NDArray[np.int64]
Codes = tuple[tuple[str, IntArray], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """The n units of a layout.

    Attributes
    ----------
    layout
        Where they come from.
    units
        Names: plots, or reservoirs that feed several.
    members
        Plots of each unit.
    cell_names, cells
        Treatments; (n,) codes.
    plants
        (n,) plants of each unit; 0 where neither layout nor design say.
    grounds
        Blocks, rows, columns, squares, replicates: name and (n,) codes. A unit that spans
        several is coded by the one that holds most of it.
    shares
        Of each ground (n, k) parts of the units in it where some span several, else None.
    pieces
        Larger pieces that treatments were set up on (whole plots, strips), the same way.
    """

    layout: Layout
    units: tuple[str, ...]
    members: tuple[tuple[Plot, ...], ...]
    cell_names: tuple[str, ...]
    cells: IntArray
    plants: IntArray
    grounds: Codes
    pieces: Codes
    shares: tuple[NDArray[np.float64] | None, ...] = ()

    @property
    def n(self) -> int:
        """Number of units."""
        return len(self.units)

    @property
    def n_plots(self) -> IntArray:
        """(n,) plots of each unit."""
        return np.array([len(plots) for plots in self.members], dtype=np.int64)

    @property
    def groups(self) -> Codes:
        """Grounds, then pieces."""
        return self.grounds + self.pieces


def places_of(trial: Trial, layout: Layout) -> Places:
    """Read the units off a layout."""
    members: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        members.setdefault(layout.unit_of[plot.plot], []).append(plot)
    names = tuple(cells_of(trial.factors))
    code = {name: k for k, name in enumerate(names)}
    default = trial.design.plants_per_plot or 0
    found = strata_of(layout)
    return Places(
        layout=layout,
        units=tuple(members),
        members=tuple(tuple(plots) for plots in members.values()),
        cell_names=names,
        cells=np.array([code[p[0].treatment] for p in members.values()], dtype=np.int64),
        plants=np.array(
            [sum(p.plants or default for p in plots) for plots in members.values()],
            dtype=np.int64,
        ),
        grounds=tuple((g.name, g.shares.argmax(axis=1)) for g in found.grounds),
        pieces=tuple((t.name, t.codes) for t in found.tiers[:-1]),
        shares=tuple(
            g.shares if (g.shares.max(axis=1) < 1.0 - 1e-9).any() else None
            for g in found.grounds
        ),
    )
