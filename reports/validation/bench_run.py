"""The bench study: tables of readings with known truth, through the package's own summaries.

Seasons are tables of readings as a crew writes them (minutes, millimeters on a scale of one,
milliliters on a scale of a tenth, temperatures, cups without a cord); each goes through the
same code as ``analyze``: series, one number a piece or coil, strata. Writes bench.json:

    nice -n 10 python reports/validation/bench_run.py [--seasons 2000] [--out FILE]

Leans on study_cells, wickstats.analysis, numpy and pandas.
"""

import argparse
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from study_cells import generator

from wickstats.analysis.bench import bench_summaries, pieces_of
from wickstats.analysis.bench_spread import piece_scatter
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.units import Units, lay_out_units
from wickstats.core.capillary import to_reference
from wickstats.design.trial import Response, Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.season import Season

Array = np.ndarray

SEED = 20251126
LEVEL = 0.95
TOP_MM = 200.0
HEIGHT_MIN = np.array([1.0, 2, 4, 6, 10, 20, 40, 60, 90])
VOLUME_MIN = np.array([60.0, 240, 480, 1440])
EVAPORATION, RUN_C, PIECE_C = 0.06, 2.0, 0.4
READING_CV = 0.01
COVER, REJECT = 0.93, 0.065
TWO_AT_TOP = (150.0, 150.0, 260.0, 300.0)


@dataclass(frozen=True, slots=True)
class BenchCell:
    """One setting.

    ``kind`` flow or rise; ``centers``: mL/h or mm at an hour of each treatment (cords where
    ``coils``, else of pieces); ``washed``: factor of the second treatment of pieces where
    coils were cut for it (0: pieces have no treatment); ``lost``: pieces not read.
    """

    name: str
    kind: str
    runs: int
    centers: tuple[float, ...]
    piece_cv: float
    coils: int = 0
    coil_cv: float = 0.0
    washed: float = 0.0
    lost: int = 0


CELLS = (
    BenchCell("flow, no difference", "flow", 4, (2.0, 2.0), 0.15),
    BenchCell("flow, half as much again", "flow", 6, (2.0, 3.0), 0.3),
    BenchCell("flow, coils, no difference", "flow", 3, (2.0, 2.0), 0.12, 2, 0.15, 1.0),
    BenchCell("flow, coils, both differ", "flow", 4, (2.0, 3.0), 0.12, 3, 0.15, 1.3),
    BenchCell("flow, coils and lost pieces", "flow", 4, (2.0, 2.0), 0.12, 3, 0.15, 1.0, 2),
    BenchCell("flow, cords only, a lost piece", "flow", 4, (2.0, 2.0), 0.15, 3, 0.1, 0.0, 1),
    BenchCell("rise, no difference, below the top", "rise", 5, (120.0, 120.0), 0.08),
    BenchCell("rise, no difference, half at the top", "rise", 6, (200.0, 200.0), 0.1),
    BenchCell("rise, one near the top", "rise", 6, (150.0, 190.0), 0.1),
    BenchCell(
        "rise, a null pair beside two at the top", "rise", 5, (150.0, 150.0, 260.0, 300.0), 0.1
    ),
    BenchCell(
        "rise, coils, a null pair beside two at the top",
        "rise",
        3,
        TWO_AT_TOP,
        0.08,
        3,
        0.05,
        1.0,
    ),
    BenchCell(
        "rise, two coils each, two at the top", "rise", 4, TWO_AT_TOP, 0.08, 2, 0.05, 1.0
    ),
    BenchCell("rise, coils near the top", "rise", 3, (185.0, 185.0), 0.08, 3, 0.05, 1.0),
)


