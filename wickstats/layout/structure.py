"""Strata, terms and their degrees of freedom, from the layout alone.

Each term adds to the rank of the incidence of units on what comes before it (blocks,
then treatments by order of interaction); what is left is the residual. A reservoir that
feeds several plots is one unit, and one that spans blocks belongs to each by share.
Whole plots carry the factors that do not vary inside them. Leans on numpy.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from wickstats.core.results import LayoutFacts, StratumDf
from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot

Array = NDArray[np.float64]
Terms = list[tuple[str, tuple[str, ...]]]


def degrees(layout: Layout) -> tuple[StratumDf, ...]:
    """Return the degrees-of-freedom table, before any data.

    Rows in the order of strata (block, whole plot, plot or reservoir); in each the
    terms tested there, then "residual".
    """
    units = _units(layout)
    shares = _block_shares(layout, units)
    out: list[StratumDf] = []
    ones = np.ones((len(units), 1))
    if shares.shape[1] > 1:
        out.append(StratumDf("block", "block", _rank(np.hstack([ones, shares])) - 1))
    base = np.hstack([ones, shares])
    outer = whole_plot_factors(layout)
    if outer:
        out.extend(_whole_plot_rows(layout, outer, base, units))
        wholes = _incidence([plots[0].whole_plot or "" for plots in units])
        base = np.hstack([base, wholes])
    terms = [t for t in terms_of(layout) if not outer or not set(t[1]) <= set(outer)]
    out.extend(_rows(unit_word(layout), terms, base, [plots[0] for plots in units]))
    return tuple(out)


def terms_of(layout: Layout) -> Terms:
    """Treatment terms with their factors: main effects first, then interactions."""
    if len(layout.factors) == 1:
        return [("treatment", layout.factors)]
    return [
        (TREATMENT_JOIN.join(held), held)
        for order in range(1, len(layout.factors) + 1)
        for held in combinations(layout.factors, order)
    ]


def whole_plot_factors(layout: Layout) -> tuple[str, ...]:
    """In a split-plot, the factors that do not vary inside any whole plot."""
    if layout.type != "split-plot":
        return ()
    seen: dict[tuple[str | None, str], set[str]] = {}
    for plot in layout.plots:
        for factor, level in plot.levels.items():
            seen.setdefault((plot.whole_plot, factor), set()).add(level)
    return tuple(
        factor
        for factor in layout.factors
        if all(len(levels) == 1 for (_, name), levels in seen.items() if name == factor)
    )


def unit_word(layout: Layout) -> str:
    """What was set up on its own, in a word: plot, subplot, or reservoir where all are."""
    if layout.type == "split-plot":
        return "subplot"
    shared = layout.shared_reservoirs
    every = all(layout.unit_of[plot.plot] in shared for plot in layout.plots)
    return "reservoir" if shared and every else "plot"


def layout_facts(layout: Layout) -> LayoutFacts:
    """Design, seed and the number of independently set up units per term."""
    outer = whole_plot_factors(layout)
    n_units = len(set(layout.unit_of.values()))
    n_wholes = len({plot.whole_plot for plot in layout.plots})
    units = {
        name: n_wholes if outer and set(held) <= set(outer) else n_units
        for name, held in terms_of(layout)
    }
    return LayoutFacts(
        type=layout.type,
        seed=layout.seed,
        scheme=layout.scheme,
        hash=layout.hash,
        drawn=layout.drawn,
        units=units,
    )


def _units(layout: Layout) -> list[list[Plot]]:
    groups: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        groups.setdefault(layout.unit_of[plot.plot], []).append(plot)
    return list(groups.values())


def _block_shares(layout: Layout, units: list[list[Plot]]) -> Array:
    names = list(dict.fromkeys(plot.block for plot in layout.plots))
    if layout.type == "completely randomized" or names == [None]:
        return np.ones((len(units), 1))
    index = {name: k for k, name in enumerate(names)}
    shares = np.zeros((len(units), len(names)))
    for i, plots in enumerate(units):
        for plot in plots:
            shares[i, index[plot.block]] += 1 / len(plots)
    return shares


def _incidence(values: Sequence[str]) -> Array:
    index = {name: k for k, name in enumerate(dict.fromkeys(values))}
    out = np.zeros((len(values), len(index)))
    out[np.arange(len(values)), [index[v] for v in values]] = 1
    return out


def _rank(matrix: Array) -> int:
    # the small cross-product has the same rank and costs little for many plots
    return int(np.linalg.matrix_rank(matrix.T @ matrix, hermitian=True))


def _rows(stratum: str, terms: Terms, base: Array, plots: list[Plot]) -> list[StratumDf]:
    out = []
    rank = _rank(base)
    for name, held in terms:
        cells = _incidence([TREATMENT_JOIN.join(p.levels[f] for f in held) for p in plots])
        base = np.hstack([base, cells])
        grown = _rank(base)
        out.append(StratumDf(stratum, name, grown - rank))
        rank = grown
    out.append(StratumDf(stratum, "residual", len(plots) - rank))
    return out


def _whole_plot_rows(
    layout: Layout, outer: tuple[str, ...], base: Array, units: list[list[Plot]]
) -> list[StratumDf]:
    first: dict[str | None, int] = {}
    for i, plots in enumerate(units):
        first.setdefault(plots[0].whole_plot, i)
    picked = list(first.values())
    terms = [t for t in terms_of(layout) if set(t[1]) <= set(outer)]
    return _rows("whole plot", terms, base[picked], [units[i][0] for i in picked])
