"""Causes of death by treatment: incidence, each cause beside the others, and comparisons.

Cumulative incidence with intervals by units; shares dead by each cause at the last date,
compared by the dispersion rule of shares, and ratios of each cause's death rate, plants that
another cause took being at risk until then (cause-specific hazards; Prentice et al. 1978,
Biometrics 34:541); one cause at a time and not adjusted for their number. A death without a
noted cause stands as such. Leans on lives, curves' steps, means, rows, hazards_line and
models.lifetimes.causes.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_correlation
from wickstats.analysis.families import replication_word, single_unit_side
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.hazards_line import hazard_comparisons
from wickstats.analysis.known import known_at
from wickstats.analysis.line import Line
from wickstats.analysis.lives import Lives
from wickstats.analysis.means import mean_rows
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.rows import Joint, Numbers, Verdict, What, comparison_row
from wickstats.analysis.summaries.survival import share_summary
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import IntArray, Units
from wickstats.core.histories import IncidencePoint
from wickstats.core.responses import Absolute, Comparison, Mean
from wickstats.core.words import say
from wickstats.design.tables import CAUSE_WORDS
from wickstats.models.lifetimes.causes import cumulative_incidence, incidence_intervals
from wickstats.models.lifetimes.intervals import ShareInterval

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Causes:
    """Names of the causes that occur, and (n,) the code of each death (-1: not dead)."""

    names: tuple[str, ...]
    codes: IntArray


def causes_of(lives: Lives) -> Causes:
    """The causes noted, in the order of the record tables, those without one last."""
    blank = say("no cause noted")
    noted = [(word or blank) if dead else None for word, dead in _pairs(lives)]
    there = {word for word in noted if word is not None}
    order = [*CAUSE_WORDS, *sorted(there - {*CAUSE_WORDS, blank}), blank]
    names = tuple(word for word in order if word in there)
    place = {word: k for k, word in enumerate(names)}
    codes = [-1 if word is None else place[word] for word in noted]
    return Causes(names, np.array(codes, dtype=np.int64))


def _pairs(lives: Lives) -> list[tuple[str | None, bool]]:
    return list(zip(lives.cause, lives.dead.tolist(), strict=True))


def incidence_points(
    lives: Lives, causes: Causes, units: Units, confidence: float
) -> tuple[IncidencePoint, ...]:
    """Incidence of every cause in every treatment, at the ends of the treatment's steps."""
    out: list[IncidencePoint] = []
    n_causes = len(causes.names)
    if n_causes == 0:
        return ()
    arms = units.cells[lives.units]
    for code, group in enumerate(units.cell_names):
        mine = arms == code
        if not mine.any():
            continue
        low = lives.low[mine] - lives.planted[mine]
        high = lives.high[mine] - lives.planted[mine]
        codes = causes.codes[mine]
        starts, ends, _ = cumulative_incidence(low, high, codes, n_causes).curve.steps()
        last = float(np.max(np.where(np.isfinite(high), high, low)))
        ends = np.maximum(np.minimum(ends, last), starts)
        found = incidence_intervals(
            low, high, codes, n_causes, lives.units[mine], starts, confidence
        )
        for k, cause in enumerate(causes.names):
            for start, end, at in zip(starts, ends, found[k], strict=True):
                sure = start == starts[0] and at.share == 0.0
                out.append(
                    IncidencePoint(
                        group=group,
                        cause=cause,
                        time_low=float(start),
                        time_high=float(end),
                        share=at.share,
                        low=None if sure else _under(at),
                        high=None if sure else at.high,
                        not_estimable=None if sure else at.not_estimable,
                    )
                )
    return tuple(out)


def _under(at: ShareInterval) -> float | None:
    """The lower limit; none above an incidence of zero."""
    if at.low is None or at.share is None:
        return at.low
    return min(at.low, at.share)


