"""The smallest p that re-randomization can give in a layout, by stratum.

Exchanging the names of treatments that are alike changes no overall statistic, so that at
least so many layouts share the largest value: p cannot fall below their share of all layouts
of the scheme (Edgington 1980, Randomization Tests). In Latin squares all squares of the
order are the scheme (orders up to 6). Plans of incomplete blocks and arrays have far more
layouts than matter here and are left out. Leans on restricted, strata and models.redraw.
"""

from collections import Counter
from collections.abc import Hashable, Sequence
from math import factorial

import numpy as np

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.layout.plots import TREATMENT_JOIN, Layout
from wickstats.layout.restricted import P_LIMIT, ways_alike
from wickstats.layout.strata import Strata, Tier, strata_of
from wickstats.models.redraw.latin import MOST_UNIFORM, count_squares
from wickstats.models.redraw.scheme import count_layouts

MANY = ("incomplete block", "row-column")


def smallest_p_by_stratum(layout: Layout) -> dict[str, float]:
    """Stratum -> smallest possible p of its treatments taken together."""
    if layout.type in MANY or layout.drawn == "not at random":
        return {}
    strata = strata_of(layout)
    if strata.tiers[0].name == "coil":
        return {}  # which cord a coil is of was not drawn: nothing is redrawn
    if layout.type == "Latin square":
        order = len({plot.treatment for plot in strata.units})
        squares = len({plot.square for plot in strata.units})
        if order > MOST_UNIFORM or order < 2:
            return {}
        return {"plot": factorial(order) / count_squares(order) ** squares}
    out = {}
    for tier in strata.tiers:
        if len(tier.within) > 1 or not tier.terms:
            continue  # crossing strips: moved as whole strips, in their own strata
        labels, groups = _moved(strata, tier)
        total = count_layouts(*_codes(labels, groups))
        out[tier.name] = min(1.0, ways_alike(Counter(labels).values()) / total)
    return out


def few_lines(layout: Layout) -> list[str]:
    """A sentence for every stratum whose smallest possible p lies above 0.05."""
    found = smallest_p_by_stratum(layout)
    several = len(found) > 1
    return [
        say("few layouts stratum", p=number(p, 2), stratum=name)
        if several
        else say("few layouts", p=number(p, 2))
        for name, p in found.items()
        if p > P_LIMIT
    ]


def _moved(strata: Strata, tier: Tier) -> tuple[list[str], list[Hashable]]:
    """Labels of the tier's pieces and the pieces of ground inside which they move."""
    first = np.unique(tier.codes, return_index=True)[1]
    plots = [strata.units[i] for i in first]
    larger = next((t for t in strata.tiers if t.name in tier.within), None)
    groups: list[Hashable]
    fixed: set[str] = set()
    if larger is not None:
        groups = larger.codes[first].tolist()
        fixed = {factor for _, held in larger.terms for factor in held}
    else:
        groups = [(plot.replicate, plot.block) for plot in plots]
    own = [f for f in plots[0].levels if any(f in held for _, held in tier.terms)]
    own = [factor for factor in own if factor not in fixed]
    return [TREATMENT_JOIN.join(plot.levels[f] for f in own) for plot in plots], groups


def _codes(labels: Sequence[str], groups: Sequence[Hashable]) -> tuple[list[int], list[int]]:
    names = {label: k for k, label in enumerate(dict.fromkeys(labels))}
    places = {group: k for k, group in enumerate(dict.fromkeys(groups))}
    return [names[label] for label in labels], [places[group] for group in groups]
