"""Tables that stand beside the comparisons: extra liters, and each block left out.

Leans on pages, report.facts and core.
"""

from wickstats.core.numbers import MISSING, column_with_intervals, degrees
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Table
from wickstats.report.amounts import extra_words
from wickstats.report.facts import Scene, capital, capped, heads, times


def extra_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return yield for each extra liter; None where the response is no such ratio."""
    rows = response.extra_liters
    if not rows:
        return None
    water = column_with_intervals([(r.water_l, r.water_low_l, r.water_high_l) for r in rows])
    yields = column_with_intervals(
        [(r.yield_difference, r.yield_low, r.yield_high) for r in rows]
    )
    ratios = column_with_intervals([(r.estimate, r.low, r.high) for r in rows])
    denominator, unit = rows[0].denominator, rows[0].measured_in
    told = [(row.name if row.within is None else f"{row.name} ({row.within})") for row in rows]
    words = " ".join(dict.fromkeys(capital(t) for t in extra_words(rows, scene.confidence)))
    reasons = "".join(
        f" {capital(name)}: {row.not_estimable}."
        for name, row in zip(told, rows, strict=True)
        if row.not_estimable
    )
    note = say("extra note", denominator=denominator, percent=scene.confidence)
    return Table(
        say("extra caption", name=response.name, denominator=denominator),
        heads(
            "comparison",
            "extra water",
            "interval",
            "extra yield",
            "interval",
            "extra ratio",
            "interval",
            "df",
            numeric=range(1, 8),
            percent=scene.confidence,
            denominator=denominator,
            unit=unit,
            mass=unit.removesuffix("/L"),
        ),
        tuple(
            (name, *w, *y, *r, degrees(row.df))
            for name, row, w, y, r in zip(told, rows, water, yields, ratios, strict=True)
        ),
        f"{words} {note}{reasons}".strip(),
    )


def left_out_table(scene: Scene, response: ResponseResult, stem: str) -> Table | None:
    """Return every comparison refitted without each block."""
    rows = response.left_out
    if not rows:
        return None
    scale = [
        100.0 if r.estimand.startswith("share ") and r.measure == "difference" else 1.0
        for r in rows
    ]
    sizes = column_with_intervals(
        [
            (times(r.estimate, k), times(r.low_adjusted, k), times(r.high_adjusted, k))
            for r, k in zip(rows, scale, strict=True)
        ]
    )
    reasons = dict.fromkeys(f"{capital(r.not_estimable)}." for r in rows if r.not_estimable)
    table = Table(
        say("left out caption", name=response.name),
        heads(
            "left out",
            "comparison",
            "estimate",
            "interval",
            "verdict",
            numeric=(2, 3),
            percent=scene.confidence,
        ),
        tuple(
            (
                row.block,
                row.name if row.within is None else f"{row.name} ({row.within})",
                *size,
                row.verdict or MISSING,
            )
            for row, size in zip(rows, sizes, strict=True)
        ),
        " ".join([say("left out note"), *reasons]),
    )
    return capped(table, f"{stem}-left-out.csv")
