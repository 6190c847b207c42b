"""What both second opinions start from: unit summaries, weights, blockings of the layout.

The unit summaries are the report's own; everything after them is computed anew. Leans on
analysis, layout and core.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.browsing import browsing_as_planned
from wickstats.analysis.gather import Gathered, gather
from wickstats.analysis.lives import Lives, read_lives
from wickstats.analysis.plan import families_of, terms_of
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units, lay_out_units
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import Results, SecondEngineRow
from wickstats.core.words import say
from wickstats.design.defaults import plan_of
from wickstats.design.trial import Trial
from wickstats.records.season import Season

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
Key = tuple[str, str | None, str]
RELATIVE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Material:
    """A season as the second opinions read it.

    Attributes
    ----------
    weights
        (term, within, name) of a comparison -> (t,) weights of treatments.
    planned
        Keys of comparisons that the plan (or its default) asks for.
    terms
        Name of a treatment term -> rows (q, t) that are all zero under its null.
    gathered
        Response -> its unit summaries.
    """

    results: Results
    trial: Trial
    units: Units
    lives: Lives | None
    weights: Mapping[Key, Array]
    planned: frozenset[Key]
    terms: Mapping[str, Array]
    gathered: Mapping[str, Gathered]
    confidence: float

    def summary_of(self, response: ResponseResult, row: Comparison) -> Summary | None:
        """The unit summary from which a comparison was computed."""
        found = self.gathered.get(response.name)
        if found is None or found.main is None:
            return None
        for summary in (found.main, *found.others):
            if (summary.estimand, summary.at) == (row.estimand, row.at):
                return summary
        return None

    def used(self, summary: Summary) -> tuple[IntArray, list[str]]:
        """Positions of the units that have a value, and their treatments."""
        where = np.flatnonzero(summary.used).astype(np.int64)
        names, cells = self.units.cell_names, self.units.cells
        return where, [names[int(cells[j])] for j in where]

    def told(self, arms: Sequence[str]) -> list[object]:
        """Treatments as the models take them: by their levels where these add up."""
        if not self.units.main_effects:
            return list(arms)
        levels = dict(zip(self.units.cell_names, product(*self.units.levels), strict=True))
        return [levels[arm] for arm in arms]

    def named(self, weights: Array) -> dict[object, float]:
        """Weights that are not zero, by treatment."""
        names = self.units.cell_names
        return {names[k]: float(weights[k]) for k in np.flatnonzero(weights)}

    def named_as_told(self, weights: Array) -> dict[object, float]:
        """The same by treatments as the models take them."""
        where = np.flatnonzero(weights)
        keys = self.told([self.units.cell_names[k] for k in where])
        return {key: float(weights[k]) for key, k in zip(keys, where, strict=True)}

    def columns(self, weights: Array) -> Array:
        """Weights of the fixed columns of treatments that a mixed model has."""
        basis = self.units.basis
        return weights if basis is None else np.asarray(weights @ basis)

    def split_cells(self, cells: IntArray) -> list[tuple[str, str]]:
        """(whole-plot level, subplot level) of cells, each of one factor or several."""
        whole = self.units.whole_factors
        out = []
        for cell in cells:
            codes = np.unravel_index(int(cell), self.units.shape)
            names = [self.units.levels[k][int(code)] for k, code in enumerate(codes)]
            upper = " x ".join(n for k, n in enumerate(names) if k in whole)
            out.append((upper, " x ".join(n for k, n in enumerate(names) if k not in whole)))
        return out

    def blockings(self, where: IntArray) -> tuple[Array, ...]:
        """What is fixed beside the treatments, as shares of its pieces, of units ``where``."""
        return tuple(shares[where] for _, shares in self.units.grounds)


def material_of(results: Results, trial: Trial, season: Season) -> Material:
    """Bring a season's unit summaries together once more."""
    units = lay_out_units(trial, season.layout)
    lives = browsing_as_planned(read_lives(season, units), season, plan_of(trial).browsing)
    families = families_of(trial, units)
    gathered = {}
    for response in results.responses:
        covariate = plan_of(trial).covariates.get(response.name)
        gathered[response.name] = gather(
            trial, trial.response(response.name), season, units, lives, covariate
        )
    return Material(
        results=results,
        trial=trial,
        units=units,
        lives=lives,
        weights={(f.term, f.within, c.name): c.weights for f in families for c in f.contrasts},
        planned=frozenset(
            (f.term, f.within, c.name) for f in families if f.planned for c in f.contrasts
        ),
        terms={term.name: _term_rows(units.shape, term.factors) for term in terms_of(units)},
        gathered=gathered,
        confidence=plan_of(trial).confidence,
    )


def _term_rows(shape: tuple[int, ...], factors: tuple[int, ...]) -> Array:
    """Differences from the first level in the term's factors, averages over the others."""
    rows: Array = np.ones((1, 1))
    for k, size in enumerate(shape):
        if k in factors:
            part = np.hstack([-np.ones((size - 1, 1)), np.eye(size - 1)])
        else:
            part = np.full((1, size), 1.0 / size)
        rows = np.asarray(np.kron(rows, part))
    return rows


def checked(what: str, ours: float | None, theirs: float) -> SecondEngineRow:
    """A number that was computed twice."""
    if ours is None:
        return unchecked(what, None, say("second not estimable"))
    agrees = math.isclose(ours, theirs, rel_tol=RELATIVE, abs_tol=1e-8)
    return SecondEngineRow(what, float(ours), float(theirs), agrees, None)


def unchecked(what: str, ours: float | None, why: str) -> SecondEngineRow:
    """A number that was not, and why."""
    return SecondEngineRow(what, ours, None, None, why)


def on_model_scale(row: Comparison) -> float | None:
    """A comparison's estimate: the logarithm of ratios."""
    if row.estimate is None or row.measure != "ratio":
        return row.estimate
    return math.log(row.estimate) if row.estimate > 0.0 else None
