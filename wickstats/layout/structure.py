"""Strata, terms and their degrees of freedom, from the layout alone.

Each term adds to the rank of the incidence of a stratum's pieces on what comes before it
(the grounds, the larger pieces, then treatments by order of interaction); what is left is
the residual. A reservoir that feeds several plots is one unit, and one that spans blocks
belongs to each by share. Leans on strata and numpy.
"""

import numpy as np
from numpy.typing import NDArray

from wickstats.core.results import LayoutFacts, StratumDf
from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot
from wickstats.layout.strata import (
    Strata,
    Terms,
    Tier,
    incidence,
    strata_of,
    terms_of,
    tier_factors,
    unit_word,
)

__all__ = ["degrees", "layout_facts", "terms_of", "unit_word", "whole_plot_factors"]

Array = NDArray[np.float64]


def degrees(layout: Layout) -> tuple[StratumDf, ...]:
    """Return the degrees-of-freedom table, before any data.

    Rows in the order of strata: square or replicate, block, row, column, then whole plot,
    row strip, column strip, plot, subplot or reservoir; in each of these the terms tested
    there, then "residual".
    """
    strata = strata_of(layout)
    base = np.ones((len(strata.units), 1))
    rank = 1
    out: list[StratumDf] = []
    for ground in strata.grounds:
        base = np.hstack([base, ground.shares])
        grown = _rank(base)
        out.append(StratumDf(ground.name, ground.name, grown - rank))
        rank = grown
    for tier in strata.tiers:
        out.extend(_rows(tier, _base(strata, tier, base), strata.units))
    return tuple(out)


def whole_plot_factors(layout: Layout) -> tuple[str, ...]:
    """In a split-plot, the factors applied to whole plots."""
    return tier_factors(layout, "whole plot") if layout.type == "split-plot" else ()


def layout_facts(layout: Layout) -> LayoutFacts:
    """Design, seed and the number of independently set up units per term."""
    pieces = {
        name: len(set(tier.codes.tolist()))
        for tier in strata_of(layout).tiers
        for name, _ in tier.terms
    }
    return LayoutFacts(
        type=layout.type,
        seed=layout.seed,
        scheme=layout.scheme,
        hash=layout.hash,
        drawn=layout.drawn,
        units={name: pieces[name] for name, _ in terms_of(layout)},
    )


def _base(strata: Strata, tier: Tier, grounds: Array) -> Array:
    """Grounds and the larger pieces that a tier's pieces lie in."""
    larger = [incidence(t.codes.tolist()) for t in strata.tiers if t.name in tier.within]
    return np.hstack([grounds, *larger])


def _rank(matrix: Array) -> int:
    # the small cross-product has the same rank and costs little for many plots
    return int(np.linalg.matrix_rank(matrix.T @ matrix, hermitian=True))


def _rows(tier: Tier, base: Array, units: list[Plot]) -> list[StratumDf]:
    """One row a term and the residual, counted on the first unit of each piece."""
    first = np.unique(tier.codes, return_index=True)[1]
    plots = [units[i] for i in first]
    return _terms(tier.name, tier.terms, base[first], plots)


def _terms(stratum: str, terms: Terms, base: Array, plots: list[Plot]) -> list[StratumDf]:
    out = []
    rank = _rank(base)
    for name, held in terms:
        cells = incidence([TREATMENT_JOIN.join(p.levels[f] for f in held) for p in plots])
        base = np.hstack([base, cells])
        grown = _rank(base)
        out.append(StratumDf(stratum, name, grown - rank))
        rank = grown
    out.append(StratumDf(stratum, "residual", len(plots) - rank))
    return out
