"""Mixed models from a table in memory: columns named, cells and groups made from them.

The fixed part is one mean for each combination of the named columns (and covariates, if
any, with one slope each); random terms are intercepts of groups. A combination that no row
has is named and not estimated. Leans on reml, grouping, pandas.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wickstats.models.linear.grouping import Array, Codes, combine_codes, number_codes
from wickstats.models.linear.reml import Cells, MixedFit, Mode, fit_mixed

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class FrameFit:
    """A mixed model fitted to a table.

    Attributes
    ----------
    fit
        The fitted model: one fixed effect a cell, then one a covariate.
    cells
        Levels of the cell columns, one tuple a fixed effect.
    empty
        Combinations of levels that no row has: they are not in ``cells``.
    covariates
        Names of the covariates, each centered at its mean over the rows.
    missing
        Rows left out because a value in them is missing.
    """

    fit: MixedFit
    cells: tuple[tuple[Any, ...], ...]
    empty: tuple[tuple[Any, ...], ...]
    covariates: tuple[str, ...]
    missing: int

    def mean_rows(self, by: Mapping[int, Any]) -> Array:
        """Row (p,) that averages the cells whose levels at those places are these.

        Raises
        ------
        ValueError
            Where no cell fits, or one that would belong is empty.
        """
        mine = [all(cell[k] == v for k, v in by.items()) for cell in self.cells]
        gone = [cell for cell in self.empty if all(cell[k] == v for k, v in by.items())]
        if gone or not any(mine):
            raise ValueError(f"the mean needs cells that no row has: {gone or dict(by)}")
        row = np.zeros(len(self.fit.fixed))
        row[: len(mine)] = np.array(mine) / sum(mine)
        return row


def fit_frame(
    frame: "pd.DataFrame",
    value: str,
    *,
    cells: Sequence[str],
    groups: Mapping[str, str | Sequence[str]],
    covariates: Sequence[str] = (),
    mode: Mode = "nonnegative",
) -> FrameFit:
    """Fit by restricted maximum likelihood; see ``fit_mixed`` for what is raised.

    Parameters
    ----------
    frame
        One row a measurement.
    value
        Column of the response.
    cells
        Columns whose combinations have a mean each.
    groups
        Random term -> its column, or the columns whose combinations are its groups (plot 1
        of block 2 is not plot 1 of block 1 when both columns are given).
    covariates
        Numeric columns with one slope each.
    mode
        As for ``fit_mixed``.
    """
    wanted = {n: (c,) if isinstance(c, str) else tuple(c) for n, c in groups.items()}
    labels = dict.fromkeys([*cells, *(c for columns in wanted.values() for c in columns)])
    coded = {name: _code(frame[name]) for name in labels}
    y = frame[value].to_numpy(dtype=float)
    numbers = [frame[name].to_numpy(dtype=float) for name in covariates]
    bad = np.isnan(y)
    for column in numbers:
        bad |= np.isnan(column)
    for code, _ in coded.values():
        if code.min() < 0:
            bad |= code < 0
    missing = int(bad.sum())
    if missing:
        keep = ~bad
        y, numbers = y[keep], [column[keep] for column in numbers]
        coded = {name: (code[keep], levels) for name, (code, levels) in coded.items()}
    terms = {}
    for name, parts in wanted.items():
        code, count = number_codes(coded[parts[0]][0])
        for part in parts[1:]:
            code, count = combine_codes(code, count, *number_codes(coded[part][0]))
        terms[name] = code
    number, met, empty = _cells([coded[name] for name in cells], len(y))
    fixed: Array | Cells = Cells(number, np.eye(len(met)))
    if numbers:
        centered = [column - column.mean() for column in numbers]
        fixed = np.column_stack([np.eye(len(met))[number], *centered])
    fit = fit_mixed(y, fixed, terms, mode=mode)
    return FrameFit(fit, met, empty, tuple(covariates), missing)


def _code(column: "pd.Series[Any]") -> tuple[Codes, list[Any]]:
    """Codes (n,), -1 where missing, and the levels in the order of first appearance."""
    import pandas as pd

    if isinstance(column.dtype, pd.CategoricalDtype):
        return np.asarray(column.cat.codes, dtype=np.intp), column.cat.categories.tolist()
    codes, levels = pd.factorize(column.to_numpy())
    return np.asarray(codes, dtype=np.intp), np.asarray(levels).tolist()


def _cells(
    coded: Sequence[tuple[Codes, list[Any]]], n: int
) -> tuple[Codes, tuple[tuple[Any, ...], ...], tuple[tuple[Any, ...], ...]]:
    """Cell of each row, the cells that rows have, and those that none has."""
    shape = tuple(len(levels) for _, levels in coded)
    number = np.zeros(n, dtype=np.intp)
    for (code, _), size in zip(coded, shape, strict=True):
        number = number * size + code
    total = int(np.prod(shape))
    present = np.bincount(number, minlength=total) > 0
    names = list(itertools.product(*(levels for _, levels in coded)))
    met = tuple(name for name, there in zip(names, present, strict=True) if there)
    empty = tuple(name for name, there in zip(names, present, strict=True) if not there)
    return (number if not empty else (np.cumsum(present) - 1)[number]), met, empty
