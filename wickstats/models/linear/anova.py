"""The classical table of strata for complete trials.

Orthogonal splits of the sum of squares in the order block (row, column), factors,
interaction, residual; refused where units are missing, since sums of squares then overlap
(Fisher 1935; Yates 1934). Incomplete blocks: blocks ignoring treatments, then treatments
adjusted for blocks (Yates 1936, Ann. Eugen. 7:121), where the terms add up; a term that is
wholly confounded with blocks is a line of the block stratum, against what is left between
blocks (Yates 1937, The Design and Analysis of Factorial Experiments; from memory). Leans on
``contrasts``, ``strata``, ``error_strata`` and the core's row.
"""

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from wickstats.core.responses import StrataRow
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.error_strata import ErrorStrataFit
from wickstats.models.linear.estimates import Array, IntArray, TermTest, f_tail
from wickstats.models.linear.strata import UnitFit

JOIN = " x "


def is_complete(fit: UnitFit) -> bool:
    """Whether terms and blocks are orthogonal: equal units of every cell in every block."""
    layout = fit.geometry
    if layout.counts.size == 0 or layout.counts.min() == 0 or np.ptp(layout.counts) > 0:
        return False
    for held in layout.classes:
        inside = np.zeros((layout.n_cells, held.shares.shape[1]))
        np.add.at(inside, layout.cells, held.shares)
        if float(np.ptp(inside)) >= 1e-9:
            return False
    # rows and columns beside one another: what each adds does not overlap
    bases = [held.basis for held in layout.classes]
    pairs = combinations(bases, 2)
    return all(float(np.abs(one.T @ other).max(initial=0.0)) < 1e-9 for one, other in pairs)


def strata_table(
    fit: UnitFit,
    factors: Sequence[tuple[str, int]],
    *,
    unit: str = "plot",
    blocks: Sequence[str] = ("block",),
    all_there: bool = False,
) -> tuple[StrataRow, ...] | None:
    """Rows of the table for one stratum, or None where sums of squares overlap.

    Parameters
    ----------
    factors
        (name, levels) in the cells' row-major order.
    unit, blocks
        Names of the strata: of the units, and of each classification.
    all_there
        No unit was lost. Incomplete blocks then get their table too: blocks before
        treatments, treatments adjusted for blocks.
    """
    complete = is_complete(fit)
    if not complete and not (all_there and fit.geometry.classes):
        return None
    rows: list[StrataRow] = []
    before = np.ones((fit.values.size, 1)) / np.sqrt(fit.values.size)
    for name, held in zip(blocks, fit.geometry.classes, strict=False):
        basis = held.basis
        if not complete:
            basis = _added(before, held.shares)
            before = np.hstack([before, basis])
        inside = basis.T @ fit.values
        if basis.shape[1]:
            rows.append(_plain(name, name, basis.shape[1], float(inside @ inside)))
    shape = [levels for _, levels in factors]
    residual = _plain(unit, "residual", fit.residual_df, fit.residual_ss)
    between: dict[str, tuple[IntArray, Array]] = {}  # terms confounded with blocks
    most = len(factors) if fit.geometry.space is None else 1
    for order in range(1, most + 1):
        for term in combinations(range(len(factors)), order):
            name = JOIN.join(factors[k][0] for k in term)
            contrasts = term_rows(shape, term)
            test = fit.test(contrasts)
            if not complete and test.sum_of_squares is None:
                between[name] = fit.geometry.cells, contrasts
                continue
            rows.append(_tested(unit, name, contrasts.shape[0], test, residual))
    if between and len(blocks) == 1:
        rows[:1] = _split_blocks(rows[0], before, fit.values, between)
    table = (*rows, residual)
    return table if complete or _adds_up(table, fit.values) else None


def _split_blocks(
    blocks: StrataRow,
    space: Array,
    values: Array,
    terms: Mapping[str, tuple[IntArray, Array]],
) -> list[StrataRow]:
    """Lines of the block stratum: terms that lie in it whole, then what is left.

    ``space``: (n, b) orthonormal basis of blocks and mean. Terms that lie in it in part, or
    overlap, leave the line of blocks as it is.
    """
    found: list[tuple[str, Array]] = []
    for name, (cells, contrasts) in terms.items():
        columns = contrasts.T[cells]
        basis = np.linalg.qr(columns)[0]
        outside = basis - space @ (space.T @ basis)
        others = [basis.sum(axis=0), *(other.T @ basis for _, other in found)]
        if max(float(np.abs(part).max()) for part in (outside, *others)) > 1e-9:
            return [blocks]
        found.append((name, basis))
    df = blocks.df - sum(basis.shape[1] for _, basis in found)
    squares = {name: float(np.sum((basis.T @ values) ** 2)) for name, basis in found}
    rest = max(blocks.sum_of_squares - sum(squares.values()), 0.0)
    left = _plain(blocks.stratum, "residual", df, rest)
    out = []
    for name, basis in found:
        q, mean = basis.shape[1], squares[name] / basis.shape[1]
        f = mean / left.mean_square if left.mean_square else None
        p = None if f is None else f_tail(f, q, df)
        out.append(StrataRow(blocks.stratum, name, q, squares[name], mean, f, p))
    return [*out, left] if df else out


def _added(before: Array, shares: Array) -> Array:
    """Orthonormal basis of what the shares add to ``before``."""
    left = shares - before @ (before.T @ shares)
    w, s, _ = np.linalg.svd(left, full_matrices=False)
    product: Array = w[:, s > 1e-8]
    return product


def _adds_up(rows: Sequence[StrataRow], values: Array) -> bool:
    """Whether sums of squares and df are those of all values about their mean."""
    total = float(np.sum((values - values.mean()) ** 2))
    close = abs(sum(row.sum_of_squares for row in rows) - total) <= 1e-8 * total
    return close and sum(row.df for row in rows) == values.size - 1


def error_strata_table(
    fit: ErrorStrataFit, factors: Sequence[str], *, blocks: Sequence[str] = ("block",)
) -> tuple[StrataRow, ...] | None:
    """Rows of the table of several strata, or None where stratum units are lost.

    ``factors`` are the factors' names; ``blocks`` those of what is fixed in the first stratum.
    """
    rows: list[StrataRow] = []
    top = fit.fits[0]
    classes, size, values = top.geometry.classes, fit.sizes[0], top.values
    last = fit.fits[-1]
    if blocks and not classes and len(last.geometry.classes) > len(blocks):
        # pieces of the first stratum stand in every block: blocks are fixed inside them
        classes, size, values = last.geometry.classes[-len(blocks) :], 1, last.values
    for name, held in zip(blocks, classes, strict=False):
        inside = held.basis.T @ values
        if held.basis.shape[1]:
            squares = size * float(inside @ inside)
            rows.append(_plain(name, name, held.basis.shape[1], squares))
    count = len(fit.shape)
    most = 1 if fit.main_effects else count
    terms = [t for order in range(1, most + 1) for t in combinations(range(count), order)]
    for k, part in enumerate(fit.fits):
        squares = fit.sizes[k] * part.residual_ss
        residual = _plain(fit.names[k], "residual", part.residual_df, squares)
        for term in terms:
            if fit.stratum_of(term) != k:
                continue
            contrasts = term_rows(fit.shape, term)
            name = JOIN.join(factors[j] for j in term)
            test = fit.test(contrasts)
            rows.append(_tested(fit.names[k], name, contrasts.shape[0], test, residual))
        rows.append(residual)
    return tuple(rows) if _adds_up(rows, fit.fitted + fit.residuals) else None


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
