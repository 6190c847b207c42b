"""A table of weather for a rehearsal: a smooth year with scatter, no place's climate.

Daily temperatures follow a sine of the year (warmest at the end of July north of the
equator) with scatter that lasts from day to day; rain falls on one day in five. Leans on
``one``.
"""

import numpy as np

from wickstats.design.shared import shared_site
from wickstats.simulate.one import OneSeason
from wickstats.simulate.sheets import Row

HEADS = ("date", "tmin_c", "tmax_c", "rain_mm")
MEAN_C, SWING_C, DAY_C = 14.0, 9.0, 10.0


def write_weather(season: OneSeason) -> list[Row]:
    """One row a day of the season; none where the trial has no dates."""
    rng = season.stream("weather")
    latitude = shared_site(season.model.trial).latitude or 40.0
    rows: list[Row] = []
    odd = 0.0
    for day in range(season.calendar.days + 1):
        date = season.calendar.on(day)
        if date is None:
            return []
        odd = 0.7 * odd + 1.5 * float(rng.standard_normal())
        phase = np.cos(2 * np.pi * (date.timetuple().tm_yday - 205) / 365)
        mean = MEAN_C + SWING_C * float(phase) * (1 if latitude >= 0 else -1) + odd
        half = DAY_C / 2 * float(np.exp(0.15 * rng.standard_normal()))
        wet = rng.random() < 0.2
        rain = round(float(rng.exponential(6.0)), 1) if wet else 0.0
        rows.append((date, round(mean - half, 1), round(mean + half, 1), rain))
    return rows
