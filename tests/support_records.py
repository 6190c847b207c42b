"""Small invented trials for the tests of records."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from wickstats.core.errors import Problem, RecordsError
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.records.read import read_records
from wickstats.records.season import Season

HEIGHT = {
    "name": "height",
    "kind": "growth",
    "column": "height_cm",
    "measured_in": "cm",
    "range": (1.0, 200.0),
}
WATER = {
    "planned_l": {"hand watering": 100.0, "capillary wick": 60.0},
    "reservoirs": {"holds_l": 20.0, "unusable_l": 1.5, "liters_per_cm": 0.5},
}


def small_layout(plants: int | None = 3) -> Layout:
    """Two blocks: hand watering (A1, 007), wick (A2 and A3 on reservoir R1; B2 on R2)."""
    hand, wick = {"watering": "hand watering"}, {"watering": "capillary wick"}
    return Layout(
        "randomized complete block",
        ("watering",),
        (
            Plot("A1", hand, block="1", plants=plants),
            Plot("A2", wick, block="1", plants=plants, reservoir="R1"),
            Plot("A3", wick, block="1", plants=plants, reservoir="R1"),
            Plot("007", hand, block="2", plants=plants),
            Plot("B2", wick, block="2", plants=plants, reservoir="R2"),
        ),
        "elsewhere",
    )


def small_trial(
    folder: Path | str = ".",
    records: Mapping[str, Any] | None = None,
    responses: tuple[Any, ...] = (),
    water: Any = None,
    season: bool = True,
) -> Trial:
    """A trial with one factor; the season runs from 2025-03-01 to 2025-10-31."""
    dates = {"start": date(2025, 3, 1), "end": date(2025, 10, 31)}
    levels = ({"name": "hand watering", "reference": True}, {"name": "capillary wick"})
    return Trial.model_validate(
        {
            "format": 1,
            "trial": {"id": "small", **({"season": dates} if season else {})},
            "factors": ({"name": "watering", "levels": levels},),
            "design": {"type": "randomized complete block", "layout": "layout.csv"},
            "records": {
                k: v if isinstance(v, tuple) else (v,) for k, v in (records or {}).items()
            },
            "responses": responses,
            "water": water,
            "file": "trial.yaml",
            "folder": str(folder),
        }
    )


def frame(text: str) -> pd.DataFrame:
    """Lines of cells between commas; blank cells are blank text."""
    lines = [[c.strip() for c in line.split(",")] for line in text.strip().splitlines()]
    return pd.DataFrame(lines[1:], columns=lines[0])


def season_of(
    responses: tuple[Any, ...] = (), water: Any = None, season: bool = True, **tables: str
) -> Season:
    """Read tables given as text, in memory."""
    trial = small_trial(responses=responses, water=water, season=season)
    frames = {name: frame(text) for name, text in tables.items()}
    return read_records(trial, small_layout(), frames)


def problems_of(trial: Trial, layout: Layout | None = None) -> tuple[Problem, ...]:
    """Every problem of a trial's files."""
    try:
        read_records(trial, layout or small_layout())
    except RecordsError as error:
        return error.problems
    return ()
