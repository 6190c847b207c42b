"""One unit's line of the water ledger: sums, what its vessels kept, limits and notes.

How delivered water and its limits come about is told in ``ledger``. Leans on vessels, rain,
water_losses, numpy and pandas.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wickstats.core.numbers import number
from wickstats.records.ground import Ground, day, units_of
from wickstats.records.rain import Rain
from wickstats.records.vessels import Reading, has_levels, levels_at, ordered_vessels
from wickstats.records.water_losses import LEAK, LEAKS, Loss

AMOUNTS_L = (
    "applied_l",
    "delivered_l",
    "delivered_low_l",
    "delivered_high_l",
    "stored_change_l",
    "leaked_l",
    "rain_l",
    "left_l",
    "by_can_l",
    "by_meter_l",
)


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """What every unit's line shares: how well water was measured, and rain."""

    can: float  # shares
    meter: float
    reading: Reading
    quantile: float
    rain: Rain | None
    holds: float | None
    rain_untold: bool = False  # reservoirs catch rain, and nobody wrote how much fell


def unknown(note: str) -> dict[str, Any]:
    """A line without numbers, and why."""
    return {**dict.fromkeys(AMOUNTS_L, np.nan), "refills": 0, "note": note}


def untold(reason: str, rows: pd.DataFrame | None) -> dict[str, Any]:
    """A line whose sum would run short: why, and what was given at least."""
    least = 0.0 if rows is None else float(np.nansum(rows["given_l"].to_numpy()))
    more = f", at least {number(least)} L were given" if least > 0.0 else ""
    return unknown(f"{reason}: the sum is not known{more}")


def unit_line(
    rows: pd.DataFrame | None, planned: float | None, leaks: list[Any], errors: Errors
) -> dict[str, Any]:
    """Sums, limits and notes of one unit; zeros where none was planned and none given."""
    if rows is None:
        if planned == 0:
            return {**dict.fromkeys(AMOUNTS_L, 0.0), "refills": 0, "note": None}
        return unknown("no water rows")
    given, instrument = rows["given_l"].to_numpy(), rows["instrument"].to_numpy()
    applied = float(np.nansum(given))
    by_can = float(np.nansum(given[instrument == "can"]))
    by_meter = float(np.nansum(given[instrument == "meter"]))
    leaked = float(np.nansum(rows["leaked_l"].to_numpy()))
    stored = _stored(rows, errors)
    delivered = applied + stored.rain - stored.change - leaked
    # a leak that was caught is measured by cans too
    shared = errors.can * (by_can + leaked) + errors.meter * by_meter
    scatter = errors.quantile * float(np.sqrt(stored.variance))
    low = delivered - shared - scatter - stored.less
    high = delivered + shared + scatter + stored.more
    notes = list(stored.notes)
    astray, told = _astray(rows, leaks)
    low -= astray
    notes += told
    twice = float(np.nansum(rows["twice_l"].to_numpy()))
    if twice > 0.0:
        low -= twice
        notes.append("water that may be told twice: delivered is an upper limit")
    if stored.over > 0.0:
        low -= stored.over
        notes.append("rain may have run over: delivered is an upper limit")
    less, more = (float(np.nansum(rows[name].to_numpy())) for name in ("less_l", "more_l"))
    if less > 0.0 or more > 0.0:
        low -= less
        notes.append("amounts that contradict each other: the limits reach to the others")
    missing = float(np.nansum(rows["missing_l"].to_numpy()))
    impossible = high < 0.0
    high += more
    if missing > 0.0:
        high += missing
        notes.append("water without a row: delivered is a lower limit")
    if impossible:
        delivered = np.nan
        notes.insert(0, "more was left or leaked than was given: delivered is not known")
    elif delivered < 0.0:
        delivered = 0.0
        notes.append("less than the error of reading was delivered: counted as none")
    known = high >= 0.0
    if stored.rain_untold:
        high = np.nan
        notes.append("rain is not known: delivered is a lower limit")
    if not np.isfinite(high):
        high = np.nan
    return {
        "applied_l": applied,
        "delivered_l": delivered,
        "delivered_low_l": max(low, 0.0) if known else np.nan,
        "delivered_high_l": high if known else np.nan,
        "stored_change_l": stored.change,
        "leaked_l": leaked,
        "rain_l": stored.rain,
        "left_l": stored.left,
        "by_can_l": by_can,
        "by_meter_l": by_meter,
        "refills": int(np.sum(given > 0)),
        "note": "; ".join(dict.fromkeys(notes)) or None,
    }


def _astray(rows: pd.DataFrame, leaks: list[Any]) -> tuple[float, list[str]]:
    """What leaks and opened valves without an amount may have taken, and notes."""
    astray, notes = 0.0, []
    noted = rows["leaked_l"].notna().to_numpy()
    levels = any(has_levels(group) for group in ordered_vessels(rows))
    for when, what in sorted(leaks):
        if what != LEAK and not levels:
            continue  # where nothing is stored, a valve lets no more out than was given
        after = rows["date"][(rows["date"] >= when).to_numpy()]
        if noted[(rows["date"] == after.min()).to_numpy()].any():
            continue  # the visit after it told how much
        astray += _largest_loss(rows, when)
        said = "a leak" if what == LEAK else "an opened valve"
        notes.append(f"{said} without an amount on {day(when)}: delivered is an upper limit")
    return astray, notes


@dataclass(frozen=True, slots=True)
class _Stored:
    """What a unit's vessels kept, caught and may have spilled; variance of delivered."""

    change: float = 0.0
    left: float = 0.0
    rain: float = 0.0
    over: float = 0.0
    variance: float = 0.0
    rain_untold: bool = False
    less: float = 0.0  # what levels that nobody read at the first or last visit may change
    more: float = 0.0
    notes: tuple[str, ...] = ()


