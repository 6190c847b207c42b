"""The experimental units of a layout: what was independently set up, in walking order.

A unit is a plot, or all plots on one reservoir. A unit's block shares are the shares of
its plots; its cell is the combination of all factors' levels (last factor fastest). What
the ground and the strata are is read off the layout. Leans on layout.strata and the
trial's values; numpy.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from wickstats.core.errors import AnalysisError
from wickstats.core.words import say
from wickstats.design.defaults import is_pilot
from wickstats.design.trial import Trial
from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot
from wickstats.layout.strata import Ground, Tier, strata_of, whole_plot_of
from wickstats.models.linear.contrasts import main_effects_basis, main_effects_space
from wickstats.models.linear.splits import split_matrices

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

PLACES = {
    "Latin square": ("square", "row", "column"),
    "row-column": ("replicate", "row", "column"),
    "incomplete block": ("replicate",),
    "strip-plot": ("row_strip", "column_strip"),
}


@dataclass(frozen=True, slots=True, eq=False)
class Stratum:
    """Pieces of ground on which treatments were set up, from the largest down.

    Attributes
    ----------
    name
        whole plot, row strip, column strip, plot, subplot, reservoir.
    codes
        (n,) piece of each unit; the units' own numbers in the last stratum.
    factors
        Indices of the factors that do not vary inside a piece.
    within
        Positions of the strata that its pieces lie in directly; none: in the ground.
    """

    name: str
    codes: IntArray
    factors: tuple[int, ...]
    within: tuple[int, ...]


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
    grounds
        What is fixed beside the treatments (block; square, row, column; replicate):
        names and (n, pieces) shares.
    strata
        Where treatment terms lie; one in most designs.
    random_grounds
        Names of those that are random in the second line.
    places
        Of each unit, what names its place beside the block (square, row, column, strips).
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
    main_effects
        The plan leaves out the interactions of the factors.
    """

    names: tuple[str, ...]
    plots: tuple[tuple[str, ...], ...]
    factors: tuple[str, ...]
    levels: tuple[tuple[str, ...], ...]
    cell_names: tuple[str, ...]
    cells: IntArray
    block_names: tuple[str, ...]
    blocks: IntArray | Array | None
    grounds: tuple[tuple[str, Array], ...]
    random_grounds: tuple[str, ...]
    strata: tuple[Stratum, ...]
    places: tuple[Mapping[str, str], ...]
    whole_plots: IntArray | None
    whole_names: tuple[str, ...]
    whole_factors: tuple[int, ...]
    shared: NDArray[np.bool_]
    laid_plants: IntArray
    unit_word: str
    drawn: str
    index: Mapping[str, int]  # plot -> position of its unit
    main_effects: bool = False

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
        """Whether several strata hold treatments."""
        return len(self.strata) > 1

    @property
    def coils_in_runs(self) -> bool:
        """At the bench: coils that were cut for several runs."""
        if not self.is_split or self.strata[0].name != "coil":
            return False
        _, first, place = np.unique(
            self.strata[0].codes, return_index=True, return_inverse=True
        )
        of_first = first[place.reshape(-1)]
        return any(bool((part != part[of_first]).any()) for _, part in self.grounds)

    @property
    def ground_names(self) -> tuple[str, ...]:
        """Of what is fixed beside the treatments."""
        return tuple(name for name, _ in self.grounds)

    @property
    def pairs(self) -> IntArray | None:
        """(n,) codes of what sets treatments side by side: blocks, else rows of squares."""
        if self.blocks is not None:
            return self.block_codes
        lines = [shares for name, shares in self.grounds if name in ("row", "column")]
        if len(lines) != 2 or any((s.max(axis=1) < 1.0 - 1e-9).any() for s in lines):
            return None
        arms = (self.cells[:, None] == np.arange(self.n_cells)).astype(float)
        if any(float(np.ptp(arms.T @ shares)) > 1e-9 for shares in lines):
            return None  # columns would not cancel in differences within rows
        return np.asarray(lines[0].argmax(axis=1), dtype=np.int64)

    def stratum_of(self, term: Collection[int]) -> int:
        """Position of the stratum in which a term is tested."""
        return next(k for k, s in enumerate(self.strata) if set(term) <= set(s.factors))

    @property
    def basis(self) -> Array | None:
        """(t, p) columns by which treatments may differ; None: by anything."""
        return main_effects_basis(self.shape) if self.main_effects else None

    @property
    def space(self) -> Array | None:
        """(t, t) projector on what treatments may differ by; None: by anything."""
        return self.space_of(range(len(self.shape)))

    def space_of(self, factors: Collection[int]) -> Array | None:
        """The same of the combinations of some factors' levels."""
        if not self.main_effects:
            return None
        return main_effects_space([self.shape[k] for k in factors])

    @property
    def splits(self) -> tuple[Array, ...]:
        """Of each stratum: weights of treatments to weights of its own cells."""
        held = [s.factors for s in self.strata]
        return split_matrices(self.shape, held, main_effects=self.main_effects)

    def strata_of(self, weights: Array) -> tuple[int, ...]:
        """Positions of the strata in which a contrast of cells lies."""
        parts = self.splits
        size = float(np.abs(weights).max())
        found = [np.abs(part @ weights).max() > 1e-9 * size for part in parts]
        return tuple(k for k, there in enumerate(found) if there)

    @property
    def uneven_reservoirs(self) -> bool:
        """Whether units of some arms hold more plots than those of others."""
        if self.unit_word == "coil":
            return False  # a coil's pieces are as many as were cut
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
        Where a reservoir ties pieces of ground together that were set up apart.
    """
    members: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        members.setdefault(layout.unit_of[plot.plot], []).append(plot)
    levels = tuple(trial.factor(name).level_names for name in layout.factors)
    cell_names = tuple(TREATMENT_JOIN.join(cell) for cell in product(*levels))
    code = {name: k for k, name in enumerate(cell_names)}
    names = tuple(members)
    found = strata_of(layout)
    blocks = _codes(next((g.shares for g in found.grounds if g.name == "block"), None))
    strata = _strata(layout, found.tiers)
    _refuse_ties(layout, members, strata)
    whole_names, whole_plots = _whole_plots(layout, members)
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
        block_names=_block_names(layout, members) if blocks is not None else (),
        blocks=blocks,
        grounds=tuple((ground.name, ground.shares) for ground in found.grounds),
        random_grounds=_random_grounds(trial, layout, found.grounds),
        strata=strata,
        places=tuple(_place(layout, plots) for plots in members.values()),
        whole_plots=whole_plots,
        whole_names=whole_names,
        whole_factors=strata[0].factors if whole_plots is not None else (),
        shared=shared,
        laid_plants=np.array(
            [sum(p.plants or 0 for p in plots) for plots in members.values()], dtype=np.int64
        ),
        unit_word=_unit_word(trial, layout, strata[-1].name),
        drawn=layout.drawn,
        index={p.plot: j for j, plots in enumerate(members.values()) for p in plots},
        main_effects=layout.main_effects,
    )


def _block_names(layout: Layout, members: Mapping[str, list[Plot]]) -> tuple[str, ...]:
    """In the order in which the blocks are met, as the shares' columns are."""
    found: dict[tuple[str | None, str | None], str] = {}
    for plots in members.values():
        for p in plots:
            nested = layout.type == "incomplete block" and p.replicate
            name = f"{p.replicate}: {p.block}" if nested else str(p.block)
            found.setdefault((p.replicate if nested else None, p.block), name)
    return tuple(found.values())


