"""The table of comparisons under other rules. Leans on pages, report.effects and core."""

from collections.abc import Sequence

from wickstats.core.numbers import MISSING, column_with_intervals, degrees, number, p_value
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Table
from wickstats.report.effects import full_name, own_triple
from wickstats.report.facts import Scene, heads
from wickstats.report.reasons import why_no_p

RATE = "hazard ratio"


def sensitivity_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return the comparisons under other rules."""
    if not response.sensitivity:
        return None
    sizes = _sizes(response.sensitivity)
    rows = tuple(
        (
            full_name(row),
            row.rule,
            *size,
            degrees(row.df),
            p_value(row.p_adjusted if row.p_adjusted is not None else row.p),
            row.verdict or MISSING,
        )
        for row, size in zip(response.sensitivity, sizes, strict=True)
    )
    reasons = why_no_p(response.sensitivity)
    return Table(
        say("sensitivity caption", name=response.name),
        heads(
            "comparison",
            "rule",
            "estimate",
            "interval",
            "df",
            "p adjusted",
            "verdict",
            numeric=(2, 3, 4, 5),
            percent=scene.confidence,
        ),
        rows,
        reasons.strip() or None,
    )


def _sizes(rows: Sequence[Comparison]) -> list[tuple[str, str]]:
    """Differences share their decimals; every ratio of rates has its own digits."""
    plain = iter(column_with_intervals([own_triple(r) for r in rows if r.measure != RATE]))
    return [rate_cells(row) if row.measure == RATE else next(plain) for row in rows]


def rate_cells(row: Comparison) -> tuple[str, str]:
    """A ratio of rates and its interval, with their own digits."""
    known = row.low is not None and row.high is not None
    between = f"{number(row.low)} to {number(row.high)}" if known else MISSING
    return number(row.estimate), between
