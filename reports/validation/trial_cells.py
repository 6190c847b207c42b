"""Cells of the study of totals and sizes: designs, what is lost, how arms differ.

Every cell is one trial with one fixed pattern of what is left, drawn from the study's own
pattern seed, so that a cell is one layout and its seasons can be judged at once. Leans on
the standard library and numpy.
"""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

BLOCKS = (3, 4, 5, 6, 8)
ARMS = (2, 3, 4, 6)
PLANTS = (1, 4, 10)
PLOT_VARIANCES = (0.0, 0.2, 0.5)
PATTERNS = ("complete", "15 % of plants lost", "a plot lost")
LEFT = ("30 % of the first arm left", "50 % of the first arm left")
PATTERN_SEED = 20250401
DOUBLED = float(np.log(2.0))
GROWTH_VISITS = 6

# groups of cells with one question each
GROUPS = {
    "alike": "arms alike in loss and variance",
    "loss": "loss that differs by arm",
    "variance": "standard deviations of arms 1 to 2",
    "doubled": "a doubled mean, raw and log scale",
    "split-plot": "split-plots",
    "square": "Latin squares",
    "incomplete": "balanced incomplete blocks",
    "growth": "growth over visits",
}


@dataclass(frozen=True, slots=True)
class Trial:
    """One cell.

    Attributes
    ----------
    group
        A key of ``GROUPS``.
    blocks, arms
        Blocks and arms; of a Latin square both its order; of a split-plot the arms are
        whole-plot levels, with two subplots each.
    plants
        Plants a plot as planted; 1: one number a plot, without a variance of its own.
    plot_variance
        Between plots, in units of the variance between plants (1).
    pattern
        What is left.
    truth
        "global null", "partial null" (the first two arms alike, the others one plant
        standard deviation higher), or how the arms differ in variance.
    """

    group: str
    blocks: int
    arms: int
    plants: int
    plot_variance: float
    pattern: str = "complete"
    truth: str = "global null"

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        size = f"{self.blocks}x{self.arms}x{self.plants}"
        parts = (self.group, size, f"{self.plot_variance:g}", self.pattern, self.truth)
        return "|".join(parts)

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        return asdict(self)


def all_trials() -> list[Trial]:
    """Every cell, in a fixed order."""
    return [
        *_alike(),
        *_loss(),
        *_variance(),
        *_doubled(),
        *_other_designs(),
    ]


def _alike() -> list[Trial]:
    return [
        Trial("alike", blocks, arms, plants, variance, pattern, truth)
        for blocks in BLOCKS
        for arms in ARMS
        for plants in PLANTS
        for variance in (PLOT_VARIANCES if plants > 1 else (0.0,))
        for pattern in PATTERNS
        for truth in ("global null", "partial null")[: 1 if arms == 2 else 2]
    ]


def _loss() -> list[Trial]:
    return [
        Trial("loss", blocks, arms, plants, variance, pattern)
        for blocks in BLOCKS
        for arms in ARMS
        for plants in PLANTS
        if plants > 1
        for variance in PLOT_VARIANCES
        for pattern in LEFT
    ]


def _variance() -> list[Trial]:
    """The null pair: one arm of each standard deviation, or two alike among others."""
    return [
        Trial("variance", blocks, arms, 1, 0.0, "complete", truth)
        for blocks in BLOCKS
        for arms in ARMS
        for truth in ("pair 1 to 2", "pair of 1 beside 2", "pair of 2 beside 1")[
            : 1 if arms == 2 else 3
        ]
    ]


def _doubled() -> list[Trial]:
    """Lognormal plots, coefficient of variation near 0.3; the pair low or high."""
    return [
        Trial("doubled", blocks, arms, 1, 0.0, "complete", truth)
        for blocks in BLOCKS
        for arms in ARMS
        if arms > 2
        for truth in ("raw, low pair", "raw, high pair", "log, low pair", "log, high pair")
    ]


def _other_designs() -> list[Trial]:
    out = [
        Trial("split-plot", blocks, arms, plants, variance, "complete", truth)
        for blocks in BLOCKS
        for arms in (2, 3)
        for plants, variance in ((1, 0.0), (4, 0.2))
        for truth in ("whole plots", "subplots", "cells")
    ]
    out += [
        Trial("square", order, order, plants, variance, pattern)
        for order in (3, 4, 5, 6)
        for plants, variance in ((1, 0.0), (4, 0.2))
        for pattern in ("complete", "a plot lost")
        if order > 3 or pattern == "complete"
    ]
    out += [
        Trial("incomplete", blocks, arms, plants, variance, pattern)
        for blocks, arms in ((6, 4), (10, 5), (7, 7), (10, 6))
        for plants, variance in ((1, 0.0), (4, 0.2))
        for pattern in ("complete", "a plot lost")
    ]
    out += [
        Trial("growth", blocks, arms, 4, variance, pattern)
        for blocks in (3, 4, 6)
        for arms in (2, 4)
        for variance in PLOT_VARIANCES
        for pattern in ("complete", "15 % of plants lost")
    ]
    return out
