"""Whether the rows of a layout's table make sense and agree with the trial file.

Leans on rows, groups, codes and the trial's values.
"""

import re
from collections import Counter

from wickstats.design.findings import listing, nearest, quote
from wickstats.design.trial import Trial
from wickstats.layout.bench import check_coils, needs_coil
from wickstats.layout.codes import is_code
from wickstats.layout.groups import check_groups, grouped, treatment_of
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
    design = trial.design
    groups = _GROUPS[design.type]
    if design.type in ("split-plot", "strip-plot") and design.blocks:
        groups = ("block", *groups)
    if design.type == "Latin square" and (design.squares or 1) > 1:
        groups = ("square", *groups)
    arrays = design.type == "row-column" and design.replicates not in (None, 1)
    if arrays or (design.type == "incomplete block" and design.resolvable):
        groups = ("replicate", *groups)
    if needs_coil(trial):
        groups = (*(g for g in groups if g != "whole_plot"), "coil")
    return ("plot", *(factor.name for factor in trial.factors), *groups)


def check_rows(trial: Trial, rows: list[Row], out: Report) -> None:
    """Keep every problem of the rows."""
    for row in rows:
        _cells(trial, row, out)
    _plots_once(rows, out)
    _levels_used(trial, rows, out)
    _blocks_not_meant(trial, rows, out)
    _reservoirs(trial, rows, out)
    check_groups(trial, rows, out)
    check_coils(trial, rows, out)
    _identifiers(trial, rows, out)
    if not out.problems:
        check_sizes(trial, rows, out)


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


def _reservoirs(trial: Trial, rows: list[Row], out: Report) -> None:
    plots = {row.get("plot") for row in rows}
    for name, members in grouped(rows, "reservoir"):
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
