"""Position as covariate: one slope over the positions in a block, a gradient truly there.

Each season draws its own layout in complete blocks, so that gradient and treatments meet as
a draw lets them; unit values are normal, with blocks and a linear gradient from end to end
of a block of ``steep`` plot standard deviations. Some cells lose one plot. Every layout is
judged by the package's batch engine, with the covariate and, beside it, without. Leans on
study_cells, the batch engine, the package's pages and numpy.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from study_cells import generator

from wickstats.core.numbers import fixed, percent
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.results import Judged
from wickstats.models.batch.strata import judge_units
from wickstats.pages.blocks import Column, Items, Section, Table

BLOCKS = (3, 4, 5, 6, 8)
ARMS = (2, 3, 4, 6)
STEEP = (0.0, 1.0, 4.0)  # from end to end of a block, in plot standard deviations
LOST = (0, 1)
TRUTHS = ("global null", "partial null")
LAYOUTS = 100  # drawn anew in each cell
LEAST, MOST, COVER = 0.03, 0.07, 0.93  # no cell outside


@dataclass(frozen=True, slots=True)
class PositionCell:
    """One setting."""

    blocks: int
    arms: int
    steep: float
    lost: int
    truth: str

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        size = f"{self.blocks}x{self.arms}"
        return f"position|{size}|{self.steep:g}|{self.lost}|{self.truth}"


def position_cells() -> list[PositionCell]:
    """Every cell with at least one error degree of freedom, in a fixed order."""
    return [
        PositionCell(blocks, arms, steep, lost, truth)
        for blocks in BLOCKS
        for arms in ARMS
        for steep in STEEP
        for lost in LOST
        for truth in TRUTHS
        if (arms > 2 or truth == "global null") and (blocks - 1) * (arms - 1) > 1 + lost
    ]


def run_position(cell: PositionCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    ``rejection`` of the null pair, the first two arms; ``rejection_all`` of all arms where
    none differ; ``coverage`` of the first arm against the last and ``coverage_means``;
    ``half`` the mean half-width of that difference over the same without the covariate.
    """
    rng = generator(seed, cell.key)
    each = max(seasons // LAYOUTS, 1)
    levels = np.zeros(cell.arms)
    if cell.truth == "partial null":
        levels[2:] = 1.0
    totals = np.zeros(4)
    halves = np.zeros(2)
    judged = 0
    for _ in range(LAYOUTS):
        cells, blocks, position = _draw(cell, rng)
        with_slope = _lay(cell.arms, cells, blocks, position)
        slope = cell.steep / (cell.arms - 1)
        truth = levels[cells] + slope * position
        y = truth + 0.5 * rng.normal(size=(each, cell.blocks))[:, blocks]
        y = y + rng.normal(size=(each, len(cells)))
        found = judge_units(with_slope, y)
        plain = judge_units(_lay(cell.arms, cells, blocks, None), y)
        middle = slope * position.mean()
        totals += _tally(found, levels, middle)
        halves += [_width(found), _width(plain)]
        judged += int(found.contrasts.judged[:, 0].sum())
    rejection, coverage, rejection_all, means = totals / judged
    return {
        "settings": asdict(cell),
        "seasons": each * LAYOUTS,
        "judged": judged,
        "rejection": rejection,
        "rejection_all": rejection_all if cell.truth == "global null" else None,
        "coverage": coverage,
        "coverage_means": means,
        "half": halves[0] / halves[1],
    }


def _draw(
    cell: PositionCell, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Arm, block and position of every plot; layouts that cannot tell are drawn again."""
    blocks = np.repeat(np.arange(cell.blocks), cell.arms)
    position = np.tile(np.arange(cell.arms, dtype=float), cell.blocks)
    while True:
        cells = np.concatenate([rng.permutation(cell.arms) for _ in range(cell.blocks)])
        kept = np.ones(len(cells), dtype=bool)
        kept[rng.choice(len(cells), cell.lost, replace=False)] = False
        x = np.column_stack(
            [np.eye(cell.arms)[cells], np.eye(cell.blocks)[blocks][:, 1:], position]
        )[kept]
        full = np.linalg.matrix_rank(x) == x.shape[1]
        if full and kept.sum() > x.shape[1]:
            return cells[kept], blocks[kept], position[kept]


def _lay(
    arms: int, cells: np.ndarray, blocks: np.ndarray, position: np.ndarray | None
) -> BatchLayout:
    eye = np.eye(arms)
    pairs = [eye[0] - eye[1], eye[0] - eye[-1]]
    return lay_batch(cells, arms, contrasts=pairs, means=eye, blocks=blocks, covariate=position)


def _tally(found: Judged, levels: np.ndarray, middle: float) -> np.ndarray:
    """Null pair rejected, difference covered, all arms rejected, means covered."""
    pair, means = found.contrasts, found.means
    true = levels[0] - levels[-1]
    inside = (means.low <= levels + middle) & (levels + middle <= means.high)
    return np.array(
        [
            (pair.p[:, 0] < 0.05).sum(),
            ((pair.low[:, 1] <= true) & (true <= pair.high[:, 1])).sum(),
            (found.p_all < 0.05).sum(),
            inside.mean(axis=1).sum(),
        ],
        dtype=float,
    )


def _width(found: Judged) -> float:
    return float((found.contrasts.high[:, 1] - found.contrasts.low[:, 1]).mean())


def summarize_position(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest and highest rates over all settings, and what the slope costs or saves."""
    rates = [c["rejection"] for c in cells]
    joint = [c["rejection_all"] for c in cells if c["rejection_all"] is not None]
    half = {
        f"{steep:g}": float(
            np.median([c["half"] for c in cells if c["settings"]["steep"] == steep])
        )
        for steep in STEEP
    }
    return {
        "cells": len(cells),
        "seasons_a_cell": min(c["seasons"] for c in cells),
        "rejection": {"lowest": min(rates), "highest": max(rates)},
        "rejection_all": {"lowest": min(joint), "highest": max(joint)},
        "coverage": {"lowest": min(c["coverage"] for c in cells)},
        "coverage_means": {"lowest": min(c["coverage_means"] for c in cells)},
        "half_width": half,
    }


def position_sections(cells: Sequence[dict[str, Any]]) -> list[Section]:
    """Its part of the page."""
    of = summarize_position(cells)
    told = (
        (
            "Position along the block as covariate, one slope, with a gradient of no, one or "
            f"four plot standard deviations from end to end; a layout drawn anew {LAYOUTS} "
            "times a setting, complete or with a plot lost. The null pair is called "
            "different in "
            f"{_rate(of['rejection']['lowest'])} to {_rate(of['rejection']['highest'])} % of "
            f"seasons; differences are covered in {percent(of['coverage']['lowest'], 1)} or "
            f"more, means in {percent(of['coverage_means']['lowest'], 1)} or more."
        ),
        "What the slope does to the interval of a difference, median setting: "
        + ", ".join(
            f"{fixed(ratio, 2)} times the width without it at a gradient of {steep}"
            for steep, ratio in of["half_width"].items()
        )
        + ".",
    )
    heads = ("Null pair rejected", "All rejected", "Difference missed", "Means missed")
    rows = tuple(
        (
            f"{s['blocks']} x {s['arms']}",
            f"{s['steep']:g}",
            str(s["lost"]),
            s["truth"],
            _rate(c["rejection"]),
            "" if c["rejection_all"] is None else _rate(c["rejection_all"]),
            _rate(1.0 - c["coverage"]),
            _rate(1.0 - c["coverage_means"]),
            fixed(c["half"], 2),
        )
        for c in cells
        for s in (c["settings"],)
    )
    table = Table(
        "Position as covariate, in percent of seasons",
        (
            Column("Blocks x arms"),
            Column("Gradient", numeric=True),
            Column("Plots lost", numeric=True),
            Column("Truth"),
            *(Column(head, numeric=True) for head in heads),
            Column("Width against none", numeric=True),
        ),
        rows,
        note="Width: of the interval of a difference, over the width without the covariate.",
    )
    return [Section("A gradient along the block", (Items(told), table))]


def _rate(share: float) -> str:
    return fixed(100.0 * share, 1)
