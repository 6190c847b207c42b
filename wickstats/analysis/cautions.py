"""Cautions of one response: what a reader must know before using its numbers.

Leans on context, line and lives.
"""

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.histories import early_deaths
from wickstats.analysis.line import Line
from wickstats.analysis.lives import Lives
from wickstats.analysis.spacing import spacing_cautions, visit_spacing
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.core.numbers import fixed, number
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.records.season import Season

FEW_DF = 2.0
THREEFOLD = 3.0


def cautions_of(
    context: Context,
    summary: Summary,
    line: Line | None,
    comparisons: tuple[Comparison, ...],
    lives: Lives | None,
    season: Season,
) -> tuple[str, ...]:
    """All cautions, each once, in order of weight."""
    out: list[str] = []
    units = context.units
    if units.drawn == "not at random":
        out.append(say("not at random"))
    out.extend(summary.notes)
    out.extend(_missing(units, summary))
    if line is not None:
        out.extend(line.notes)
        out.extend(_few_df(comparisons))
    out.extend(_plants(summary))
    if context.response.kind == "growth":
        out.append(say("survivors only"))
    if context.response.kind == "survival" and lives is not None:
        out.extend(_survival(lives, units, season))
    if summary.estimand == "share alive" and units.is_split:
        out.append(say("shares in split-plots"))
    if summary.rule == "counts" and units.is_split:
        out.append(say("counts in several strata"))
    by_totals = summary.rule in ("zero", "paired") or context.by_arm
    by_totals |= line is not None and line.rule == "paired"
    if units.main_effects and by_totals and not units.is_split:
        out.append(say("interactions stay"))
    if context.better == "neither" and any(f.one_sided for f in context.families):
        out.append(say("no better side"))
    if context.by_arm and units.is_split:
        out.append(say("by arm in split-plots"))
    return tuple(dict.fromkeys(out))


def _missing(units: Units, summary: Summary) -> list[str]:
    """Which units are not in, by treatment and reason; and treatments without any."""
    lost = np.flatnonzero(~summary.used)
    if lost.size == 0:
        return []
    told: dict[str, list[str]] = {}
    for j in lost:
        reason = summary.reasons[int(j)] or ""
        told.setdefault(reason, []).append(
            f"{units.names[int(j)]} ({units.cell_names[int(units.cells[j])]})"
        )
    return [
        say("units not in", n=len(names), total=units.n, units=", ".join(names), reason=reason)
        for reason, names in told.items()
    ]


def _few_df(comparisons: tuple[Comparison, ...]) -> list[str]:
    smallest = [c.df for c in comparisons if c.df is not None]
    if smallest and min(smallest) <= FEW_DF + 0.05:
        return [say("few df", df=number(min(smallest), 2))]
    reasons = dict.fromkeys(
        c.not_estimable
        for c in comparisons
        if c.not_estimable is not None and not c.se and c.rule != "bound"
    )
    return [text for text in reasons if text]


def _plants(summary: Summary) -> list[str]:
    counts = summary.plants[summary.used]
    if not summary.guard or counts.size == 0 or counts.min() <= 0:
        return []
    if counts.max() > THREEFOLD * counts.min():
        return [say("plants threefold", low=number(counts.min()), high=number(counts.max()))]
    return []


def _survival(lives: Lives, units: Units, season: Season) -> list[str]:
    out = []
    browsed = sum(cause == "browsing" for cause in lives.cause)
    if lives.browsed:
        out.append(say(f"browsing {lives.browsing}", n=lives.browsed))
    elif browsed:
        out.append(say("browsing", n=browsed))
    early = early_deaths(lives, units)
    if any(row.dead for row in early) and lives.origin is not None:
        told = ", ".join(
            say("early of", name=r.treatment, n=r.dead, total=r.plants) for r in early
        )
        out.append(say("early deaths by arm", days=fixed(early[0].days, 0), told=told))
    if lives.replaced:
        out.append(say("replaced plants", n=lives.replaced))
    gone = sum(fate in ("not found", "lost", "never seen") for fate in lives.fate)
    if gone:
        out.append(say("plants gone", n=gone))
    out.extend(spacing_cautions(visit_spacing(season, units)))
    return out
