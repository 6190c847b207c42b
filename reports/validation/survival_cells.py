"""The cells of the survival study: what is simulated.

A cell is a size of trial, plants a plot, how alike the plants of a plot are, how many live
to the end, which arms truly differ and what is missing. Leans on the standard library.
"""

from dataclasses import asdict, dataclass
from typing import Any

BLOCKS = (3, 4, 6, 8)
ARMS = (2, 4)
PLANTS = (4, 8, 12)
CORRELATIONS = (0.0, 0.1, 0.3)
SURVIVALS = (0.3, 0.6, 0.9, 0.97)
LONG = 0.97
TRUTHS = {2: ("global null", "arms differ"), 4: ("global null", "partial null")}
LOSSES = ("complete", "uneven")


@dataclass(frozen=True, slots=True)
class SurvivalCell:
    """One setting.

    Attributes
    ----------
    blocks, arms, plants
        Size of the randomized complete block trial; plants a plot.
    correlation
        Of two plants' fates in one plot.
    survival
        Share alive at the end in the first arms.
    truth
        global null; partial null: the first two arms beside two at 0.97; arms differ: two
        arms, the second at 0.97 (at 0.6 where the first is).
    loss
        complete; uneven: the first arm holds half the plants and lost its plot in the first
        block, and from six blocks on the second arm that in the second block.
    """

    blocks: int
    arms: int
    plants: int
    correlation: float
    survival: float
    truth: str
    loss: str

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        size = f"{self.blocks}x{self.arms}x{self.plants}"
        fates = f"{self.correlation:g}|{self.survival:g}"
        return f"survival|{size}|{fates}|{self.truth}|{self.loss}"

    @property
    def levels(self) -> tuple[float, ...]:
        """Share alive at the end by arm."""
        if self.truth == "global null":
            return (self.survival,) * self.arms
        if self.truth == "partial null":
            return (self.survival, self.survival, LONG, LONG)
        return (self.survival, LONG if self.survival < LONG else 0.6)

    @property
    def plants_by_arm(self) -> tuple[int, ...]:
        """Plants a plot of each arm."""
        first = self.plants if self.loss == "complete" else self.plants // 2
        return (first, *(self.plants,) * (self.arms - 1))

    @property
    def lost(self) -> tuple[tuple[int, int], ...]:
        """(block, arm) of the plots that were lost."""
        if self.loss == "complete":
            return ()
        return ((0, 0),) if self.blocks < 6 else ((0, 0), (1, 1))

    @property
    def has_null_pair(self) -> bool:
        """Whether the first two arms are alike."""
        return self.levels[0] == self.levels[1]

    @property
    def is_rich(self) -> bool:
        """Whether each arm expects at least 5 deaths and 5 survivors."""
        units = [self.blocks] * self.arms
        for _, arm in self.lost:
            units[arm] -= 1
        n = [u * m for u, m in zip(units, self.plants_by_arm, strict=True)]
        return all(
            min(p, 1.0 - p) * many >= 5.0 - 1e-9 for p, many in zip(self.levels, n, strict=True)
        )

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        return asdict(self)


def survival_cells() -> list[SurvivalCell]:
    """Every cell, in a fixed order."""
    return [
        SurvivalCell(blocks, arms, plants, correlation, survival, truth, loss)
        for blocks in BLOCKS
        for arms in ARMS
        for plants in PLANTS
        for correlation in CORRELATIONS
        for survival in SURVIVALS
        for truth in TRUTHS[arms]
        for loss in LOSSES
    ]


def usual_survival_cells() -> list[SurvivalCell]:
    """The cells in which the usual routes are run beside ours: all with a true null pair."""
    return [cell for cell in survival_cells() if cell.has_null_pair]


def has_cox(cell: SurvivalCell) -> bool:
    """Whether the slow route, a Cox model a season, is run in that cell too."""
    return (
        cell.plants == 8
        and cell.loss == "complete"
        and cell.truth == "global null"
        and cell.blocks != 4
        and cell.survival < LONG
    )
