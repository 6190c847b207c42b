"""The table of strata held against textbook sums of squares, for balanced complete trials.

What the second package computes apart by loops over means is compared line by line: F of
every term and the sum of squares of every error. Leans on second and core.
"""

from collections.abc import Hashable, Mapping, Sequence

from wickstats.core.responses import ResponseResult, UnitValue
from wickstats.core.results import Results
from wickstats.second.answers import ContrastAnswer, StrataLine
from wickstats.second.classical import (
    balanced_contrast,
    balanced_incomplete,
    latin_squares,
    split_plots,
    strip_plot,
)
from wickstats.second.strata import complete_blocks, one_way

JOIN = " x "
Pair = tuple[str, float, float]  # what, ours, theirs


def classical_pairs(
    results: Results, response: ResponseResult, units: Sequence[UnitValue]
) -> list[Pair]:
    """Ours and theirs of each F and each error's sum of squares; empty where none applies."""
    if not response.strata:
        return []
    try:
        theirs = _lines(results, response, units)
    except ValueError:
        return []
    found = {(line.stratum, line.source): line for line in theirs}
    found.update({("any", line.source): line for line in theirs})
    out: list[Pair] = []
    for row in response.strata:
        line = found.get((row.stratum, row.source))
        if line is None and row.f is not None:
            line = found.get(("any", row.source))
        if line is None:
            continue
        if row.f is not None and line.f is not None:
            out.append((f"F of {row.source}", row.f, line.f))
        elif row.source == "residual":
            what = f"sum of squares, {row.stratum} residual"
            out.append((what, row.sum_of_squares, line.sum_of_squares))
    return out


def several_strata_contrast(
    results: Results, response: ResponseResult, weights: Mapping[str, float]
) -> ContrastAnswer:
    """A contrast of treatments in a balanced trial with several errors, by means.

    Raises
    ------
    ValueError
        Where a unit is lost or the trial is not balanced.
    """
    units = response.unit_summary.values
    if any(u.value is None for u in units):
        raise ValueError("units are missing")
    lines = _lines(results, response, units)
    if not lines:
        raise ValueError("not a balanced trial in blocks")
    groups: dict[tuple[Hashable, ...], list[float]] = {}
    for unit in units:
        groups.setdefault(tuple(unit.treatment.split(JOIN)), []).append(
            float(unit.value or 0.0)
        )
    sizes = {len(group) for group in groups.values()}
    if len(sizes) != 1:
        raise ValueError("treatments stand unequally often")
    return balanced_contrast(
        {key: sum(group) / len(group) for key, group in groups.items()},
        {tuple(name.split(JOIN)): weight for name, weight in weights.items()},
        list(results.trial.factors),
        lines,
        sizes.pop(),
    )


def _lines(
    results: Results, response: ResponseResult, units: Sequence[UnitValue]
) -> tuple[StrataLine, ...]:
    values = [float(u.value) for u in units if u.value is not None]
    arms = [u.treatment for u in units]
    blocks = [u.block for u in units]
    factors = list(results.trial.factors)
    kind = results.layout.type
    if kind == "Latin square" and len(factors) == 1:
        squares = [u.square for u in units] if all(u.square for u in units) else None
        rows = [(u.square, u.row) for u in units]
        columns = [(u.square, u.column) for u in units]
        return latin_squares(values, arms, rows, columns, squares)
    if kind == "row-column":
        return ()
    if len(factors) == 1:
        if not all(blocks):
            return one_way(values, arms)
        if kind == "incomplete block":
            return balanced_incomplete(values, arms, blocks)
        return complete_blocks(values, arms, blocks)
    if not all(blocks) or kind == "incomplete block":
        return ()
    alone = results.trial.interactions == "left out"
    levels = {
        name: [u.treatment.split(JOIN)[k] for u in units] for k, name in enumerate(factors)
    }
    home = {row.source: row.stratum for row in response.strata if row.f is not None}
    tiers: dict[str, list[str]] = {}
    for row in response.strata:
        if row.source == "residual":
            tiers[row.stratum] = [name for name in factors if home.get(name) == row.stratum]
    if kind == "strip-plot":
        if len(factors) != 2:
            return ()
        (a,), (b,) = tiers["row strip"], tiers["column strip"]
        return strip_plot(values, blocks, levels[a], levels[b], (a, b), main_effects=alone)
    return split_plots(
        values,
        blocks,
        levels,
        [(name, tuple(held)) for name, held in tiers.items()],
        main_effects=alone,
    )
