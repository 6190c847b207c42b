"""Re-randomization of a term by redrawing the whole layout: Latin squares, arrays, blocks.

The statistic is the F of the term with everything fixed that the design fixes; lost units
stay lost in place. All outcomes of the scheme where they are at most 65,536, else seeded
draws. Leans on fixed, moves, latin and terms.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.responses import Redraws
from wickstats.models.redraw.fixed import f_statistics, lay_fixed, observed_state
from wickstats.models.redraw.latin import (
    MOST_UNIFORM,
    all_squares,
    count_squares,
    sample_squares,
    turned_squares,
)
from wickstats.models.redraw.moves import (
    Step,
    all_outcomes,
    count_outcomes,
    sample_outcomes,
)
from wickstats.models.redraw.scheme import DRAWS, EXACT_LIMIT, IntArray, generator
from wickstats.models.redraw.statistic import Array
from wickstats.models.redraw.terms import (
    CHUNK,
    LEAST_DRAWS,
    ROUNDS,
    Allowed,
    no_redraws,
    summarize,
)


@dataclass(frozen=True, slots=True, eq=False)
class Scheme:
    """What could have been laid out.

    Attributes
    ----------
    total
        Equally likely outcomes; None where they are not counted (then only sampled).
    every
        All of them, (total, n) cell codes.
    sample
        (draws, n) of them.
    """

    total: int | None
    every: Callable[[], IntArray]
    sample: Callable[[int, np.random.Generator], IntArray]


def moves_scheme(cells: IntArray, steps: Sequence[Step]) -> Scheme:
    """The observed layout with its pieces moved."""
    return Scheme(
        total=count_outcomes(steps),
        every=lambda: all_outcomes(cells, steps),
        sample=lambda draws, rng: sample_outcomes(cells, steps, draws, rng),
    )


def latin_scheme(cells: IntArray, squares: Sequence[IntArray]) -> Scheme:
    """Every Latin square anew.

    ``squares`` hold the positions (p, p) of each square, rows by columns; each holds the
    same p treatments.
    """
    names = np.unique(cells[squares[0]])
    order = names.size

    def fill(parts: list[IntArray]) -> IntArray:
        out = np.tile(cells, (len(parts[0]), 1))
        for spots, drawn in zip(squares, parts, strict=True):
            out[:, spots] = names[drawn]
        return out

    def every() -> IntArray:
        one = all_squares(order)
        count, many = len(one), len(one) ** len(squares)
        place = np.arange(many)
        return fill([one[(place // count**k) % count] for k in range(len(squares))])

    def sample(draws: int, rng: np.random.Generator) -> IntArray:
        if order <= MOST_UNIFORM:
            return fill([sample_squares(order, draws, rng) for _ in squares])
        codes = [np.searchsorted(names, cells[spots]) for spots in squares]
        return fill([turned_squares(code, draws, rng) for code in codes])

    total = None if order > MOST_UNIFORM else count_squares(order) ** len(squares)
    return Scheme(total, every, sample)


def redraw_whole(
    values: ArrayLike,
    cells: ArrayLike,
    contrasts: ArrayLike | None,
    scheme: Scheme,
    *,
    fixed: ArrayLike,
    n_cells: int,
    lost: ArrayLike | None = None,
    space: Array | None = None,
    seed: int | str,
    stream: str,
    allowed: Allowed | None = None,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of a term.

    Parameters
    ----------
    values, cells, contrasts, lost, space, seed, stream, allowed, draws
        As in ``terms.redraw_term``.
    fixed
        (n, p) columns of what stays where it is: rows, columns, blocks, a covariate.

    Raises
    ------
    ValueError
        For arrays that do not fit, or an observed layout that is not ``allowed``.
    """
    codes = np.asarray(cells, dtype=np.int64)
    part = lay_fixed(values, codes, contrasts, fixed, lost, n_cells, space)
    estimable, df = observed_state(part)
    if not estimable:
        return no_redraws("redraw not estimable")
    if df <= 0:
        return no_redraws("redraw no error")
    if allowed is not None and not np.asarray(allowed(codes[None, :]), dtype=bool).all():
        raise ValueError("the observed layout is not among the allowed layouts")
    exact = scheme.total is not None and scheme.total <= EXACT_LIMIT
    if exact:
        layouts = _kept(scheme.every(), allowed)
        if (layouts == layouts[:1]).all():
            return no_redraws("redraw one layout")
    else:
        layouts = _drawn(scheme, generator(seed, stream), allowed, draws)
        if len(layouts) < min(draws, LEAST_DRAWS):
            return no_redraws("redraw too strict")
    observed = float(f_statistics(part, codes[None, :])[0])
    step = max(1, CHUNK // (codes.size * n_cells))
    parts = range(0, len(layouts), step)
    found = np.concatenate([f_statistics(part, layouts[i : i + step]) for i in parts])
    return summarize(found, observed, exact=exact)


def _kept(layouts: IntArray, allowed: Allowed | None) -> IntArray:
    if allowed is None:
        return layouts
    chosen: IntArray = layouts[np.asarray(allowed(layouts), dtype=bool)]
    return chosen


def _drawn(
    scheme: Scheme, rng: np.random.Generator, allowed: Allowed | None, draws: int
) -> IntArray:
    parts: list[IntArray] = []
    got = 0
    for _ in range(ROUNDS):
        part = _kept(scheme.sample(draws, rng), allowed)
        parts.append(part)
        got += len(part)
        if got >= draws:
            break
    return np.concatenate(parts)[:draws]
