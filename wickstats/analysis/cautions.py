"""Cautions of one response: what a reader must know before using its numbers.

Leans on context, line and lives.
"""

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.line import Line
from wickstats.analysis.lives import Lives
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.core.numbers import number
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.records.season import Season

FEW_DF = 2.0
THREEFOLD = 3.0
SPACING = 1.5


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
    out.extend(_plants(units, summary))
    if context.response.kind == "growth":
        out.append(say("survivors only"))
    if context.response.kind == "survival" and lives is not None:
        out.extend(_survival(lives, units, season))
    if summary.estimand == "share alive" and units.is_split:
        out.append(say("shares in split-plots"))
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
        c.not_estimable for c in comparisons if c.not_estimable is not None and not c.se
    )
    return [text for text in reasons if text]


def _plants(units: Units, summary: Summary) -> list[str]:
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
    early = int((lives.dead & (lives.high - lives.planted <= 14.0)).sum())
    if early and lives.origin is not None:
        out.append(say("early deaths", n=early))
    if lives.replaced:
        out.append(say("replaced plants", n=lives.replaced))
    gone = sum(fate in ("not found", "lost", "never seen") for fate in lives.fate)
    if gone:
        out.append(say("plants gone", n=gone))
    spacing = visit_spacing(units, season)
    if spacing:
        low, high = min(spacing, key=spacing.__getitem__), max(spacing, key=spacing.__getitem__)
        if spacing[high] > SPACING * spacing[low]:
            out.append(
                say(
                    "visits differ",
                    often=low,
                    seldom=high,
                    short=number(spacing[low]),
                    long=number(spacing[high]),
                )
            )
    return out


def visit_spacing(units: Units, season: Season) -> dict[str, float]:
    """Mean days between visits to a plot, by treatment."""
    frame = season.table("visits")
    if frame is None or "date" not in frame or frame["date"].isna().all():
        return {}
    held = frame.loc[frame["plot"].isin(list(units.index)), ["plot", "date"]]
    held = held.dropna().drop_duplicates()
    if "status" in frame:
        seen = frame.loc[held.index, "status"].fillna("")
        held = held.loc[seen != "not visited"]
    grouped = held.groupby("plot")["date"].agg(["min", "max", "nunique"])
    out: dict[str, list[float]] = {}
    for plot, first, last, count in grouped.itertuples():
        if count < 2:
            continue
        cell = units.cell_names[int(units.cells[units.index[str(plot)]])]
        out.setdefault(cell, []).append((last - first).days / (count - 1))
    return {name: float(np.mean(days)) for name, days in out.items()}
