"""Whether a layout that was drawn here is still what its seed gives.

Leans on randomize, record and rows.
"""

from wickstats.core.errors import LayoutError
from wickstats.design.canonical import canonical_hash
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout, Plot
from wickstats.layout.record import LayoutRecord
from wickstats.layout.rows import Report, Row
from wickstats.layout.stream import SCHEME

_CHANGED = (
    "bring the table back from a copy; if plots really got other treatments than drawn, "
    "say drawn: elsewhere and tell why in the report"
)
_NAMED = (
    "block",
    "reservoir",
    "replicate",
    "square",
    "whole_plot",
    "row_strip",
    "column_strip",
    "coil",
)
_COMPARED = (*_NAMED, "subplot", "row", "column")


def verify_drawn(
    trial: Trial, layout: Layout, rows: list[Row], record: LayoutRecord, out: Report
) -> None:
    """Keep a problem for each plot that differs from the draw of the record's seed."""
    from wickstats.layout.randomize import draw

    if record.scheme != SCHEME:
        out.add(
            "unknown scheme",
            found=f"the scheme {record.scheme} in the record",
            expected=SCHEME,
            fix="use the version of wickstats that drew the layout, named in the record",
        )
        return
    why = _sizes_changed(trial, record)
    try:
        drawn = draw(trial, record.seed, plan=record.plan)
    except LayoutError as error:
        out.problems.extend(error.problems)
        return
    expected = {plot.plot: plot for plot in drawn.plots}
    for plot, row in zip(layout.plots, rows, strict=True):
        before = len(out.problems)
        _compare(plot, expected.pop(plot.plot, None), row.number, why, out)
        if len(out.problems) > before and why:
            return  # the trial file changed: every further row would say the same
    for name in expected:
        out.add(
            "layout changed",
            found=f"no row for plot {name}",
            expected=f"every plot that seed {record.seed} gives",
            fix=why or _CHANGED,
        )
        if why:
            return


def _sizes_changed(trial: Trial, record: LayoutRecord) -> str | None:
    if canonical_hash(trial) == record.hash:
        return None
    return (
        "the trial file was changed after the layout was drawn: bring design and factors "
        "back to what they were"
    )


def _compare(plot: Plot, drawn: Plot | None, row: int, why: str | None, out: Report) -> None:
    fix = why or _CHANGED
    if drawn is None:
        out.add(
            "layout changed",
            found=f"plot {plot.plot}, which was not drawn",
            expected="the plots that the record's seed gives",
            fix=fix,
            row=row,
            column="plot",
        )
        return
    for factor, level in plot.levels.items():
        if drawn.levels.get(factor) != level:
            _differs(factor, level, drawn.levels.get(factor), row, fix, out)
    for column in _COMPARED:
        found, meant = getattr(plot, column), getattr(drawn, column)
        if found != meant and (found is not None or column in _NAMED):
            _differs(column, found, meant, row, fix, out)


def _differs(
    column: str, found: object, meant: object, row: int, fix: str, out: Report
) -> None:
    out.add(
        "layout changed",
        found="nothing" if found is None else str(found),
        expected=f"{'nothing' if meant is None else meant}, as drawn",
        fix=fix,
        row=row,
        column=column,
    )