def _stored(rows: pd.DataFrame, errors: Errors) -> _Stored:
    """Over all vessels with levels: the last level less the first, rain, error of reading."""
    change = left = caught = over = variance = less = more = 0.0
    notes: list[str] = []
    for group in ordered_vessels(rows):
        if not has_levels(group):
            continue
        opening, closing = levels_at(group)
        if np.isnan(opening[0]) or np.isnan(closing[-1]):
            notes.append(
                "the first or the last visit has no level: the nearest one is taken, and the "
                "limits hold what it may have been"
            )
        opened, closed = opening[~np.isnan(opening)], closing[~np.isnan(closing)]
        if not len(opened) or not len(closed):
            continue
        at_first, at_last = float(opened[0]), float(closed[-1])
        given = np.nan_to_num(group["given_l"].to_numpy())
        if np.isnan(opening[0]):
            # what it held before what was then given: at most what left room for that
            room = np.inf if errors.holds is None else max(errors.holds - float(given[0]), 0.0)
            at_first = min(at_first, room)
            less, more = less + at_first, more + room - at_first
        if np.isnan(closing[-1]):
            since = int(np.flatnonzero(~np.isnan(closing))[-1]) + 1
            most = at_last + float(given[since:].sum())
            most = most if errors.holds is None else max(errors.holds, at_last)
            less, more = less + most - at_last, more + at_last
        change += at_last - at_first
        left += at_last
        variance += _variance(group, (at_first, at_last), errors.reading)
        if errors.rain is not None:
            days = group["date"].to_numpy().astype("datetime64[D]")
            fallen, unknown = errors.rain.between(days[:-1], days[1:])
            caught += float(fallen.sum())
            if unknown.sum() > 0:
                notes.append(f"rain not known on {int(unknown.sum())} days: counted as none")
            if errors.holds is not None:
                over += float(np.nansum(np.maximum(closing[:-1] + fallen - errors.holds, 0.0)))
    untold = errors.rain_untold and any(has_levels(g) for g in ordered_vessels(rows))
    return _Stored(
        change, left, caught, min(over, caught), variance, untold, less, more, tuple(notes)
    )


def _variance(group: pd.DataFrame, ends: tuple[float, float], reading: Reading) -> float:
    """Of one vessel's delivered water by reading: first and last level, every refill.

    Levels in between cancel, unless the water given is itself told by two levels. An empty
    reservoir is seen without error.
    """
    level = reading.level_l**2
    own = sum(level for value in ends if value > 0.0)
    told = (group["instrument"] == "levels").to_numpy()
    refills = (group["instrument"] == "can").to_numpy() & (group["given_l"] > 0).to_numpy()
    return own + 2.0 * level * int(told.sum()) + reading.refill_l**2 * int(refills.sum())


def without_levels(
    line: dict[str, Any], rows: pd.DataFrame, holds: float | None
) -> dict[str, Any]:
    """A reservoir whose level was never noted may still be full, or have been empty."""
    if has_levels(rows):
        return line
    line = dict(line, delivered_l=np.nan, stored_change_l=np.nan, left_l=np.nan)
    if holds is None:
        line.update(delivered_low_l=np.nan, delivered_high_l=np.nan)
    else:
        line["delivered_low_l"] = max(line["delivered_low_l"] - holds, 0.0)
        line["delivered_high_l"] += holds
    line["note"] = "; ".join(
        filter(
            None,
            (line["note"], "no level was noted: what is left in the reservoir is not known"),
        )
    )
    return line


def unmeasured_leaks(events: pd.DataFrame | None, ground: Ground) -> dict[str, list[Any]]:
    """Unit to the days of its leaks and opened valves, each with what it was."""
    out: dict[str, list[Any]] = {}
    if events is None:
        return out
    leaks = events[events["what"].isin(LEAKS).to_numpy()]
    told = zip(units_of(leaks, ground.layout), leaks["date"], leaks["what"], strict=True)
    for unit, when, what in told:
        if unit is not None:
            out.setdefault(unit, []).append((when, what))
    return out


def _largest_loss(rows: pd.DataFrame, when: Any) -> float:
    """What disappeared between the visits around a day; all that was given if unknown."""
    largest = 0.0
    for group in ordered_vessels(rows):
        days = group["date"].to_numpy()
        after = group["level_after_l"].to_numpy()
        before = group["level_before_l"].to_numpy()
        earlier = np.flatnonzero(days < np.datetime64(when))
        later = np.flatnonzero(days >= np.datetime64(when))
        if len(earlier) and len(later) and not np.isnan(after[earlier[-1]] + before[later[0]]):
            largest += max(float(after[earlier[-1]] - before[later[0]]), 0.0)
        else:
            largest += float(np.nansum(group["given_l"].to_numpy()))
    return largest


def with_doubts(line: dict[str, Any], losses: list[Loss]) -> dict[str, Any]:
    """What may have leaked unseen comes off the lower limit."""
    extra = sum(loss.extra_l for loss in losses)
    if extra <= 0.0:
        return {**line, "doubtful_l": 0.0}
    days = ", ".join(f"{loss.since} to {loss.to}" for loss in losses if loss.extra_l > 0.0)
    note = f"a loss that looks like a leak ({days}): delivered is an upper limit"
    return {
        **line,
        "doubtful_l": sum(max(loss.lost_l - loss.expected_l, 0.0) for loss in losses),
        "delivered_low_l": max(line["delivered_low_l"] - extra, 0.0),
        "note": "; ".join(filter(None, (line["note"], note))),
    }
