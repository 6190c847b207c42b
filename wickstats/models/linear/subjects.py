"""Rows of a mixed model arranged by subject, for covariances that are not plain intercepts.

A subject is a set of rows that may be correlated in any way (the visits of a plant, or one
row alone); every other random term is an *upper* one, constant over a subject's rows in its
group. Subjects of equal size stand together; those with the same times, arms and slopes
share one *pattern*, whose covariance is worked out once. The groups of the upper terms are
levels, in sets that no subject links, as in reduction. Leans on terms, grouping, numpy.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wickstats.models.linear.grouping import (
    Array,
    Codes,
    components,
    first_rows,
    is_nested,
    number_codes,
)
from wickstats.models.linear.terms import (
    SIZES,
    Derivatives,
    Intercept,
    Residual,
    Serial,
    Slope,
    Term,
    random_part,
    residual_part,
    scales,
    selections,
    serial_part,
)


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Subjects with n rows each (J subjects, P patterns).

    Attributes
    ----------
    W
        (J, n, w) rows [X y].
    pattern, counts
        (J,) pattern of each subject and (P,) subjects of each.
    columns
        For each term within subjects, what its covariance is made of, (P, n, .).
    z
        (P, n, c) columns of the upper terms.
    slots, sets
        (J, c) level of each of those columns within its set, and (J,) the set.
    """

    W: Array
    pattern: Codes
    counts: Codes
    columns: tuple[tuple[Array, ...], ...]
    z: Array
    slots: Codes
    sets: Codes


@dataclass(frozen=True, slots=True, eq=False)
class Arranged:
    """All rows, by subject.

    Attributes
    ----------
    n, width
        Rows, and columns of [X y].
    terms
        All terms, the residual last where there is one.
    places
        Places of each term's parameters in theta.
    within, upper
        Numbers of the terms within subjects and of the upper ones.
    n_sets, q
        Sets of levels, and levels a set.
    spans
        For each upper term its run of levels and its columns a level (1 or 2).
    selectors
        (parameters of the upper terms, q, q) derivatives of the levels' covariance, and
    selected
        their places in theta.
    """

    n: int
    width: int
    terms: tuple[Term, ...]
    places: tuple[slice, ...]
    within: tuple[int, ...]
    upper: tuple[int, ...]
    batches: tuple[Batch, ...]
    n_sets: int
    q: int
    spans: tuple[tuple[slice, int], ...]
    selectors: Array
    selected: Codes


def arrange(W: Array, terms: Sequence[Term]) -> Arranged:
    """Arrange rows W (n, w); terms in the order of their parameters.

    Raises
    ------
    ValueError
        Where serial terms have different groups, or an upper term cuts through a subject.
    """
    n = len(W)
    subject, n_subjects = _subjects(terms, n)
    within: list[int] = []
    upper: list[int] = []
    for k, term in enumerate(terms):
        if isinstance(term, Intercept | Slope):
            code, count = number_codes(term.group)
            same = count == n_subjects and is_nested(subject, n_subjects, code)
            (within if same else upper).append(k)
        else:
            within.append(k)
    ends = np.cumsum([sum(SIZES[s] for s in scales(term)) for term in terms]).tolist()
    places = tuple(slice(a, b) for a, b in zip([0, *ends[:-1]], ends, strict=True))
    first = first_rows(subject, n_subjects)
    levels = [number_codes(_group(terms[k])) for k in upper]
    slots, sets, n_sets, spans = _levels(
        [code[first] for code, _ in levels],
        [count for _, count in levels],
        [_width(terms[k]) for k in upper],
        n_subjects,
    )
    q = spans[-1][0].stop if spans else 0
    columns = [_columns(terms[k], n) for k in within]
    z = np.hstack([np.ones((n, 0)), *(_effects(terms[k], n) for k in upper)])
    wide = np.hstack([*(part for parts in columns for part in parts), z])
    order = np.lexsort([*wide.T, subject])
    sizes = np.bincount(subject)
    starts = np.r_[0, np.cumsum(sizes)[:-1]]
    batches = []
    for size in np.unique(sizes):
        mine = np.flatnonzero(sizes == size)
        rows = order[starts[mine][:, None] + np.arange(size)]  # (J, size)
        batches.append(_batch(W[rows], wide[rows], columns, slots[mine], sets[mine]))
    selectors, selected = _selectors(spans, q, [places[k] for k in upper])
    return Arranged(
        n,
        W.shape[1],
        tuple(terms),
        places,
        tuple(within),
        tuple(upper),
        tuple(batches),
        n_sets,
        q,
        spans,
        selectors,
        selected,
    )


