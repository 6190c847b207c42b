"""Third line: re-randomization of the labels on the same unit summaries.

A term redraws the whole layout under its scheme; a pair of treatments moves only its own
labels inside blocks; contrasts of several treatments have the term's p only. Nothing is
redrawn where labels were not given at random, where units span blocks, or where arms hold
different numbers of plots on a reservoir. Leans on models.redraw.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.plan import Term
from wickstats.analysis.strata_line import whole_first
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import Redraws
from wickstats.core.words import say
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.redraw.pairs import redraw_pair
from wickstats.models.redraw.terms import (
    redraw_sub_plots,
    redraw_term,
    redraw_whole_plots,
    whole_plot_values,
)


@dataclass(frozen=True, slots=True, eq=False)
class Redrawer:
    """Re-randomization of one summary."""

    units: Units
    summary: Summary
    seed: int | str
    stream: str
    barred: str | None

    @property
    def _lost(self) -> NDArray[np.bool_]:
        product: NDArray[np.bool_] = ~self.summary.used
        return product

    def term(self, term: Term) -> Redraws:
        """Of a treatment term."""
        if self.barred:
            return _none(self.barred)
        rows = term_rows(self.units.shape, term.factors)
        stream = f"{self.stream}:{term.name}".encode("ascii", "replace").decode("ascii")
        if self.units.is_split:
            return self._split(term, rows, stream)
        return redraw_term(
            self.summary.values,
            self.units.cells,
            rows,
            blocks=self.units.block_codes,
            lost=self._lost,
            seed=self.seed,
            stream=stream,
        )

    def pair(self, name: str, cells: tuple[int, int] | None) -> Redraws:
        """Of two treatments."""
        if self.barred:
            return _none(self.barred)
        if cells is None:
            return _none(say("redraw several arms"))
        there = set(self.units.cells.tolist())
        if not there.issuperset(cells):
            return _none(say("redraw not laid out"))
        stream = f"{self.stream}:{name}".encode("ascii", "replace").decode("ascii")
        if self.units.is_split:
            return self._split_pair(cells, stream)
        return redraw_pair(
            self.summary.values,
            self.units.cells,
            cells,
            blocks=self.units.block_codes,
            lost=self._lost,
            seed=self.seed,
            stream=stream,
        )

    def _codes(self) -> tuple[IntArray, IntArray, IntArray, int, int]:
        order, whole_shape, sub_shape = whole_first(self.units)
        place = np.empty_like(order)
        place[order] = np.arange(order.size)
        n_whole, n_sub = int(np.prod(whole_shape)), int(np.prod(sub_shape))
        code = place[self.units.cells]
        return code // n_sub, code % n_sub, order, n_whole, n_sub

    def _split(self, term: Term, rows: Array, stream: str) -> Redraws:
        whole, sub, order, n_whole, n_sub = self._codes()
        if self.units.whole_plots is None:
            raise ValueError("not a split-plot")
        ordered = rows[:, order]
        if set(term.factors) <= set(self.units.whole_factors):
            sums = ordered.reshape(-1, n_whole, n_sub).sum(axis=2)
            return redraw_whole_plots(
                self.summary.values,
                self.units.whole_plots,
                whole,
                sub,
                sums,
                blocks=self.units.block_codes,
                lost=self._lost,
                seed=self.seed,
                stream=stream,
            )
        return redraw_sub_plots(
            self.summary.values,
            self.units.whole_plots,
            whole,
            sub,
            ordered,
            lost=self._lost,
            seed=self.seed,
            stream=stream,
        )

    def _split_pair(self, cells: tuple[int, int], stream: str) -> Redraws:
        _, _, order, _, n_sub = self._codes()
        place = np.empty_like(order)
        place[order] = np.arange(order.size)
        a, b = int(place[cells[0]]), int(place[cells[1]])
        if a // n_sub != b // n_sub or self.units.whole_plots is None:
            return _none(say("redraw two strata"))
        return redraw_pair(
            self.summary.values,
            self.units.cells,
            cells,
            blocks=self.units.whole_plots,
            lost=self._lost,
            seed=self.seed,
            stream=stream,
        )

    def whole_pair(self, name: str, levels: tuple[int, int]) -> Redraws:
        """Of two levels of the one whole-plot factor, by whole plots."""
        if self.barred:
            return _none(self.barred)
        whole, sub, _, _, _ = self._codes()
        plots = self.units.whole_plots
        if plots is None:
            raise ValueError("not a split-plot")
        values, gone = whole_plot_values(self.summary.values, plots, sub, self._lost)
        first = np.unique(plots, return_index=True)[1]
        blocks = self.units.block_codes
        return redraw_pair(
            values,
            whole[first],
            levels,
            blocks=None if blocks is None else blocks[first],
            lost=gone,
            seed=self.seed,
            stream=f"{self.stream}:{name}".encode("ascii", "replace").decode("ascii"),
        )


def _none(reason: str) -> Redraws:
    return Redraws(None, "none", 0, None, reason)


def barred_because(units: Units, design: str) -> str | None:
    """Why nothing can be re-randomized, or None."""
    if units.drawn == "not at random":
        return say("redraw not at random")
    if units.spans_blocks:
        return say("redraw spans blocks")
    if units.uneven_reservoirs:
        return say("redraw uneven reservoirs")
    return say("redraw incomplete blocks") if design == "incomplete block" else None


def redrawer_for(
    units: Units, summary: Summary, design: str, seed: int | str, response: str
) -> Redrawer:
    """Set up re-randomization of one summary."""
    stream = f"redraws:{response}:{summary.estimand}:{summary.at or ''}"
    return Redrawer(units, summary, seed, stream, barred_because(units, design))


def seed_of(seed: int | None, identity: str) -> int | str:
    """The layout's seed, or the trial's identity where the layout was drawn elsewhere."""
    return identity.encode("ascii", "replace").decode("ascii") if seed is None else seed
