"""Power claimed against power reached, and rejection after a blind second year.

Claimed: what the package says before planting, the noncentral t for sizes and its simulated
seasons for shares and counts. Reached: other seasons, drawn here by other code and judged by
the batch engine. Leans on study_cells, the package's sizing and batch engine.
"""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import stdtr
from study_cells import generator

from wickstats.design.read import parse_trial
from wickstats.layout.randomize import draw
from wickstats.models.batch.bounds import bounded_limits
from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.families import simultaneous
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.strata import judge_units
from wickstats.models.power import t_detectable
from wickstats.sizing.adapted import adapted
from wickstats.sizing.plan import plan_power
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.run import Means, parts_for, simulate
from wickstats.sizing.seasons import Work, work_of

BLOCKS = (3, 4, 6, 8)
FIRST_YEARS = (3, 4, 5, 6, 7, 8)
PLANTS, CORRELATION, CV = 8, 0.1, 0.2
CHUNK = 5_000
TARGET, MOST = 0.8, 60
NAMES = ("hand", "wick", "drip", "pot")
TEXT = """\
format: 1
trial: {{id: claimed, season: {{start: 2027-03-15, end: 2027-10-11}}}}
factors: {{watering: [{levels}]}}
design:
  type: randomized complete block
  blocks: {blocks}
  plants_per_plot: {plants}
  layout: l.csv
responses:
  - {response}
plan:
  primary: it
  comparisons: [{{factor: watering, compare: {compare}, adjustment: {adjustment}}}]
power: {{assume: {{it: {assume}}}}}
"""
RESPONSES = {
    "size": "{name: it, kind: measurement, column: g, measured_in: g}",
    "share": "{name: it, kind: survival, at: 2027-10-11}",
    "count": "{name: it, kind: count, column: count}",
}


@dataclass(frozen=True, slots=True)
class ClaimCell:
    """The second arm against the first; further arms are as the first."""

    kind: str
    blocks: int
    arms: int
    adjustment: str
    first: float
    second: float

    @property
    def key(self) -> str:
        """Names the cell."""
        return "|".join(str(v) for v in asdict(self).values())

    def settings(self) -> dict[str, Any]:
        """For the stored file."""
        return asdict(self)

    @property
    def levels(self) -> list[float]:
        """Of every arm."""
        return [self.first, self.second, *([self.first] * (self.arms - 2))]


@dataclass(frozen=True, slots=True)
class SecondCell:
    """A first year of so many blocks; the true SD in units of what matters."""

    blocks: int
    arms: int
    sd: float

    @property
    def key(self) -> str:
        """Names the cell."""
        return f"second|{self.blocks}|{self.arms}|{self.sd}"

    def settings(self) -> dict[str, Any]:
        """For the stored file."""
        return asdict(self)


def claim_cells() -> list[ClaimCell]:
    """All of them."""
    sizes = [
        ClaimCell("size", b, arms, adjustment, 10.0, 10.0 + step)
        for b in BLOCKS
        for arms, adjustment in ((2, "none"), (3, "dunnett"), (3, "tukey"), (4, "holm"))
        for step in (1.5, 3.0)
    ]
    others = [
        ClaimCell(kind, b, arms, "none", *pair)
        for kind, pairs in (
            ("share", ((0.5, 0.8), (0.6, 0.9))),
            ("count", ((20.0, 28.0), (20.0, 36.0))),
        )
        for b in BLOCKS
        for arms in (2, 3)
        for pair in pairs
    ]
    return sizes + others


def second_cells() -> list[SecondCell]:
    """All of them."""
    return [
        SecondCell(b, t, sd) for b in FIRST_YEARS for t in (2, 3, 4) for sd in (0.5, 1.0, 1.5)
    ]


def run_claim(cell: ClaimCell, seasons: int, seed: int) -> dict[str, Any]:
    """Claimed and reached power of one cell."""
    return {
        "settings": cell.settings(),
        "seasons": seasons,
        "claimed": claimed(cell, seasons),
        "reached": reached(cell, seasons, seed),
    }


