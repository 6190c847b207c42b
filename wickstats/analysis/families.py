"""Families of comparisons judged on a line: estimates, adjusted p and intervals.

One family per response, estimand and entry of the plan. Where a rule has no common
variance, p is Holm's and intervals are Bonferroni's. A level that was applied to one unit
only gets estimates and no inference. Leans on plan, line and models.linear.multiplicity.
"""

from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from wickstats.analysis.line import Line
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.summary import Calibration, shared_half
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.words import say
from wickstats.design.defaults import Better, side_of
from wickstats.models.linear.directions import QUADRATURE_ERROR
from wickstats.models.linear.estimates import Estimate, only_estimate, t_tail
from wickstats.models.linear.multiplicity import JOINT, Adjusted, Method, adjust, own_p

EXACT_TIE = 1e-9  # of a standard error


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One comparison on the model's scale."""

    family: Family
    contrast: Contrast
    estimate: Estimate
    adjustment: str
    p: float | None
    low: float | None
    high: float | None
    size: int  # comparisons in the family
    error: float | None = None  # bound on that of p, where a point set gave it
    side: int = 0  # 1 or -1: only more or only less was asked for, and one limit is None


def judge(
    family: Family,
    line: Line,
    units: Units,
    confidence: float,
    calibration: Calibration | None = None,
    *,
    better: Better = "more",
) -> tuple[Judged, ...]:
    """Estimate and adjust one family.

    Where the plan asks only whether better, p and limits are those of that side alone.

    A shared error of calibration moves every limit outward by what it can move the
    contrast, and every estimate as near to none before p is read.
    """
    estimates = [_estimate(contrast, line, units) for contrast in family.contrasts]
    halves = [
        shared_half(calibration, contrast.weights, units) for contrast in family.contrasts
    ]
    side = side_of(better, one_sided=family.one_sided)
    method = family.adjustment
    if line.bonferroni and method in JOINT:
        method = "holm" if len(estimates) > 1 else "none"
    kept = [
        contrast.weights
        for contrast, e in zip(family.contrasts, estimates, strict=True)
        if e.se is not None
    ]
    covariance = line.covariance(np.array(kept)) if method in JOINT and kept else None
    found = adjust(
        estimates,
        cast("Method", method),
        covariance=covariance,
        confidence=confidence,
        side=side,
    )
    low, high = found.low, found.high
    if method == "holm":
        spread = adjust(estimates, "bonferroni", confidence=confidence, side=side)
        low, high = spread.low, spread.high
    if found.approximate:
        method = say("approximate adjustment", method=method)
    elif method == "holm" and family.adjustment != "holm":
        method = say("holm with bonferroni")
    error = stated_error(found)
    if any(halves):
        nearest = [_nearest(e, half, side) for e, half in zip(estimates, halves, strict=True)]
        nearest = own_p(nearest, side)
        again = cast("Method", found.method)
        found = adjust(nearest, again, covariance=covariance, confidence=confidence, side=side)
        low = tuple(None if v is None else v - h for v, h in zip(low, halves, strict=True))
        high = tuple(None if v is None else v + h for v, h in zip(high, halves, strict=True))
        estimates = [
            _moved(e, near, half)
            for e, near, half in zip(estimates, nearest, halves, strict=True)
        ]
    else:
        estimates = own_p(estimates, side)
    return tuple(
        Judged(family, contrast, estimate, method, p, lo, hi, found.size, error, side)
        for contrast, estimate, p, lo, hi in zip(
            family.contrasts, estimates, found.p, low, high, strict=True
        )
    )


def _nearest(found: Estimate, half: float, side: int) -> Estimate:
    """The estimate that lies nearest to none within the calibration, with its p.

    With a ``side`` (1 or -1) the one that lies farthest from it.
    """
    if found.estimate is None or found.se is None or found.df is None or half <= 0.0:
        return found
    value = float(np.sign(found.estimate)) * max(abs(found.estimate) - half, 0.0)
    if side:
        value = found.estimate - side * half
    parts = [(found.se, found.df), *found.rivals]
    p = max(t_tail(value / se, df) for se, df in parts)
    return replace(found, estimate=value, t=value / found.se, p=p)


