"""The strata of a layout: pieces of ground from the largest down, and what was set up on each.

Every restriction on the randomization is a stratum: blocks (in replicates where they
nest), squares, rows and columns, whole plots, strips. ``tiers`` are the strata in which
treatment terms lie, ``grounds`` those that only carry the ground's differences. Leans on
plots; numpy.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot

Array = NDArray[np.float64]
Terms = list[tuple[str, tuple[str, ...]]]
Key = tuple[str | None, ...]

# what nests in what, above the plots: name of the stratum and the columns that name it
_GROUNDS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "completely randomized": (),
    "randomized complete block": (("block", ("block",)),),
    "Latin square": (
        ("square", ("square",)),
        ("row", ("square", "row")),
        ("column", ("square", "column")),
    ),
    "split-plot": (("block", ("block",)),),
    "strip-plot": (("block", ("block",)),),
    "incomplete block": (("replicate", ("replicate",)), ("block", ("replicate", "block"))),
    "row-column": (
        ("replicate", ("replicate",)),
        ("row", ("replicate", "row")),
        ("column", ("replicate", "column")),
    ),
}


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A stratum above the treatments: (units, pieces) shares of each unit in each piece."""

    name: str
    shares: Array


@dataclass(frozen=True, slots=True, eq=False)
class Tier:
    """A stratum with treatment terms.

    Attributes
    ----------
    name
        whole plot, row strip, column strip, plot, subplot, reservoir.
    codes
        (n,) code of the piece that each unit lies in; the units' own numbers in the last.
    terms
        Terms tested there.
    within
        Names of the tiers that its pieces lie in.
    """

    name: str
    codes: NDArray[np.int64]
    terms: Terms
    within: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Strata:
    """Units of a layout (first plots of each), grounds and tiers in order."""

    units: list[Plot]
    grounds: tuple[Ground, ...]
    tiers: tuple[Tier, ...]


def terms_of(layout: Layout) -> Terms:
    """Treatment terms with their factors: main effects first, then interactions if kept."""
    if len(layout.factors) == 1:
        return [("treatment", layout.factors)]
    most = 1 if layout.main_effects else len(layout.factors)
    return [
        (TREATMENT_JOIN.join(held), held)
        for order in range(1, most + 1)
        for held in combinations(layout.factors, order)
    ]


def tier_factors(layout: Layout, tier: str) -> tuple[str, ...]:
    """Factors applied to that piece of ground; read off a split-plot that does not say so."""
    if layout.applied_to:
        return tuple(n for n in layout.factors if layout.applied_to.get(n) == tier)
    if layout.type != "split-plot" or tier == "plot":
        return ()
    outer = _constant_in_whole_plots(layout)
    return tuple(name for name in layout.factors if (name in outer) == (tier == "whole plot"))


def strata_of(layout: Layout) -> Strata:
    """Units, grounds and tiers of a layout."""
    members: dict[str, list[Plot]] = {}
    for plot in layout.plots:
        members.setdefault(layout.unit_of[plot.plot], []).append(plot)
    units = list(members.values())
    grounds = []
    for name, columns in _GROUNDS[layout.type]:
        shares = _shares(units, columns)
        told = shares.shape[1] > 1 and not (layout.coils_are_units and _alike(shares))
        if name not in ("square", "replicate", "block") or told:
            grounds.append(Ground(name, shares))
    tiers = _tiers(layout, [plots[0] for plots in units])
    return Strata([plots[0] for plots in units], tuple(grounds), tiers)


def unit_word(layout: Layout) -> str:
    """What was set up on its own, in a word: plot, subplot, or reservoir where all are."""
    if layout.type == "split-plot":
        return "piece" if _of_coils(layout) else "subplot"
    if layout.type == "strip-plot":
        return "subplot" if _crossings_split(layout) else "plot"
    shared = layout.shared_reservoirs
    if layout.coils_are_units:
        return "coil"
    every = all(layout.unit_of[plot.plot] in shared for plot in layout.plots)
    return "reservoir" if shared and every else "plot"


def _alike(shares: Array) -> bool:
    """Whether every unit has the same share in each piece: then it tells nothing."""
    return bool(np.ptp(shares, axis=0).max() < 1e-9)


def incidence(codes: Sequence[object]) -> Array:
    """(n, pieces) zeros and ones."""
    index = {name: k for k, name in enumerate(dict.fromkeys(codes))}
    out = np.zeros((len(codes), len(index)))
    out[np.arange(len(codes)), [index[v] for v in codes]] = 1
    return out