def claimed(cell: ClaimCell, seasons: int) -> float:
    """What the package says."""
    levels = ", ".join(
        f"{{name: {n}{', reference: true' if k == 0 else ''}}}"
        for k, n in enumerate(NAMES[: cell.arms])
    )
    means = ", ".join(f"{n}: {v}" for n, v in zip(NAMES, cell.levels, strict=False))
    assume = {
        "size": f"{{mean: {{{means}}}, plot_sd: 1, plant_sd: 1}}",
        "share": f"{{alive_at_end: {{{means}}}, plot_correlation: {CORRELATION}, "
        "block_correlation: 0}",
        "count": f"{{mean: {{{means}}}, plot_cv: {CV}}}",
    }[cell.kind]
    pairs = cell.adjustment in ("tukey", "holm")
    text = TEXT.format(
        levels=levels,
        blocks=cell.blocks,
        plants=PLANTS,
        response=RESPONSES[cell.kind],
        compare="all pairs" if pairs else "each with the reference",
        adjustment=cell.adjustment,
        assume=assume,
    )
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    if cell.kind == "size":
        row = next(r for r in plan_power(trial).rows if r.note.startswith("power"))
        return float(row.power or 0.0)
    layout = draw(trial, 1)
    sizes = sizes_of(trial, layout)
    if isinstance(sizes, str):
        raise TypeError(sizes)
    what = adapted(trial, trial.responses[0], sizes)
    work = "" if isinstance(what, str) else work_of(trial, layout, "it", what)
    if not isinstance(work, Work):
        raise TypeError(work)
    tally = simulate([work], [parts_for(seasons)], Means()).tallies[0]
    return tally.chance(0) if tally is not None else 0.0


def reached(cell: ClaimCell, seasons: int, seed: int) -> float:
    """Share of other seasons in which the second arm is told from the first."""
    rng = generator(seed, f"claim|{cell.key}")
    t, eye = cell.arms, np.eye(cell.arms)
    pairs = [(j, i) for i in range(t) for j in range(i + 1, t)]
    if cell.adjustment in ("none", "dunnett"):
        pairs = [(j, 0) for j in range(1, t)]
    rows = np.array([eye[j] - eye[i] for j, i in pairs])
    cells = np.tile(np.arange(t), cell.blocks)
    blocks = np.repeat(np.arange(cell.blocks), t)
    layout = lay_batch(cells, t, contrasts=rows, blocks=blocks)
    shown = 0
    for start in range(0, seasons, CHUNK):
        size = min(CHUNK, seasons - start)
        low, high = _limits(cell, layout, blocks, size, rng)
        shown += int(((low > 0.0) | (high < 0.0)).sum())
    return shown / seasons


