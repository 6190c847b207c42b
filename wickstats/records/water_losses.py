"""Reservoirs that lost more than plants can draw, or hardly anything: leaks, blocked wicks.

    expected = a unit's own median rate x the course of the season
    course   = median over the other units of rate / own median rate, at the same time

A time between two visits is asked about where its loss lies far from what is expected, by a
factor and by five robust standard deviations of the logarithm over the whole trial; a unit,
where its rate over the season lies as far from the other units of its treatment. How many
leaks are so found, and how many alarms are false, stands in reports/validation. Milder limits
(1.5 times, 4.5 deviations) find more leaks, but ask about weeks of the invented terrace in
which nothing happened. Where the wetted ground of a plant is told, no loss can exceed what
bare sun can evaporate from it (12 mm a day: common practice, no source). Times that an event
explains are not asked about. Nothing is changed: a suspected leak widens the unit's interval
downward. Leans on
numpy and pandas.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wickstats.core.numbers import number
from wickstats.records.ground import Ground, day, units_of

Array = np.ndarray

LEAK = "leak"
LEAKS = (LEAK, "valve opened")  # events after which the ledger itself bounds the loss
MORE, LESS = "lost more than any demand", "hardly any loss"
_TIMES_OVER, _TIMES_UNDER = 2.0, 4.0  # of a time between two visits
_UNIT_OVER, _UNIT_UNDER = 2.0, 3.0  # of a unit's whole season
_SPREADS = 4.0
_SPREADS_TIMES = 5.0  # there are many more times than units
_LEAST_SPREAD = 0.1  # of the logarithm: plants and weather differ by that much anywhere
_SLACK_L = 0.5  # a level is read off a mark: common practice, no source
_MM_A_DAY = 12.0
_EXPLAINS = {
    MORE: ("leak", "theft", "valve opened", "flood damage", "reservoir empty", "other"),
    LESS: ("blocked wick", "reservoir empty", "flood damage", "other"),
}
_EXPECTED = {MORE: "a loss that plants can draw", LESS: "a loss like that of the others"}
_FIX = {
    MORE: (
        "look for a leak, theft or a slip of the pen, and note leaked_l or an event; until "
        "then it counts as delivered, and the lower limit leaves it out"
    ),
    LESS: (
        "look for a blocked wick, a sealed lid or a level that was copied, and note it in "
        "events; the rows are used as they are"
    ),
}


@dataclass(frozen=True, slots=True)
class Loss:
    """One time (or a whole season) whose loss is not to be believed.

    ``extra_l`` is what may have leaked: all of the loss of a time between two visits; over
    a season the part above two standard deviations below the other units'; 0 where hardly
    anything was lost.
    """

    unit: str
    code: str
    since: str
    to: str
    lost_l: float
    expected_l: float
    whole: bool
    extra_l: float
    file: str
    row: int
    explained: bool = False


def doubtful_losses(
    periods: pd.DataFrame, events: pd.DataFrame | None, ground: Ground
) -> tuple[Loss, ...]:
    """All doubtful losses by unit and time; whole seasons only of units without another."""
    if periods.empty:
        return ()
    told = _explained(events, ground)
    found = _of_times(periods, told, ground)
    named = {loss.unit for loss in found}
    return (*found, *(s for s in _of_seasons(periods, told, ground) if s.unit not in named))


def ask_losses(losses: tuple[Loss, ...], ground: Ground) -> None:
    """One query a doubtful loss."""
    for loss in losses:
        if loss.explained:
            continue
        when = f"from {loss.since} to {loss.to}"
        what = f"unit {loss.unit} lost {number(loss.lost_l)} L {when}"
        beside = "the other units of its treatment" if loss.whole else "its other times"
        ground.out.query(
            loss.file,
            loss.code,
            found=f"{what}, where {beside} let expect about {number(loss.expected_l)} L",
            expected=_EXPECTED[loss.code],
            fix=_FIX[loss.code],
            row=loss.row,
        )


def _of_times(
    periods: pd.DataFrame, told: dict[str, list[tuple[Any, Any, str]]], ground: Ground
) -> list[Loss]:
    days, lost = periods["days"].to_numpy(), periods["lost_l"].to_numpy()
    expected = _expected(periods) * days
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(lost / expected)
    wide = _SPREADS_TIMES * _spread(logs)
    over, under = max(np.log(_TIMES_OVER), wide), max(np.log(_TIMES_UNDER), wide)
    cap = _most(periods, ground) * days
    much = (logs > over) & (lost - expected > 2.0 * _SLACK_L)
    much |= lost > np.maximum(cap, 4.0 * _SLACK_L)
    little = (lost < expected * np.exp(-under)) & (expected > 4.0 * _SLACK_L)
    little &= ~periods["emptied"].to_numpy(dtype=bool)
    out = []
    for k in np.flatnonzero(much | little).tolist():
        row = periods.iloc[k]
        code = MORE if much[k] else LESS
        happened, span = told.get(row["unit"], []), (row["from"], row["to"])
        explained = _is_explained(happened, *span, code)
        if explained and (code == LESS or _is_leak(happened, *span)):
            continue
        out.append(
            Loss(
                unit=str(row["unit"]),
                code=code,
                since=day(row["from"]),
                to=day(row["to"]),
                lost_l=float(lost[k]),
                expected_l=float(np.fmin(expected[k], cap[k])),
                whole=False,
                extra_l=float(lost[k]) if much[k] else 0.0,
                file=str(row["file"]),
                row=int(row["row"]),
                explained=explained,
            )
        )
    return out


def _expected(periods: pd.DataFrame) -> Array:
    """(n,) liters a day to expect; NaN where a unit has too few times."""
    codes, names = pd.factorize(periods["unit"])
    rate = periods["lost_l"].to_numpy() / periods["days"].to_numpy()
    own = np.full(len(names), np.nan)
    for j in range(len(names)):
        mine = rate[codes == j]
        if mine.size >= 3:
            own[j] = max(float(np.median(mine)), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = rate / own[codes]
    start = periods["from"].to_numpy().astype("datetime64[h]").astype(np.int64)
    end = periods["to"].to_numpy().astype("datetime64[h]").astype(np.int64)
    middle = (start + end) // 2
    seen = np.full((rate.size, len(names)), np.nan)
    for j in range(len(names)):
        mine = np.flatnonzero(codes == j)
        mine = mine[np.argsort(start[mine], kind="stable")]
        if np.isnan(own[j]) or own[j] <= 0.0:
            continue
        place = np.searchsorted(start[mine], middle, side="right") - 1
        inside = (place >= 0) & (middle < end[mine][np.maximum(place, 0)])
        seen[inside, j] = relative[mine[np.maximum(place, 0)]][inside]
    seen[np.arange(rate.size), codes] = np.nan
    enough = (~np.isnan(seen)).sum(axis=1) >= 3
    course = np.ones(rate.size)
    if enough.any():
        course[enough] = np.maximum(np.nanmedian(seen[enough], axis=1), 0.0)
    product: Array = own[codes] * course
    return product


def _of_seasons(
    periods: pd.DataFrame, told: dict[str, list[tuple[Any, Any, str]]], ground: Ground
) -> list[Loss]:
    unit_of = ground.layout.unit_of
    arm_of = {unit_of[p.plot]: p.treatment for p in ground.layout.plots}
    size_of = Counter(unit_of.values())
    sums = periods.groupby("unit", sort=False)[["lost_l", "days"]].sum()
    units = [str(u) for u in sums.index]
    arms = np.array([arm_of[u] for u in units], dtype=object)
    size = np.array([size_of[u] for u in units], dtype=float)
    rate = sums["lost_l"].to_numpy() / sums["days"].to_numpy() / size
    logs, center = np.full(rate.size, np.nan), np.full(rate.size, np.nan)
    for j in range(rate.size):
        others = (arms == arms[j]) & (np.arange(rate.size) != j) & (rate > 0.0)
        if others.sum() < 2:
            continue
        center[j] = float(np.median(rate[others]))
        if rate[j] > 0.0:
            logs[j] = float(np.log(rate[j] / center[j]))
    if np.isfinite(logs).sum() < 4:
        return []
    wide = _SPREADS * _spread(logs)
    over, under = max(np.log(_UNIT_OVER), wide), max(np.log(_UNIT_UNDER), wide)
    out = []
    for j, unit in enumerate(units):
        lost, expected = float(sums["lost_l"].iloc[j]), center[j] * size[j]
        expected *= float(sums["days"].iloc[j])
        much = bool(logs[j] > over)
        little = bool(lost < expected * np.exp(-under))
        if not (much or little):
            continue
        mine = periods[(periods["unit"] == unit).to_numpy()]
        since, to = mine["from"].min(), mine["to"].max()
        code = MORE if much else LESS
        if _is_explained(told.get(unit, []), since, to, code):
            continue
        out.append(
            Loss(
                unit=unit,
                code=code,
                since=day(since),
                to=day(to),
                lost_l=lost,
                expected_l=float(expected),
                whole=True,
                extra_l=lost - float(expected) * float(np.exp(-0.5 * wide)) if much else 0.0,
                file=str(mine["file"].iloc[0]),
                row=int(mine["row"].iloc[0]),
            )
        )
    return out


def _spread(logs: Array) -> float:
    """Robust standard deviation of the logarithms; never below what is normal anywhere."""
    known = logs[np.isfinite(logs)]
    if known.size < 4:
        return _LEAST_SPREAD
    middle = float(np.median(np.abs(known - np.median(known))))
    return max(1.4826 * middle, _LEAST_SPREAD)


def _most(periods: pd.DataFrame, ground: Ground) -> Array:
    """(n,) liters a day that the wetted ground can evaporate at most; infinite if not told."""
    water = ground.trial.water
    area = None if water is None else water.wetted_m2
    planted, unit_of = ground.planted(), ground.layout.unit_of
    if water is None or area is None:
        return np.full(len(periods), np.inf)
    factor = max(water.crop_coefficient or 1.0, 1.0)
    plants: dict[str, float] = {}
    for plot in ground.layout.plots:
        many = planted.get(plot.plot)
        unit = unit_of[plot.plot]
        plants[unit] = plants.get(unit, 0.0) + (np.inf if many is None else many)
    return np.array([_MM_A_DAY * factor * area * plants[u] for u in periods["unit"]])


def _explained(
    events: pd.DataFrame | None, ground: Ground
) -> dict[str, list[tuple[Any, Any, str]]]:
    """Unit to what happened to it: first day, last day, what."""
    out: dict[str, list[tuple[Any, Any, str]]] = {}
    if events is None:
        return out
    columns = [events[c] for c in ("date", "until", "what")]
    for unit, when, until, what in zip(units_of(events, ground.layout), *columns, strict=True):
        if unit is not None:
            out.setdefault(unit, []).append((when, when if pd.isna(until) else until, what))
    return out


def _is_explained(happened: list[tuple[Any, Any, str]], since: Any, to: Any, code: str) -> bool:
    return any(
        what in _EXPLAINS[code] and first <= to and last >= since
        for first, last, what in happened
    )


def _is_leak(happened: list[tuple[Any, Any, str]], since: Any, to: Any) -> bool:
    """Whether the ledger takes off what was lost around a leak (``unmeasured_leaks``)."""
    return any(what in LEAKS and since < first <= to for first, _, what in happened)
