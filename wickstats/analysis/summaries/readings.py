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
    temperature_of_run: bool

    @property
    def head_mm(self) -> float | None:
        """The one head, or None where none or several were told."""
        return float(self.heads[0]) if self.heads.size == 1 else None


def read_series(season: Season, layout: Layout) -> tuple[list[Series], list[Series]]:
    """Series of pieces in walking order, and of controls."""
    frame = season.table("readings")
    if frame is None or frame.empty:
        return [], []
    warm = frame["temperature_c"].groupby(frame["run"]).mean()
    order = {p.plot: i for i, p in enumerate(layout.plots)}
    pieces, controls = [], []
    made = frame.sort_values("minutes", kind="stable")
    for (run, plot), group in made.groupby(["run", "plot"], sort=True):
        one = _series(str(run), str(plot), group, warm.get(run))
        if one.piece in order:
            pieces.append(one)
        elif CONTROL.fullmatch(one.piece):
            controls.append(one)
    pieces.sort(key=lambda s: (order[s.piece], _natural(s.run)))
    return pieces, controls


def _natural(text: str) -> tuple[int, str]:
    return (int(text), "") if text.isdigit() else (1 << 30, text)


def _series(run: str, plot: str, group: pd.DataFrame, of_run: float | None) -> Series:
    own = float(group["temperature_c"].mean())
    known = np.isfinite(own)
    other = None if of_run is None or not np.isfinite(of_run) else float(of_run)
    top = group["reached_top"].map(lambda v: v is True).to_numpy(dtype=bool)
    return Series(
        piece=plot,
        run=run,
        minutes=group["minutes"].to_numpy(dtype=float),
        height_mm=group["height_mm"].to_numpy(dtype=float),
        volume_ml=group["volume_ml"].to_numpy(dtype=float),
        reached_top=top,
        heads=np.unique(group["head_mm"].dropna().to_numpy(dtype=float)),
        temperature_c=own if known else other,
        temperature_of_run=not known and other is not None,
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