def _shares(units: list[list[Plot]], columns: tuple[str, ...]) -> Array:
    def key(plot: Plot) -> Key:
        return tuple(getattr(plot, column) for column in columns)

    index = {k: i for i, k in enumerate(dict.fromkeys(key(p) for u in units for p in u))}
    shares = np.zeros((len(units), len(index)))
    for i, plots in enumerate(units):
        for plot in plots:
            shares[i, index[key(plot)]] += 1 / len(plots)
    return shares


def _tiers(layout: Layout, units: list[Plot]) -> tuple[Tier, ...]:
    terms = terms_of(layout)
    if layout.type == "split-plot":
        return _split_tiers(layout, units, terms)
    if layout.type == "strip-plot":
        return _strip_tiers(layout, units, terms)
    return (_last(units, unit_word(layout), terms, ()),)


def _split_tiers(layout: Layout, units: list[Plot], terms: Terms) -> tuple[Tier, ...]:
    of_coils = _of_coils(layout)
    larger, smaller = ("coil", "piece") if of_coils else ("whole plot", "subplot")
    outer = tier_factors(layout, "whole plot")
    middle = tier_factors(layout, "plot")
    tiers = []
    if outer:
        tiers.append(
            _tier(units, larger, whole_plot_of, [t for t in terms if set(t[1]) <= {*outer}])
        )
    if middle:

        def plot_of(plot: Plot) -> Key:
            return (*whole_plot_of(plot), *(plot.levels[name] for name in middle))

        held = [t for t in terms if set(t[1]) <= {*outer, *middle}]
        held = [t for t in held if not set(t[1]) <= {*outer}]
        tiers.append(_tier(units, "plot", plot_of, held, (larger,)))
    done = {name for tier in tiers for name, _ in tier.terms}
    within = tuple(tier.name for tier in tiers)
    rest = [t for t in terms if t[0] not in done]
    return (*tiers, _last(units, smaller, rest, within))


def _strip_tiers(layout: Layout, units: list[Plot], terms: Terms) -> tuple[Tier, ...]:
    rows, columns = tier_factors(layout, "row strip"), tier_factors(layout, "column strip")
    tiers = [
        _tier(
            units,
            "row strip",
            lambda p: (p.block, p.row_strip),
            [t for t in terms if set(t[1]) <= {*rows}],
        ),
        _tier(
            units,
            "column strip",
            lambda p: (p.block, p.column_strip),
            [t for t in terms if set(t[1]) <= {*columns}],
        ),
    ]
    done = {name for tier in tiers for name, _ in tier.terms}
    rest = [t for t in terms if t[0] not in done]
    within: tuple[str, ...] = ("row strip", "column strip")
    word = unit_word(layout)
    if word == "subplot":
        crossed = [t for t in rest if set(t[1]) <= {*rows, *columns}]
        tiers.append(_tier(units, "plot", _crossing, crossed, within))
        rest = [t for t in rest if t not in crossed]
        within = (*within, "plot")
    return (*tiers, _last(units, word, rest, within))


def whole_plot_of(plot: Plot) -> Key:
    """What names a whole plot: its block and itself; a coil is one in all runs."""
    if plot.coil is not None and plot.coil == plot.whole_plot:
        return (None, plot.coil)
    return (plot.block, plot.whole_plot)


def _of_coils(layout: Layout) -> bool:
    return all(p.coil is not None and p.coil == p.whole_plot for p in layout.plots)


def _crossing(plot: Plot) -> Key:
    return (plot.block, plot.row_strip, plot.column_strip)


def _crossings_split(layout: Layout) -> bool:
    """Whether the plots where strips cross hold several units of a further factor."""
    units = {layout.unit_of[plot.plot]: _crossing(plot) for plot in layout.plots}
    return len(set(units.values())) < len(units)


def _tier(
    units: list[Plot],
    name: str,
    key: Callable[[Plot], Key],
    terms: Terms,
    within: tuple[str, ...] = (),
) -> Tier:
    index: dict[Key, int] = {}
    codes = [index.setdefault(key(plot), len(index)) for plot in units]
    return Tier(name, np.array(codes, dtype=np.int64), terms, within)


def _last(units: list[Plot], name: str, terms: Terms, within: tuple[str, ...]) -> Tier:
    return Tier(name, np.arange(len(units), dtype=np.int64), terms, within)


def _constant_in_whole_plots(layout: Layout) -> set[str]:
    seen: dict[tuple[Key, str], set[str]] = {}
    for plot in layout.plots:
        for factor, level in plot.levels.items():
            seen.setdefault((whole_plot_of(plot), factor), set()).add(level)
    varies = {factor for (_, factor), levels in seen.items() if len(levels) > 1}
    return set(layout.factors) - varies
