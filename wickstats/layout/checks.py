"""Whether the rows of a layout's table make sense and agree with the trial file.

Leans on rows, codes and the trial's values.
"""

import re
from collections import Counter
from collections.abc import Iterator

from wickstats.design.defaults import JOIN
from wickstats.design.findings import listing, nearest, quote
from wickstats.design.trial import Trial
from wickstats.layout.codes import is_code
from wickstats.layout.rows import Report, Row
from wickstats.layout.sizes import check_sizes

NUMBERS = ("row", "column", "plants")
_GROUPS = {
    "completely randomized": (),
    "randomized complete block": ("block",),
    "Latin square": ("row", "column"),
    "split-plot": ("whole_plot",),
    "strip-plot": ("row_strip", "column_strip"),
    "incomplete block": ("block",),
    "row-column": ("row", "column"),
}
LONGEST_NAME = 200


def needed_columns(trial: Trial) -> tuple[str, ...]:
    """Columns that the table must have: plot, the factors, and what the design groups by."""
    groups = _GROUPS[trial.design.type]
    if trial.design.type in ("split-plot", "strip-plot") and trial.design.blocks:
        groups = ("block", *groups)
    return ("plot", *(factor.name for factor in trial.factors), *groups)


def check_rows(trial: Trial, rows: list[Row], out: Report) -> None:
    """Keep every problem of the rows."""
    for row in rows:
        _cells(trial, row, out)
    _plots_once(rows, out)
    _positions_once(rows, out)
    _levels_used(trial, rows, out)
    _blocks_not_meant(trial, rows, out)
    _reservoirs(trial, rows, out)
    _whole_plots(trial, rows, out)
    _identifiers(trial, rows, out)
    if not out.problems:
        check_sizes(trial, rows, out)


def treatment_of(trial: Trial, row: Row) -> str:
    """The row's levels joined as everywhere."""
    return JOIN.join(row.get(factor.name) for factor in trial.factors)


def _cells(trial: Trial, row: Row, out: Report) -> None:
    for column in needed_columns(trial):
        if not row.get(column):
            out.add(
                "blank cell",
                found=f"nothing under {quote(column)}",
                expected=f"a {column} in every row",
                fix="fill the cell, or take the row out",
                row=row.number,
                column=column,
            )
    if len(row.get("plot")) > LONGEST_NAME:
        out.add(
            "too long",
            found=f"a name of {len(row.get('plot'))} characters",
            expected=f"at most {LONGEST_NAME}",
            fix="use a short identifier",
            row=row.number,
            column="plot",
        )
    for factor in trial.factors:
        level = row.get(factor.name)
        if level and level not in factor.level_names:
            near = nearest(level, factor.level_names)
            out.add(
                "unknown level",
                found=f"{quote(level)} for {factor.name}",
                expected=f"one of: {listing(factor.level_names)}",
                fix=f"write {near}"
                if near
                else "correct it, or add the level to the trial file",
                row=row.number,
                column=factor.name,
            )
    for column in NUMBERS:
        text = row.get(column)
        if text and not re.fullmatch(r"0*[1-9]\d{0,8}(\.0+)?", text):
            out.add(
                "not a number",
                found=f"{quote(text)} for {column}",
                expected="a whole number at least 1",
                fix="write digits, or leave the cell blank",
                row=row.number,
                column=column,
            )


def _plots_once(rows: list[Row], out: Report) -> None:
    first: dict[str, int] = {}
    for row in rows:
        plot = row.get("plot")
        if plot and first.setdefault(plot, row.number) != row.number:
            out.add(
                "duplicate plot",
                found=f"{quote(plot)} a second time (first in row {first[plot]})",
                expected="one row a plot",
                fix="correct the identifier, or take the row out",
                row=row.number,
                column="plot",
            )


def _positions_once(rows: list[Row], out: Report) -> None:
    first: dict[tuple[str, ...], int] = {}
    for row in rows:
        if not (row.get("row") and row.get("column")):
            continue
        # positions may start anew in each block or square, and in each whole plot
        where = tuple(
            row.get(c) for c in ("square", "block", "replicate", "whole_plot", "row", "column")
        )
        if first.setdefault(where, row.number) != row.number:
            out.add(
                "duplicate position",
                found=f"row {row.get('row')}, column {row.get('column')} a second time "
                f"(first in row {first[where]} of the table)",
                expected="one plot at each position",
                fix="correct row or column, or leave both blank",
                row=row.number,
                column="column",
            )