def _codes(shares: Array | None) -> IntArray | Array | None:
    """Codes where every unit lies in one piece, else the shares."""
    if shares is None or not (shares.max(axis=1) > 1.0 - 1e-9).all():
        return shares
    return np.asarray(shares.argmax(axis=1), dtype=np.int64)


def _random_grounds(
    trial: Trial, layout: Layout, grounds: tuple[Ground, ...]
) -> tuple[str, ...]:
    """Rows and columns never; incomplete blocks only if the plan asks for what they tell.

    In a pilot all of them: nothing is compared, and their variation is the question.
    """
    overlap = layout.type in ("incomplete block", "row-column", "Latin square")
    recovery = trial.plan is not None and trial.plan.recovery
    fixed = overlap and not recovery and not is_pilot(trial)
    return () if fixed else tuple(ground.name for ground in grounds)


def _strata(layout: Layout, tiers: tuple[Tier, ...]) -> tuple[Stratum, ...]:
    index = {name: k for k, name in enumerate(layout.factors)}
    place = {tier.name: k for k, tier in enumerate(tiers)}
    above = {
        tier.name: {place[name] for name in tier.within if name in place} for tier in tiers
    }
    out: list[Stratum] = []
    for tier in tiers:
        held = {index[name] for _, names in tier.terms for name in names}
        held.update(f for k in above[tier.name] for f in out[k].factors)
        # of nested pieces only the smallest: a plot lies in its whole plot's block already
        direct = {
            k
            for k in above[tier.name]
            if not any(k in above[tiers[j].name] for j in above[tier.name])
        }
        last = tier is tiers[-1]
        factors = range(len(layout.factors)) if last else sorted(held)
        out.append(Stratum(tier.name, tier.codes, tuple(factors), tuple(sorted(direct))))
    # where strips cross stand their interactions only, which the plan may leave out
    bare = "plot" if layout.main_effects and layout.type == "strip-plot" else None
    if len(out) > 1 and any(not tier.terms and tier.name != bare for tier in tiers):
        raise AnalysisError(say("split-plot without a whole-plot factor"))
    return tuple(out)


def _refuse_ties(
    layout: Layout, members: Mapping[str, list[Plot]], strata: tuple[Stratum, ...]
) -> None:
    """A reservoir that feeds plots in several whole plots or strips makes one unit of them."""
    if len(strata) == 1:
        return
    for name, plots in members.items():
        pieces = {(p.block, p.whole_plot, p.row_strip, p.column_strip) for p in plots}
        if len(pieces) > 1:
            raise AnalysisError(say("reservoir ties pieces", name=name, type=layout.type))


def _whole_plots(
    layout: Layout, members: Mapping[str, list[Plot]]
) -> tuple[tuple[str, ...], IntArray | None]:
    if layout.type != "split-plot":
        return (), None
    found: dict[tuple[str | None, ...], int] = {}
    codes = []
    for plots in members.values():
        key = whole_plot_of(plots[0])
        codes.append(found.setdefault(key, len(found)))
    alone = len({name for _, name in found}) == len(found)
    names = tuple(
        str(name) if alone or block is None else f"{block}: {name}" for block, name in found
    )
    return names, np.array(codes, dtype=np.int64)


def _place(layout: Layout, plots: list[Plot]) -> dict[str, str]:
    out = {}
    for column in PLACES.get(layout.type, ()):
        held = [getattr(plot, column) for plot in plots]
        names = dict.fromkeys(str(value) for value in held if value is not None)
        if names:
            out[column] = ", ".join(names)
    return out


def _unit_word(trial: Trial, layout: Layout, last: str) -> str:
    applied = {trial.factor(name).applied_to for name in layout.factors}
    if last in ("subplot", "reservoir", "coil"):
        return last
    if applied == {"coil"}:
        return "coil"
    return "piece" if "piece" in applied else "plot"
