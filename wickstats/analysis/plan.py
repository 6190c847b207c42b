"""The plan as the analysis uses it: roles, families, what matters, confidence.

Every planned (or default) entry becomes families of named contrasts of treatments; with
several factors the simple effects and the cells are added, exploratory. Leans on
design.defaults, units and models.linear.contrasts.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.units import Array, Units
from wickstats.core.results import PlannedComparison
from wickstats.core.words import say
from wickstats.design.defaults import TREND, comparisons_of, plan_of
from wickstats.design.trial import Factor, Matters, Trial
from wickstats.models.linear.contrasts import level_contrast
from wickstats.models.linear.trends import bend, straight_line

MOST_CELLS_IN_PAIRS = 6
JOIN = " x "
Row = tuple[str, str, str, Array]  # name, treatment, versus, weights of levels


@dataclass(frozen=True, slots=True, eq=False)
class Contrast:
    """One comparison before any data."""

    name: str
    treatment: str
    versus: str
    weights: Array  # (t,) of cells
    pair: tuple[int, int] | None  # cells, where exactly two cells are compared


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """Comparisons judged together."""

    term: str
    within: str | None
    adjustment: str
    planned: bool
    contrasts: tuple[Contrast, ...]
    one_sided: bool = False  # the plan asks only whether better


@dataclass(frozen=True, slots=True, eq=False)
class Term:
    """A treatment term: which factors it holds."""

    name: str
    factors: tuple[int, ...]


def factor_term(units: Units, factor: int) -> str:
    """``treatment`` with one factor, else the factor's name."""
    return "treatment" if len(units.factors) == 1 else units.factors[factor]


def terms_of(units: Units) -> tuple[Term, ...]:
    """Main effects, then interactions, in the order of the factors; none in a pilot."""
    from itertools import combinations

    if units.n_cells == 1:
        return ()
    count = len(units.factors)
    out = []
    for order in range(1, (1 if units.main_effects else count) + 1):
        for held in combinations(range(count), order):
            name = JOIN.join(factor_term(units, k) for k in held)
            out.append(Term(name, held))
    return tuple(out)


def families_of(trial: Trial, units: Units) -> tuple[Family, ...]:
    """All families: the planned entries first, then what a factorial adds."""
    out: list[Family] = []
    entries = comparisons_of(trial)
    for entry in entries:
        out.extend(_families(entry, trial, units, planned=True))
    if len(units.factors) > 1 and not units.main_effects:
        out.extend(_simple_effects(entries, trial, units))
        if units.n_cells <= MOST_CELLS_IN_PAIRS:
            out.append(_cell_pairs(units))
    return tuple(out)


def matters_for(trial: Trial, response: str, *, log: bool) -> float | None:
    """The smallest important difference on the model's scale; None where none is planned.

    A ratio counts on a log scale, a difference otherwise; one given on the other scale
    does not apply.
    """
    given: Matters | None = plan_of(trial).matters.get(response)
    if given is None:
        return None
    if log:
        return None if given.ratio is None else float(np.log(given.ratio))
    return given.difference


def _families(
    entry: PlannedComparison, trial: Trial, units: Units, *, planned: bool
) -> list[Family]:
    factor = units.factors.index(entry.factor)
    rows = _level_rows(entry, trial, units.levels[factor])
    if entry.differs_by is not None:
        return [_differences(entry, trial, units, rows, planned=planned)]
    term = factor_term(units, factor)
    settings: list[tuple[str | None, dict[int, int]]] = [(None, {})]
    if entry.within is not None:
        other = units.factors.index(entry.within)
        settings = [(name, {other: k}) for k, name in enumerate(units.levels[other])]
    out = []
    for within, fixed in settings:
        contrasts = tuple(
            _contrast(name, a, b, level_contrast(units.shape, factor, row, fixed))
            for name, a, b, row in rows
        )
        one = entry.one_sided
        out.append(Family(term, within, entry.adjustment, planned, contrasts, one))
    return out


def _differences(
    entry: PlannedComparison, trial: Trial, units: Units, rows: list[Row], *, planned: bool
) -> Family:
    """How much comparisons of one factor differ between the levels of another."""
    factor, other = (
        units.factors.index(entry.factor),
        units.factors.index(entry.differs_by or ""),
    )
    names = units.levels[other]
    reference = trial.factor(units.factors[other]).reference
    base = names.index(reference) if reference in names else None
    pairs = [(j, i) for i in range(len(names)) for j in range(i + 1, len(names))]
    if base is not None:
        pairs = [(j, base) for j in range(len(names)) if j != base]
    contrasts = []
    for name, _, _, row in rows:
        inside = [
            level_contrast(units.shape, factor, row, {other: k}) for k in range(len(names))
        ]
        for j, i in pairs:
            contrasts.append(
                Contrast(
                    say("differs name", name=name, high=names[j], low=names[i]),
                    say("differs at", name=name, level=names[j]),
                    say("differs at", name=name, level=names[i]),
                    inside[j] - inside[i],
                    None,
                )
            )
    term = JOIN.join(units.factors[k] for k in sorted((factor, other)))
    one = entry.one_sided
    return Family(term, None, entry.adjustment, planned, tuple(contrasts), one)


