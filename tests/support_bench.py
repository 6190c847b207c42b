"""Bench trials with known truth: a trial text, layouts, and tables of readings."""

from pathlib import Path

import numpy as np
import pandas as pd

import wickstats as ws
from wickstats.design.trial import Trial

HEAD = """
format: 1
trial: {{id: bench-test, place: bench}}
factors:
{factors}
design: {{type: {type}, layout: layout.csv, drawn: elsewhere{design}}}
records: {{readings: readings.csv}}
responses:
{responses}
"""
CORD = "  cord: {applied_to: coil, levels: [{name: A, reference: true}, {name: B}]}"
WASHED = "  washing: {applied_to: piece, levels: [{name: no, reference: true}, {name: yes}]}"
FLOW = "  - {name: flow, kind: flow, scale: log, better: more}"
RISE = "  - {name: rise, kind: rise, measure: height at 60 min, top_mm: 200, better: more}"


def bench_trial(
    folder: Path,
    factors: str = WASHED,
    kind: str = "randomized complete block",
    responses: str = FLOW,
    design: str = "",
) -> Trial:
    """A trial file on disk, read."""
    text = HEAD.format(factors=factors, type=kind, responses=responses, design=design)
    (folder / "trial.yaml").write_text(text, encoding="utf-8")
    return ws.read_trial(folder / "trial.yaml")


def coil_layout(coils: int, runs: int, inner: tuple[str, ...] = ("no", "yes")) -> pd.DataFrame:
    """Coils of A and B, each cut for every run and treatment of pieces."""
    rows = []
    for run in range(1, runs + 1):
        for coil in range(2 * coils):
            cord = "A" if coil < coils else "B"
            for k, level in enumerate(inner):
                piece = f"{run}-{coil}-{k}"
                rows.append((piece, run, f"c{coil}", cord, level))
    frame = pd.DataFrame(rows, columns=["plot", "run", "coil", "cord", "washing"])
    return frame if len(inner) > 1 else frame.drop(columns="washing")


def run_layout(runs: int, levels: tuple[str, ...] = ("no", "yes")) -> pd.DataFrame:
    """A piece of each treatment in every run."""
    rows = [(f"{r}-{k}", r, v) for r in range(1, runs + 1) for k, v in enumerate(levels)]
    return pd.DataFrame(rows, columns=["plot", "run", "washing"])


def volumes(layout: pd.DataFrame, per_hour: np.ndarray, **columns: object) -> pd.DataFrame:
    """Even flow: volumes after one and two hours."""
    parts = []
    for minutes in (60.0, 120.0):
        part = layout[["run", "plot"]].copy()
        part["minutes"] = minutes
        part["volume_ml"] = per_hour * minutes / 60.0
        for name, value in columns.items():
            part[name] = value
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def heights(layout: pd.DataFrame, hour_mm: np.ndarray, top_mm: float = 200.0) -> pd.DataFrame:
    """Heights with the root of time, stopped at the top."""
    parts = []
    for minutes in (1.0, 4.0, 9.0, 30.0, 60.0):
        part = layout[["run", "plot"]].copy()
        part["minutes"] = minutes
        grown = hour_mm * np.sqrt(minutes / 60.0)
        part["height_mm"] = np.minimum(grown, top_mm)
        part["reached_top"] = ["yes" if g >= top_mm else "no" for g in grown]
        parts.append(part)
    return pd.concat(parts, ignore_index=True)
