"""The table of weather: one row a day, or one a month of mean values.

A row of a month says so in ``period``; its date is any day of that month. What cannot be is
asked about and not used: a day's row where its temperatures contradict each other, else the
single reading. Leans on the modules of this package and on the sun's geometry in core.
"""

from itertools import pairwise

import numpy as np
import pandas as pd

from wickstats.core.sun import sun_over
from wickstats.design.shared import shared_site
from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, day, drop, groups, need, with_columns

READINGS = (
    "rh_min",
    "rh_max",
    "vapor_kpa",
    "wind_m_s",
    "wind_height_m",
    "sun_h",
    "radiation_mj_m2",
    "rain_mm",
)
WIND_HEIGHT_M = 2.0
_LOWEST_WIND_M = 0.5  # below, the profile over short grass says nothing
_SUN_SLACK_H = 0.5  # recorders' rounding, and a horizon that is not flat
_COLDEST, _WARMEST = -60.0, 60.0  # no record of air temperature lies beyond
_MOST_WIND = 40.0  # mean of a day: a hurricane's (common practice, no source)
_MOST_RAIN_MM = 500.0  # common practice, no source
_MOST_GAPS = 5


def check_weather(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a day or month; doubtful readings are asked about, blank and not guessed."""
    frame = with_columns(frame, period="text")
    frame = with_columns(frame, **dict.fromkeys(READINGS, "number"))
    need(frame, ("date",), ground.out)
    frame = frame[frame["date"].notna().to_numpy()].copy()
    frame["period"] = frame["period"].fillna("day")
    blank = frame[["tmin_c", "tmax_c"]].isna().any(axis=1).to_numpy()
    frame = _leave_out(
        frame,
        blank,
        ground,
        "no temperature",
        "a blank temperature",
        "tmin_c and tmax_c",
        "tmin_c",
    )
    swapped = frame["tmax_c"].to_numpy() < frame["tmin_c"].to_numpy()
    frame = _leave_out(
        frame,
        swapped,
        ground,
        "maximum below minimum",
        "tmax_c below tmin_c",
        "tmax_c not below tmin_c",
        "tmax_c",
    )
    far = (frame["tmin_c"].to_numpy() < _COLDEST) | (frame["tmax_c"].to_numpy() > _WARMEST)
    frame = _leave_out(
        frame,
        far,
        ground,
        "impossible temperature",
        "a temperature that no weather station has seen",
        f"degrees Celsius from {_COLDEST:g} to {_WARMEST:g}",
        "tmax_c",
    )
    frame = _in_mid_month(frame)
    frame = settle_duplicates(frame, ("date", "period"), ground.out, "one day or month").copy()
    _humidity(frame, ground)
    _wind(frame, ground)
    _rain(frame, ground)
    _sun(frame, ground)
    _ask_days(frame, ground)
    return frame


def _in_mid_month(frame: pd.DataFrame) -> pd.DataFrame:
    """A month's row moves to the 15th, the day that stands for it."""
    monthly = (frame["period"] == "month").to_numpy()
    days = frame["date"].to_numpy().astype("datetime64[D]")
    middle = days.astype("datetime64[M]").astype("datetime64[D]") + np.timedelta64(14, "D")
    frame = frame.copy()
    frame["date"] = np.where(monthly, middle, days).astype("datetime64[ns]")
    return frame


def _leave_out(
    frame: pd.DataFrame,
    wrong: np.ndarray,
    ground: Ground,
    code: str,
    found: str,
    expected: str,
    column: str,
) -> pd.DataFrame:
    fix = "correct it in the file; the rows are not used"
    _ask(frame, wrong, ground, code, found, expected, fix, column)
    return drop(frame, wrong, ground.out, code)


def _ask(
    frame: pd.DataFrame,
    wrong: np.ndarray,
    ground: Ground,
    code: str,
    found: str,
    expected: str,
    fix: str,
    column: str,
) -> None:
    """One query a file over all rows of one kind."""
    for file, group in groups(frame[wrong], "file"):
        ground.out.query(
            str(file),
            code,
            found=f"{found} in {rows_in_words(group['row'])}",
            expected=expected,
            fix=fix,
            row=int(group["row"].min()),
            column=column,
        )


def _humidity(frame: pd.DataFrame, ground: Ground) -> None:
    low, high = frame["rh_min"].to_numpy(), frame["rh_max"].to_numpy()
    above = np.fmax(low, high) > 100.0
    fix = "correct it; the humidity of these rows is not used"
    _ask(
        frame,
        above,
        ground,
        "humidity above 100",
        "a humidity above 100 %",
        "0 to 100 %",
        fix,
        "rh_max",
    )
    swapped = (high < low) & ~above
    _ask(
        frame,
        swapped,
        ground,
        "maximum below minimum",
        "rh_max below rh_min",
        "rh_max not below rh_min",
        fix,
        "rh_max",
    )
    shares = (np.fmax(low, high) > 0.0) & (np.fmax(low, high) <= 1.0)
    _ask(
        frame,
        shares,
        ground,
        "humidity as a share",
        "a humidity of 1 % or less",
        "percent, as 63 for 63 %",
        "write percent; the humidity of these rows is not used",
        "rh_max",
    )
    frame.loc[above | swapped | shares, ["rh_min", "rh_max"]] = np.nan


def _wind(frame: pd.DataFrame, ground: Ground) -> None:
    wind, height = frame["wind_m_s"].to_numpy(), frame["wind_height_m"].to_numpy()
    _ask(
        frame,
        ~np.isnan(wind) & np.isnan(height),
        ground,
        "wind height missing",
        "wind without the height of the wind meter",
        "wind_height_m in meters",
        f"fill it in; {WIND_HEIGHT_M:g} m is taken, too much wind if the meter stands higher",
        "wind_height_m",
    )
    low = ~np.isnan(wind) & (height < _LOWEST_WIND_M)
    _ask(
        frame,
        low,
        ground,
        "wind height too low",
        f"a wind meter below {_LOWEST_WIND_M:g} m",
        "a height above the grass at which wind can be reckoned to 2 m",
        "correct it; the wind of these rows is not used",
        "wind_height_m",
    )
    storm = wind > _MOST_WIND
    _ask(
        frame,
        storm,
        ground,
        "impossible wind",
        f"a mean wind above {_MOST_WIND:g} m/s",
        "the mean wind of the day in m/s (km/h divided by 3.6)",
        "correct it; the wind of these rows is not used",
        "wind_m_s",
    )
    frame.loc[low | storm, ["wind_m_s", "wind_height_m"]] = np.nan


def _rain(frame: pd.DataFrame, ground: Ground) -> None:
    daily = (frame["period"] == "day").to_numpy()
    _ask(
        frame,
        daily & (frame["rain_mm"].to_numpy() > _MOST_RAIN_MM),
        ground,
        "a flood of rain",
        f"more than {_MOST_RAIN_MM:g} mm of rain on a day",
        "the rain of one day in mm",
        "look for a slipped decimal sign or the sum of a month; it is used as it stands",
        "rain_mm",
    )


def _sun(frame: pd.DataFrame, ground: Ground) -> None:
    """Hours of sun against the day's length, radiation against that above the air."""
    latitude = shared_site(ground.trial).latitude  # asked again from the archived trial
    if latitude is None or not len(frame):
        return
    suns = [sun_over(latitude, int(d)) for d in frame["date"].dt.dayofyear]
    longest = np.asarray([s.day_length_h for s in suns])
    most = np.asarray([s.radiation for s in suns])
    long = frame["sun_h"].to_numpy() > longest + _SUN_SLACK_H
    _ask(
        frame,
        long,
        ground,
        "sun above day length",
        "more hours of sun than the day has at this latitude",
        "at most the length of the day",
        "correct it, or the latitude in the trial file; the sun of these rows is not used",
        "sun_h",
    )
    frame.loc[long, "sun_h"] = np.nan
    strong = frame["radiation_mj_m2"].to_numpy() > most
    _ask(
        frame,
        strong,
        ground,
        "radiation above the sun's",
        "more radiation than falls on the top of the air",
        "MJ/m2 a day",
        "correct it or its unit (measured_in); the radiation of these rows is not used",
        "radiation_mj_m2",
    )
    frame.loc[strong, "radiation_mj_m2"] = np.nan


def _ask_days(frame: pd.DataFrame, ground: Ground) -> None:
    """Days outside the season, and days of it without weather: one query each."""
    if not len(frame):
        return
    covered = days_covered(frame)
    start, end = ground.season_start, ground.season_end
    first = covered[0] if np.isnat(start) else start.astype("datetime64[D]")
    last = covered[-1] if np.isnat(end) else end.astype("datetime64[D]")
    days = frame["date"].to_numpy().astype("datetime64[D]")
    outside = ((days < first) | (days > last)) & (frame["period"] == "day").to_numpy()
    _ask(
        frame,
        outside,
        ground,
        "out of season",
        f"{outside.sum()} days before or after the season",
        f"days from {day(first)} to {day(last)}",
        "nothing to do if the station's file is longer; they do not count in the season's sums",
        "date",
    )
    season = np.arange(first, last + np.timedelta64(1, "D"))
    gone = season[~np.isin(season, covered)]
    if len(gone):
        ground.out.query(
            str(frame["file"].iloc[0]),
            "missing days",
            found=f"{len(gone)} of {len(season)} days without weather: {_runs(gone)}",
            expected="a row for every day of the season, or one for every month",
            fix="add them from a station nearby; nothing is filled in here",
            column="date",
        )


def days_covered(frame: pd.DataFrame) -> np.ndarray:
    """Sorted days that a row of a day or of a month stands for."""
    days = frame["date"].to_numpy().astype("datetime64[D]")
    monthly = (frame["period"] == "month").to_numpy()
    months = [
        np.arange(month.astype(days.dtype), (month + 1).astype(days.dtype))
        for month in days[monthly].astype("datetime64[M]")
    ]
    return np.unique(np.concatenate([days[~monthly], *months]))


def _runs(days: np.ndarray) -> str:
    """Days as runs: "2025-04-03, 2025-05-01 to 2025-05-09"."""
    cuts = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(days)) if (b - a).astype(int) > 1)]
    runs = [days[i:j] for i, j in pairwise([*cuts, len(days)])]
    told = [day(r[0]) if len(r) == 1 else f"{day(r[0])} to {day(r[-1])}" for r in runs]
    more = f" and {len(told) - _MOST_GAPS} more gaps" if len(told) > _MOST_GAPS else ""
    return ", ".join(told[:_MOST_GAPS]) + more
