"""A response's unit summaries from the season: the main one, others, and sensitivity runs.

Leans on the summaries, one module a kind of response.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from wickstats.analysis.bench import bench_summaries
from wickstats.analysis.lives import COMPETING, GONE, Lives, read_replacements
from wickstats.analysis.position import POSITION, placed
from wickstats.analysis.replaced_totals import with_and_without
from wickstats.analysis.standing import places_summary
from wickstats.analysis.summaries.dates import days_asked, last_day_asked, moved_days
from wickstats.analysis.summaries.liters import water_summaries
from wickstats.analysis.summaries.sizes import size_summaries
from wickstats.analysis.summaries.survival import (
    SharesAt,
    log_rank_score,
    restricted_mean,
    shares_at,
)
from wickstats.analysis.summaries.totals import ratio_summaries, total_summaries
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, Units
from wickstats.core.words import say
from wickstats.design.trial import Response, Trial
from wickstats.records.season import Season

AT_ONCE = 1e-6  # days after it was last seen alive, for a plant counted dead from then on


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Summaries of one response.

    Attributes
    ----------
    main
        Carries the verdict; None with ``reason`` (by default that there are no rows).
    others
        Compared without a verdict (earlier dates, restricted mean).
    tested
        Tested as a whole only (log-rank score): label and summary.
    sensitivity
        Labels and summaries: best and worst case, bounds.
    opened
        Where plants are open at the main date: worst and best case, (n units,) how many.
    """

    main: Summary | None
    others: tuple[Summary, ...] = ()
    tested: tuple[tuple[str, Summary], ...] = ()
    sensitivity: tuple[tuple[str, Summary], ...] = ()
    opened: tuple[Summary, Summary, Array] | None = None
    reason: str | None = None


def gather(
    trial: Trial,
    response: Response,
    season: Season,
    units: Units,
    lives: Lives | None,
    covariate: str | None,
) -> Gathered:
    """Bring one response's records into unit summaries."""
    kind = response.kind
    found: Gathered | None = None
    if kind == "survival":
        found = (
            None if lives is None or lives.n == 0 else _survival(response, lives, units, season)
        )
    elif kind in ("growth", "measurement", "score"):
        found = _last_is_main(size_summaries(response, season, units, covariate))
    elif kind in ("yield", "count"):
        found = _replaced(partial(_total, response, units=units), season, units)
    elif kind == "yield per liter":
        found = _replaced(partial(_ratio, trial, response, units=units), season, units)
    elif kind == "water used":
        found = _with_bounds(*water_summaries(response, season, units))
    else:
        mains, others = bench_summaries(response, season, units)
        found = None if mains is None else Gathered(mains, others)
    if found is None or found.main is None or not found.main.used.any():
        reason = None if found is None else found.reason
        return Gathered(None, reason=reason or say("no data for response", name=response.name))
    if covariate != POSITION:
        return found
    layout = season.layout
    return replace(
        found,
        main=placed(found.main, layout, units),
        others=tuple(placed(summary, layout, units) for summary in found.others),
        sensitivity=tuple((k, placed(s, layout, units)) for k, s in found.sensitivity),
    )


def _replaced(
    gathered: Callable[[Season], Gathered | None], season: Season, units: Units
) -> Gathered | None:
    """Totals as they were picked, and runs without what replacements bore."""
    found = gathered(season)
    if found is None or found.main is None:
        return found

    def again(other: Season) -> Summary | None:
        other_found = gathered(other)
        return None if other_found is None else other_found.main

    main, runs = with_and_without(found.main, season, units, again)
    return replace(found, main=main, sensitivity=(*found.sensitivity, *runs))


def _total(response: Response, season: Season, units: Units) -> Gathered | None:
    mains, bounds = total_summaries(response, season, units)
    found = _last_is_main(mains)
    if found is None:
        return None
    return replace(found, sensitivity=tuple((b.name, b) for b in bounds))


