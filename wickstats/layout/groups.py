"""Whether the plots of a table nest as the design says: whole plots, strips, squares, blocks.

Leans on rows, tiers and the trial's values.
"""

from collections.abc import Iterator

from wickstats.design.defaults import JOIN
from wickstats.design.findings import listing, quote
from wickstats.design.tiers import applied_to, tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.rows import Report, Row

# columns that a position on the ground is counted in anew
_WHERE = {
    "Latin square": ("square",),
    "row-column": ("replicate",),
}
_ANYWHERE = ("square", "block", "replicate", "whole_plot")


def check_groups(trial: Trial, rows: list[Row], out: Report) -> None:
    """Keep a problem for each piece of ground that holds what it cannot hold."""
    _positions_once(trial, rows, out)
    if trial.design.type == "split-plot":
        _one_level(trial, rows, "whole plot", "whole_plot", out)
        _subplots_once(rows, out)
    elif trial.design.type == "strip-plot":
        _one_level(trial, rows, "row strip", "row_strip", out)
        _one_level(trial, rows, "column strip", "column_strip", out)
        _crossings(trial, rows, out)
    elif trial.design.type == "Latin square":
        _squares(trial, rows, out)
    elif trial.design.type == "incomplete block" and trial.design.resolvable:
        _replicates(trial, rows, out)


def treatment_of(trial: Trial, row: Row) -> str:
    """The row's levels joined as everywhere."""
    return JOIN.join(row.get(factor.name) for factor in trial.factors)


def grouped(rows: list[Row], *columns: str) -> Iterator[tuple[str, list[Row]]]:
    """Rows that agree in all columns, by the last one's name; blank names are left out."""
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        if row.get(columns[-1]):
            groups.setdefault(tuple(row.get(c) for c in columns), []).append(row)
    for key, members in groups.items():
        yield key[-1], members


def _unit(row: Row) -> str:
    return row.get("reservoir") or row.get("plot")


def _positions_once(trial: Trial, rows: list[Row], out: Report) -> None:
    first: dict[tuple[str, ...], Row] = {}
    # positions may start anew in each block or square, and in each whole plot
    within = _WHERE.get(trial.design.type, _ANYWHERE)
    crossed = trial.design.type in _WHERE
    for row in rows:
        if not (row.get("row") and row.get("column")):
            continue
        where = tuple(row.get(c) for c in (*within, "row", "column"))
        before = first.setdefault(where, row)
        # where rows and columns are the design, a unit of several plots has one position
        shared = crossed or trial.design.type == "strip-plot"
        if before is row or (shared and _unit(row) == _unit(before)):
            continue
        out.add(
            "duplicate position",
            found=f"row {row.get('row')}, column {row.get('column')} a second time "
            f"(first in row {before.number} of the table)",
            expected="one plot at each position",
            fix="correct row or column, or leave both blank"
            if not crossed
            else "correct row or column; several squares or arrays need a column " + within[0],
            row=row.number,
            column="column",
        )


def _one_level(trial: Trial, rows: list[Row], tier: str, column: str, out: Report) -> None:
    """A whole plot or strip holds one level of what was applied to it."""
    for name, members in grouped(rows, "block", column):
        for factor in applied_to(tiers_of(trial), tier):
            levels = list(dict.fromkeys(row.get(factor) for row in members))
            if len(levels) > 1:
                odd = next(r for r in members if r.get(factor) != levels[0])
                out.add(
                    f"{tier} spans levels",
                    found=f"{tier} {quote(name)} holds {listing(levels)}",
                    expected=f"one level of {factor} in a {tier}",
                    fix=f"correct the {tier} or the level",
                    row=odd.number,
                    column=factor,
                )


def _subplots_once(rows: list[Row], out: Report) -> None:
    for name, members in grouped(rows, "block", "whole_plot", "subplot"):
        if len({_unit(row) for row in members}) > 1:
            out.add(
                "duplicate subplot",
                found=f"subplot {quote(name)} twice in whole plot "
                f"{quote(members[0].get('whole_plot'))}",
                expected="each subplot once in its whole plot",
                fix="correct the subplot or the whole plot",
                row=members[1].number,
                column="subplot",
            )


def _crossings(trial: Trial, rows: list[Row], out: Report) -> None:
    """Where two strips cross lies one unit, or one for each treatment applied to plots."""
    split = bool(applied_to(tiers_of(trial), "plot"))
    first: dict[tuple[str, ...], Row] = {}
    for row in rows:
        key = tuple(row.get(c) for c in ("block", "row_strip", "column_strip"))
        if split:
            key = (*key, treatment_of(trial, row))
        before = first.setdefault(key, row)
        if before is not row and _unit(before) != _unit(row):
            out.add(
                "duplicate crossing",
                found=f"row strip {quote(key[1])} and column strip {quote(key[2])} cross a "
                f"second time (first in row {before.number})",
                expected="one plot where two strips cross",
                fix="correct the strips or the block; give plots on one reservoir its name",
                row=row.number,
                column="column_strip",
            )


def _squares(trial: Trial, rows: list[Row], out: Report) -> None:
    """In a Latin square no treatment stands twice in a row or a column."""
    for line in ("row", "column"):
        seen: dict[tuple[str, ...], Row] = {}
        for row in rows:
            key = (row.get("square"), row.get(line), treatment_of(trial, row))
            before = seen.setdefault(key, row)
            if before is not row and _unit(before) != _unit(row):
                out.add(
                    "no Latin square",
                    found=f"{key[2]} twice in {line} {key[1]}"
                    + (f" of square {quote(key[0])}" if key[0] else "")
                    + f" (first in row {before.number} of the table)",
                    expected=f"each treatment once in each {line} of a square",
                    fix="correct the table, or write type: row-column",
                    row=row.number,
                    column=line,
                )


def _replicates(trial: Trial, rows: list[Row], out: Report) -> None:
    """In a resolvable design no treatment stands twice in a replicate."""
    seen: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row.get("replicate"), treatment_of(trial, row))
        before = seen.setdefault(key, row)
        if before is not row and _unit(before) != _unit(row):
            out.add(
                "not resolvable",
                found=f"{key[1]} twice in replicate {quote(key[0])} "
                f"(first in row {before.number})",
                expected="each treatment once in each replicate, as resolvable: true says",
                fix="correct the table, or take resolvable out",
                row=row.number,
                column="replicate",
            )
