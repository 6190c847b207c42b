"""What stands beside a response: yield and water, picks over time, lines, shares by logit.

Descriptions and estimates that never set a verdict. Leans on productivity, along_line,
comparisons, means, share_line and the summaries of picks.
"""

from dataclasses import replace

from wickstats.analysis.along_line import along_line
from wickstats.analysis.bench import pieces_of
from wickstats.analysis.bench_checks import bench_checks
from wickstats.analysis.bench_spread import bench_of
from wickstats.analysis.comparisons import compare
from wickstats.analysis.context import Context
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.means import mean_rows
from wickstats.analysis.productivity import productivity
from wickstats.analysis.share_line import share_model
from wickstats.analysis.summaries.picks import (
    pick_rows,
    pick_summaries,
    picked_counts,
    read_picks,
)
from wickstats.analysis.summary import Summary
from wickstats.core.responses import Comparison, Harvest, Mean, ResponseResult
from wickstats.records.season import Season


def with_beside(
    context: Context, result: ResponseResult, main: Summary | None, season: Season
) -> ResponseResult:
    """The response with what its kind allows."""
    response, units = context.response, context.units
    pieces = pieces_of(response, season) if response.kind in ("rise", "flow") else []
    return replace(
        result,
        productivity=None if main is None else productivity(context, main),
        harvest=_harvest(context, season),
        along_line=along_line(context, season),
        bench=None if main is None else bench_of(response, pieces, season, units),
        checks=(*result.checks, *bench_checks(response, pieces, units)),
        share_model=None if main is None else share_model(context, main),
    )


def _harvest(context: Context, season: Season) -> Harvest | None:
    held = read_picks(context.response, season, context.units)
    if held is None:
        return None
    means: list[Mean] = []
    comparisons: list[Comparison] = []
    notes: list[str] = []
    for summary in pick_summaries(context.response, season, context.units, held):
        line = fit_line(context.units, summary, context.confidence)
        if line is None:
            continue
        # the planned smallest difference is one of mass, not of days or percent
        own = replace(context, matters=None)
        means.extend(mean_rows(own, summary, line, rho=None))
        comparisons.extend(compare(own, summary, line, with_verdict=False))
        notes.extend(summary.notes)
    return Harvest(
        context.measured_in,
        pick_rows(held, context.units),
        picked_counts(season, context.units),
        tuple(means),
        tuple(comparisons),
        tuple(dict.fromkeys(notes)),
    )
