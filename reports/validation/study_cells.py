"""The cells of the calibration study: what is simulated, and each cell's own seed.

A cell is a kind of response, a size of trial, how much plots vary, what is lost and
which arms truly differ. Leans on the standard library and numpy.
"""

import hashlib
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

KINDS = ("total", "size", "share", "count")
BLOCKS = (3, 4, 6, 8)
ARMS = (2, 4)
PLOT_VARIANCES = (0.0, 0.25)
LOSSES = ("complete", "random gaps", "loss by arm")
TRUTHS = {2: ("global null", "arms differ"), 4: ("global null", "partial null")}

# Expected value of each arm: log total, size in plant standard deviations, share alive,
# count a plot. The first two arms are the null pair wherever there is one.
LEVELS: dict[str, dict[str, tuple[float, ...]]] = {
    "total": {
        "global null": (0.0, 0.0, 0.0, 0.0),
        "partial null": (0.0, 0.0, 0.3, 0.3),
        "arms differ": (0.0, 0.3),
    },
    "size": {
        "global null": (0.0, 0.0, 0.0, 0.0),
        "partial null": (0.0, 0.0, 0.8, 0.8),
        "arms differ": (0.0, 0.8),
    },
    "share": {
        "global null": (0.75, 0.75, 0.75, 0.75),
        "partial null": (0.5, 0.5, 0.97, 0.97),
        "arms differ": (0.6, 0.9),
    },
    "count": {
        "global null": (12.0, 12.0, 12.0, 12.0),
        "partial null": (12.0, 12.0, 36.0, 36.0),
        "arms differ": (12.0, 24.0),
    },
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One setting of the study.

    Attributes
    ----------
    kind
        total, size (mean of plants), share or count.
    blocks, arms
        Size of the randomized complete block trial.
    plot_variance
        Variance between plots of one arm and block, in units of the variance between
        plants (counts: on the logarithm of the plot's mean).
    loss
        complete, random gaps or loss by arm.
    truth
        global null, partial null (the first two arms alike, the others not), or arms
        differ (two arms, for coverage).
    """

    kind: str
    blocks: int
    arms: int
    plot_variance: float
    loss: str
    truth: str

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        size = f"{self.blocks}x{self.arms}"
        return f"{self.kind}|{size}|{self.plot_variance:g}|{self.loss}|{self.truth}"

    @property
    def levels(self) -> tuple[float, ...]:
        """Expected value of each arm, on the scale of ``LEVELS``."""
        return LEVELS[self.kind][self.truth][: self.arms]

    @property
    def true_values(self) -> np.ndarray:
        """(arms,) expected value of each arm on the scale of the contrasts."""
        levels = np.array(self.levels)
        return np.log(levels) if self.kind == "count" else levels

    @property
    def has_null_pair(self) -> bool:
        """Whether the first two arms are alike."""
        return self.levels[0] == self.levels[1]

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        return asdict(self)


def all_cells() -> list[Cell]:
    """Every cell, in a fixed order."""
    return [
        Cell(kind, blocks, arms, variance, loss, truth)
        for kind in KINDS
        for blocks in BLOCKS
        for arms in ARMS
        for variance in PLOT_VARIANCES
        for loss in LOSSES
        for truth in TRUTHS[arms]
    ]


def usual_cells() -> list[Cell]:
    """The cells in which the usual routes are run beside ours: those with a null pair.

    Totals have one number a plot, for which there is no other route.
    """
    return [cell for cell in all_cells() if cell.has_null_pair and cell.kind != "total"]


def library_cells() -> list[Cell]:
    """The few of them in which a general library's mixed models are fitted one by one."""
    return [
        Cell("size", blocks, arms, variance, "complete", "global null")
        for blocks, arms in ((3, 2), (6, 4))
        for variance in PLOT_VARIANCES
    ]


def generator(seed: int, key: str) -> np.random.Generator:
    """The cell's own random numbers, from SHA-256 of ``seed:key``."""
    digest = hashlib.sha256(f"{seed}:{key}".encode()).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
