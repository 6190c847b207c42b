"""Re-randomization tests of treatment terms: the whole layout redrawn under its scheme.

The null hypothesis is that the labels do not matter to any unit (Fisher 1935, The Design
of Experiments; Edgington 1980, Randomization Tests): the values stay where they are, the
labels are drawn anew, and the statistic is the F of the term in its stratum. Units that
were lost stay lost in their place. A layout in which the term could not have been
estimated (confounded with blocks, its treatments on lost units) has no statistic: the
layouts are then those of the scheme in which it can, the observed one among them. Drawn
uniformly from the scheme, a layout is uniform among these, so the test keeps its size. All
layouts are used when they are at most 65,536:
p = count / total with the observed layout included; otherwise 10,000 seeded draws:
p = (1 + count) / (1 + draws) (Phipson & Smyth 2010). Ties within 1e-9 relative count.

Split-plots: whole-plot labels move with their sub-plots, sub-plot labels inside whole
plots. Leans on numpy, core.responses and core.words.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.core.numbers import percent
from wickstats.core.responses import Redraws
from wickstats.core.words import say
from wickstats.models.redraw.scheme import (
    DRAWS,
    EXACT_LIMIT,
    IntArray,
    all_layouts,
    count_layouts,
    generator,
    sample_layouts,
)
from wickstats.models.redraw.statistic import (
    Array,
    Stratum,
    f_statistics,
    lay_stratum,
    observed_state,
)

Allowed = Callable[[IntArray], ArrayLike]
Draw = Callable[[np.random.Generator, int], IntArray]

TIE = 1e-9
CHUNK = 4_000_000  # numbers held at once
LEAST_DRAWS = 1_000
ROUNDS = 40


def redraw_term(
    values: ArrayLike,
    cells: ArrayLike,
    contrasts: ArrayLike | None = None,
    *,
    blocks: ArrayLike | None = None,
    lost: ArrayLike | None = None,
    space: Array | None = None,
    seed: int | str,
    stream: str,
    allowed: Allowed | None = None,
    draws: int = DRAWS,
) -> Redraws:
    """Re-randomization p of a term: whole layout redrawn, statistic F of the stratum.

    Parameters
    ----------
    values
        (n,) unit values of all units laid out; anything (e.g. nan) where ``lost``.
    cells
        (n,) cell codes 0..t-1 of all units laid out.
    contrasts
        (q, t) rows of cell weights that make up the term, each summing to zero; None:
        all differences of cells.
    blocks
        (n,) block codes, None for a completely randomized trial. Labels move inside blocks.
    lost
        (n,) True where the unit has no value: it stays lost in its place.
    space
        (t, t) projector on what cells may differ by; None: by anything.
    seed, stream
        Name the random stream of the sampled version.
    allowed
        From (draws, n) layouts of cell codes to (draws,) booleans, for restricted schemes.
    draws
        Number of draws where the layouts are too many.

    Returns
    -------
    Redraws
        ``kind`` "none" with a ``reason`` where there is no statistic or no other layout.
        Redrawn layouts that leave the term without an estimate are left out, and told.

    Raises
    ------
    ValueError
        For arrays that do not fit, or an observed layout that is not ``allowed``.
    """
    stratum = lay_stratum(values, cells, contrasts, blocks, lost, space)
    estimable, df = observed_state(stratum)
    if not estimable:
        return no_redraws("redraw not estimable")
    if df <= 0:
        return no_redraws("redraw no error")

    def statistic(layouts: IntArray) -> Array:
        return f_statistics(stratum, layouts)

    return redraw(stratum, None, statistic, seed, stream, allowed, draws)


def whole_plot_values(
    values: ArrayLike,
    whole_plots: ArrayLike,
    sub_cells: ArrayLike,
    lost: ArrayLike | None = None,
) -> tuple[Array, NDArray[np.bool_]]:
    """(w,) values of the whole plots in sorted order of their codes, and which are lost.

    Least squares of whole plot + sub-plot cell: plain means where nothing is lost, else
    adjusted for the sub-plot cells that are left. Does not look at whole-plot labels.
    """
    y = np.asarray(values, dtype=float)
    plots, which = np.unique(np.asarray(whole_plots), return_inverse=True)
    which = which.reshape(-1)
    gone = np.zeros(y.size, dtype=bool) if lost is None else np.asarray(lost, dtype=bool)
    kept = np.flatnonzero(~gone)
    if not np.isfinite(y[kept]).all():
        raise ValueError("a unit that is not lost has no finite value")
    sub = np.unique(np.asarray(sub_cells), return_inverse=True)[1].reshape(-1)
    x = np.zeros((kept.size, plots.size + int(sub.max()) + 1))
    x[np.arange(kept.size), which[kept]] = 1.0
    x[np.arange(kept.size), plots.size + sub[kept]] = 1.0
    sub_part = x[:, plots.size :]
    x[:, plots.size :] = sub_part - 1.0 / sub_part.shape[1]  # sub-plot effects sum to zero
    solution = np.linalg.lstsq(x, y[kept], rcond=None)[0]
    empty = np.bincount(which[kept], minlength=plots.size) == 0
    return np.where(empty, np.nan, solution[: plots.size]), empty


def no_redraws(key: str) -> Redraws:
    """No re-randomization, and why."""
    return Redraws(p=None, kind="none", total=0, smallest_possible_p=None, reason=say(key))


def redraw(
    stratum: Stratum,
    moving: IntArray | None,
    statistic: Callable[[IntArray], Array],
    seed: int | str,
    stream: str,
    allowed: Allowed | None,
    draws: int,
) -> Redraws:
    """Compare the observed statistic with those of the scheme's layouts.

    ``moving`` holds the positions whose labels move (None: all), inside the groups.
    """
    cells = stratum.cells
    spots = np.arange(cells.size) if moving is None else moving
    labels, groups = cells[spots], stratum.group[spots]
    if allowed is not None and not np.asarray(allowed(cells[None, :]), dtype=bool).all():
        raise ValueError("the observed layout is not among the allowed layouts")
    total = count_layouts(labels, groups)
    exact = total <= EXACT_LIMIT
    if exact:
        layouts = _filled(cells, spots, all_layouts(labels, groups), allowed)
    else:
        rng = generator(seed, stream)
        layouts = _sampled(cells, spots, labels, groups, rng, allowed, draws)
        if len(layouts) < min(draws, LEAST_DRAWS):
            return no_redraws("redraw too strict")
    if exact and len(layouts) <= 1:
        return no_redraws("redraw one layout")
    observed = float(statistic(cells[None, :])[0])
    step = max(1, CHUNK // cells.size)
    found = np.concatenate(
        [statistic(layouts[i : i + step]) for i in range(0, len(layouts), step)]
    )
    return summarize(found, observed, exact=exact)


def summarize(found: Array, observed: float, *, exact: bool) -> Redraws:
    """P of the observed statistic among the layouts that have one (nan: none)."""
    drawn = found.size
    found = found[~np.isnan(found)]
    size = found.size
    if exact and size <= 1:
        return no_redraws("redraw one estimable")
    if not exact and size < min(drawn, LEAST_DRAWS):
        return no_redraws("redraw rarely estimable")
    count = int(np.count_nonzero(found >= observed * (1.0 - TIE)))
    if exact:
        p = count / size
        smallest = int(np.count_nonzero(found >= found.max() * (1.0 - TIE))) / size
    else:
        p = (1 + count) / (1 + size)
        smallest = 1 / (1 + size)
    left_out = drawn - size
    reason = say("redraw holes", share=percent(left_out / drawn, 1)) if left_out else None
    return Redraws(
        p=p,
        kind="exact" if exact else "sampled",
        total=size,
        smallest_possible_p=smallest,
        reason=reason,
    )


def _filled(
    cells: IntArray, spots: IntArray, moved: IntArray, allowed: Allowed | None
) -> IntArray:
    layouts = np.broadcast_to(cells, (len(moved), cells.size)).copy()
    layouts[:, spots] = moved
    keep = slice(None) if allowed is None else np.asarray(allowed(layouts), dtype=bool)
    chosen: IntArray = layouts[keep]
    return chosen


def _sampled(
    cells: IntArray,
    spots: IntArray,
    labels: IntArray,
    groups: IntArray,
    rng: np.random.Generator,
    allowed: Allowed | None,
    draws: int,
) -> IntArray:
    """Seeded draws; with restrictions rejected until there are enough or it is hopeless."""
    parts: list[IntArray] = []
    got = 0
    for _ in range(ROUNDS):
        part = _filled(cells, spots, sample_layouts(labels, groups, draws, rng), allowed)
        parts.append(part)
        got += len(part)
        if got >= draws:
            break
    return np.concatenate(parts)[:draws]