def _last_is_main(summaries: tuple[Summary, ...]) -> Gathered | None:
    return Gathered(summaries[-1], summaries[:-1]) if summaries else None


def _ratio(trial: Trial, response: Response, season: Season, units: Units) -> Gathered | None:
    name = response.yield_of
    known = {r.name: r for r in trial.responses}
    of = known.get(name) if name is not None else None
    if of is None:
        of = next((r for r in trial.responses if r.kind == "yield"), None)
    if of is None:
        return None
    return _with_bounds(*ratio_summaries(response, of, season, units))


def _with_bounds(main: Summary | None, bounds: tuple[Summary, ...]) -> Gathered | None:
    """A main summary, and its bounds as sensitivity runs under their own names."""
    if main is None:
        return None
    return Gathered(main, sensitivity=tuple((b.name, b) for b in bounds))


def _survival(response: Response, lives: Lives, units: Units, season: Season) -> Gathered:
    lost = dict(season.lost_plots)
    moved = moved_days(response, lives, units)
    dated = [shares_at(day, lives, units, lost) for day in days_asked(response, lives, units)]
    if not dated:
        return Gathered(None, reason=" ".join(moved))
    kind = followed(season, units)
    last = dated[-1]
    others = [d.main for d in dated[:-1] if d.main.used.any()]
    restricted = restricted_mean(last_day_asked(response, lives), lives, units, lost)
    notes = (*moved, *(note for d in reversed(dated) for note in d.main.notes))
    if restricted is not None:
        others.append(restricted)
        notes = (*notes, *restricted.notes)
    score = log_rank_score(lives, units, lost)
    runs: list[tuple[str, Summary]] = []
    if last.best is not None and last.worst is not None:
        runs.append((say("sensitivity best"), last.best))
        runs.append((say("sensitivity worst"), last.worst))
    if last.curve is not None:
        runs.append((say("sensitivity by curve"), last.curve))
    runs.extend(_other_lives(last.day, lives, units, lost))
    places = _places(last, lives, units, season)
    if places is not None:
        runs.append((say("sensitivity places"), places))
    opened = None
    if last.worst is not None and last.best is not None and last.main.alive is not None:
        opened = (last.worst, last.best, last.open_by_unit)
    tested = () if score is None else ((say("log-rank score"), score),)
    return Gathered(
        replace(last.main, subjects=kind, notes=notes),
        tuple(replace(summary, subjects=kind) for summary in others),
        tested,
        tuple((label, replace(summary, subjects=kind)) for label, summary in runs),
        opened,
    )


def _places(last: SharesAt, lives: Lives, units: Units, season: Season) -> Summary | None:
    """Replacements counted in the place of the plants they replaced."""
    if lives.origin is None or not lives.replaced or lives.browsing == COMPETING:
        return None
    late = read_replacements(season, units, lives.origin)
    return places_summary(last.main, late, units, last.day)


def followed(season: Season, units: Units) -> str:
    """Plants, or subjects: lifetimes in a trial that says nothing of plants."""
    planted = season.table("plants") is not None or units.laid_plants.any()
    return "subjects" if season.days_not_dates and not planted else "plants"


def _other_lives(
    day: float, lives: Lives, units: Units, lost: dict[str, str]
) -> list[tuple[str, Summary]]:
    """Plants not found counted dead; doubtful ones dated back to the first doubt."""
    runs = []
    gone = np.isin(np.array(lives.fate, dtype=object), GONE) & ~lives.dead
    if gone.any():
        ends = np.where(gone, lives.low + AT_ONCE, lives.high)
        run = shares_at(day, replace(lives, high=ends), units, lost).main
        runs.append((say("sensitivity gone dead"), run))
    earlier = lives.dead & np.isfinite(lives.doubtful) & (lives.doubtful < lives.high)
    if earlier.any():
        ends = np.where(earlier, np.maximum(lives.doubtful, lives.low), lives.high)
        run = shares_at(day, replace(lives, high=ends), units, lost).main
        runs.append((say("sensitivity doubtful"), run))
    return runs
