"""Rain that reservoirs caught between two visits, from the table of weather.

1 mm of rain on 1 m2 is 1 L. The catching area (``rain_catch_m2``) is that of one reservoir:
its lid, funnel or open top. The rain of a day belongs to the visit on or before it. Days
without a reading count as dry and are told. Leans on numpy and pandas.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wickstats.records.ground import Ground

Array = np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class Rain:
    """Daily rain on one reservoir's catching area.

    Attributes
    ----------
    first
        First day with a reading.
    liters
        (days + 1,) liters caught before each day, from ``first`` on.
    known
        (days + 1,) days with a reading before each day.
    """

    first: np.datetime64
    liters: Array
    known: Array

    def between(self, start: Array, end: Array) -> tuple[Array, Array]:
        """Liters caught from each start day to the day before each end day; days unknown."""
        last = self.liters.size - 1
        a = ((start - self.first) // np.timedelta64(1, "D")).astype(np.int64)
        b = ((end - self.first) // np.timedelta64(1, "D")).astype(np.int64)
        low, high = np.clip(a, 0, last), np.clip(b, 0, last)
        caught = self.liters[high] - self.liters[low]
        unknown = (b - a) - (self.known[high] - self.known[low])
        return caught, np.maximum(unknown, 0)


def rain_on_reservoirs(
    weather: pd.DataFrame | None, log: pd.DataFrame, ground: Ground
) -> Rain | None:
    """Daily rain times the catching area; None where either is not told."""
    water = ground.trial.water
    area = None if water is None else water.rain_catch_m2
    if area is None or area <= 0.0:
        return None
    daily = None if weather is None else weather[(weather["period"] == "day").to_numpy()]
    if daily is None or daily.empty or daily["rain_mm"].isna().all():
        table = log if weather is None or weather.empty else weather
        if len(table):
            ground.out.query(
                str(table["file"].iloc[0]),
                "rain not known",
                found="a catching area for rain, and no daily rain_mm in a table of weather",
                expected="rain_mm for every day, where reservoirs catch rain",
                fix="add rain_mm, or take rain_catch_m2 out; no rain is counted, so that "
                "delivered water is a lower limit",
            )
        return None
    days = daily["date"].to_numpy().astype("datetime64[D]")
    fallen = daily["rain_mm"].to_numpy()
    first = days.min()
    size = int((days.max() - first) // np.timedelta64(1, "D")) + 1
    at = ((days - first) // np.timedelta64(1, "D")).astype(np.int64)
    liters, known = np.zeros(size + 1), np.zeros(size + 1)
    read = ~np.isnan(fallen)
    np.add.at(liters, at[read] + 1, area * fallen[read])
    np.add.at(known, at[read] + 1, 1.0)
    return Rain(first, np.cumsum(liters), np.cumsum(known))