def _level_rows(entry: PlannedComparison, trial: Trial, levels: tuple[str, ...]) -> list[Row]:
    eye = np.eye(len(levels))
    if entry.weights is not None:
        row = np.array([float(entry.weights.get(name, 0.0)) for name in levels])
        plus = _together([n for n, w in zip(levels, row, strict=True) if w > 0])
        minus = _together([n for n, w in zip(levels, row, strict=True) if w < 0])
        return [(entry.name, plus, minus, row)]
    if entry.compare == TREND:
        return _trend_rows(trial.factor(entry.factor))
    if entry.compare == "each with the reference":
        reference = trial.factor(entry.factor).reference or levels[0]
        base = levels.index(reference)
        return [
            (_pair(name, reference), name, reference, eye[k] - eye[base])
            for k, name in enumerate(levels)
            if k != base
        ]
    return [
        (_pair(levels[j], levels[i]), levels[j], levels[i], eye[j] - eye[i])
        for i in range(len(levels))
        for j in range(i + 1, len(levels))
    ]


def _trend_rows(factor: Factor) -> list[Row]:
    """The straight line over the amounts, and with three or more the bend."""
    amounts = [float(level.amount or 0.0) for level in factor.levels]
    names = factor.level_names
    least, most = amounts.index(min(amounts)), amounts.index(max(amounts))
    ends = {"low": names[least], "high": names[most]}
    words = {"factor": factor.name, **ends}
    rows = [
        (
            say("trend line", **words),
            say("trend line end", **ends),
            say("trend line start", **ends),
            straight_line(amounts),
        )
    ]
    if len(set(amounts)) > 2:
        rows.append(
            (
                say("trend bend", factor=factor.name),
                say("trend bend middle"),
                say("trend bend ends"),
                bend(amounts),
            )
        )
    return rows


def _pair(treatment: str, versus: str) -> str:
    return say("pair", treatment=treatment, versus=versus)


def _together(names: list[str]) -> str:
    """One level by its name; several as their average."""
    return names[0] if len(names) == 1 else say("average of", names=" and ".join(names))


def _contrast(name: str, treatment: str, versus: str, weights: Array) -> Contrast:
    up, down = np.flatnonzero(weights > 0), np.flatnonzero(weights < 0)
    one = up.size == 1 and down.size == 1
    return Contrast(
        name, treatment, versus, weights, (int(up[0]), int(down[0])) if one else None
    )


def _simple_effects(
    entries: tuple[PlannedComparison, ...], trial: Trial, units: Units
) -> list[Family]:
    """Of each factor inside each level of each other, where the plan has not asked them."""
    plain = [e for e in entries if e.weights is None and e.differs_by is None]
    plain = [e for e in plain if e.compare != TREND]
    asked = {(e.factor, e.within) for e in plain}
    styles: Mapping[str, PlannedComparison] = {e.factor: e for e in reversed(plain)}
    out: list[Family] = []
    if len(units.factors) != 2:
        return out
    for k, factor in enumerate(units.factors):
        other = units.factors[1 - k]
        if (factor, other) in asked:
            continue
        style = styles.get(factor)
        has_reference = trial.factor(factor).reference is not None
        compare = "each with the reference" if has_reference else "all pairs"
        adjustment = "dunnett" if has_reference else "tukey"
        if style is not None:
            compare, adjustment = style.compare, style.adjustment
        entry = PlannedComparison(factor, "", compare, adjustment, other, None)
        if style is not None:
            entry = replace(entry, asks=style.asks)
        out.extend(_families(entry, trial, units, planned=False))
    return out


def _cell_pairs(units: Units) -> Family:
    term = JOIN.join(units.factors)
    names, eye = units.cell_names, np.eye(units.n_cells)
    contrasts = tuple(
        Contrast(_pair(names[j], names[i]), names[j], names[i], eye[j] - eye[i], (j, i))
        for i in range(units.n_cells)
        for j in range(i + 1, units.n_cells)
    )
    return Family(term, None, "tukey", planned=False, contrasts=contrasts)
