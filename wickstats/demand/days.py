"""The table of weather becomes reference evapotranspiration, row by row, then day by day.

Penman-Monteith is used wherever something besides temperatures was measured; Hargreaves
where only temperatures were. Both are kept. Leans on ``reference``, records and core.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.core.words import say
from wickstats.demand.reference import Reference, Weather, ground_heat_of_month, reference

Row = Mapping[str, float | str | None]
FloatArray = NDArray[np.float64]


def rows_of_weather(frame: pd.DataFrame, latitude: float, elevation: float) -> tuple[Row, ...]:
    """One row a row of the table, in the order of time: every intermediate, route and why.

    ``et0_mm`` is the one that is used (not below zero; None where the sun does not rise).
    """
    frame = frame.sort_values(["date", "row"], kind="stable")
    heat = _ground_heat(frame)
    out = []
    for place, row in enumerate(frame.to_dict("records")):
        given = {str(k): v for k, v in row.items()}
        weather = Weather(
            day_of_year=int(given["date"].dayofyear),
            tmin_c=given["tmin_c"],
            tmax_c=given["tmax_c"],
            radiation=_value(given["radiation_mj_m2"]),
            ground_heat=heat[place] or 0.0,
            **{k: _value(given[k]) for k in _AS_THEY_ARE},
        )
        found = reference(weather, latitude, elevation)
        out.append(_told(given, found, ground_known=heat[place] is not None))
    return tuple(out)


_AS_THEY_ARE = ("rh_min", "rh_max", "vapor_kpa", "wind_m_s", "wind_height_m", "sun_h")


def _value(cell: float) -> float | None:
    return None if math.isnan(cell) else float(cell)


def _ground_heat(frame: pd.DataFrame) -> list[float | None]:
    """G: none for a day, from the months around for a month (None: not known)."""
    means = (frame["tmin_c"] + frame["tmax_c"]).to_numpy() / 2.0
    months = frame["date"].to_numpy().astype("datetime64[M]").astype(int)
    monthly = (frame["period"] == "month").to_numpy()
    known = {int(m): float(t) for m, t, of in zip(months, means, monthly, strict=True) if of}
    return [
        ground_heat_of_month(float(t), known.get(int(m) - 1), known.get(int(m) + 1))
        if of
        else 0.0
        for m, t, of in zip(months, means, monthly, strict=True)
    ]


def _told(given: Mapping[str, Any], found: Reference, *, ground_known: bool) -> Row:
    route = "Hargreaves" if found.only_temperatures else "Penman-Monteith"
    et0 = found.et0_hargreaves_mm if found.only_temperatures else found.et0_penman_mm
    if found.only_temperatures:
        why = [say("supply why temperatures")]
    else:
        why = [say("supply why measured")]
        if found.vapor_from != "measured":
            why.append(say(f"supply vapor {found.vapor_from}"))
        if found.sun_from != "measured":
            why.append(say(f"supply sun {found.sun_from}"))
        if found.wind_from != "measured":
            why.append(say(f"supply wind {found.wind_from}"))
    if not ground_known:
        why.append(say("supply ground unknown"))
    if et0 is None:
        why.append(say("supply no sun"))
    plain = {k: v for k, v in asdict(found).items() if k != "only_temperatures"}
    return {
        "date": str(given["date"].date()),
        "period": given["period"],
        "tmin_c": float(given["tmin_c"]),
        "tmax_c": float(given["tmax_c"]),
        **plain,
        "et0_mm": None if et0 is None else max(et0, 0.0),
        "route": route,
        "why": "; ".join(why),
        "rain_mm": _value(given["rain_mm"]),
    }


def daily_et0(rows: tuple[Row, ...], days: np.ndarray, column: str = "et0_mm") -> FloatArray:
    """(n,) a column's value on each of ``days`` (datetime64[D]); NaN where there is none.

    A month's row stands for those of its days that have no row of their own.
    """
    by_day: dict[np.datetime64, float] = {}
    by_month: dict[np.datetime64, float] = {}
    for row in rows:
        value = row[column]
        if not isinstance(value, float):
            continue
        when = np.datetime64(str(row["date"]), "D")
        if row["period"] == "month":
            by_month[when.astype("datetime64[M]")] = value
        else:
            by_day[when] = value
    return np.asarray(
        [by_day.get(d, by_month.get(d.astype("datetime64[M]"), math.nan)) for d in days]
    )
