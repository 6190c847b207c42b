"""Rows of a mixed model reduced, exactly, to what its covariance matrix can tell apart.

Model: W = [X y] (n, p + 1), Var(y) = V = sum_k theta_k Z_k Z_k' + theta_e I. The theta
are ordered as the terms, the residual last.

Rows that share all groups are exchangeable: an orthogonal rotation turns them into their
mean times sqrt(count) and contrasts among them whose variance is theta_e alone. Of the
contrasts only the cross-products are kept: a *scalar stratum* with its dimension d, its
coefficients a (variance a'theta) and S = W'W. The same step is taken again wherever a
term's groups have become single rows (plants within a plot, plots within a block), so the
dense *core* left at the end has about as many rows as there are units of unequal size, and
none to speak of in balanced data. Crossed terms stay in the core.

Source: sufficiency of group sums and within-group cross-products, as in any analysis of
variance; Searle, Casella & McCulloch (1992), chapters 3 and 6. Leans on numpy.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Codes = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """What the restricted likelihood needs of the rows.

    Attributes
    ----------
    n
        Number of rows reduced.
    dims, coefficients, grams
        (s,), (s, K + 1), (s, p + 1, p + 1): the scalar strata.
    core, core_terms
        (c, p + 1) rotated rows, and (K + 1, c, c) the matrices G_k of their covariance
        sum_k theta_k G_k.
    """

    n: int
    dims: Array
    coefficients: Array
    grams: Array
    core: Array
    core_terms: Array


def level_codes(codes: Sequence[Codes], n: int) -> tuple[Codes, int]:
    """Number the distinct combinations of several codings: (n,) from 0, and how many."""
    combined = np.zeros(n, dtype=np.intp)
    for column in codes:
        _, plain = np.unique(column, return_inverse=True)
        combined = combined * (int(plain.max()) + 1) + plain
        _, combined = np.unique(combined, return_inverse=True)
    return combined, int(combined.max()) + 1


def reduce_rows(W: Array, terms: Sequence[Codes]) -> Reduced:
    """Reduce rows W (n, p + 1) with the group codes (n,) of each random term."""
    strata = _Strata(W.shape[1], len(terms) + 1)
    n = len(W)
    size = len(terms) + 1
    codes = [np.asarray(term, dtype=np.intp) for term in terms]
    counts = np.ones(n)  # rows behind each row of the rotated data
    own = np.zeros((n, size))  # variance that a row has to itself, as coefficients
    own[:, -1] = 1.0
    remaining = list(range(len(terms)))
    rows = W
    while True:
        keys = [*_distinct(own, counts), *(codes[k] for k in remaining)]
        label, groups = level_codes(keys, len(rows))
        rows, own, counts, codes = _collapse(rows, own, counts, codes, label, groups, strata)
        single = [k for k in remaining if level_codes([codes[k]], groups)[1] == groups]
        if not single:
            break
        for k in single:
            own[:, k] += counts
            remaining.remove(k)
    core_terms = np.zeros((size, len(rows), len(rows)))
    root = np.sqrt(counts)
    for k in range(size):
        if k in remaining:
            same = codes[k][:, None] == codes[k][None, :]
            core_terms[k] = np.where(same, np.outer(root, root), 0.0)
        else:
            np.fill_diagonal(core_terms[k], own[:, k])
    return Reduced(n, *strata.arrays(), rows, core_terms)


def _distinct(own: Array, counts: Array) -> list[Codes]:
    """Rows that may be exchanged have equal own variances and equal counts."""
    columns = [*own.T, counts]
    return [np.unique(c, return_inverse=True)[1] for c in columns if np.any(c != c[0])]


def _collapse(
    rows: Array,
    own: Array,
    counts: Array,
    codes: list[Codes],
    label: Codes,
    groups: int,
    strata: "_Strata",
) -> tuple[Array, Array, Array, list[Codes]]:
    """Rotate each set of exchangeable rows into its mean and its contrasts."""
    if groups == len(rows):
        return rows, own, counts, codes
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(label[order]) > 0])
    size = np.diff(np.r_[starts, len(rows)]).astype(float)
    means = np.add.reduceat(rows[order], starts, axis=0) / size[:, None]
    first = order[starts]
    strata.add(rows - means[label], own, label, size, first)
    return (
        means * np.sqrt(size)[:, None],
        own[first],
        counts[first] * size,
        [c[first] for c in codes],
    )


class _Strata:
    """Collects scalar strata while the rows are reduced."""

    def __init__(self, width: int, size: int) -> None:
        self.dims: list[float] = []
        self.coefficients: list[Array] = []
        self.grams: list[Array] = []
        self.width, self.size = width, size

    def add(self, within: Array, own: Array, label: Codes, size: Array, first: Codes) -> None:
        """Add the contrasts ``within`` sets, one stratum per distinct own variance."""
        kinds, of_set = np.unique(own[first], axis=0, return_inverse=True)
        of_set = of_set.reshape(-1)
        for kind, coefficient in enumerate(kinds):
            dim = float(np.sum(size[of_set == kind] - 1))
            if dim > 0:
                part = within[of_set[label] == kind]
                self.dims.append(dim)
                self.coefficients.append(coefficient)
                self.grams.append(part.T @ part)

    def arrays(self) -> tuple[Array, Array, Array]:
        """Stack what was collected."""
        if not self.dims:
            return (
                np.zeros(0),
                np.zeros((0, self.size)),
                np.zeros((0, self.width, self.width)),
            )
        return np.array(self.dims), np.array(self.coefficients), np.array(self.grams)