def _limits(
    cell: ClaimCell,
    layout: BatchLayout,
    blocks: np.ndarray,
    size: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Of the first contrast."""
    level = np.array(cell.levels)[layout.geometry.cells]
    shape = (size, level.size)
    if cell.kind == "size":
        y = level + 2.0 * rng.standard_normal((size, cell.blocks))[:, blocks]
        y = y + rng.standard_normal((*shape, PLANTS)).mean(axis=2) + rng.standard_normal(shape)
        method = {"holm": "bonferroni"}.get(cell.adjustment, cell.adjustment)
        found = simultaneous(layout, judge_units(layout, y).contrasts, method)  # type: ignore[arg-type]
        return found[0][:, 0], found[1][:, 0]
    if cell.kind == "share":
        a = (1.0 - CORRELATION) / CORRELATION
        chance = rng.beta(level * a, (1.0 - level) * a, size=shape)
        alive = (rng.random((*shape, PLANTS)) < chance[:, :, None]).sum(axis=2) * 1.0
        plants = np.full(shape, float(PLANTS))
        line = judge_shares(layout, alive, plants).contrasts
        low, high, of_bound = bounded_limits(
            layout, alive, plants, layout.contrasts.weights[0], line.estimate[:, 0],
            level=1.0 - 0.05 / len(layout.contrasts.rows), planned=CORRELATION,
        )  # fmt: skip
        return (
            np.where(of_bound, low, line.low[:, 0]),
            np.where(of_bound, high, line.high[:, 0]),
        )
    sd = float(np.sqrt(np.log1p(CV**2)))
    tied = sd * rng.standard_normal((size, cell.blocks))[:, blocks] - 0.5 * sd**2
    own = sd * rng.standard_normal(shape) - 0.5 * sd**2
    counts = rng.poisson(level * np.exp(tied + own)).astype(float)
    line = judge_counts(layout, counts).contrasts
    return line.low[:, 0], line.high[:, 0]


def run_second(cell: SecondCell, trials: int, seed: int) -> dict[str, Any]:
    """Rejection of a true null pair, and power at what matters, after a blind second year.

    The first year's within-block total mean square sets the number of blocks in all; both
    years are then fitted together, blocks fixed. Drawn by treatments' means and sums of
    squares, which is all that normal plots leave to chance.
    """
    rng = generator(seed, cell.key)
    out: dict[str, Any] = {"settings": cell.settings(), "trials": trials}
    for name, difference in (("rejection", 0.0), ("power", 1.0)):
        told, blocks = _second_trials(cell, difference, trials, rng)
        out[name] = float((told < 0.05).mean())
        out[f"{name}_blocks"] = float(blocks.mean())
    return out


def _second_trials(
    cell: SecondCell, difference: float, trials: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    b, t, sd = cell.blocks, cell.arms, cell.sd
    effects = np.zeros(t)
    effects[1] = difference
    means = effects + sd / np.sqrt(b) * rng.standard_normal((trials, t))
    rss = sd**2 * rng.chisquare((b - 1) * (t - 1), trials)
    centered = means - means.mean(axis=1, keepdims=True)
    blind = np.sqrt((rss + b * np.sum(centered**2, axis=1)) / (b * (t - 1)))
    whole = np.maximum(_blocks(blind, t), b)
    more = whole - b
    later = effects + sd / np.sqrt(np.maximum(more, 1))[:, None] * rng.standard_normal(
        (trials, t)
    )
    df = (more - 1) * (t - 1)
    extra = np.where(df > 0, sd**2 * rng.chisquare(np.maximum(df, 1)), 0.0)
    apart = means - later
    apart = apart - apart.mean(axis=1, keepdims=True)
    between = b * more / whole * np.sum(apart**2, axis=1)
    later = np.where(more[:, None] > 0, later, means)
    both = (b * means + more[:, None] * later) / whole[:, None]
    squares = rss + np.where(more > 0, extra + between, 0.0)
    df_all = (whole - 1) * (t - 1)
    se = np.sqrt(2.0 * squares / df_all / whole)
    p = 2.0 * stdtr(df_all, -np.abs(both[:, 1] - both[:, 0]) / se)
    return p, whole


def _blocks(sd: np.ndarray, arms: int) -> np.ndarray:
    """Fewest blocks that show a difference of 1 with 80 % at that SD."""
    sizes = np.arange(2, MOST + 1)
    smallest = np.array(
        [
            t_detectable(float(np.sqrt(2.0 / n)), float((n - 1) * (arms - 1)), power=TARGET)
            for n in sizes
        ]
    )
    return np.asarray(sizes[np.minimum(np.searchsorted(-smallest, -1.0 / sd), sizes.size - 1)])


def summarize_power(
    claims: list[dict[str, Any]], second: list[dict[str, Any]]
) -> dict[str, Any]:
    """What may be quoted."""
    gaps = {
        kind: max(
            abs(c["claimed"] - c["reached"]) for c in claims if c["settings"]["kind"] == kind
        )
        for kind in RESPONSES
    }
    rates = [c["rejection"] for c in second]
    return {
        "cells": len(claims),
        "seasons_a_cell": min(c["seasons"] for c in claims),
        "largest_gap": gaps,
        "second_year": {
            "cells": len(second),
            "trials_a_cell": min(c["trials"] for c in second),
            "rejection": [min(rates), max(rates)],
            "power": [min(c["power"] for c in second), max(c["power"] for c in second)],
            "highest": max(second, key=lambda c: c["rejection"])["settings"],
        },
        "claims": claims,
        "second": second,
    }
