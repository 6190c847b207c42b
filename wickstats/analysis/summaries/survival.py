"""Survival: share alive at named dates, restricted mean time, log-rank score, by unit.

The status at a date is that of the visit that serves it. Units not visited around the date
are left out whole; plants not found in visited ones count by the curve of their own unit
(best and worst case count them alive and dead). Lifetimes that end before the day without
a death count by the curve of their treatment. Leaving such plants out would keep the dead
and drop the living. Where browsing is a competing cause, the share is of plants that
nothing else had killed, and the log-rank score that of deaths by anything else. Leans on
known, models.lifetimes and the lives.
"""

from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.known import better_day, known_at, known_notes
from wickstats.analysis.lives import BROWSING, COMPETING, Lives
from wickstats.analysis.rounds import GRACE_DAYS
from wickstats.analysis.summaries.dates import curve_reach, horizon_day, horizon_days
from wickstats.analysis.summary import Lived, Summary, missing_reasons
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.words import say
from wickstats.models.lifetimes.pseudo import share_pseudo_values
from wickstats.models.lifetimes.restricted import restricted_means
from wickstats.models.lifetimes.scores import (
    aligned_scores,
    plant_scores,
    unit_score_variances,
    unit_scores,
)

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


def shares_at(day: float, lives: Lives, units: Units, lost: dict[str, str]) -> SharesAt:
    """Share alive by unit at one day, with best and worst case where plants are open."""
    found = known_at(day, lives, units)
    estimand = SPARED if lives.browsing == COMPETING else "share alive"
    at, counts = lives.words(day), found.counts
    alive, there = counts.alive + found.spared, counts.open.astype(float)
    opened = int(counts.open.sum())
    # counts stay whole numbers where nothing is open
    counted = np.where(counts.open > 0, found.share * found.plants, alive)
    lost_sight = (found.missed | found.unseen).any()
    better = better_day(found, lives, units) if lost_sight else None
    main = replace(
        _share(counted, found.plants, at, units, lost, estimand),
        reasons=missing_reasons(found.used, units, lost, found.reasons(at)),
        notes=known_notes(found, lives, units, better),
        unseen=there if opened else None,
    )
    curve = _by_curve(day, lives, units, lost, main)
    if curve is not None and lives.origin is None:
        main, curve = curve, None
    if not opened:
        return SharesAt(day, at, main, None, None, 0, there)
    total = counts.plants.astype(float)
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
    if lives.n == 0:
        return None
    reached = horizon_day(day, lives, units)
    horizon = horizon_days(day, lives) if lives.origin is not None else reached
    if horizon <= 0.0:
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
    elif reached - float(lives.planted.min()) > horizon + GRACE_DAYS:
        late = int((lives.planted > lives.planted.min() + GRACE_DAYS).sum())
        notes = (say("horizon late", day=f"{horizon:g}", n=late),)
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
    beside = aligned_scores(low, high, strata)
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
        aligned=-np.asarray(unit_scores(beside, lives.units, units.n), dtype=float),
        aligned_variance=unit_score_variances(beside, lives.units, units.n, strata),
    )