def trial_of(cell: BenchCell) -> tuple[Trial, Layout, Units]:
    """The trial of a setting, its layout and units; none of them changes with the season."""
    levels = [f"t{k + 1}" for k in range(len(cell.centers))]
    inner = ("no", "yes") if cell.washed else ("no",)
    split = bool(cell.coils and cell.washed)
    treated = [("cord", "coil" if cell.coils else "piece", levels)]
    if split:
        treated.append(("washing", "piece", list(inner)))
    factors = tuple(
        {"name": name, "applied_to": tier, "levels": tuple({"name": v} for v in own)}
        for name, tier, own in treated
    )
    design = "split-plot" if split else "randomized complete block"
    names = tuple(name for name, _, _ in treated)
    plots = []
    for run in range(1, cell.runs + 1):
        for a, level in enumerate(levels):
            for c in range(max(cell.coils, 1)):
                for wash in inner:
                    held = {"cord": level, "washing": wash} if split else {"cord": level}
                    coil = f"{a}.{c}" if cell.coils else None
                    plots.append(
                        Plot(
                            f"{run}-{a}-{c}-{wash}",
                            held,
                            block=str(run),
                            run=str(run),
                            coil=coil,
                            whole_plot=coil if split else None,
                        )
                    )
    response: dict[str, Any] = {"name": cell.kind, "kind": cell.kind}
    if cell.kind == "rise":
        response |= {"measure": "height at 60 min", "top_mm": TOP_MM}
    else:
        response |= {"temperature": "to 20 degC", "scale": "log"}
    trial = Trial.model_validate(
        {
            "format": 1,
            "trial": {"id": "bench-study", "place": "bench"},
            "factors": factors,
            "design": {
                "type": design,
                "layout": "layout.csv",
                "drawn": "elsewhere",
                "evaporation_controls": 1,
            },
            "responses": (response,),
        }
    )
    tiers = {"cord": "whole plot" if split else "coil" if cell.coils else "piece"}
    if split:
        tiers["washing"] = "subplot"
    layout = Layout(design, names, tuple(plots), "elsewhere", applied_to=tiers)
    return trial, layout, lay_out_units(trial, layout)


def factor(cv: float, size: int, rng: np.random.Generator) -> Array:
    """Log-normal with median 1 and that coefficient of variation."""
    return np.exp(np.sqrt(np.log1p(cv * cv)) * rng.standard_normal(size))


def true_pieces(cell: BenchCell, layout: Layout, rng: np.random.Generator) -> Array:
    """What each piece does: mL/h at 20 degC, or mm at an hour."""
    arms = np.array([int(p.plot.split("-")[1]) for p in layout.plots])
    out = np.array(cell.centers)[arms] * factor(cell.piece_cv, arms.size, rng)
    if cell.coils:
        coil = np.array([int(p.plot.split("-")[2]) for p in layout.plots])
        own = factor(cell.coil_cv, len(cell.centers) * cell.coils, rng)
        out *= own[arms * cell.coils + coil]
    if cell.washed:
        washed = np.array([p.plot.endswith("yes") for p in layout.plots])
        out *= np.where(washed, cell.washed, 1.0)
    return out


def readings(
    cell: BenchCell, layout: Layout, true: Array, rng: np.random.Generator
) -> pd.DataFrame:
    """The table that the crew would write, with the columns that reading a file gives."""
    minutes = HEIGHT_MIN if cell.kind == "rise" else VOLUME_MIN
    kept = np.sort(rng.permutation(true.size)[cell.lost :])
    runs = np.array([p.run for p in layout.plots], dtype=object)
    warm = 20.0 + RUN_C * rng.standard_normal(cell.runs)
    own = warm[np.array([int(r) - 1 for r in runs])] + PIECE_C * rng.standard_normal(true.size)
    error = 1.0 + READING_CV * rng.standard_normal((true.size, minutes.size))
    names = np.array([p.plot for p in layout.plots], dtype=object)
    blank = np.full((true.size, minutes.size), np.nan)
    if cell.kind == "rise":
        grown = true[:, None] * np.sqrt(minutes / 60.0) * error
        height, volume = np.minimum(np.round(grown), TOP_MM), blank
        top = (grown >= TOP_MM).astype(object)
    else:
        hourly = true / np.array([to_reference(t) for t in own])
        lost = EVAPORATION * (1.0 + 0.05 * rng.standard_normal((true.size, 1)))
        volume = (hourly[:, None] * error + lost) * minutes / 60.0
        height, volume, top = blank, np.round(volume, 1), np.full(blank.shape, None)
    frame = _frame(
        runs[kept], names[kept], minutes, height[kept], top[kept], volume[kept], own[kept]
    )
    if cell.kind == "rise":
        return frame
    cups = np.array([str(r + 1) for r in range(cell.runs)], dtype=object)
    dry = np.round(np.tile(EVAPORATION * minutes / 60.0, (cell.runs, 1)), 2)
    nothing = np.full(dry.shape, np.nan)
    controls = _frame(
        cups,
        np.full(cell.runs, "control", dtype=object),
        minutes,
        nothing,
        np.full(dry.shape, None),
        dry,
        warm,
    )
    return pd.concat([frame, controls], ignore_index=True)


