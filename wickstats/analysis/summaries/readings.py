"""Readings at the bench as series: one of every piece and run, ready to be summed up.

A piece that was read in several runs has several series; controls (cups without a cord) are
kept apart. Leans on records.readings' names and units.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wickstats.analysis.units import Array
from wickstats.layout.plots import Layout
from wickstats.records.readings import CONTROL
from wickstats.records.season import Season


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One piece in one run, by minute; NaN where a reading is blank."""

    piece: str
    run: str
    minutes: Array
    height_mm: Array
    volume_ml: Array
    reached_top: Array  # True where the front was seen at the top
    heads: Array  # distinct heads
    temperature_c: float | None  # mean of the piece, else of the run

    @property
    def head_mm(self) -> float | None:
        """The one head, or None where none or several were told."""
        return float(self.heads[0]) if self.heads.size == 1 else None


def read_series(season: Season, layout: Layout) -> tuple[list[Series], list[Series]]:
    """Series of pieces in walking order, and of controls."""
    frame = season.table("readings")
    if frame is None or frame.empty:
        return [], []
    columns = {
        name: frame[name].to_numpy(dtype=float)
        for name in ("minutes", "height_mm", "volume_ml", "head_mm", "temperature_c")
    }
    columns["reached_top"] = np.array([v is True for v in frame["reached_top"].tolist()])
    runs, run_names = pd.factorize(frame["run"].to_numpy(), sort=True)
    plots, plot_names = pd.factorize(frame["plot"].to_numpy(), sort=True)
    by_run = [_mean(columns["temperature_c"][runs == k]) for k in range(len(run_names))]
    order = {p.plot: i for i, p in enumerate(layout.plots)}
    rows = np.lexsort((columns["minutes"], plots, runs))
    breaks = np.flatnonzero(np.diff(runs[rows]) | np.diff(plots[rows])) + 1
    pieces: list[Series] = []
    controls: list[Series] = []
    for group in np.split(rows, breaks):
        run, plot = int(runs[group[0]]), str(plot_names[plots[group[0]]])
        if plot in order or CONTROL.fullmatch(plot):
            held = {name: values[group] for name, values in columns.items()}
            one = _series(str(run_names[run]), plot, held, by_run[run])
            (pieces if plot in order else controls).append(one)
    pieces.sort(key=lambda s: (order[s.piece], _natural(s.run)))
    return pieces, controls


def _natural(text: str) -> tuple[int, str]:
    return (int(text), "") if text.isdigit() else (1 << 30, text)


def _mean(values: Array) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None


def _series(run: str, plot: str, held: dict[str, Array], of_run: float | None) -> Series:
    own = _mean(held["temperature_c"])
    heads = held["head_mm"]
    return Series(
        piece=plot,
        run=run,
        minutes=held["minutes"],
        height_mm=held["height_mm"],
        volume_ml=held["volume_ml"],
        reached_top=held["reached_top"],
        heads=np.unique(heads[np.isfinite(heads)]),
        temperature_c=of_run if own is None else own,
    )


def line_slope(x: Array, y: Array) -> float | None:
    """Least-squares slope; through the origin where there is one reading; None without."""
    if x.size == 0 or (x.size == 1 and x[0] <= 0.0):
        return None
    if x.size == 1:
        return float(y[0] / x[0])
    away = x - x.mean()
    spread = float(away @ away)
    return None if spread <= 0.0 else float(away @ y / spread)
