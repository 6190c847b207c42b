"""Replacements and late planting: who stands on the places, and curves with late entry.

The plants first planted are primary. Beside them: how many of their places hold a living
plant, replacements included, and curves over the season's days in which every plant enters
when it is planted. Leans on lives, curves and models.lifetimes.
"""

from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.known import known_at
from wickstats.analysis.lives import Lives
from wickstats.analysis.rounds import GRACE_DAYS
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.histories import StandRow
from wickstats.core.responses import CurvePoint
from wickstats.core.words import say
from wickstats.models.lifetimes.entry import late_curve
from wickstats.models.lifetimes.intervals import interval_of_shares
from wickstats.models.lifetimes.regions import find_regions
from wickstats.models.lifetimes.restricted import AliveCounts, alive_at


def _counts(lives: Lives, units: Units, day: float) -> AliveCounts:
    return alive_at(lives.low, lives.high, lives.units, units.n, day, grace=GRACE_DAYS)


def _there(replacements: Lives | None, day: float) -> Lives | None:
    """The replacements that were planted by then."""
    return None if replacements is None else subset(replacements, replacements.planted <= day)


def subset(lives: Lives, keep: NDArray[np.bool_]) -> Lives:
    """Some of the plants."""
    mine = np.flatnonzero(keep).tolist()
    return replace(
        lives,
        units=lives.units[mine],
        low=lives.low[mine],
        high=lives.high[mine],
        planted=lives.planted[mine],
        doubtful=lives.doubtful[mine],
        last_seen=lives.last_seen[mine],
        cause=tuple(lives.cause[k] for k in mine),
        fate=tuple(lives.fate[k] for k in mine),
        plots=tuple(lives.plots[k] for k in mine),
        plants=tuple(lives.plants[k] for k in mine),
    )


def stand_rows(
    lives: Lives, replacements: Lives | None, units: Units, day: float
) -> tuple[StandRow, ...]:
    """Places by treatment at a day; empty without replacements.

    Living plants are counted wherever they were seen, shares in units whose first plants
    are known.
    """
    late = _there(replacements, day)
    if late is None or late.n == 0:
        return ()
    found, second = known_at(day, lives, units), _counts(late, units, day)
    first = found.counts
    out = []
    for code, name in enumerate(units.cell_names):
        mine = units.cells == code
        sure = mine & found.used
        alive, known = int(first.alive[sure].sum()), int(found.plants[sure].sum())
        places = min(alive + int(second.alive[sure].sum()), known)
        out.append(
            StandRow(
                treatment=name,
                at=lives.words(day),
                places=int(first.plants[mine].sum()),
                originals_alive=int(first.alive[mine].sum()),
                replacements=int(second.plants[mine].sum()),
                replacements_alive=int(second.alive[mine].sum()),
                known=known,
                share_originals=alive / known if known else None,
                share_places=places / known if known else None,
            )
        )
    return tuple(out)


def places_summary(
    main: Summary, replacements: Lives | None, units: Units, day: float
) -> Summary | None:
    """Share of places with a living plant, for a sensitivity run; None without replacements."""
    late = _there(replacements, day)
    if late is None or late.n == 0 or main.alive is None:
        return None
    more = _counts(late, units, day).alive.astype(float)
    alive = np.minimum(main.alive + more, main.plants)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(main.used, alive / main.plants, np.nan)
    return replace(main, values=values, alive=alive, notes=())


def late_points(
    lives: Lives, replacements: Lives | None, units: Units, confidence: float
) -> tuple[CurvePoint, ...]:
    """Curves over the days since the first planting, every plant entering when planted.

    Empty where all were planted on one day and none was replaced.
    """
    groups = [lives] if replacements is None else [lives, replacements]
    entered = np.concatenate([g.planted for g in groups])
    if lives.origin is None or entered.size == 0 or np.ptp(entered) == 0.0:
        return ()
    low, high = (np.concatenate([getattr(g, n) for g in groups]) for n in ("low", "high"))
    unit = np.concatenate([g.units for g in groups])
    # seen dead on the very day of planting: under watch for that day
    entered = np.where(high <= entered, high - 0.5, entered)
    arms = units.cells[unit]
    out: list[CurvePoint] = []
    for code, name in enumerate(units.cell_names):
        mine = arms == code
        if mine.any():
            out.extend(
                _points(name, entered[mine], low[mine], high[mine], unit[mine], confidence)
            )
    return tuple(out)


def _points(
    group: str, entered: Array, low: Array, high: Array, unit: IntArray, confidence: float
) -> list[CurvePoint]:
    regions = find_regions(low, high)
    finite = np.isfinite(regions.highs)
    begin = float(np.ceil(entered.min()))
    starts = np.unique(np.concatenate([[begin], regions.highs[finite]]))
    last = float(np.where(np.isfinite(high), high, low).max())
    begins = [float(regions.lows[regions.lows >= t].min(initial=last)) for t in starts]
    whole = late_curve(entered, low, high).share(starts)
    names = np.unique(unit)
    others = [
        late_curve(entered[k], low[k], high[k]).share(starts)
        for k in (unit != j for j in names)
        if k.any()
    ]
    out = []
    for i, (t, end) in enumerate(zip(starts, begins, strict=True)):
        n = float(np.sum((entered <= t) & ((low >= t) | (high <= t))))
        found = interval_of_shares(
            float(whole[i]) * n,
            n,
            np.array([o[i] for o in others]) * n,
            np.full(len(others), n),
            confidence,
            n_units=int(names.size),
        )
        first = i == 0 and whole[i] == 1.0
        at_risk = np.sum((entered <= t) & (low >= t))
        out.append(
            CurvePoint(
                group=group,
                time_low=float(t),
                time_high=max(float(end), float(t)),
                share=float(whole[i]),
                low=None if first else found.low,
                high=None if first or found.high is None else max(found.high, float(whole[i])),
                at_risk=int(at_risk),
            )
        )
    return out


def late_notes(lives: Lives, replacements: Lives | None, units: Units) -> tuple[str, ...]:
    """How many entered late, by treatment, in words."""
    out = []
    if lives.n and np.ptp(lives.planted) > GRACE_DAYS:
        late = lives.planted > lives.planted.min() + GRACE_DAYS
        out.append(say("planted late note", told=_told(lives.units[late], units)))
    if replacements is not None and replacements.n:
        out.append(say("replacements note", told=_told(replacements.units, units)))
    return tuple(out)


def _told(unit: IntArray, units: Units) -> str:
    counts = Counter(units.cells[unit].tolist())
    return ", ".join(f"{units.cell_names[k]} {counts[k]}" for k in sorted(counts))
