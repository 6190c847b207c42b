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
    Tier,
    incidence,
    strata_of,
    terms_of,
    tier_factors,
    unit_word,
)

__all__ = ["degrees", "layout_facts", "terms_of", "unit_word", "whole_plot_factors"]

Array = NDArray[np.float64]
ZERO = 1e-7


def degrees(layout: Layout) -> tuple[StratumDf, ...]:
    """Return the degrees-of-freedom table, before any data.

    Rows in the order of strata: square or replicate, block, row, column, then whole plot,
    row strip, column strip, plot, subplot or reservoir; in each of these the terms tested
    there, then "residual". A pilot of one treatment tests nothing.
    """
    strata = strata_of(layout)
    out: list[StratumDf] = []
    before: list[Array] = [np.ones((len(strata.units), 1))]
    rank = 1
    one = layout.has_one_treatment
    for ground in strata.grounds:
        before.append(ground.shares)
        grown = _Span(before).rank
        out.append(StratumDf(ground.name, ground.name, grown - rank))
        rank = grown
    for tier in strata.tiers:
        larger = [incidence(t.codes.tolist()) for t in strata.tiers if t.name in tier.within]
        rows = _rows(tier, [*before, *larger], strata.units)
        out.extend(row for row in rows if not one or row.term == "residual")
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


def _rows(tier: Tier, ground: list[Array], units: list[Plot]) -> list[StratumDf]:
    """One row a term and the residual, counted on the first unit of each piece."""
    _, first, place = np.unique(tier.codes, return_index=True, return_inverse=True)
    plots = [units[i] for i in first]
    span = _Span([_in_pieces(part, place.reshape(-1), first.size) for part in ground])
    out = []
    for name, held in tier.terms:
        cells = incidence([TREATMENT_JOIN.join(p.levels[f] for f in held) for p in plots])
        out.append(StratumDf(tier.name, name, span.add(cells)))
    out.append(StratumDf(tier.name, "residual", len(plots) - span.rank))
    return out


def _in_pieces(part: Array, place: NDArray[np.int64], pieces: int) -> Array:
    """Shares of a stratum's pieces: means over the units in each."""
    out = np.zeros((pieces, part.shape[1]))
    np.add.at(out, place, part)
    return np.asarray(out / np.bincount(place, minlength=pieces)[:, None], dtype=float)


class _Span:
    """The rank of incidence matrices side by side, the largest of them taken out first.

    Where every unit lies in one piece of it whole, taking it out is subtracting the means
    of its pieces; all that is left then has few columns.
    """

    def __init__(self, parts: list[Array]) -> None:
        whole = [k for k, part in enumerate(parts) if (part.max(axis=1) == 1).all()]
        largest = max(whole, key=lambda k: parts[k].shape[1])  # the column of ones is whole
        self._codes = parts[largest].argmax(axis=1)
        self._sizes = np.bincount(self._codes).astype(float)
        self._columns = np.zeros((len(self._codes), 0))
        self.rank = int((self._sizes > 0).sum())
        for k, part in enumerate(parts):
            if k != largest:
                self.add(part)

    def add(self, part: Array) -> int:
        """Put more columns beside; by how much the rank grows."""
        sums = np.zeros((self._sizes.size, part.shape[1]))
        np.add.at(sums, self._codes, part)
        rest = part - (sums / np.maximum(self._sizes, 1.0)[:, None])[self._codes]
        # what a unit in its piece adds is a share of a unit, never as small as the limit
        grown = rest[:, np.square(rest).sum(axis=0) > ZERO]
        if not grown.shape[1]:
            return 0
        # what the columns so far explain is taken out, so that only new directions count
        grown = grown - self._columns @ (self._columns.T @ grown)
        values, vectors = np.linalg.eigh(grown.T @ grown)
        new = values > ZERO
        basis = (grown @ vectors[:, new]) / np.sqrt(values[new])
        self._columns = np.hstack([self._columns, basis])
        self.rank += int(new.sum())
        return int(new.sum())
