"""A layout: which plot got which treatment, and what was independently set up.

The experimental unit is what was randomized on its own: a plot, or all plots
that hang on one reservoir. Leans on pandas.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import pandas as pd

from wickstats.core.errors import LayoutError, Problem
from wickstats.core.notebook import Shown

if TYPE_CHECKING:
    from wickstats.layout.restricted import AllowedShare

TREATMENT_JOIN = " x "
PLANNED = ("incomplete block", "row-column")  # drawn from a plan of labels


@dataclass(frozen=True)
class Plot:
    """One plot (at the bench: one piece of cord)."""

    plot: str
    levels: Mapping[str, str]  # factor -> level, in the order of the trial's factors
    block: str | None = None
    row: int | None = None
    column: int | None = None
    replicate: str | None = None
    square: str | None = None
    whole_plot: str | None = None
    subplot: str | None = None
    row_strip: str | None = None
    column_strip: str | None = None
    reservoir: str | None = None
    plants: int | None = None
    coil: str | None = None
    run: str | None = None

    @property
    def treatment(self) -> str:
        """Levels joined by " x ", e.g. "drip x mulch"."""
        return TREATMENT_JOIN.join(self.levels.values())


@dataclass(frozen=True)
class Layout(Shown):
    """All plots of a trial, in walking order."""

    type: str
    factors: tuple[str, ...]
    plots: tuple[Plot, ...]
    drawn: Literal["here", "elsewhere", "not at random"]
    seed: int | None = None
    scheme: str | None = None
    hash: str | None = None  # SHA-256 of the canonical design, factors, responses and plan
    file: str = "layout.csv"
    # factor -> what its levels were set up on: whole plot | plot | subplot | row strip | ...
    applied_to: Mapping[str, str] = field(default_factory=dict)
    main_effects: bool = False  # the plan leaves out the factors' interactions
    plan: tuple[tuple[int, ...], ...] | None = None  # labels of incomplete blocks and arrays
    drawn_how: str | None = None  # how it was drawn, in words, where that needs words
    restricted: "AllowedShare | None" = None  # what it was kept to, where it was
    source_bytes: Mapping[str, bytes] = field(default_factory=dict, repr=False, compare=False)
    # writes the files of a layout that was just drawn; None for layouts that were read
    writer: Callable[[], None] | None = field(default=None, repr=False, compare=False)

    @property
    def has_one_treatment(self) -> bool:
        """Whether it is a pilot's, in which nothing is compared."""
        return len({plot.treatment for plot in self.plots}) < 2

    def write(self) -> None:
        """Write the layout's table and record into the trial's folder.

        Raises
        ------
        LayoutError
            Where a layout exists, or this one was not drawn by ``randomize``.
        """
        if self.writer is None:
            raise LayoutError(
                [
                    Problem(
                        file=self.file,
                        code="not drawn here",
                        found="a layout that was read, not drawn",
                        expected="a layout that randomize has just drawn",
                        fix="its table exists already; nothing needs to be written",
                    )
                ]
            )
        self.writer()

    def to_frame(self) -> pd.DataFrame:
        """Return the plots as ``layout.csv`` has them, one row each."""
        from wickstats.layout.table import cell, columns_of

        columns = columns_of(self)
        rows = [[p.levels.get(c) or cell(p, c) or None for c in columns] for p in self.plots]
        return pd.DataFrame(rows, columns=list(columns))

    @cached_property
    def unit_of(self) -> Mapping[str, str]:
        """Plot -> experimental unit: its reservoir where that feeds several plots."""
        if self.coils_are_units:
            return {p.plot: str(p.coil) for p in self.plots}
        fed: dict[str, int] = {}
        for plot in self.plots:
            if plot.reservoir:
                fed[plot.reservoir] = fed.get(plot.reservoir, 0) + 1
        return {
            p.plot: p.reservoir if p.reservoir and fed[p.reservoir] > 1 else p.plot
            for p in self.plots
        }

    @property
    def coils_are_units(self) -> bool:
        """At the bench: every factor is a property of the cord, and so of the coil."""
        tiers = set(self.applied_to.values())
        return tiers == {"coil"} and all(p.coil for p in self.plots)

    @cached_property
    def shared_reservoirs(self) -> frozenset[str]:
        """Reservoirs that feed more than one plot: they are the units of their plots."""
        if self.coils_are_units:
            return frozenset()
        return frozenset(u for p, u in self.unit_of.items() if u != p)

    def frame(self) -> pd.DataFrame:
        """One row a plot: plot, unit, where it belongs, reservoir, plants, factors, treatment.

        Missing text is None; ``plants`` is nullable.
        """
        rows = [
            {
                "plot": p.plot,
                "unit": self.unit_of[p.plot],
                "block": p.block,
                "row": p.row,
                "column": p.column,
                "replicate": p.replicate,
                "square": p.square,
                "whole_plot": p.whole_plot,
                "subplot": p.subplot,
                "row_strip": p.row_strip,
                "column_strip": p.column_strip,
                "reservoir": p.reservoir,
                "plants": p.plants,
                **p.levels,
                "treatment": p.treatment,
            }
            for p in self.plots
        ]
        return pd.DataFrame(rows)
