"""Demand of a plant, and the water it was given, by day and by week.

    demand = Kc ET0 A       liters a plant and day, since 1 mm on 1 m2 is 1 L

Kc crop coefficient (Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper
56: crop evapotranspiration is Kc ET0; from memory), A the area that one plant wets and
shades, m2. Rain is told beside, not taken off: how much of it a plant uses is not known.
Leans on numpy, pandas and core.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.core.supply import SupplyRow

FloatArray = NDArray[np.float64]
Days = NDArray[np.datetime64]
WEEK, SHORTEST = 7, 4


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """One treatment's water a plant: planned liters a day, and liters by day of every unit.

    ``by_day``: (units, n) liters a plant on each day, NaN where it is not known.
    """

    treatment: str
    planned_l_d: float | None
    by_day: FloatArray


def season_days(start: np.datetime64, end: np.datetime64) -> Days:
    """(n,) days from the first to the last, both counted."""
    first, last = start.astype("datetime64[D]"), end.astype("datetime64[D]")
    days: Days = np.arange(first, last + np.timedelta64(1, "D"))
    return days


def given_by_day(
    water: pd.DataFrame | None,
    periods: pd.DataFrame | None,
    units: Mapping[str, float],
    days: Days,
) -> dict[str, FloatArray]:
    """Unit -> (n,) liters a plant and day.

    What left a reservoir is spread over the days between two visits, what a meter told
    over those since it was last read; water from cans counts on the day it was given.

    Parameters
    ----------
    units
        Unit -> its plants.
    """
    out: dict[str, FloatArray] = {}
    by_unit = {} if periods is None else dict(list(periods.groupby("unit", sort=False)))
    rows = {} if water is None else dict(list(water.groupby("unit", sort=False)))
    for unit, plants in units.items():
        if unit in by_unit:
            out[unit] = _from_periods(by_unit[unit], days) / plants
        elif unit in rows:
            out[unit] = _from_cans(rows[unit], days) / plants
    return out


def _from_periods(periods: pd.DataFrame, days: Days) -> FloatArray:
    """Sum over vessels; a day that some vessel does not cover is not known."""
    total = np.zeros(len(days))
    for _, own in periods.groupby("vessel", sort=False):
        rate = np.full(len(days), np.nan)
        since = own["from"].to_numpy().astype("datetime64[D]")
        to = own["to"].to_numpy().astype("datetime64[D]")
        for a, b, lost, long in zip(since, to, own["lost_l"], own["days"], strict=True):
            rate[(days >= a) & (days < b)] = float(lost) / float(long)
        total += rate
    return total


def _from_cans(rows: pd.DataFrame, days: Days) -> FloatArray:
    total = np.zeros(len(days))
    rows = rows.sort_values("date", kind="stable")
    given = np.nan_to_num(rows["given_l"].to_numpy(dtype=float))
    metered = (rows["instrument"] == "meter").to_numpy()
    place = (rows["date"].to_numpy().astype("datetime64[D]") - days[0]).astype(int)
    inside = (place >= 0) & (place < len(days)) & ~metered
    np.add.at(total, place[inside], given[inside])
    since = 0  # before the first reading: from the season's first day on
    for now, liters in zip(place[metered], given[metered], strict=True):
        first, last = min(max(since, 0), len(days)), min(max(now, 0), len(days))
        if last > first:
            total[first:last] += liters / float(last - first)
        elif 0 <= now < len(days):
            total[now] += liters
        since = now
    return total


def weeks_of(days: Days) -> Iterator[slice]:
    """Weeks from the season's first day on; up to three days over join the last one."""
    count = max((len(days) + WEEK - SHORTEST) // WEEK, 1)
    for k in range(count):
        yield slice(WEEK * k, len(days) if k == count - 1 else WEEK * (k + 1))


def told(values: FloatArray) -> float | None:
    """Sum over days; of days that are not known the mean of the others counts.

    None where fewer than half of the days are known.
    """
    known = np.isfinite(values)
    if not enough(known):
        return None
    return math.fsum(values[known].tolist()) * len(values) / int(known.sum())


def enough(known: NDArray[np.bool_]) -> bool:
    """Whether the days that are known may stand for all: half of them or more."""
    return bool(known.any()) and 2 * int(known.sum()) >= known.size


def supply_table(
    days: Days,
    et0: FloatArray,
    demand: FloatArray,
    rain_l: FloatArray,
    given: Sequence[Given],
) -> tuple[SupplyRow, ...]:
    """Rows by week and treatment, then one a season and treatment, liters a plant."""
    out: list[SupplyRow] = []
    for name, part in [("week", w) for w in weeks_of(days)] + [("season", slice(0, len(days)))]:
        need, known = told(demand[part]), int(np.isfinite(demand[part]).sum())
        for arm in given:
            sums = [told(unit[part]) for unit in arm.by_day]
            there = [s for s in sums if s is not None]
            spread = float(len(days[part]))
            mean = sum(there) / len(there) if there else None
            planned = None if arm.planned_l_d is None else arm.planned_l_d * spread
            best = mean if mean is not None else planned
            out.append(
                {
                    "period": name,
                    "from": str(days[part][0]),
                    "to": str(days[part][-1]),
                    "days": spread,
                    "days_known": float(known),
                    "treatment": arm.treatment,
                    "et0_mm": told(et0[part]),
                    "demand_l": need,
                    "rain_l": told(rain_l[part]),
                    "planned_l": planned,
                    "delivered_l": mean,
                    "share": None if not need or best is None else best / need,
                    "share_of": "delivered" if mean is not None else "planned",
                }
            )
    return tuple(out)
