"""The search for leaks that nobody noted: how many are found, and how many alarms are false.

Seasons are those of the water study (water_seasons), levels read every week; in one unit of
six a leak, in a week at random, takes ``extra`` times what the unit draws in such a week, as
far as the reservoir holds it. Every season goes through the package's own search. Leans on
water_seasons, study_cells, wickstats.records, numpy and pandas.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pandas as pd
from study_cells import generator
from water_seasons import (
    CAN_L,
    HOLDS,
    MISHAP,
    WEEK_CV,
    WEEKLY,
    WEEKS,
    read_level,
    unit_factors,
)

from wickstats.core.numbers import fixed
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.pages.blocks import Column, Items, Section, Table
from wickstats.records.findings import Findings
from wickstats.records.ground import Ground
from wickstats.records.water_losses import MORE, doubtful_losses

BLOCKS = (3, 6, 8)
EXTRA = (0.0, 1.0, 1.5, 2.0, 3.0)
CV = 0.3
MOST_FALSE = 0.04  # of seasons without a leak
FOUND = {1.0: 0.08, 1.5: 0.35, 2.0: 0.6, 3.0: 0.75}  # bounds that the package sets itself
ARMS = ("hand watering", "capillary wick")


@dataclass(frozen=True, slots=True)
class LeakCell:
    """One setting: blocks of two treatments, and how large leaks are."""

    blocks: int
    extra: float

    @property
    def key(self) -> str:
        """The cell in one line; part of its seed."""
        return f"leaks|{self.blocks}|{self.extra:g}"


def leak_cells() -> list[LeakCell]:
    """Every cell, in a fixed order."""
    return [LeakCell(blocks, extra) for blocks in BLOCKS for extra in EXTRA]


def run_leaks(cell: LeakCell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell: ``found`` of the leaks; seasons with a false alarm."""
    rng = generator(seed, cell.key)
    ground = ground_of(cell.blocks)
    leaks = found = alarms = 0
    for _ in range(seasons):
        periods, leaked = season(cell, rng)
        rows = {p.row for p in doubtful_losses(periods, None, ground) if p.code == MORE}
        true = set(np.flatnonzero(leaked > 0.0).tolist())
        leaks, found = leaks + len(true), found + len(rows & true)
        alarms += bool(rows - true)
    return {
        "settings": asdict(cell),
        "seasons": seasons,
        "leaks": leaks,
        "found": found / leaks if leaks else None,
        "false": alarms / seasons,
    }


def ground_of(blocks: int) -> Ground:
    """Layout and trial file that the search reads."""
    plots = tuple(
        Plot(f"{b}{a}", {"watering": name}, block=str(b), reservoir=f"R{b}{a}")
        for b in range(blocks)
        for a, name in enumerate(ARMS)
    )
    layout = Layout("randomized complete block", ("watering",), plots, "elsewhere")
    levels = tuple({"name": name} for name in ARMS)
    trial = Trial.model_validate(
        {
            "format": 1,
            "trial": {"id": "leaks"},
            "factors": ({"name": "watering", "levels": levels},),
            "design": {"type": "randomized complete block", "layout": "layout.csv"},
        }
    )
    return Ground(trial, layout, Findings())


def season(cell: LeakCell, rng: np.random.Generator) -> tuple[pd.DataFrame, np.ndarray]:
    """Times between two visits as the ledger has them, and what leaked in each."""
    shape = (cell.blocks, 2)
    course = 0.5 + np.sin(np.pi * (np.arange(WEEKS) + 0.5) / WEEKS)
    own = unit_factors(0.1, (cell.blocks, 1), rng) * unit_factors(CV, shape, rng)
    usual = (own * np.array(WEEKLY))[..., None] * course
    draw = usual * unit_factors(WEEK_CV, usual.shape, rng)
    leaky = rng.random(shape) < MISHAP
    week_of = rng.integers(0, WEEKS, shape)
    here = leaky[..., None] & (np.arange(WEEKS) == week_of[..., None])
    leaks = np.where(here, cell.extra * usual, 0.0)
    held, seen = np.zeros(shape), np.zeros(shape)
    rows: list[tuple[Any, ...]] = []
    leaked: list[float] = []
    start = np.datetime64("2025-04-01")
    for week in range(WEEKS + 1):
        if week:
            lost = np.minimum(leaks[..., week - 1], held)
            held = held - lost
            held = held - np.minimum(draw[..., week - 1], held)
            before = read_level(held, rng)
            since = start + np.timedelta64(7 * (week - 1), "D")
            for b, a in np.ndindex(shape):
                unit, row = f"{b}{a}", len(rows)
                told = (since, since + np.timedelta64(7, "D"), seen[b, a] - before[b, a])
                rows.append((unit, unit, *told, 7.0, before[b, a] <= 0.0, "water.csv", row))
                leaked.append(float(lost[b, a]))
        cans = np.maximum(np.rint(10.0 * (HOLDS - 2.0 - held) / CAN_L) / 10.0, 0.0)
        held = held + cans * CAN_L
        seen = read_level(held, rng)
    heads = ["unit", "vessel", "from", "to", "lost_l", "days", "emptied", "file", "row"]
    return pd.DataFrame(rows, columns=heads), np.array(leaked)


def leak_sections(cells: Sequence[dict[str, Any]]) -> list[Section]:
    """Its part of the page."""
    rows = tuple(
        (
            str(c["settings"]["blocks"]),
            f"{c['settings']['extra']:g}",
            "" if c["found"] is None else fixed(100.0 * c["found"], 0),
            fixed(100.0 * c["false"], 1),
        )
        for c in cells
    )
    told = (
        "Leaks that nobody noted, looked for in every week of every reservoir: how large a "
        "leak is, as a multiple of what the unit draws in such a week, decides whether it is "
        "found. One that takes as much again hides among dry weeks and thirsty plants."
    )
    table = Table(
        "The search for leaks: leaks found, and seasons with a false alarm, in percent",
        (
            Column("Blocks", numeric=True),
            Column("Leak, weeks' use", numeric=True),
            Column("Found", numeric=True),
            Column("Seasons with a false alarm", numeric=True),
        ),
        rows,
    )
    return [Section("Leaks that nobody noted", (Items((told,)), table))]


def summarize_leaks(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest share found by size of the leak; most false alarms."""
    return {
        "cells": len(cells),
        "found": {
            f"{extra:g}": min(c["found"] for c in cells if c["settings"]["extra"] == extra)
            for extra in EXTRA
            if extra
        },
        "false": max(c["false"] for c in cells if not c["settings"]["extra"]),
    }
