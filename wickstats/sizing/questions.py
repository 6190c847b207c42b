"""Questions before planting: which verdicts, which split, what a change would do.

Chances are exact where noncentral t holds and simulated for shares and counts, by the
analysis' own rules; so are splits, what-ifs, smallest differences and blocks. Leans on
``plan``, ``adapted``, ``prices``, ``wanted``, ``run``; models.power_verdicts.
"""

from dataclasses import asdict, dataclass
from math import exp
from typing import Any

import numpy as np

from wickstats.analysis.plan import matters_for
from wickstats.analysis.units import lay_out_units
from wickstats.core.words import say
from wickstats.design.defaults import better_of, plan_of, role_of
from wickstats.design.trial import Trial
from wickstats.models.power_verdicts import VerdictChances, verdict_chances
from wickstats.sizing.adapted import (
    NONE,
    Main,
    adapted,
    assumed_of,
    chance_of,
    enough_of,
    filled,
    precisions,
)
from wickstats.sizing.assumed import Expected
from wickstats.sizing.plan import layout_for
from wickstats.sizing.plots import sizes_of, with_sizes
from wickstats.sizing.prices import check_budget, prices_of
from wickstats.sizing.questions_told import Beside, Chances, CurvePoint, Questions, WhatIf
from wickstats.sizing.reckon import power_of
from wickstats.sizing.run import Means, Simulated, simulate
from wickstats.sizing.seasons import (
    LOG_RANK,
    SIMULATED_KINDS,
    Work,
    calendar_for,
    lives_works,
    planned_families,
    work_of,
)
from wickstats.sizing.smallest import blocks_between
from wickstats.sizing.tally import Tally
from wickstats.sizing.wanted import (
    Tried,
    Wanted,
    curve_works,
    name_of,
    place_in,
    solved,
    tries,
)
from wickstats.sizing.what_if import (
    Asked,
    Change,
    Told,
    split_changes,
    splits,
    what_if_changes,
)

SEASONS = 20_000
CURVE_SEASONS = 5_000
MOST_CURVE, POINTS = 40, 8


def ask(
    trial: Trial,
    *,
    seasons: int = SEASONS,
    counts: tuple[int, ...] = (),
    means: Means | None = None,
) -> Questions | None:
    """Answer the questions; None where nothing is assumed that can be reckoned.

    Parameters
    ----------
    seasons
        Simulated seasons for responses that have no exact form; 0: none are simulated.
    counts
        Numbers of blocks of the curve, each with ``seasons``; chosen where empty.
    means
        Who does the work.

    Raises
    ------
    TrialError
        Where the budget does not pay for two blocks, or assumptions are missing.
    KeyboardInterrupt
        Where it is interrupted before there is anything.
    """
    layout = layout_for(trial)
    trial = with_sizes(trial, layout)
    sizes = sizes_of(trial, layout)
    if layout is None or isinstance(sizes, str) or trial.power is None:
        return None
    prices = prices_of(trial, sizes)
    check_budget(trial, prices)
    families = planned_families(trial, lay_out_units(trial, layout))
    known = {r.name: adapted(trial, r, sizes) for r in trial.responses}
    ready = {
        name: what
        for name, what in known.items()
        if not isinstance(what, str) and np.isfinite(what.values).all()
    }
    asked = Asked(trial, layout, sizes, families, prices, ready)
    main = _main(asked)
    if main is None:
        return None
    return _answers(asked, main, seasons, counts, means or Means())


def _main(asked: Asked) -> Main | None:
    """The comparison that the questions are about: the first one with a difference.

    Where all arms are assumed alike: the first one, if the plan says what matters.
    """
    names = [plan_of(asked.trial).primary, *(r.name for r in asked.trial.responses)]
    for name in names:
        what = asked.expected.get(name or "")
        if what is None or (asked.sizes.pieces is not None and what.larger is None):
            continue
        alike: Main | None = None
        for family in asked.families:
            for k in range(len(family.contrasts)):
                main = asked.trial.response(name or ""), family, k
                told = chance_of(asked.trial, what, asked.sizes, asked.sizes.count, main)
                if told is None:
                    continue
                if abs(assumed_of(what, main)) > NONE:
                    return main
                alike = alike or main
        if alike is not None:
            return alike
    return None


