"""Causes of death side by side, and browsed plants taken four ways.

Leans on pages, report.facts, report.sensitivity and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import (
    MISSING,
    column_with_intervals,
    degrees,
    fixed,
    p_value,
    with_interval,
)
from wickstats.core.responses import Comparison, Mean, PlantLives, Strategy
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Column, Note, Picture, Table, Text
from wickstats.pages.figures.causes import cause_areas
from wickstats.report.drawn import both
from wickstats.report.effects import adjusted
from wickstats.report.facts import Scene, capital, heads, listed, times
from wickstats.report.sensitivity import RATE, rate_cells


def causes_blocks(scene: Scene, lives: PlantLives, stem: str, more: str) -> list[Block]:
    """Picture and tables of the causes of death; empty where none was noted.

    ``more`` is added to the words' keys where no plants were followed.
    """
    causes = tuple(dict.fromkeys(p.cause for p in lives.incidence))
    if not causes or causes == (say("no cause noted"),):
        return []
    blocks: list[Block] = [_areas(scene, lives, causes, stem, more)]
    blocks += _cause_means(scene, lives, causes, more)
    shares = [row for row in lives.cause_comparisons if row.measure != RATE]
    rates = [row for row in lives.cause_comparisons if row.measure == RATE]
    if shares:
        blocks.append(_cause_comparisons(scene, shares, causes, more))
    if rates:
        blocks.append(_cause_rates(scene, rates, causes, more))
    blocks += [Note(text, "caution") for text in lives.cause_notes]
    return blocks


def _areas(
    scene: Scene, lives: PlantLives, causes: Sequence[str], stem: str, more: str
) -> Picture:
    arms = tuple(a for a in scene.arms if any(p.group == a for p in lives.incidence))
    told = []
    for arm in arms:
        ends = {p.cause: p.share or 0.0 for p in lives.incidence if p.group == arm}
        parts = [f"{cause} {fixed(100.0 * ends.get(cause, 0.0), 0)}" for cause in causes]
        told.append(f"{arm}: {', '.join(parts)}")
    wide, narrow = both(
        cause_areas,
        lives.incidence,
        arms,
        causes,
        say(f"axis days{more}"),
        say(f"axis dead{more}"),
    )
    return Picture(
        f"{stem}-causes.svg",
        wide,
        say("picture causes title"),
        say(f"picture causes words{more}", list="; ".join(told)),
        narrow,
        (f"{stem}-incidence.csv",),
    )


def _cause_means(
    scene: Scene, lives: PlantLives, causes: Sequence[str], more: str
) -> list[Block]:
    """One table a date: arms by causes, shares of 100 with intervals by units."""
    rows = [m for m in lives.cause_means if m.treatment in scene.arms and m.within is None]
    if not rows:
        return []
    names = {say("share dead by", cause=cause): cause for cause in causes}
    there = [e for e in names if any(m.estimand == e for m in rows)]
    cells = []
    for arm in dict.fromkeys(m.treatment for m in rows):
        mine = {m.estimand: m for m in rows if m.treatment == arm}
        cells.append((arm, *(share_cell(mine.get(e)) for e in there)))
    date = next((m.at for m in rows if m.at), "")
    return [
        Table(
            say(f"cause means caption{more}", date=date),
            (*heads("treatment"), *(Column(names[e], numeric=False) for e in there)),
            tuple(cells),
            say(f"cause means note{more}", percent=scene.confidence),
        )
    ]


def share_cell(row: Mean | None) -> str:
    """Value and interval of a share, of 100."""
    if row is None or row.estimate is None:
        return MISSING
    low, high = times(row.low, 100.0), times(row.high, 100.0)
    if row.bound is not None or low is None or high is None:
        if high is not None and low is None:
            return f"{fixed(100 * row.estimate, 0)} ({say('at most', n=fixed(high, 0))})"
        if low is not None and high is None:
            return f"{fixed(100 * row.estimate, 0)} ({say('at least', n=fixed(low, 0))})"
    value, between = with_interval(100.0 * row.estimate, low, high)
    return f"{value} ({between})"


def _cause_comparisons(
    scene: Scene, rows: Sequence[Comparison], causes: Sequence[str], more: str
) -> Table:
    names = {say("share dead by", cause=cause): cause for cause in causes}
    sizes = column_with_intervals(
        [(times(r.estimate, 100.0), times(r.low, 100.0), times(r.high, 100.0)) for r in rows]
    )
    reasons = dict.fromkeys(
        f" {capital(r.name)}: {r.not_estimable}." for r in rows if r.not_estimable
    )
    return Table(
        say("cause comparisons caption"),
        heads(
            "cause",
            "comparison",
            f"more dead{more}",
            "interval",
            "df",
            "p",
            numeric=(2, 3, 4, 5),
            percent=scene.confidence,
        ),
        tuple(
            (names.get(r.estimand, r.estimand), _named(r), *size, degrees(r.df), p_value(r.p))
            for r, size in zip(rows, sizes, strict=True)
        ),
        say(f"cause comparisons note{more}") + "".join(reasons),
    )


def _cause_rates(
    scene: Scene, rows: Sequence[Comparison], causes: Sequence[str], more: str
) -> Table:
    names = {say("death rate of", cause=cause): cause for cause in causes}
    reasons = dict.fromkeys(
        f" {capital(r.name)}: {r.not_estimable}." for r in rows if r.not_estimable
    )
    return Table(
        say("cause rates caption"),
        heads(
            "cause",
            "comparison",
            "ratio",
            "interval",
            "df",
            "p",
            numeric=(2, 3, 4, 5),
            percent=scene.confidence,
        ),
        tuple(
            (names.get(r.estimand, r.estimand), _named(r), *ratio, degrees(r.df), p_value(r.p))
            for r, ratio in zip(rows, map(rate_cells, rows), strict=True)
        ),
        say(f"cause rates note{more}") + "".join(reasons),
    )


def _named(row: Comparison) -> str:
    return row.name if row.within is None else f"{row.name} ({row.within})"


def strategies_blocks(scene: Scene, lives: PlantLives) -> list[Block]:
    """Browsed plants taken four ways; empty where nothing was browsed."""
    ways = lives.strategies
    if not ways:
        return []
    primary = next(way for way in ways if way.primary)
    key = (
        "strategies primary" if scene.results.trial.planned else "strategies primary unplanned"
    )
    blocks: list[Block] = [Text(say(key, name=primary.name, says=primary.says))]
    head = tuple(Column(_head(way)) for way in ways)
    names = list(dict.fromkeys(_named(c) for way in ways for c in way.comparisons))
    blocks.append(
        Table(
            say("strategies caption"),
            (*heads("comparison"), *head),
            tuple(
                (
                    name,
                    *(
                        _compared(next((c for c in w.comparisons if _named(c) == name), None))
                        for w in ways
                    ),
                )
                for name in names
            ),
            say("strategies note", percent=scene.confidence)
            + "".join(f" {capital(w.name)}: {w.says}." for w in ways),
        )
    )
    arms = [
        m.treatment for m in primary.means if m.treatment in scene.arms and m.within is None
    ]
    blocks.append(
        Table(
            say("strategies means caption"),
            (*heads("treatment"), *head),
            tuple(
                (
                    arm,
                    *(
                        share_cell(next((m for m in w.means if m.treatment == arm), None))
                        for w in ways
                    ),
                )
                for arm in dict.fromkeys(arms)
            ),
            say("strategies changed", list=listed([f"{w.name} {w.changed}" for w in ways])),
        )
    )
    return blocks


def _head(way: Strategy) -> str:
    return say("strategy primary head", name=way.name) if way.primary else way.name


def _compared(row: Comparison | None) -> str:
    if row is None or row.estimate is None:
        return MISSING
    low, high = adjusted(row)
    value, between = with_interval(100.0 * row.estimate, times(low, 100.0), times(high, 100.0))
    return f"{value} ({between}){f'; {row.verdict}' if row.verdict else ''}"
