"""A past season's chances for shares and counts, by simulated seasons.

Closed forms ignore that the analysis estimates dispersion and its degrees of freedom anew in
every season. Seasons are drawn at the past levels, the treatments that a comparison sets
against others moved until it is what matters, never what was observed: at the past variance,
at its one-sided 80 % upper limit, and at ``DRAWS`` equally probable variances out of s^2
df/chi-square(df), whose mean chance is the assurance. Leans on ``past_assumed``, ``moved``,
``wanted``, ``run``; scipy.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtri

from wickstats.analysis.plan import Family, matters_for
from wickstats.core.errors import ReportError
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.design.defaults import better_of
from wickstats.design.trial import PowerPlan, Response, Trial
from wickstats.layout.plots import Layout
from wickstats.models.power import sd_upper_limit
from wickstats.sizing.adapted import adapted, judged_as
from wickstats.sizing.from_past import PastPower, PastRow
from wickstats.sizing.moved import Place, smallest_shown
from wickstats.sizing.past import PastSeason, PastVariance, matching, past_variance
from wickstats.sizing.past_assumed import assumed_of
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import MOST_BLOCKS, blocks_for
from wickstats.sizing.run import Means, Simulated, simulate
from wickstats.sizing.season import UPPER
from wickstats.sizing.seasons import SIMULATED_KINDS
from wickstats.sizing.wanted import Wanted, name_of, place_in

DRAWS, EACH, POINT, WIDE = 12, 2_500, 10_000, 5_000


@dataclass(frozen=True, slots=True, eq=False)
class Next:
    """The trial that is planned."""

    trial: Trial
    layout: Layout
    sizes: Sizes
    families: tuple[Family, ...]


def by_seasons(
    planned: PastPower, past: PastSeason, of: Next, seasons: int, means: Means
) -> PastPower:
    """The rows of shares and counts with simulated chances, where they can be."""
    if seasons <= 0 or of.sizes.pieces is not None:
        return planned
    wanted = Wanted()
    asked: dict[int, tuple[int, tuple[int, ...]]] = {}
    solved: dict[int, tuple[_Reckoned, ...]] = {}
    for k, row in enumerate(planned.rows):
        response = of.trial.response(row.response)
        if response.kind not in SIMULATED_KINDS or row.power is None:
            continue
        reckoned: list[_Reckoned] = []
        found = _works(row, response, past, of, seasons, wanted, reckoned)
        if found is not None:
            asked[k], solved[k] = found, tuple(reckoned)
    if not asked:
        return planned
    done = simulate(wanted.works, wanted.parts, means)
    rows = tuple(
        _told(_at_levels(row, *solved[k]), *asked[k], done) if k in asked else row
        for k, row in enumerate(planned.rows)
    )
    return replace(planned, rows=rows)


@dataclass(frozen=True, slots=True)
class _Reckoned:
    """Closed forms at one variance, arms moved as they are in the seasons."""

    smallest: float | None
    needed: int | None


def _at_levels(row: PastRow, point: _Reckoned, upper: _Reckoned) -> PastRow:
    why = None if point.needed is not None else say("next beyond", most=MOST_BLOCKS)
    return replace(
        row,
        detectable=point.smallest,
        detectable_upper=upper.smallest,
        blocks_needed=None if point.needed is None else float(point.needed),
        blocks_needed_upper=None if upper.needed is None else float(upper.needed),
        not_estimable=why,
    )


def _reckoned(place: Place, size: float) -> _Reckoned:
    """Smallest difference, and blocks for a signed one."""
    target = place.trial.power.target if place.trial.power else 0.8
    shown = smallest_shown(place, target)
    what = place.expected_at(size)
    needed = None
    if what is not None:
        weights = [c.weights for c in place.family.contrasts]
        judged = judged_as(place.trial, place.family, place.response, target)
        needed = blocks_for(place.sizes, what, weights, place.which, abs(size), judged)
    if shown is not None and place.what.ratio:
        shown = float(np.exp(abs(shown)))
    return _Reckoned(None if shown is None else abs(shown), needed)


def _works(
    row: PastRow,
    response: Response,
    past: PastSeason,
    of: Next,
    seasons: int,
    wanted: Wanted,
    reckoned: list[_Reckoned],
) -> tuple[int, tuple[int, ...]] | None:
    """Which comparison it is, and where its works stand."""
    try:
        found = matching(past.results, response.name, response.kind, response.model_scale, None)
    except ReportError:
        return None
    known = past_variance(found)
    if isinstance(known, str):
        return None
    wide = sd_upper_limit(1.0, known.df, confidence=UPPER) ** 2
    middles = (np.arange(DRAWS) + 0.5) / DRAWS
    draws = [known.df / float(chdtri(known.df, q)) for q in middles]
    places: list[int] = []
    at = -1
    for scale, most in ((1.0, POINT), (wide, WIDE), *((s, EACH) for s in draws)):
        for family in of.families:
            for which in range(len(family.contrasts)):
                if name_of(family, which) != row.comparison:
                    continue
                moved = _moved(response, found, known, scale, of, family, which)
                if moved is None:
                    return None
                trial, place, size = moved
                if len(reckoned) < 2:
                    reckoned.append(_reckoned(place, size))
                work = wanted.sized(
                    (trial, of.layout), response.name, place.what, min(seasons, most)
                )
                if work is None:
                    return None
                at = place_in(of.families, family, which)
                places.append(work)
    return (at, tuple(places)) if len(places) == DRAWS + 2 else None


def _moved(
    response: Response,
    found: ResponseResult,
    known: PastVariance,
    scale: float,
    of: Next,
    family: Family,
    which: int,
) -> tuple[Trial, Place, float] | None:
    """The trial that assumes the past season, its comparison as large as matters."""
    given = assumed_of(found, known, scale=scale)
    if isinstance(given, str):
        return None
    power = of.trial.power or PowerPlan()
    held = power.model_copy(update={"assume": {**power.assume, response.name: given}})
    trial = of.trial.model_copy(update={"power": held})
    what = adapted(trial, response, of.sizes)
    if isinstance(what, str) or not np.isfinite(what.values).all():
        return None
    place = Place(trial, response, of.sizes, family, which, what)
    matters = matters_for(trial, response.name, log=what.ratio)
    if matters is None:
        return None
    first = -1.0 if better_of(response) == "less" else 1.0
    for sign in (first, -first):
        moved = place.trial_at(sign * matters)
        if moved is not None:
            return moved, place, sign * matters
    return None


def _told(row: PastRow, at: int, works: tuple[int, ...], done: Simulated) -> PastRow:
    tallies = [done.tallies[work] for work in works]
    chances = [t.chance(at) for t in tallies if t is not None]
    if len(chances) < len(tallies):
        return row  # interrupted
    first = tallies[0]
    seasons = f"{0 if first is None else first.seasons:,}"
    return replace(
        row,
        power=chances[0],
        power_upper=chances[1],
        assurance=float(np.mean(chances[2:])),
        note=f"{say('past by seasons', seasons=seasons)}; {row.note}",
    )