def _answers(
    asked: Asked,
    main: Main,
    seasons: int,
    counts: tuple[int, ...],
    means: Means,
) -> Questions:
    response, family, which = main
    what = asked.expected[response.name]
    notes: list[str] = []
    if asked.prices is None and asked.trial.power and asked.trial.power.budget is not None:
        notes.append(say("budget no prices"))
    wanted = Wanted()
    others: list[int] = []
    planned: dict[str, int] = {}
    names = [response.name, *(n for n in asked.expected if n != response.name)]
    for name in names if seasons else ():
        role = role_of(asked.trial, asked.trial.response(name))
        kind = asked.trial.response(name).kind
        if kind not in SIMULATED_KINDS or (role == "exploratory" and name != names[0]):
            continue
        work = work_of(asked.trial, asked.layout, name, asked.expected[name])
        if isinstance(work, str):
            notes.append(work)
            continue
        planned[name] = wanted.add(work, seasons)
        found = lives_works(asked.trial, asked.layout, name, family.term)
        others.extend(wanted.add(other, min(seasons, CURVE_SEASONS)) for other in found)
    simulated = response.name in planned
    points = counts or _counts(asked, main)
    fewer = min(seasons, CURVE_SEASONS)
    ways, changes = split_changes(asked, main), what_if_changes(asked, main)
    on_curve: dict[int, int] = {}
    on_ways: list[int | None] = [None for _ in ways]
    on_changes = [
        _simulated(change, wanted, response.name, what, fewer)
        if seasons and k > 0 and (simulated or change.tied)
        else None
        for k, change in enumerate(changes)
    ]
    lossy: int | None = None
    tried: tuple[Tried, ...] = ()
    if simulated:
        name = response.name
        each = seasons if counts else fewer
        on_curve = curve_works(asked, response, points, wanted, (planned[name], each))
        work = work_of(asked.trial, asked.layout, name, what, losses=True)
        if isinstance(work, Work):
            lossy = wanted.add(work, fewer)
        as_it_is = asked.trial.design.plants_per_plot, asked.sizes.count
        on_ways = [
            planned[name]
            if (way.plants, way.blocks) == as_it_is
            else wanted.sized(way.laid_out(), name, what, fewer)
            for way in ways
        ]
        on_changes[0] = planned[name]
        tried = tries(asked, response, wanted, fewer)
    done = Simulated((), (), interrupted=False)
    if wanted.works:
        done = simulate(wanted.works, wanted.parts, means)
    place = place_in(asked.families, family, which)
    alike = abs(assumed_of(what, main)) <= NONE
    aim = Aim(place, enough_of(response) if alike else None)

    def told(work: int | None, closed: float | None) -> Told:
        tally = None if work is None else done.tallies[work]
        return (closed, None) if tally is None else aim.of(tally)

    chances = tuple(
        row
        for name in names
        for row in _chances(
            asked, name, done.tallies[planned[name]] if name in planned else None
        )
    )
    curve = _curve(done, on_curve, aim) if simulated else _reckoned(asked, main, points)
    what_ifs = [
        _what_if(change, *told(work, change.closed))
        for change, work in zip(changes, on_changes, strict=True)
    ]
    if lossy is not None and (tally := done.tallies[lossy]) is not None:
        what_ifs.append(WhatIf(say("what if losses"), asked.sizes.count, *aim.of(tally)))
    ways_told = [told(work, way.closed) for way, work in zip(ways, on_ways, strict=True)]
    target = asked.trial.power.target if asked.trial.power else 0.8
    needed = blocks_between([(p.blocks, p.power) for p in curve], target)
    return Questions(
        response=response.name,
        comparison=name_of(family, which),
        simulated=simulated,
        seasons=sum(t.seasons for t in done.tallies if t is not None),
        wanted=sum(done.wanted),
        interrupted=done.interrupted,
        chances=chances,
        splits=splits(ways, ways_told, asked.trial.design.plants_per_plot),
        currency=None if asked.prices is None else asked.prices.currency,
        what_ifs=tuple(what_ifs),
        curve=curve,
        needed=None if needed is None else float(needed),
        notes=tuple(notes),
        alike=alike,
        solved=solved(tried, done, on_curve, target),
        beside=tuple(
            row
            for place in others
            if not alike and (tally := done.tallies[place]) is not None
            for row in _beside(asked, wanted.works[place], tally)
        ),
    )


def _simulated(
    change: Change, wanted: Wanted, name: str, what: Expected, seasons: int
) -> int | None:
    """Where a change's seasons stand; None where it cannot be laid out."""
    return wanted.sized(change.laid_out(), name, change.judged_by(what), seasons)


