"""Survival: share alive at named dates, restricted mean time, log-rank score, by unit.

The status at a date is that of the latest visit on or before it; a plant not seen for
more than 14 days before is open and left out of the share (best and worst case count it
alive and dead). Lifetimes that end before the date without a death count by the curve of
their treatment instead: leaving them out keeps the dead and drops the living. Where
browsing is a competing cause, the share is of plants that nothing else had killed, and the
log-rank score that of deaths by anything else. Leans on models.lifetimes and the lives.
"""

from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.lives import BROWSING, COMPETING, GONE, GRACE_DAYS, Lives
from wickstats.analysis.summary import Lived, Summary, missing_reasons
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.words import say
from wickstats.design.trial import Response
from wickstats.models.lifetimes.pseudo import share_pseudo_values
from wickstats.models.lifetimes.restricted import alive_at, restricted_means
from wickstats.models.lifetimes.scores import plant_scores, unit_score_variances, unit_scores

SPARED = "share not dead of other causes"


@dataclass(frozen=True, slots=True, eq=False)
class SharesAt:
    """Counts at one date by unit, and the cases that bound what is open."""

    day: float
    at: str
    main: Summary
    best: Summary | None
    worst: Summary | None
    open: int
    open_by_unit: Array
    curve: Summary | None = None  # open plants by their treatment's curve


def last_common_day(lives: Lives) -> float:
    """The last day up to which every unit with living plants was watched."""
    ends = []
    gone = np.isin(np.array(lives.fate, dtype=object), GONE)
    for unit in np.unique(lives.units):
        mine = lives.units == unit
        open_ended = mine & ~lives.dead
        if not open_ended.any() or (gone | lives.dead)[mine].all():
            continue
        ends.append(float(lives.last_seen[mine].max()))
    if ends:
        return min(ends)
    seen = np.concatenate([lives.last_seen, lives.high[lives.dead]])
    return float(seen.max()) if seen.size else 0.0


def curve_reach(lives: Lives, units: Units) -> float:
    """The last day on which every treatment still has living plants of two units in sight.

    Infinite where all plants are dead.
    """
    arms, out = units.cells[lives.units], [np.inf]
    living = ~lives.dead
    for code in np.unique(arms[living]):
        ends = np.full(units.n, -np.inf)
        mine = living & (arms == code)
        np.maximum.at(ends, lives.units[mine], lives.low[mine])
        seen = np.sort(ends[np.isfinite(ends)])
        out.append(float(seen[-2] if seen.size > 1 else seen[-1]))
    return min(out)


def horizon_day(day: float, lives: Lives, units: Units) -> float:
    """How far restricted means go: to ``day``, or as far towards it as can be known.

    Visits: as far as every unit was watched. Lifetimes: as far as every treatment was,
    since pseudo-values make up for single lives that were followed for less.
    """
    reach = last_common_day(lives)
    if lives.origin is None:
        reach = max(reach, curve_reach(lives, units))
    return min(day, reach)


def default_day(lives: Lives) -> float:
    """The last day on which anything was seen."""
    seen = np.concatenate([lives.last_seen, lives.high[lives.dead], lives.low])
    return float(seen.max())


def days_asked(response: Response, lives: Lives) -> tuple[float, ...]:
    """Days of ``at`` in order, or the last day seen; dates cannot meet lives in days."""
    asked = [
        lives.day(at) for at in response.at if (lives.origin is None) == isinstance(at, float)
    ]
    return tuple(sorted(asked)) or (default_day(lives),)


def shares_at(day: float, lives: Lives, units: Units, lost: dict[str, str]) -> SharesAt:
    """Share alive by unit at one day, with best and worst case where plants are open."""
    counts = alive_at(lives.low, lives.high, lives.units, units.n, day, grace=GRACE_DAYS)
    alive = counts.alive.astype(float)
    known = alive + counts.dead.astype(float)
    estimand = "share alive"
    if lives.browsing == COMPETING:
        eaten = lives.dead_by(BROWSING) & (lives.high <= day)
        alive = alive + np.bincount(lives.units[eaten], minlength=units.n)
        estimand = SPARED
    total = counts.plants.astype(float)
    at = lives.words(day)
    opened = int(counts.open.sum())
    notes = (say("plants open", n=opened, at=at),) if opened else ()
    there = counts.open.astype(float)
    main = _share(alive, known, at, units, lost, estimand, notes)
    curve = _by_curve(day, lives, units, lost, main)
    if curve is not None and lives.origin is None:
        main, curve = curve, None
    if not opened:
        return SharesAt(day, at, main, None, None, 0, there)
    best = _share(alive + there, total, at, units, lost, estimand)
    worst = _share(alive, total, at, units, lost, estimand)
    return SharesAt(day, at, main, best, worst, opened, there, curve)