def _levels_used(trial: Trial, rows: list[Row], out: Report) -> None:
    for factor in trial.factors:
        used = {row.get(factor.name) for row in rows}
        for level in factor.level_names:
            if level not in used:
                out.add(
                    "missing treatment",
                    found=f"no plot with {factor.name} {quote(level)}",
                    expected="every level of the trial file on some plot",
                    fix="correct the table, or take the level out of the trial file",
                    column=factor.name,
                )


def _blocks_not_meant(trial: Trial, rows: list[Row], out: Report) -> None:
    blocks = {row.get("block") for row in rows} - {""}
    if trial.design.type == "completely randomized" and len(blocks) > 1:
        out.add(
            "contradiction",
            found=f"{len(blocks)} blocks in the table",
            expected="no blocks: the trial file says completely randomized",
            fix="write type: randomized complete block, or leave the column block out",
            row=1,
            column="block",
        )


def _grouped(rows: list[Row], *columns: str) -> Iterator[tuple[str, list[Row]]]:
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        if row.get(columns[-1]):
            groups.setdefault(tuple(row.get(c) for c in columns), []).append(row)
    for key, members in groups.items():
        yield key[-1], members


def _reservoirs(trial: Trial, rows: list[Row], out: Report) -> None:
    plots = {row.get("plot") for row in rows}
    for name, members in _grouped(rows, "reservoir"):
        treatments = list(dict.fromkeys(treatment_of(trial, row) for row in members))
        if len(treatments) > 1:
            odd = next(r for r in members if treatment_of(trial, r) != treatments[0])
            out.add(
                "reservoir spans treatments",
                found=f"reservoir {quote(name)} feeds {listing(treatments)}",
                expected="one treatment a reservoir: what it feeds is one unit",
                fix="correct the reservoir or the treatment",
                row=odd.number,
                column="reservoir",
            )
        if name in plots and any(row.get("plot") != name for row in members):
            out.add(
                "name used twice",
                found=f"reservoir {quote(name)} has the name of a plot",
                expected="names that tell plots and reservoirs apart",
                fix="rename the reservoir",
                row=members[0].number,
                column="reservoir",
            )


def _whole_plots(trial: Trial, rows: list[Row], out: Report) -> None:
    if trial.design.type != "split-plot":
        return
    outer = [f.name for f in trial.factors if f.applied_to == "whole plot"]
    for name, members in _grouped(rows, "block", "whole_plot"):
        for factor in outer:
            levels = list(dict.fromkeys(row.get(factor) for row in members))
            if len(levels) > 1:
                odd = next(r for r in members if r.get(factor) != levels[0])
                out.add(
                    "whole plot spans levels",
                    found=f"whole plot {quote(name)} holds {listing(levels)}",
                    expected=f"one level of {factor} in a whole plot",
                    fix="correct the whole plot or the level",
                    row=odd.number,
                    column=factor,
                )
    for name, members in _grouped(rows, "block", "whole_plot", "subplot"):
        if len(members) > 1:
            out.add(
                "duplicate subplot",
                found=f"subplot {quote(name)} twice in whole plot "
                f"{quote(members[0].get('whole_plot'))}",
                expected="each subplot once in its whole plot",
                fix="correct the subplot or the whole plot",
                row=members[1].number,
                column="subplot",
            )


def _identifiers(trial: Trial, rows: list[Row], out: Report) -> None:
    """A mistyped identifier among our own; tables with other identifiers are left alone."""
    if trial.design.drawn != "here":
        return
    right = Counter(is_code(row.get("plot")) for row in rows)
    if right[True] <= right[False]:
        return
    for row in rows:
        if row.get("plot") and not is_code(row.get("plot")):
            out.add(
                "mistyped identifier",
                found=f"{quote(row.get('plot'))}, whose check character is wrong",
                expected="an identifier as drawn",
                fix="compare it with the stake or the papers",
                row=row.number,
                column="plot",
            )