def _what_if(change: Change, power: float | None, error: float | None) -> WhatIf:
    words = change.what
    if change.tied and error is not None:
        words = say("what if shared")
    return WhatIf(words, change.blocks, power, error)


@dataclass(frozen=True, slots=True)
class Aim:
    """What the questions count of simulated seasons: a difference shown, or these verdicts."""

    place: int
    verdicts: tuple[int, ...] | None

    def of(self, tally: Tally) -> tuple[float, float]:
        """The chance, and its Monte Carlo standard error."""
        if self.verdicts is None:
            return tally.chance(self.place), tally.error(self.place)
        return tally.told(self.place, self.verdicts)


def _chances(asked: Asked, name: str, tally: Tally | None) -> list[Chances]:
    trial, what = asked.trial, asked.expected[name]
    response = trial.response(name)
    matters = matters_for(trial, name, log=what.ratio)
    better = better_of(response)
    values = filled(what).values
    out: list[Chances] = []
    place = 0
    for family in asked.families:
        at = precisions(trial, what, asked.sizes, asked.sizes.count, (response, family))
        for k, contrast in enumerate(family.contrasts):
            difference = float(contrast.weights @ values)
            shown = exp(difference) if what.ratio else difference
            base: dict[str, Any] = {
                "response": name,
                "comparison": name_of(family, k),
                "measure": "ratio" if what.ratio else "difference",
                "difference": shown,
                "blocks": asked.sizes.count,
                "neutral": better == "neither",
                "shares": response.kind == "survival",
            }
            one, closed = at[k], power_of(difference, at[k])
            if tally is not None:
                out.append(_counted(tally, place, base, closed))
            elif one is not None and closed is not None:
                turned = -difference if better == "less" else difference
                found = verdict_chances(
                    turned, one.se, one.df, matters=matters, alpha=one.alpha,
                    spread=one.spread, least=one.least, one_sided=one.side != 0,
                )  # fmt: skip
                out.append(
                    Chances(shown=closed, error=None, closed_form=None, **asdict(found), **base)
                )
            place += 1
    return out


def _beside(asked: Asked, work: Work, tally: Tally) -> list[Beside]:
    """The comparisons of restricted means, or the log-rank test of a term."""
    if work.rule == LOG_RANK:
        words = say("beside log-rank", term=work.term)
        chance, error = tally.chance(0), tally.error(0)
        return [Beside(work.response, words, None, chance, error, tally.seasons)]
    _, day = calendar_for(asked.trial, asked.layout, work.response)
    words = say("beside restricted", day=day)
    names = [name_of(f, k) for f in asked.families for k in range(len(f.contrasts))]
    return [
        Beside(work.response, words, name, tally.chance(k), tally.error(k), tally.seasons)
        for k, name in enumerate(names)
    ]


def _counted(tally: Tally, place: int, base: dict[str, Any], closed: float | None) -> Chances:
    found = VerdictChances(*(tally.classes[place] / tally.seasons).tolist())
    return Chances(
        shown=tally.chance(place),
        error=tally.error(place),
        closed_form=closed,
        seasons=tally.seasons,
        one_fate=float(tally.bounded[place]) / tally.seasons,
        **asdict(found),
        **base,
    )


def _counts(asked: Asked, main: Main) -> tuple[int, ...]:
    """Numbers of blocks up to where the closed form nears certainty."""
    what = asked.expected[main[0].name]
    top = 4
    while top < MOST_CURVE:
        power = chance_of(asked.trial, what, asked.sizes, top, main)
        if power is not None and power > 0.95:
            break
        top += 1
    least = 2
    grid = np.unique(np.round(np.geomspace(least, max(top, asked.sizes.count), POINTS)))
    return tuple(sorted({int(n) for n in grid} | {asked.sizes.count}))


def _curve(done: Simulated, on_curve: dict[int, int], aim: Aim) -> tuple[CurvePoint, ...]:
    out = []
    for count, work in on_curve.items():
        tally = done.tallies[work]
        if tally is None:
            continue
        power, error = aim.of(tally)
        low, high = max(power - 2 * error, 0.0), min(power + 2 * error, 1.0)
        out.append(CurvePoint(count, power, low, high))
    return tuple(out)


def _reckoned(asked: Asked, main: Main, points: tuple[int, ...]) -> tuple[CurvePoint, ...]:
    what = asked.expected[main[0].name]
    out = []
    for count in points:
        power = chance_of(asked.trial, what, asked.sizes, count, main)
        if power is not None:
            out.append(CurvePoint(count, power, power, power))
    return tuple(out)