def _batch(
    W: Array, wide: Array, columns: list[tuple[Array, ...]], slots: Codes, sets: Codes
) -> Batch:
    """Subjects of equal size, told apart by the columns ``wide`` (J, n, .) of their terms."""
    J, size, width = wide.shape
    flat, pattern = np.unique(wide.reshape(J, -1), axis=0, return_inverse=True)
    pattern = pattern.reshape(-1)
    shaped = flat.reshape(len(flat), size, width)
    split, at = [], 0
    for parts in columns:
        cuts = np.cumsum([at, *(part.shape[1] for part in parts)])
        split.append(tuple(shaped[:, :, a:b] for a, b in itertools.pairwise(cuts)))
        at = int(cuts[-1])
    counts = np.bincount(pattern)
    return Batch(W, pattern, counts, tuple(split), shaped[:, :, at:], slots, sets)


def within_subjects(data: Arranged, batch: Batch, theta: Array) -> Derivatives:
    """Covariance (P, n, n) of a batch's patterns, first derivatives (m, P, n, n), second."""
    P, n = batch.z.shape[:2]
    cov = np.zeros((P, n, n))
    first = np.zeros((len(theta), P, n, n))
    second: dict[tuple[int, int], Array] = {}
    for k, parts in zip(data.within, batch.columns, strict=True):
        place, term = data.places[k], data.terms[k]
        if isinstance(term, Serial):
            found = serial_part(parts[0][:, :, 0], parts[1], theta[place])
        elif isinstance(term, Residual):
            found = residual_part(parts[0], theta[place])
        else:
            found = random_part(parts[0], theta[place])
        cov += found[0]
        first[place] = found[1]
        second |= {(place.start + i, place.start + j): v for (i, j), v in found[2].items()}
    return cov, first, second


def _subjects(terms: Sequence[Term], n: int) -> tuple[Codes, int]:
    """The serial terms' groups; without one the finest group within all others, or rows."""
    serial = [number_codes(t.group) for t in terms if isinstance(t, Serial)]
    plain = [number_codes(t.group) for t in terms if isinstance(t, Intercept | Slope)]
    if serial:
        code, count = serial[0]
        if any(not np.array_equal(code, other) for other, _ in serial[1:]):
            raise ValueError("serial terms need the same groups")
        for outer, levels in plain:
            if levels != count and not is_nested(code, count, outer):
                raise ValueError("a random term cuts through the groups of a serial term")
        return code, count
    if plain:
        code, count = max(plain, key=lambda pair: pair[1])
        if all(is_nested(code, count, outer) for outer, _ in plain):
            return code, count
    return np.arange(n, dtype=np.intp), n


def _group(term: Term) -> Codes:
    assert isinstance(term, Intercept | Slope)  # noqa: S101 (narrows the type)
    return np.asarray(term.group)


def _width(term: Term) -> int:
    return 2 if isinstance(term, Slope) else 1


def _effects(term: Term, n: int) -> Array:
    """Columns (n, 1) or (n, 2) of an intercept or an intercept and a slope."""
    ones = np.ones((n, 1))
    return np.column_stack([ones, term.x]) if isinstance(term, Slope) else ones


def _columns(term: Term, n: int) -> tuple[Array, ...]:
    """What a term within subjects makes its covariance of, as columns (n, .)."""
    if isinstance(term, Intercept | Slope):
        return (_effects(term, n),)
    by = np.zeros(n, dtype=np.intp) if term.by is None else np.asarray(term.by)
    marks = (by[:, None] == np.arange(max(1, len(term.levels)))).astype(float)
    if isinstance(term, Serial):
        times = np.asarray(term.times, dtype=float)[:, None] / term.unit
        return times, marks
    return (marks,)


def _levels(
    codes: list[Codes], counts: list[int], widths: list[int], n_subjects: int
) -> tuple[Codes, Codes, int, tuple[tuple[slice, int], ...]]:
    """Slots (J, c) and set (J,) of each subject, how many sets, the terms' runs of levels."""
    if not codes:
        none = np.zeros((n_subjects, 0), dtype=np.intp)
        return none, np.zeros(n_subjects, dtype=np.intp), 1, ()
    sets, n_sets = components(codes, counts, n_subjects)
    slots, spans, offset = [], [], 0
    for code, count, width in zip(codes, counts, widths, strict=True):
        home = sets[first_rows(code, count)]
        order = np.argsort(home, kind="stable")
        inside = np.bincount(home, minlength=n_sets)
        starts = np.r_[0, np.cumsum(inside)]
        local = np.empty(count, dtype=np.intp)
        local[order] = np.arange(count) - starts[home[order]]
        slots.append(offset + width * local[code][:, None] + np.arange(width))
        end = offset + width * int(inside.max())
        spans.append((slice(offset, end), width))
        offset = end
    return np.hstack(slots), sets, n_sets, tuple(spans)


def _selectors(
    spans: tuple[tuple[slice, int], ...], q: int, places: list[slice]
) -> tuple[Array, Codes]:
    out, selected = [], []
    for (run, width), place in zip(spans, places, strict=True):
        for number, one in enumerate(selections(width)):
            full = np.zeros((q, q))
            full[run, run] = np.kron(np.eye((run.stop - run.start) // width), one)
            out.append(full)
            selected.append(place.start + number)
    stacked = np.array(out) if out else np.zeros((0, q, q))
    return stacked, np.array(selected, dtype=np.intp)
