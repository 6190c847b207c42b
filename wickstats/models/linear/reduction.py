"""Rows of a mixed model reduced, exactly, to what its covariance matrix can tell apart.

Model: W = [X y] (n, w), Var(y) = V = sum_k theta_k Z_k Z_k' + theta_e I. The theta are
ordered as the terms, the residual last (m in all).

Rows that share all groups are exchangeable: an orthogonal rotation turns them into their
mean times sqrt(count) and contrasts among them whose variance is theta_e alone. Of the
contrasts only the cross-products are kept. The same step is taken again wherever a term's
groups have become single rows (plants within a plot, plots within a block). A row left at
the end has a variance of its own, a'theta, and shares the levels of the terms that are
left. All rows and contrasts with the same a are one *kind*, of which

    A = sum W'W (w, w),  B = sum Z'W (q, w),  U = sum Z'Z (q, q),  d = how many

are all that the likelihood needs, q counting the levels of the terms that are left (none in
balanced nested data). Levels that no row links fall into separate *blocks* of q levels.

X has few distinct rows (cells of treatment and visit), so a row is carried as the number of
its X row and its y; groups that hold the same X rows share one row of the next table.
Source: sufficiency of group sums and within-group cross-products, as in any analysis of
variance; Searle, Casella & McCulloch (1992), chapters 3 and 6. Leans on grouping, numpy.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickstats.models.linear.grouping import (
    LOOSE,
    SHORT,
    Array,
    Codes,
    combine_codes,
    components,
    contents,
    distinct_rows,
    first_rows,
    number_codes,
)

Ints = NDArray[np.int64]
# Blocks of levels are told apart where there are more levels than this in all.
FEW_LEVELS = 24


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Sets of levels of about equal size that no row links (c sets of q levels).

    Attributes
    ----------
    owner, of
        (q,) term of each level, and the same as (q, m) zeros and ones; a set with fewer
        levels has empty ones.
    slots
        Term and its run of levels.
    shares, sums
        (kinds, c, q, q) and (kinds, c, q, w): U and B of the module's head.
    """

    owner: Codes
    of: Array
    slots: tuple[tuple[int, slice], ...]
    shares: Array
    sums: Array


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """What the restricted likelihood needs of the rows.

    Attributes
    ----------
    n
        Number of rows reduced.
    dims, coefficients, grams
        (kinds,), (kinds, m), (kinds, w, w): d, a and A of the module's head.
    own, pairs
        (o,) terms that belong to the rows themselves (the residual always), and (2, r) the
        places in it of each pair k <= l.
    blocks
        B and U, in sets of levels.
    """

    n: int
    dims: Array
    coefficients: Array
    grams: Array
    own: Codes
    pairs: Codes
    blocks: tuple[Blocks, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Rotated rows: X row by number, y, own variance, rows behind, codes of the terms."""

    x: Codes
    table: Array
    y: Array
    own: Ints  # (n, m) coefficients of the variance a row has to itself
    counts: Ints
    codes: tuple[Codes, ...]

    def take(self, rows: Codes) -> "_Rows":
        return replace(
            self,
            x=self.x[rows],
            y=self.y[rows],
            own=self.own[rows],
            counts=self.counts[rows],
            codes=tuple(code[rows] for code in self.codes),
        )


def reduce_rows(W: Array, terms: Sequence[NDArray[np.int_]]) -> Reduced:
    """Reduce rows W = [X y] (n, w) with the group codes (n,) of each random term."""
    x, table = distinct_rows(W[:, :-1])
    return reduce_cells(x, table, W[:, -1], terms)


def reduce_cells(
    x: Codes, table: Array, y: Array, terms: Sequence[NDArray[np.int_]]
) -> Reduced:
    """Reduce rows given as numbers x (n,) of rows of ``table`` (cells, p), and y (n,)."""
    n, size = len(y), len(terms) + 1
    numbered = [number_codes(term) for term in terms]
    levels = [count for _, count in numbered]
    residual = np.arange(size) == size - 1
    own = np.broadcast_to(residual.astype(np.int64), (n, size))
    counts = np.broadcast_to(np.int64(1), n)
    rows = _Rows(x, table, y, own, counts, tuple(c for c, _ in numbered))
    kinds = _Kinds(table.shape[1] + 1)
    remaining = list(range(len(terms)))
    alike: tuple[Codes, int] = (np.zeros(n, dtype=np.intp), 1)  # rows that vary alike
    while True:
        label, groups = alike
        for k in remaining:
            label, groups = combine_codes(label, groups, rows.codes[k], levels[k])
        if groups < len(rows.y):
            rows = _collapse(rows, label, groups, kinds)
        single = [k for k in remaining if levels[k] == groups]
        if not single:
            break
        own = rows.own.copy()
        for k in single:
            own[:, k] += rows.counts
            remaining.remove(k)
        rows = replace(rows, own=own)
        alike = _alike([*rows.own.T, rows.counts])
    return _assemble(n, rows, remaining, levels, kinds)


def _alike(columns: Sequence[Ints]) -> tuple[Codes, int]:
    """Number rows by several whole numbers."""
    label, groups = np.zeros(len(columns[0]), dtype=np.intp), 1
    for column in columns:
        if column.min() != column.max():
            label, groups = combine_codes(label, groups, *number_codes(column))
    return label, groups


def _collapse(rows: _Rows, label: Codes, groups: int, kinds: "_Kinds") -> _Rows:
    """Rotate each set of exchangeable rows into its mean and its contrasts."""
    size = np.bincount(label, minlength=groups)
    means = np.bincount(label, weights=rows.y, minlength=groups) / size
    within = rows.y - means[label]
    first = first_rows(label, groups)
    kept = rows.take(first)
    kind, n_kinds = _alike(list(kept.own.T))
    held = len(rows.table)
    pattern, n_patterns = contents(label, groups, rows.x, held, kind)
    model = first_rows(pattern, n_patterns)  # one group that stands for its pattern
    is_model = np.zeros(groups, dtype=bool)
    is_model[model] = True
    key = pattern[label] * held + rows.x
    entries, times = np.unique(key[is_model[label]], return_counts=True)
    at, cell = np.divmod(entries, held)
    sizes = size[model]
    centers = _sum_rows(rows.table[cell] * times[:, None], at, n_patterns) / sizes[:, None]
    x_within = rows.table[cell] - centers[at]
    times = times * np.bincount(pattern, minlength=n_patterns)[at]
    y_sums, met = _sum_at(key, entries, n_patterns * held, within)
    if not np.array_equal(met, times):  # two contents with one sum: see ``contents``
        raise ArithmeticError("groups of rows were taken for alike that are not")
    entry_kind = kind[model][at]
    dims = np.bincount(kind, weights=size - 1.0, minlength=n_kinds)
    of_rows = kind[label] if n_kinds > 1 else np.zeros(1, dtype=np.intp)
    for k in np.flatnonzero(dims > 0):
        of = entry_kind == k if n_kinds > 1 else slice(None)
        mine = within[of_rows == k] if n_kinds > 1 else within
        gram = np.empty((kinds.width, kinds.width))
        gram[:-1, :-1] = x_within[of].T @ (x_within[of] * times[of][:, None])
        gram[:-1, -1] = gram[-1, :-1] = x_within[of].T @ y_sums[of]
        gram[-1, -1] = mine @ mine
        kinds.add(kept.own[first_rows(kind, n_kinds)[k]], float(dims[k]), gram)
    return replace(
        kept,
        x=pattern,
        table=centers * np.sqrt(sizes)[:, None],
        y=means * np.sqrt(size),
        counts=kept.counts * size,
    )


def _sum_rows(values: Array, label: Codes, groups: int) -> Array:
    """Sum rows (n, w) by group: (groups, w); empty groups are zero."""
    order = np.argsort(label, kind="stable")
    sorted_label = label[order]
    out = np.zeros((groups, values.shape[1]))
    if len(order):
        starts = np.flatnonzero(np.r_[True, sorted_label[1:] != sorted_label[:-1]])
        out[sorted_label[starts]] = np.add.reduceat(values[order], starts, axis=0)
    return out


def _table_sums(table: Array, x: Codes, weights: Array, label: Codes, groups: int) -> Array:
    """Sum weighted rows x (n,) of ``table`` (cells, p) by group: (groups, p)."""
    held = len(table)
    if groups * held <= LOOSE * len(x) + SHORT:  # counts of rows by group and cell
        shares = np.bincount(label * held + x, weights=weights, minlength=groups * held)
        product: Array = shares.reshape(groups, held) @ table
        return product
    return _sum_rows(table[x] * weights[:, None], label, groups)


def _sum_at(key: Codes, entries: Codes, span: int, values: Array) -> tuple[Array, Codes]:
    """Sum ``values`` (n,) by ``key``, and count, for the distinct sorted ``entries``."""
    if span <= LOOSE * len(key) + SHORT:
        place, size = key, span
    else:
        place, size = np.searchsorted(entries, key) % len(entries), len(entries)
    sums = np.asarray(np.bincount(place, weights=values, minlength=size), dtype=float)
    counts = np.bincount(place, minlength=size)
    if size == span:
        return sums[entries], counts[entries]
    return sums, counts


def _assemble(
    n: int, rows: _Rows, remaining: list[int], levels: list[int], kinds: "_Kinds"
) -> Reduced:
    """Sums of the rows that are left, by kind and level."""
    kind, n_kinds = _alike(list(rows.own.T))
    first = first_rows(kind, n_kinds)
    held = len(rows.table)
    for k in range(n_kinds):
        of = kind == k if n_kinds > 1 else slice(None)
        x, y = rows.x[of], rows.y[of]
        gram = np.empty((kinds.width, kinds.width))
        weights = np.bincount(x, minlength=held)
        gram[:-1, :-1] = rows.table.T @ (rows.table * weights[:, None])
        xy = rows.table.T @ np.bincount(x, weights=y, minlength=held)
        gram[:-1, -1] = gram[-1, :-1] = xy
        gram[-1, -1] = y @ y
        kinds.add(rows.own[first[k]], float(len(y)), gram)
    place = np.array([kinds.find(rows.own[f]) for f in first], dtype=np.intp)[kind]
    blocks: tuple[Blocks, ...] = ()
    if remaining:
        blocks = _blocks(rows, remaining, levels, place, len(kinds.dims))
    dims, coefficients, grams = kinds.arrays()
    own = np.flatnonzero(coefficients.any(axis=0))
    pairs = np.array(np.triu_indices(len(own)))
    return Reduced(n, dims, coefficients, grams, own, pairs, blocks)


def _blocks(
    rows: _Rows, remaining: list[int], levels: list[int], kind: Codes, kinds: int
) -> tuple[Blocks, ...]:
    """Sort the levels into sets that no row links, sets of about equal size together."""
    c = len(rows.y)
    codes = [rows.codes[k] for k in remaining]
    counts = [levels[k] for k in remaining]
    if sum(counts) <= FEW_LEVELS:
        comp, n_comp = np.zeros(c, dtype=np.intp), 1
    else:
        comp, n_comp = components(codes, counts, c)
    homes = [comp[first_rows(code, count)] for code, count in zip(codes, counts, strict=True)]
    inside = np.array([np.bincount(home, minlength=n_comp) for home in homes])  # (terms, comps)
    size_class = np.ceil(np.log2(inside.sum(axis=0))).astype(np.intp)
    root = np.sqrt(rows.counts)
    width_x = rows.table.shape[1]
    out = []
    for wanted in np.unique(size_class):
        mine = size_class == wanted
        number = np.cumsum(mine) - 1
        width = inside[:, mine].max(axis=1)
        offset = np.r_[0, np.cumsum(width)]
        of = mine[comp]
        slots = []
        for j, (code, home) in enumerate(zip(codes, homes, strict=True)):
            order = np.argsort(home, kind="stable")
            starts = np.r_[0, np.cumsum(inside[j])]
            local = np.empty(len(home), dtype=np.intp)
            local[order] = np.arange(len(home)) - starts[home[order]]
            slots.append(local[code[of]] + offset[j])
        q, sets = int(offset[-1]), int(mine.sum())
        base = (kind[of] * sets + number[comp[of]]) * q
        shares = np.zeros(kinds * sets * q * q)
        sums = np.zeros((kinds * sets * q, width_x + 1))
        weight, x, y = rows.counts[of].astype(float), rows.x[of], (rows.y * root)[of]
        for one in slots:
            at = base + one
            sums[:, :-1] += _table_sums(rows.table, x, root[of], at, len(sums))
            sums[:, -1] += np.bincount(at, weights=y, minlength=len(sums))
            for other in slots:
                at = (base + one) * q + other
                shares += np.bincount(at, weights=weight, minlength=len(shares))
        owner = np.repeat(np.array(remaining, dtype=np.intp), width)
        runs = [slice(int(a), int(b)) for a, b in itertools.pairwise(offset)]
        out.append(
            Blocks(
                owner,
                (owner[:, None] == np.arange(rows.own.shape[1])).astype(float),
                tuple(zip(remaining, runs, strict=True)),
                shares.reshape(kinds, sets, q, q),
                sums.reshape(kinds, sets, q, -1),
            )
        )
    return tuple(out)


class _Kinds:
    """Collects cross-products by their variance's coefficients while rows are reduced."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.coefficients: dict[tuple[int, ...], int] = {}
        self.dims: list[float] = []
        self.grams: list[Array] = []

    def find(self, own: Ints) -> int:
        """Place of the kind with these coefficients, made where it is new."""
        wanted = tuple(int(v) for v in own)
        if wanted not in self.coefficients:
            self.coefficients[wanted] = len(self.dims)
            self.dims.append(0.0)
            self.grams.append(np.zeros((self.width, self.width)))
        return self.coefficients[wanted]

    def add(self, own: Ints, dim: float, gram: Array) -> None:
        """Add rows or contrasts."""
        k = self.find(own)
        self.dims[k] += dim
        self.grams[k] += gram

    def arrays(self) -> tuple[Array, Array, Array]:
        """Stack what was collected."""
        coefficients = np.array(list(self.coefficients), dtype=float)
        return np.array(self.dims), coefficients, np.array(self.grams)
