"""The experimental units of a layout: what was independently set up, in walking order.

A unit is a plot, or all plots on one reservoir. A unit's block shares are the shares of
its plots; its cell is the combination of all factors' levels (last factor fastest).
Leans on layout and the trial's values; numpy.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.design.trial import Trial
from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCKED = ("randomized complete block", "incomplete block")
ANALYZED = ("completely randomized", *BLOCKED, "split-plot")


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """All units laid out.

    Attributes
    ----------
    names
        (n,) unit identifiers: plots or shared reservoirs.
    plots
        Plots of each unit.
    factors, levels, shape
        Factor names, their levels, numbers of levels.
    cell_names
        (t,) treatments.
    cells
        (n,) cell codes.
    block_names, blocks
        Names; (n,) codes, (n, b) shares where a unit spans blocks, or None.
    whole_plots
        (n,) codes of whole plots in a split-plot, else None; ``whole_names`` their names.
    whole_factors
        Indices of the factors applied to whole plots (empty unless split-plot).
    shared
        (n,) True where the unit is a reservoir that feeds several plots.
    laid_plants
        (n,) plants laid out, 0 where the layout does not say.
    unit_word
        Name of the unit's stratum: plot, subplot, reservoir, piece.
    """

    names: tuple[str, ...]
    plots: tuple[tuple[str, ...], ...]
    factors: tuple[str, ...]
    levels: tuple[tuple[str, ...], ...]
    cell_names: tuple[str, ...]
    cells: IntArray
    block_names: tuple[str, ...]
    blocks: IntArray | Array | None
    whole_plots: IntArray | None
    whole_names: tuple[str, ...]
    whole_factors: tuple[int, ...]
    shared: NDArray[np.bool_]
    laid_plants: IntArray
    unit_word: str
    drawn: str
    index: Mapping[str, int]  # plot -> position of its unit

    @property
    def n(self) -> int:
        """Number of units."""
        return len(self.names)

    @property
    def n_cells(self) -> int:
        """Number of treatments."""
        return len(self.cell_names)

    @property
    def shape(self) -> tuple[int, ...]:
        """Numbers of levels."""
        return tuple(len(levels) for levels in self.levels)

    @property
    def n_plots(self) -> IntArray:
        """(n,) plots of each unit."""
        return np.array([len(plots) for plots in self.plots], dtype=np.int64)

    @property
    def spans_blocks(self) -> bool:
        """Whether some unit lies in several blocks."""
        return self.blocks is not None and self.blocks.ndim == 2

    @property
    def block_codes(self) -> IntArray | None:
        """(n,) block codes, or None without blocks or where units span them."""
        if self.blocks is None or self.blocks.ndim == 2:
            return None
        return self.blocks.astype(np.int64)

    @property
    def n_blocks(self) -> int:
        """Number of blocks (0 without)."""
        return len(self.block_names)

    @property
    def is_split(self) -> bool:
        """Whether two strata hold treatments."""
        return self.whole_plots is not None

    @property
    def uneven_reservoirs(self) -> bool:
        """Whether units of some arms hold more plots than those of others."""
        return bool(np.ptp(self.n_plots) > 0) if self.n else False

    def block_of(self, j: int) -> str | None:
        """Name of a unit's block; several joined where it spans them."""
        if self.blocks is None:
            return None
        if self.blocks.ndim == 1:
            return self.block_names[int(self.blocks[j])]
        held = np.flatnonzero(self.blocks[j] > 0)
        return ", ".join(self.block_names[int(b)] for b in held)

    def whole_of(self, j: int) -> str | None:
        """Name of a unit's whole plot."""
        return None if self.whole_plots is None else self.whole_names[int(self.whole_plots[j])]

    def level_codes(self, factor: int) -> IntArray:
        """(t,) level of that factor in each cell."""
        grid = np.unravel_index(np.arange(self.n_cells), self.shape)
        return np.asarray(grid[factor], dtype=np.int64)