def _moved(found: Estimate, nearest: Estimate, half: float) -> Estimate:
    """The estimate as it is, limits moved outward, t and p of the nearest value."""
    low = None if found.low is None else found.low - half
    high = None if found.high is None else found.high + half
    return replace(found, low=low, high=high, t=nearest.t, p=nearest.p)


def stated_error(found: Adjusted) -> float | None:
    """Bound on the error of p where a point set gave it; other rules are exact to print."""
    return found.error if found.error > QUADRATURE_ERROR else None


def _estimate(contrast: Contrast, line: Line, units: Units) -> Estimate:
    found = line.contrast(contrast.weights)
    alone = single_unit_side(contrast.weights, units)
    if alone and found.estimate is not None:
        return only_estimate(found.estimate, alone)
    if found.estimate is not None and found.se and abs(found.estimate) < EXACT_TIE * found.se:
        return replace(found, estimate=0.0, t=0.0, p=1.0)  # a tie, not what rounding leaves
    return found


def single_unit_side(weights: Array, units: Units) -> str | None:
    """Why a contrast gets no inference: one of its sides was one unit from the start."""
    for side in (weights > 0, weights < 0):
        cells = np.flatnonzero(side).astype(np.int64)
        if cells.size and stands_alone(cells, weights, units):
            names = [units.cell_names[int(k)] for k in cells]
            name = names[0] if len(names) == 1 else _common(cells, units)
            return say("one unit only", name=name)
    return None


def stands_alone(cells: IntArray, weights: Array, units: Units) -> bool:
    """Whether those cells were one unit without replicates of any kind.

    One combination of levels on one unit is judged by the common error where each of its
    levels stands on other units too.
    """
    if independent_units(cells, weights, units) != 1:
        return False
    return cells.size > 1 or not _borrows(int(cells[0]), units)


def _borrows(cell: int, units: Units) -> bool:
    if units.is_split or len(units.factors) < 2:
        return False
    own = np.unravel_index(cell, units.shape)
    held = np.unravel_index(units.cells, units.shape)
    return all(int(np.sum(h == level)) > 1 for h, level in zip(held, own, strict=True))


def borrowed_error(units: Units) -> tuple[str, ...]:
    """Which combinations of levels are judged by the scatter of others, in words."""
    counts = np.bincount(units.cells, minlength=units.n_cells)
    names = [
        units.cell_names[int(k)] for k in np.flatnonzero(counts == 1) if _borrows(int(k), units)
    ]
    if not names or len(names) == np.count_nonzero(counts):
        return ()  # one unit of every combination is the design itself
    return (say("one unit borrowed", names=", ".join(names)),)


def independent_units(cells: IntArray, weights: Array, units: Units) -> int:
    """How many independently set up units hold those cells.

    Whole plots or strips where the contrast lies wholly between them, else the units.
    """
    there = np.isin(units.cells, cells)
    if units.is_split:
        found = _strata(weights, units)
        if len(found) == 1:
            return int(np.unique(units.strata[found[0]].codes[there]).size)
    return int(there.sum())


def _strata(weights: Array, units: Units) -> tuple[int, ...]:
    """Strata in which a contrast lies, or a mean apart from the grand mean."""
    given = np.asarray(weights, dtype=float)
    level = given - given.mean()
    return units.strata_of(level if np.abs(level).max() > 1e-12 else given)


def _common(cells: IntArray, units: Units) -> str:
    """The levels that all of those cells share."""
    shared = []
    for k, levels in enumerate(units.levels):
        codes = set(units.level_codes(k)[cells].tolist())
        if len(codes) == 1:
            shared.append(levels[codes.pop()])
    return " x ".join(shared) or units.cell_names[int(cells[0])]


def replication_word(weights: Array, units: Units) -> str:
    """The unit of replication of a contrast: plot, reservoir, whole plot, row strip ..."""
    if units.is_split:
        *first, last = (units.strata[k].name for k in _strata(weights, units))
        return say("two strata", first=", ".join(first), last=last) if first else last
    held = units.shared[np.isin(units.cells, np.flatnonzero(weights))]
    if held.size and held.all():
        return units.unit_word if units.unit_word == "coil" else "reservoir"
    return say("plot or reservoir") if held.any() else units.unit_word
