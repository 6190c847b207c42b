"""The classical table of strata for complete trials.

Orthogonal splits of the sum of squares in the order block, factors, interaction,
residual; refused where units are missing, since sums of squares then overlap (Fisher
1935; Yates 1934). Leans on ``contrasts``, ``strata``, ``split_plot`` and the core's row.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from wickstats.core.responses import StrataRow
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.estimates import TermTest, f_tail
from wickstats.models.linear.split_plot import SplitPlotFit
from wickstats.models.linear.strata import UnitFit

JOIN = " x "


def is_complete(fit: UnitFit) -> bool:
    """Whether terms and blocks are orthogonal: equal units of every cell in every block."""
    layout = fit.geometry
    if layout.counts.size == 0 or layout.counts.min() == 0 or np.ptp(layout.counts) > 0:
        return False
    held = np.zeros((layout.n_cells, layout.n_blocks))
    np.add.at(held, layout.cells, layout.shares)
    return layout.n_blocks == 0 or float(np.ptp(held)) < 1e-9


def strata_table(
    fit: UnitFit,
    factors: Sequence[tuple[str, int]],
    *,
    unit: str = "plot",
    block: str = "block",
) -> tuple[StrataRow, ...] | None:
    """Rows of the table for one stratum, or None where the trial is not complete.

    Parameters
    ----------
    factors
        (name, levels) in the cells' row-major order.
    unit, block
        Names of the strata.
    """
    if not is_complete(fit):
        return None
    rows: list[StrataRow] = []
    layout = fit.geometry
    if layout.n_blocks > 1:
        inside = layout.block_basis.T @ fit.values
        rows.append(_plain(block, block, layout.n_blocks - 1, float(inside @ inside)))
    shape = [levels for _, levels in factors]
    residual = _plain(unit, "residual", fit.residual_df, fit.residual_ss)
    for order in range(1, len(factors) + 1):
        for term in combinations(range(len(factors)), order):
            name = JOIN.join(factors[k][0] for k in term)
            contrasts = term_rows(shape, term)
            test = fit.test(contrasts)
            rows.append(_tested(unit, name, contrasts.shape[0], test, residual))
    return (*rows, residual)


def split_plot_table(
    fit: SplitPlotFit, whole: str, sub: str, *, block: str = "block"
) -> tuple[StrataRow, ...] | None:
    """Rows of the table for a complete split-plot, or None where whole plots are lost."""
    if not is_complete(fit.whole):
        return None
    size = fit.subplots
    rows: list[StrataRow] = []
    layout = fit.whole.geometry
    if layout.n_blocks > 1:
        inside = layout.block_basis.T @ fit.whole.values
        rows.append(_plain(block, block, layout.n_blocks - 1, size * float(inside @ inside)))
    above = _plain(
        "whole plot", "residual", fit.whole.residual_df, size * fit.whole.residual_ss
    )
    below = _plain("subplot", "residual", fit.sub.residual_df, fit.sub.residual_ss)
    a, b = fit.n_whole - 1, fit.n_sub - 1
    rows.append(_tested("whole plot", whole, a, fit.test_whole(), above))
    rows.append(above)
    rows.append(_tested("subplot", sub, b, fit.test_sub(), below))
    rows.append(_tested("subplot", whole + JOIN + sub, a * b, fit.test_interaction(), below))
    rows.append(below)
    return tuple(rows)


def _plain(stratum: str, source: str, df: int, squares: float) -> StrataRow:
    mean = squares / df if df else None
    return StrataRow(stratum, source, df, squares, mean, None, None)


def _tested(
    stratum: str, source: str, q: int, test: TermTest, residual: StrataRow
) -> StrataRow:
    """A term against its residual under equal variances, whatever guard the test has."""
    squares = test.sum_of_squares or 0.0
    mean = squares / q
    if test.f is None or not residual.mean_square:
        return StrataRow(stratum, source, q, squares, mean, None, None)
    f = mean / residual.mean_square
    return StrataRow(stratum, source, q, squares, mean, f, f_tail(f, q, residual.df))
