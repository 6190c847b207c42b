"""Seasons with missed plots and plants not found, for tests of shares alive."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from analysis_makers import factor, make_layout, make_season, make_trial

from wickstats.design.trial import Response

START = pd.Timestamp("2025-03-01")
Gap = tuple[str, int, int]  # plot, plant, day


def date(day: int) -> pd.Timestamp:
    """A day of the season as a date."""
    return START + pd.Timedelta(days=day)


def season_with_gaps(
    deaths: Mapping[str, Sequence[Sequence[float]]],
    visits: Mapping[str, Sequence[int]],
    at: Sequence[int],
    *,
    not_found: Sequence[Gap] = (),
    causes: Mapping[float, str] | None = None,
    quiet: bool = False,
) -> tuple[Any, Any, Any]:
    """``deaths``: treatment -> a row of days of death (inf: lives) for each plot.

    ``visits``: plot -> days of its visits; ``quiet``: dead plants are written down once.
    """
    rows, lives, seen = [], [], []
    named = {} if causes is None else causes
    for arm, plots in deaths.items():
        for k, days in enumerate(plots):
            plot = f"{arm}-{k + 1}"
            rows.append(
                {"plot": plot, "treatment": arm, "plants": len(days), "block": str(k + 1)}
            )
            for plant, died in enumerate(days, start=1):
                missed = {v for v in visits[plot] if (plot, plant, v) in not_found}
                looked = [v for v in visits[plot] if v not in missed]
                alive = [v for v in looked if v < died]
                dead = [v for v in looked if v >= died]
                first = min(dead, default=None)
                for v in visits[plot]:
                    word = "not found" if v in missed else "alive" if v < died else "dead"
                    if not (quiet and first is not None and v > first):
                        seen.append(
                            {"date": date(v), "plot": plot, "plant": str(plant), "status": word}
                        )
                gone = first is None and max(visits[plot], default=0) in missed
                lives.append(
                    {
                        "plot": plot,
                        "plant": str(plant),
                        "planted_on": START,
                        "original": True,
                        "replaces": None,
                        "last_alive": date(max(alive, default=0)),
                        "first_dead": pd.NaT if first is None else date(first),
                        "cause": None if first is None else named.get(died, "drought"),
                        "last_seen": date(max(looked, default=0)),
                        "fate": "not found" if gone else "alive" if first is None else "dead",
                        "doubtful_from": pd.NaT,
                    }
                )
    asked = Response(
        name="survival", kind="survival", better="more", at=tuple(date(a).date() for a in at)
    )
    trial = make_trial([factor("treatment", list(deaths), next(iter(deaths)))], [asked])
    layout = make_layout(rows, ["treatment"])
    columns = ["date", "plot", "plant", "status"]
    tables = {"visits": pd.DataFrame(seen, columns=columns)}
    return trial, layout, make_season(layout, lives=pd.DataFrame(lives), tables=tables)


def rounds(plots: Sequence[str], days: Sequence[int], **other: Sequence[int]) -> dict[str, Any]:
    """Days of visits by plot: ``days`` but where told otherwise (``wick_1`` for wick-1)."""
    return {plot: list(other.get(plot.replace("-", "_"), days)) for plot in plots}


NEVER = float(np.inf)
