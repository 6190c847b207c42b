"""Shares alive where visits miss plots and plants: rejection, coverage and bias.

Plants die at a constant rate of their plot and are looked for in six rounds, thirty days
apart; the share alive is asked for at the last one. In every round a plot is missed with a
chance that may differ by treatment, a plant of a visited plot is not found with another.
What is dead is written down again in every round, or once only, so that a plot all dead has
no later visit. Each season goes through what the analysis itself takes as known. Beside it
what would come of keeping all that is known: dead plants of missed plots, but not the living.
Leans on study_cells and the package's simulator, analysis and batch engine.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from study_cells import generator

from wickstats.analysis.known import known_at
from wickstats.analysis.lives import Lives
from wickstats.analysis.rounds import Rounds
from wickstats.analysis.units import Units, lay_out_units
from wickstats.design.trial import Design, Factor, Level, Trial, TrialHead
from wickstats.layout.plots import Layout, Plot
from wickstats.models.batch.dispersion import judge_shares
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.results import Judged
from wickstats.models.batch.strata import judge_patterns
from wickstats.simulate.shares import beta_chances, times_of_death

BLOCKS = (3, 4, 6, 8)
PLANTS = (4, 8)
CORRELATIONS = (0.1, 0.3)
SURVIVALS = (0.3, 0.6, 0.9)
MISSED = ((0.1, 0.1), (0.3, 0.3), (0.0, 0.3))
NOT_FOUND = 0.1
ROUNDS = np.arange(30.0, 181.0, 30.0)
SEASONS = 2_000
ARMS = ("first", "second")
MOST, COVER = 0.065, 0.92
CONTRAST = np.array([[1.0, -1.0]])


@dataclass(frozen=True, slots=True)
class MissedCell:
    """One setting.

    Attributes
    ----------
    missed
        Chance that a round misses a plot, by treatment.
    not_found
        Chance that a plant of a visited plot is not found in a round.
    written
        every round, or once: when dead plants are written down.
    survival
        Share alive at the end, by treatment.
    """

    blocks: int
    plants: int
    correlation: float
    survival: tuple[float, float]
    missed: tuple[float, float]
    not_found: float
    written: str

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        return (
            f"missed|{self.blocks}x{self.plants}|{self.correlation:g}|{self.survival}"
            f"|{self.missed}|{self.not_found:g}|{self.written}"
        )

    @property
    def is_null(self) -> bool:
        """Whether the treatments are alike."""
        return self.survival[0] == self.survival[1]

    def settings(self) -> dict[str, Any]:
        """All settings as plain values."""
        plain = asdict(self)
        return {k: list(v) if isinstance(v, tuple) else v for k, v in plain.items()}


def missed_cells() -> list[MissedCell]:
    """Every cell, in a fixed order."""
    sizes = [(b, m, r) for b in BLOCKS for m in PLANTS for r in CORRELATIONS]
    alike = [(p, p) for p in SURVIVALS]
    plots = [
        MissedCell(*size, levels, missed, 0.0, written)
        for size in sizes
        for missed in MISSED
        for written in ("every round", "once")
        for levels in (*alike, (0.3, 0.7))
    ]
    plants = [
        MissedCell(*size, levels, (0.1, 0.3), NOT_FOUND, "once")
        for size in sizes
        if size[0] in (3, 6)
        for levels in alike
    ]
    return plots + plants


@lru_cache(maxsize=8)
def units_of(blocks: int, plants: int) -> Units:
    """Units of a randomized complete block trial of two treatments."""
    levels = tuple(Level(name=name, reference=name == ARMS[0]) for name in ARMS)
    trial = Trial(
        format=1,
        trial=TrialHead(id="study"),
        factors=(Factor(name="treatment", applied_to="plot", levels=levels),),
        design=Design(type="randomized complete block", layout="layout.csv", drawn="elsewhere"),
        responses=(),
    )
    plots = tuple(
        Plot(plot=f"{b}{name}", block=str(b), plants=plants, levels={"treatment": name})
        for b in range(blocks)
        for name in ARMS
    )
    layout = Layout(
        type=trial.design.type, factors=("treatment",), plots=plots, drawn="elsewhere"
    )
    return lay_out_units(trial, layout)


def draw_lives(cell: MissedCell, units: Units, rng: np.random.Generator) -> Lives:
    """One season as the crew wrote it down."""
    n, m = units.n, cell.plants
    chance = beta_chances(rng, 1, np.array(cell.survival)[units.cells], cell.correlation)
    dies = times_of_death(rng, chance, m)[0][:, :, None] * ROUNDS[-1]
    went = rng.random((n, ROUNDS.size)) >= np.array(cell.missed)[units.cells][:, None]
    looked = went[:, None, :] & (rng.random((n, m, ROUNDS.size)) >= cell.not_found)
    low = np.where(looked & (dies > ROUNDS), ROUNDS, 0.0).max(axis=2)
    high = np.where(looked & (dies <= ROUNDS), ROUNDS, np.inf).min(axis=2)
    visited = went
    if cell.written == "once":
        visited = went & (high[:, :, None] >= ROUNDS).any(axis=1)
    day, unit = np.nonzero(visited.T)
    seen = np.where(np.isfinite(high), high, low).ravel()
    names = tuple(str(k) for k in range(n * m))
    return Lives(
        units=np.repeat(np.arange(n), m),
        low=low.ravel(),
        high=high.ravel(),
        planted=np.zeros(n * m),
        doubtful=np.full(n * m, np.nan),
        last_seen=seen,
        cause=(None,) * (n * m),
        fate=("alive",) * (n * m),
        origin=pd.Timestamp("2025-03-01"),
        plots=names,
        plants=names,
        rounds=Rounds(unit.astype(np.int64), ROUNDS[day]),
        replaced=0,
    )


def run_missed(cell: MissedCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    ``rejection`` of equal treatments, ``coverage`` and ``bias`` of the difference (estimate
    less truth), over the ``judged`` seasons; ``known`` units a season on average. ``kept``:
    the same where the dead of missed plots count and their living plants do not.
    """
    rng = generator(seed, cell.key)
    units = units_of(cell.blocks, cell.plants)
    many = min(seasons, SEASONS // 2 if cell.not_found else SEASONS)
    share, plants, alive, both = (np.zeros((many, units.n)) for _ in range(4))
    for s in range(many):
        found = known_at(float(ROUNDS[-1]), draw_lives(cell, units, rng), units)
        share[s], plants[s] = found.share, found.plants
        alive[s], both[s] = found.counts.alive, found.counts.alive + found.counts.dead
    present = np.isfinite(share)
    layout = lay_batch(units.cells, 2, contrasts=CONTRAST, blocks=units.block_codes)
    ours = judge_seasons(layout, units, np.where(present, share, 0.0) * plants, plants, present)
    naive = judge_seasons(layout, units, alive, both, both > 0)
    truth = cell.survival[0] - cell.survival[1]
    return {
        "settings": cell.settings(),
        "seasons": many,
        **_rates(ours, truth, null=cell.is_null),
        "known": float(present.sum(axis=1).mean()),
        "units": units.n,
        "kept": _rates(naive, truth, null=cell.is_null),
    }


def judge_seasons(
    layout: BatchLayout,
    units: Units,
    alive: np.ndarray,
    plants: np.ndarray,
    present: np.ndarray,
) -> Judged:
    """Judge all seasons; blocks are put in the order of what is left of them.

    Their order says nothing, and seasons that lost alike are then judged at once.
    """
    pairs = np.lexsort((units.cells, units.block_codes)).reshape(-1, 2)  # by block, then arm
    kinds = present[:, pairs] @ np.array([1, 2])
    order = pairs[np.argsort(kinds, axis=1, kind="stable")].reshape(len(present), -1)
    moved = np.empty_like(order)
    moved[:, pairs.ravel()] = order
    x, m, there = (np.take_along_axis(a, moved, axis=1) for a in (alive, plants, present))

    def one(left: BatchLayout, which: np.ndarray, units: np.ndarray) -> Judged:
        at = np.ix_(which, units)
        if left.geometry.df == 0 or not left.contrasts.estimable.all():
            return Judged.empty(which.size, 1, 0)
        return judge_shares(left, x[at], m[at])

    return judge_patterns(layout, there, one)


def _rates(judged: Judged, truth: float, *, null: bool) -> dict[str, Any]:
    found = judged.contrasts
    there = found.judged[:, 0]
    p, low, high, estimate = (
        getattr(found, name)[there, 0] for name in ("p", "low", "high", "estimate")
    )
    return {
        "judged": int(there.sum()),
        "rejection": float((p < 0.05).mean()) if null else None,
        "coverage": float(((low <= truth) & (truth <= high)).mean()),
        "bias": float(estimate.mean() - truth),
        "bias_error": float(estimate.std(ddof=1) / np.sqrt(max(there.sum(), 1))),
    }


def summarize_missed(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Highest rejection, lowest coverage, largest bias: ours, and with the dead kept."""
    null = [c for c in cells if c["rejection"] is not None]
    most = max(null, key=lambda c: c["rejection"])
    least = min(cells, key=lambda c: c["coverage"])
    written = [c for c in cells if c["settings"]["written"] == "every round"]
    furthest = max(cells, key=lambda c: abs(c["bias"]))
    return {
        "cells": len(cells),
        "seasons_a_cell": min(c["seasons"] for c in cells),
        "highest_rejection": most["rejection"],
        "highest_cell": most["settings"],
        "over_6_percent": sum(c["rejection"] > 0.06 for c in null),
        "lowest_coverage": least["coverage"],
        "lowest_cell": least["settings"],
        "largest_bias": furthest["bias"],
        "largest_bias_cell": furthest["settings"],
        "largest_bias_written": max((c["bias"] for c in written), key=abs),
        "kept_rejection": max(c["kept"]["rejection"] for c in null),
        "kept_coverage": min(c["kept"]["coverage"] for c in cells),
        "kept_bias": max((c["kept"]["bias"] for c in cells), key=abs),
    }
