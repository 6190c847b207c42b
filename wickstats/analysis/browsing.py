"""Browsed plants as the plan says: as seen, counted as dead, a competing cause, set aside.

A plant is browsed on the first day on which a visit notes it so, an event that names the
plant says so, or it was first seen dead with browsing as cause. Counted as death: dead
between the last visit before that day that saw it alive, and that day, whatever came
later. Set aside: censored when it was last seen alive, at the latest on that day. As a
competing cause deaths by browsing stay what they are, and the question becomes which plants
die of anything else: the shares say so. Events
that name a plot only say nothing of single plants. Leans on lives and records.season.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from wickstats.analysis.lives import BROWSING, COMPETING, Lives
from wickstats.analysis.units import Array
from wickstats.records.season import Season

AS_SEEN = "as seen"
DEATH = "counts as death"
ASIDE = "set aside"
STRATEGIES = (AS_SEEN, DEATH, COMPETING, ASIDE)
Key = tuple[str, str]


def browsing_as_planned(lives: Lives | None, season: Season, how: str) -> Lives | None:
    """Lives under the plan's strategy; unchanged as seen, and where lives count days.

    ``browsing`` and ``browsed`` of the result say which, and how many plants it changed.
    """
    if lives is not None and how == COMPETING:
        return replace(lives, browsing=how, browsed=int(lives.dead_by(BROWSING).sum()))
    if lives is None or how not in (DEATH, ASIDE) or lives.origin is None:
        return lives
    days = _browsed(lives, season)
    seen = _seen_alive(lives, season, set(days))
    low, high, last = lives.low.copy(), lives.high.copy(), lives.last_seen.copy()
    cause, fate = list(lives.cause), list(lives.fate)
    count = 0
    for k, key in enumerate(zip(lives.plots, lives.plants, strict=True)):
        day = days.get(key)
        if day is None or day > high[k]:
            continue
        count += 1
        alive = seen.get(key, np.zeros(0))
        before = alive[alive < day] if how == DEATH else alive[alive <= day]
        known = max(float(before.max(initial=lives.planted[k])), float(lives.planted[k]))
        low[k] = min(low[k], known)
        if how == DEATH:
            high[k], last[k] = max(day, low[k]), max(day, low[k])
            cause[k], fate[k] = BROWSING, "dead"
        else:
            high[k], last[k] = np.inf, low[k]
            cause[k], fate[k] = None, ASIDE
    return replace(
        lives,
        low=low,
        high=high,
        last_seen=last,
        cause=tuple(cause),
        fate=tuple(fate),
        browsing=how,
        browsed=count,
    )


def browsed_plants(lives: Lives, season: Season) -> int:
    """How many of the plants were browsed, before or at their death."""
    days = _browsed(lives, season)
    last = dict(zip(zip(lives.plots, lives.plants, strict=True), lives.high, strict=True))
    return sum(key in last and day <= last[key] for key, day in days.items())


def _browsed(lives: Lives, season: Season) -> dict[Key, float]:
    """First day of browsing by plot and plant."""
    found: dict[Key, float] = {}

    def note(plot: object, plant: object, day: float) -> None:
        key = (str(plot), str(plant))
        found[key] = min(day, found.get(key, np.inf))

    for table, column in (("visits", "condition"), ("events", "what")):
        frame = season.table(table)
        if frame is None or not {column, "plant", "plot", "date"} <= set(frame.columns):
            continue
        mine = frame.loc[
            (frame[column] == "browsed") & frame["plant"].notna() & frame["date"].notna()
        ]
        for key, day in _dated(mine, lives):
            note(*key, day)
    for k in np.flatnonzero(lives.dead):
        if lives.cause[int(k)] == BROWSING:
            note(lives.plots[int(k)], lives.plants[int(k)], float(lives.high[int(k)]))
    return found


def _seen_alive(lives: Lives, season: Season, keys: set[Key]) -> dict[Key, Array]:
    """Days on which each of those plants was seen alive."""
    frame = season.table("visits")
    if frame is None or not {"status", "plant", "plot", "date"} <= set(frame.columns):
        return {}
    plots = {plot for plot, _ in keys}
    mine = frame.loc[
        (frame["status"] == "alive") & frame["plant"].notna() & frame["plot"].isin(plots)
    ]
    found: dict[Key, list[float]] = {}
    for key, day in _dated(mine, lives):
        if key in keys:
            found.setdefault(key, []).append(day)
    return {key: np.array(days) for key, days in found.items()}


def _dated(rows: pd.DataFrame, lives: Lives) -> Iterator[tuple[Key, float]]:
    """Plot, plant and day of rows with a date; nothing where lives count days."""
    if lives.origin is None:
        return
    days = (pd.to_datetime(rows["date"]) - lives.origin) / pd.Timedelta(days=1)
    for plot, plant, day in zip(rows["plot"], rows["plant"], days, strict=True):
        yield (str(plot), str(plant)), float(day)