def cause_rows(
    context: Context,
    lives: Lives,
    causes: Causes,
    day: float,
    lost: dict[str, str],
    *,
    plants: bool = True,
) -> tuple[tuple[Mean, ...], tuple[Comparison, ...]]:
    """Shares dead by each cause at a day, by treatment and compared."""
    means: list[Mean] = []
    rows: list[Comparison] = []
    for k, name in enumerate(causes.names):
        summary = _share_dead(name, causes.codes == k, day, lives, context.units, lost)
        line = fit_line(context.units, summary, context.confidence, by_arm=context.by_arm)
        if line is None:
            continue
        rho = bound_correlation(context, summary, line)
        means.extend(
            mean if mean.bound is None else replace(mean, not_estimable=say("cause bound only"))
            for mean in mean_rows(context, summary, line, rho=rho)
        )
        for family in context.families:
            if family.planned:
                per = say("per 100 dead" if plants else "per 100 dead followed", cause=name)
                rows.extend(
                    _row(context, summary, line, family, c, per) for c in family.contrasts
                )
    return tuple(means), (*rows, *_rates(context, lives, causes))


def lives_of_cause(lives: Lives, codes: IntArray, k: int) -> Lives:
    """Lives that end by one cause; other deaths end the watch where last seen alive."""
    return replace(lives, high=np.where(codes == k, lives.high, np.inf))


def _rates(context: Context, lives: Lives, causes: Causes) -> list[Comparison]:
    """Ratios of each cause's death rate; none where one cause took all, as told elsewhere."""
    if len(causes.names) < 2:
        return []
    out: list[Comparison] = []
    for k, name in enumerate(causes.names):
        found = hazard_comparisons(context, lives_of_cause(lives, causes.codes, k))
        out.extend(replace(row, estimand=say("death rate of", cause=name)) for row in found)
    return out


def _share_dead(
    cause: str, mine: BoolArray, day: float, lives: Lives, units: Units, lost: dict[str, str]
) -> Summary:
    """Of each unit; deaths among plants not seen are shared out as those seen."""
    found = known_at(day, lives, units)
    gone = (lives.high <= found.until[lives.units]) & mine
    dead = np.bincount(lives.units[gone], minlength=units.n).astype(float)
    total = found.counts.dead.astype(float)
    curved = found.used & (found.counts.open > 0) & (total > 0)
    shared = (1.0 - found.share) * found.plants * dead / np.maximum(total, 1.0)
    dead = np.where(curved, shared, dead)
    name = say("share dead by", cause=cause)
    return share_summary(name, name, dead, found.plants, lives.words(day), units, lost)


def _row(
    context: Context,
    summary: Summary,
    line: Line,
    family: Family,
    contrast: Contrast,
    per: str,
) -> Comparison:
    """One comparison with its own interval; never a verdict."""
    e = line.contrast(contrast.weights)
    why = e.not_estimable
    alone = single_unit_side(contrast.weights, context.units)
    low, high = (None, None) if alone else (e.low, e.high)
    what = What(
        summary.estimand,
        summary.at,
        "difference",
        line.rule,
        replication_word(contrast.weights, context.units),
    )
    spared = None if alone else _spared(contrast, summary, context.units)
    if alone or spared:
        low = high = None
        numbers = Numbers(e.estimate, None, None, None, None, None, alone or spared)
    else:
        numbers = Numbers(e.estimate, e.se, e.df, low, high, e.p, why)
    absolute = None
    if e.estimate is not None:
        absolute = Absolute(100.0 * e.estimate, _hundred(low), _hundred(high), per)
    return comparison_row(family, contrast, what, numbers, Joint(), Verdict(absolute=absolute))


def _spared(contrast: Contrast, summary: Summary, units: Units) -> str | None:
    """Words where a treatment lost no plant, or every plant, to the cause.

    Such a treatment has a one-sided bound and no scatter, so that a two-sided interval of
    the difference would claim to know what it cannot.
    """
    counted = summary.alive
    if counted is None:
        return None
    weights = np.asarray(contrast.weights, dtype=float)
    for code in np.flatnonzero(np.abs(weights) > 1e-12):
        mine = (units.cells == code) & summary.used
        total, many = float(counted[mine].sum()), float(summary.plants[mine].sum())
        if many > 0.0 and total in (0.0, many):
            key = "cause spared" if total == 0.0 else "cause took all"
            return say(key, name=units.cell_names[int(code)])
    return None


def _hundred(value: float | None) -> float | None:
    return None if value is None else 100.0 * min(1.0, max(-1.0, value))