def _by_curve(
    day: float,
    lives: Lives,
    units: Units,
    lost: dict[str, str],
    main: Summary,
) -> Summary | None:
    """The share in which open plants count by the product-limit curve of their treatment.

    None where no plant is open, or a treatment had no plants in sight any more.
    """
    low, grace = lives.low, 0.0 if lives.origin is None else GRACE_DAYS
    short = ~(lives.high <= day) & (low < day - grace)
    if (
        lives.browsing == COMPETING
        or not short.any()
        or day > curve_reach(lives, units) + grace
    ):
        return None
    near = ~(lives.high <= day) & ~short
    low = np.where(near, np.maximum(low, day), low)
    high = np.maximum(lives.high, low)
    counts = share_pseudo_values(low, high, units.cells[lives.units], day)
    plants = np.bincount(lives.units, minlength=units.n).astype(float)
    total = np.bincount(lives.units, weights=counts, minlength=units.n)
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(plants > 0, total / plants, np.nan)
    note = say("followed for less", n=int(short.sum()), total=lives.n, at=main.at or "")
    return replace(
        main,
        values=values,
        plants=plants,
        reasons=missing_reasons(np.isfinite(values), units, lost, say("no plant")),
        alive=None,
        lived=Lived(counts, lives.units, 1.0),
        notes=(note,),
    )


def _share(
    alive: Array,
    known: Array,
    at: str,
    units: Units,
    lost: dict[str, str],
    estimand: str,
    notes: tuple[str, ...] = (),
) -> Summary:
    name = say("share alive at" if estimand == "share alive" else "share spared at", at=at)
    return share_summary(name, estimand, alive, known, at, units, lost, notes)


def share_summary(
    name: str,
    estimand: str,
    counted: Array,
    known: Array,
    at: str,
    units: Units,
    lost: dict[str, str],
    notes: tuple[str, ...] = (),
) -> Summary:
    """The share (n,) that ``counted`` plants are of the ``known`` ones of each unit."""
    with np.errstate(invalid="ignore", divide="ignore"):
        values = np.where(known > 0, counted / known, np.nan)
    return Summary(
        name=name,
        estimand=estimand,
        at=at,
        values=values,
        plants=known,
        reasons=missing_reasons(np.isfinite(values), units, lost, say("no plant known", at=at)),
        rule="dispersion",
        counted=True,
        measured_in="share",
        alive=counted,
        notes=notes,
    )


def restricted_mean(
    day: float, lives: Lives, units: Units, lost: dict[str, str]
) -> Summary | None:
    """Restricted mean survival time to ``day``, or to the last day it can be known."""
    start = float(lives.planted.max())
    reached = horizon_day(day, lives, units)
    horizon = reached - start
    if horizon <= 0.0 or lives.n == 0:
        return None
    there = np.unique(lives.units)
    code = np.full(units.n, -1, dtype=np.int64)
    code[there] = np.arange(there.size)
    found = restricted_means(
        lives.low - lives.planted,
        lives.high - lives.planted,
        code[lives.units],
        units.cells[there],
        horizon,
    )
    values, plants = np.full(units.n, np.nan), np.zeros(units.n)
    values[there], plants[there] = found.values, found.plants
    at = say("to day", day=f"{horizon:g}")
    notes: tuple[str, ...] = ()
    if reached < day:
        kind = "lifetimes" if lives.origin is None else "visits"
        notes = (say(f"horizon {kind}", day=f"{horizon:g}", asked=lives.words(day)),)
    return Summary(
        name=say("restricted mean name", day=f"{horizon:g}"),
        estimand="restricted mean survival time",
        at=at,
        values=values,
        plants=plants,
        reasons=missing_reasons(np.isfinite(values), units, lost, say("no plant")),
        rule="dispersion",
        counted=True,
        measured_in="d",
        lived=Lived(np.asarray(found.plant_values, dtype=float), lives.units, horizon),
        notes=notes,
    )


def log_rank_score(lives: Lives, units: Units, lost: dict[str, str]) -> Summary | None:
    """Log-rank scores of plants, stratified by block, summed over each unit.

    The sign is turned so that more means longer lives.
    """
    if lives.n == 0:
        return None
    strata: IntArray | None = None
    if units.block_codes is not None:
        strata = units.block_codes[lives.units]
    low, high = lives.low - lives.planted, lives.high - lives.planted
    if lives.browsing == COMPETING:
        high = np.where(lives.dead_by(BROWSING), np.inf, high)
    if not np.isfinite(high).any():
        return None
    scores = plant_scores(low, high, strata)
    values = -np.asarray(unit_scores(scores, lives.units, units.n), dtype=float)
    plants = np.bincount(lives.units, minlength=units.n).astype(float)
    values = np.where(plants > 0, values, np.nan)
    return Summary(
        name=say("log-rank score"),
        estimand="log-rank score",
        at=None,
        values=values,
        plants=plants,
        reasons=missing_reasons(np.isfinite(values), units, lost, say("no plant")),
        rule="strata",
        counted=True,
        measured_in="score",
        guard=False,
        plant_variance=unit_score_variances(scores, lives.units, units.n, strata),
    )
