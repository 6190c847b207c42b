"""When reservoirs ran dry: between two visits, and until the next refill.

Leans on numpy and pandas.
"""

from typing import Any

import numpy as np
import pandas as pd

from wickstats.core.numbers import number
from wickstats.records.ground import Ground, day, units_of
from wickstats.records.water_levels import SLACK_L

Dry = tuple[tuple[str, str, str | None], ...]


def dry_intervals(
    water: pd.DataFrame | None, events: pd.DataFrame | None, ground: Ground
) -> dict[str, Dry]:
    """Unit to its dry intervals: dry after from_low, not later than from_high, until to."""
    unusable = 0.0
    if ground.trial.water is not None:
        unusable = ground.trial.water.reservoirs.unusable_l or 0.0
    found: dict[str, set[Any]] = {}
    ends: dict[tuple[str, Any], Any] = {}
    for unit, when, until in _told_empty(events, ground):
        found.setdefault(unit, set()).add(when)
        if not pd.isna(until):
            ends[unit, when] = until
    if water is not None:
        empty = (water["level_before_l"] <= unusable).to_numpy() & _later_visit(water)
        for unit, when in zip(water["unit"][empty], water["date"][empty], strict=True):
            found.setdefault(unit, set()).add(when)
    units = dict(list(water.groupby("unit"))) if water is not None and found else {}
    out: dict[str, Dry] = {}
    for unit in sorted(found):
        rows = units.get(unit)
        intervals: list[tuple[str, str, str | None]] = []
        for when in sorted(found[unit]):
            interval = _interval(rows, when, ends.get((unit, when)))
            # still the same dry spell where nothing was given in between
            if intervals and (intervals[-1][2] is None or intervals[-1][2] > day(when)):
                continue
            intervals.append(interval)
        out[unit] = tuple(intervals)
    return out


def ask_empty(water: pd.DataFrame | None, events: pd.DataFrame | None, ground: Ground) -> None:
    """Ask about reservoirs told empty whose next level says that water was in them."""
    told = ground.trial.water
    if water is None or events is None or (told is not None and told.rain_catch_m2):
        return  # rain may have filled them
    unusable = 0.0 if told is None else told.reservoirs.unusable_l or 0.0
    empty = events[(events["what"] == "reservoir empty").to_numpy()]
    units = units_of(empty, ground.layout)
    for unit, (_, event) in zip(units, empty.iterrows(), strict=True):
        later = (water["unit"] == unit) & (water["date"] >= event["date"])
        rows = water[later.to_numpy()]
        rows = rows[(rows["date"] == rows["date"].min()).to_numpy()]
        level = float(rows["level_before_l"].min())
        if level > unusable + SLACK_L:
            ground.out.query(
                str(event["file"]),
                "empty and not empty",
                found=f"{unit} told empty on {day(event['date'])}, and {number(level)} L in it "
                f"on {day(rows['date'].min())}, before any refill",
                expected="a level that holds no water that plants can use",
                fix="correct the event's day or the level; it counts as dry",
                row=int(event["row"]),
            )


def _told_empty(events: pd.DataFrame | None, ground: Ground) -> list[tuple[str, Any, Any]]:
    if events is None:
        return []
    empty = events[(events["what"] == "reservoir empty").to_numpy()]
    told = zip(units_of(empty, ground.layout), empty["date"], empty["until"], strict=True)
    return [(unit, when, until) for unit, when, until in told if unit is not None]


def _later_visit(water: pd.DataFrame) -> np.ndarray:
    """Rows that are not the unit's first: before its first filling a reservoir is not dry."""
    first = water.groupby("unit")["date"].transform("min")
    return (water["date"] > first).to_numpy()


def _interval(rows: pd.DataFrame | None, when: Any, until: Any) -> tuple[str, str, str | None]:
    low, to = day(when), None if until is None else day(until)
    if rows is not None:
        days = rows["date"].to_numpy()
        at = np.datetime64(when)
        if (days < at).any():
            low = day(days[days < at].max())
        refilled = days[(days >= at) & (rows["given_l"] > 0).to_numpy()]
        if len(refilled) and to is None:
            to = day(refilled.min())
    return low, day(when), to