def _frame(
    runs: Array,
    plots: Array,
    minutes: Array,
    height: Array,
    top: Array,
    volume: Array,
    t: Array,
) -> pd.DataFrame:
    each = minutes.size
    return pd.DataFrame(
        {
            "run": np.repeat(runs, each),
            "plot": np.repeat(plots, each),
            "minutes": np.tile(minutes, plots.size),
            "height_mm": height.ravel(),
            "reached_top": top.ravel(),
            "volume_ml": volume.ravel(),
            "head_mm": np.nan,
            "temperature_c": np.repeat(np.round(t, 1), each),
        }
    )


def contrasts_of(cell: BenchCell, units: Units) -> dict[str, Array]:
    """What is judged: cords (the first two treatments), and washing."""
    first = np.zeros(units.n_cells)
    outer = units.level_codes(0)
    n = float((outer == 0).sum())
    first[outer == 1], first[outer == 0] = 1.0 / n, -1.0 / n
    found = {"cords" if cell.coils else "treatments": first}
    if cell.coils and cell.washed:
        inner = units.level_codes(1)
        half = float((inner == 0).sum())
        found["washing"] = np.where(inner == 1, 1.0, -1.0) / half
    return found


def truth_of(cell: BenchCell, layout: Layout, units: Units, weights: Array, seed: int) -> float:
    """The contrast's true value on the model's scale; of heights, up to the top."""
    if cell.kind == "flow":
        means = np.log(cell.centers)[units.level_codes(0)]
        if cell.coils and cell.washed:
            means = means + np.log(cell.washed) * units.level_codes(1)
        return float(weights @ means)
    rng = np.random.default_rng(seed)
    size = 400_000
    sizes = []
    for k in range(units.n_cells):
        center = cell.centers[int(units.level_codes(0)[k])]
        grown = center * factor(cell.piece_cv, size, rng) * factor(cell.coil_cv, size, rng)
        if cell.washed and units.level_codes(1)[k]:
            grown *= cell.washed
        sizes.append(float(np.minimum(grown, TOP_MM).mean()))
    return float(weights @ np.array(sizes))


def run_bench(cell: BenchCell, seasons: int, seed: int = SEED) -> dict[str, Any]:
    """Simulate and judge one setting."""
    rng = generator(seed, f"bench:{cell.name}")
    trial, layout, units = trial_of(cell)
    asked = contrasts_of(cell, units)
    truths = {k: truth_of(cell, layout, units, w, seed) for k, w in asked.items()}
    kept: dict[str, list[float]] = {}
    for _ in range(seasons):
        true = true_pieces(cell, layout, rng)
        table = readings(cell, layout, true, rng)
        season = Season(layout, {"readings": table}, (), (), ())
        for name, value in _judged(cell, trial.responses[0], season, units, asked, truths):
            kept.setdefault(name, []).append(value)
    rates = {}
    for name, values in kept.items():
        known = [v for v in values if v == v]
        rates[name] = {"rate": float(np.mean(known)) if known else None, "judged": len(known)}
    return {"settings": asdict(cell), "seasons": seasons, "truths": truths, "rates": rates}


def _judged(
    cell: BenchCell,
    response: Response,
    season: Season,
    units: Units,
    asked: dict[str, Array],
    truths: dict[str, float],
) -> Iterator[tuple[str, float]]:
    main, _ = bench_summaries(response, season, units)
    line = None if main is None else fit_line(units, main, LEVEL)
    if line is None:
        return
    for name, weights in asked.items():
        found = line.contrast(weights)
        if found.low is None or found.high is None or found.estimate is None:
            yield f"{name}: not judged", 1.0
            continue
        truth = truths[name]
        yield f"{name}: bias", found.estimate - truth
        yield f"{name}: covered", float(found.low <= truth <= found.high)
        null = cell.washed == 1.0 if name == "washing" else cell.centers[0] == cell.centers[1]
        if null:
            yield f"{name}: rejected", float(found.p is not None and found.p < 1 - LEVEL)
    if cell.kind == "flow":
        plots = {p.plot: p for p in season.layout.plots}
        spread = piece_scatter(pieces_of(response, season), plots, units)
        if spread.low is not None and spread.high is not None:
            sd = float(np.sqrt(np.log1p(cell.piece_cv**2)))
            yield "between pieces: covered", float(spread.low <= sd <= spread.high)


def main() -> None:
    """Run every setting and write bench.json."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seasons", type=int, default=2_000)
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("bench.json"))
    options = parser.parse_args()
    cells = []
    for cell in CELLS:
        cells.append(run_bench(cell, options.seasons))
        print(cell.name, {k: v["rate"] for k, v in cells[-1]["rates"].items()}, flush=True)
    text = json.dumps({"seed": SEED, "cells": cells}, indent=1, sort_keys=True)
    options.out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