def lay_out_units(trial: Trial, layout: Layout) -> Units:
    """Read the units off a layout.

    Raises
    ------
    AnalysisError
        For a design that is not analyzed yet.
    """
    if layout.type not in ANALYZED:
        raise AnalysisError(say("design not analyzed yet", type=layout.type))
    members: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        members.setdefault(layout.unit_of[plot.plot], []).append(plot)
    levels = tuple(trial.factor(name).level_names for name in layout.factors)
    cell_names = _cell_names(levels)
    code = {name: k for k, name in enumerate(cell_names)}
    names = tuple(members)
    block_names, blocks = _blocks(layout, members)
    whole_names, whole_plots, whole_factors = _whole_plots(trial, layout, members)
    shared = np.array([len(plots) > 1 for plots in members.values()], dtype=bool)
    return Units(
        names=names,
        plots=tuple(tuple(p.plot for p in plots) for plots in members.values()),
        factors=layout.factors,
        levels=levels,
        cell_names=cell_names,
        cells=np.array(
            [code[plots[0].treatment] for plots in members.values()], dtype=np.int64
        ),
        block_names=block_names,
        blocks=blocks,
        whole_plots=whole_plots,
        whole_names=whole_names,
        whole_factors=whole_factors,
        shared=shared,
        laid_plants=np.array(
            [sum(p.plants or 0 for p in plots) for plots in members.values()], dtype=np.int64
        ),
        unit_word=_unit_word(trial, layout, shared, split=whole_plots is not None),
        drawn=layout.drawn,
        index={p.plot: j for j, plots in enumerate(members.values()) for p in plots},
    )


def _cell_names(levels: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    out: list[str] = [""]
    for k, names in enumerate(levels):
        join = TREATMENT_JOIN if k else ""
        out = [f"{left}{join}{name}" for left in out for name in names]
    return tuple(out)


def _block_name(plot: Plot, kind: str) -> str | None:
    if kind == "incomplete block" and plot.replicate and plot.block:
        return f"{plot.replicate}: {plot.block}"
    return plot.block or plot.replicate


def _blocks(
    layout: Layout, members: Mapping[str, list[Plot]]
) -> tuple[tuple[str, ...], IntArray | Array | None]:
    if layout.type == "completely randomized":
        return (), None
    held = [[_block_name(p, layout.type) for p in plots] for plots in members.values()]
    if any(name is None for names in held for name in names):
        return (), None
    found: dict[str, int] = {}
    for names in held:
        for name in names:
            found.setdefault(str(name), len(found))
    shares = np.zeros((len(held), len(found)))
    for j, names in enumerate(held):
        for name in names:
            shares[j, found[str(name)]] += 1.0 / len(names)
    if (shares.max(axis=1) > 1.0 - 1e-9).all():
        return tuple(found), shares.argmax(axis=1).astype(np.int64)
    return tuple(found), shares


def _whole_plots(
    trial: Trial, layout: Layout, members: Mapping[str, list[Plot]]
) -> tuple[tuple[str, ...], IntArray | None, tuple[int, ...]]:
    if layout.type != "split-plot":
        return (), None, ()
    found: dict[tuple[str | None, str | None], int] = {}
    codes = []
    for plots in members.values():
        key = (plots[0].block, plots[0].whole_plot)
        codes.append(found.setdefault(key, len(found)))
    whole = tuple(
        k
        for k, name in enumerate(layout.factors)
        if trial.factor(name).applied_to == "whole plot"
    )
    if not whole or len(whole) == len(layout.factors):
        raise AnalysisError(say("split-plot without a whole-plot factor"))
    alone = len({name for _, name in found}) == len(found)
    names = tuple(
        str(name) if alone or block is None else f"{block}: {name}" for block, name in found
    )
    return names, np.array(codes, dtype=np.int64), whole


def _unit_word(trial: Trial, layout: Layout, shared: NDArray[np.bool_], *, split: bool) -> str:
    if split:
        return "subplot"
    if shared.size and shared.all():
        return "reservoir"
    applied = {trial.factor(name).applied_to for name in layout.factors}
    if applied == {"coil"}:
        return "coil"
    return "piece" if "piece" in applied else "plot"
