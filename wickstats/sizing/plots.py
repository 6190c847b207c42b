"""The units of a trial of any number of blocks, before it is laid out.

Leans on the trial's values and numpy.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wickstats.core.words import say
from wickstats.design.defaults import cells_of, main_effects_only, names_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.sizing.grounds import ONE_STRATUM, Ground, ground_of
from wickstats.sizing.pieces import SEVERAL_STRATA, Pieces, pieces_of

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """How many units of each treatment the trial file plans.

    Attributes
    ----------
    cells
        Treatments.
    units
        (t,) units of each.
    blocked
        True for complete blocks.
    plants
        (t,) plants behind one unit, or None.
    word
        "blocks" or "replicates".
    plots
        (t,) plots of one unit.
    ground
        What blocks, rows and columns leave of complete blocks; None: nothing is lost.
    pieces
        The strata, where several hold treatments.
    additive
        Complete blocks or free trials whose interactions are left out: nothing of the
        treatments is lost in the ground, which holds the degrees of freedom.
    """

    cells: tuple[str, ...]
    units: NDArray[np.int64]
    blocked: bool
    plants: Array | None
    word: str
    plots: NDArray[np.int64]
    ground: Ground | None = None
    pieces: Pieces | None = None
    additive: bool = False

    @property
    def count(self) -> int:
        """Blocks, or the fewest replicates of any treatment."""
        if self.pieces is not None:
            return self.pieces.count
        return int(self.units.min()) if self.ground is None else self.ground.count

    def shares(self, weights: Array) -> Array:
        """(t,) factors of the treatments' unit variances in a contrast's variance."""
        if self.ground is None:
            out: Array = np.square(weights) / self.units_at(self.count)
            return out
        whole = float(weights @ self.ground.inverse_at(self.count) @ weights)
        return np.full(len(self.cells), whole / len(self.cells))

    def units_at(self, count: int) -> NDArray[np.int64]:
        """(t,) units of each treatment with ``count`` blocks (or replicates, in proportion)."""
        if self.pieces is not None:
            return self.pieces.units_at(count)
        if self.blocked:
            return np.full(len(self.cells), count, dtype=np.int64)
        if self.ground is not None:
            return self.ground.units_at(count)
        return np.ceil(self.units * count / self.count - 1e-9).astype(np.int64)

    def traces(self, units: NDArray[np.int64], variances: Array) -> tuple[float, float]:
        """tr(MD) and tr(MDMD) of complete trials, D the unit variances by treatment.

        Complete blocks: M = (I - J/b) x C with C = I - J/t; otherwise M centers each
        treatment.
        """
        if not self.blocked:
            left = units - 1.0
            return float(left @ variances), float(left @ np.square(variances))
        t = len(self.cells)
        c = np.eye(t) - 1.0 / t
        second = float(variances @ np.square(c) @ variances)
        return float((units[0] - 1) * np.diag(c) @ variances), (int(units[0]) - 1) * second


def with_sizes(trial: Trial, layout: Layout | None) -> Trial:
    """Return the trial with the sizes that it leaves to its layout filled in from there."""
    if layout is None:
        return trial
    design = trial.design
    found: dict[str, Any] = {}
    if design.blocks is None and design.type == "randomized complete block":
        found["blocks"] = len({plot.block for plot in layout.plots})
    if design.replicates is None and design.type == "completely randomized":
        units = {(plot.treatment, layout.unit_of[plot.plot]) for plot in layout.plots}
        found["replicates"] = dict(Counter(treatment for treatment, _ in units))
    plants = {plot.plants for plot in layout.plots}
    if design.plants_per_plot is None and len(plants) == 1:
        found["plants_per_plot"] = plants.pop()
    return trial.model_copy(update={"design": design.model_copy(update=found)})


def sizes_of(trial: Trial, layout: Layout | None = None) -> Sizes | str:
    """Return the planned sizes, or why power cannot be reckoned.

    Designs whose rows, columns or blocks take up information need their layout.
    """
    design = trial.design
    cells = cells_of(trial.factors)
    t = len(cells)
    ground: Ground | None = None
    pieces: Pieces | None = None
    per_block = design.type == "randomized complete block" and design.replicates is not None
    if design.type in SEVERAL_STRATA:
        pieces = None if layout is None else pieces_of(trial, layout, cells)
        if pieces is None:
            return say("power no sizes" if layout is None else "power pieces uneven")
        units, word = pieces.units, pieces.word
    elif design.type in ONE_STRATUM or per_block or main_effects_only(trial):
        ground = None if layout is None else ground_of(layout, cells)
        if ground is None:
            return say("power no sizes" if layout is None else "power not connected")
        whole = design.type == "randomized complete block"
        units, word = ground.units, "blocks" if whole else "replicates"
    else:
        planned = _planned_units(trial, cells)
        if isinstance(planned, str):
            return planned
        units, word = planned
    plots = np.ones(t, dtype=np.int64)
    for level, n in design.plots_per_reservoir.items():
        for k, cell in enumerate(cells):
            if level in names_of(cell):
                plots[k] = n
    plants: Array | None = None
    if design.plants_per_plot is not None:
        plants = np.asarray(plots * design.plants_per_plot, dtype=np.float64)
    blocked = word == "blocks" and ground is None and pieces is None
    additive = ground is not None and design.type not in ONE_STRATUM and not per_block
    return Sizes(
        cells, units.astype(np.int64), blocked, plants, word, plots, ground, pieces, additive
    )


def _planned_units(trial: Trial, cells: tuple[str, ...]) -> tuple[NDArray[np.int64], str] | str:
    """Units of each treatment in complete blocks or free trials, and what they are called."""
    design = trial.design
    if design.type == "randomized complete block":
        if design.blocks is None:
            return say("power no sizes")
        return np.full(len(cells), design.blocks), "blocks"
    if design.type != "completely randomized":
        return say("power no design", type=design.type)
    given = design.replicates
    if given is None:
        return say("power no sizes")
    each = [given.get(c, 0) if isinstance(given, dict) else given for c in cells]
    if min(each) == 0:
        return say("power no sizes")
    return np.array(each), "replicates"
