"""Mixed models computed again by dense generalized least squares.

At the reported components: -2 REML log likelihood and every planned comparison's estimate.
Leans on analysis for the rows that were fitted, and on second.dense.
"""

import math

import numpy as np

from wickstats.analysis.gather import gather
from wickstats.analysis.lives import read_lives
from wickstats.analysis.mixed_line import MixedRows, mixed_rows
from wickstats.analysis.plan import families_of
from wickstats.analysis.units import lay_out_units
from wickstats.core.responses import Comparison, MixedModel
from wickstats.core.results import Results, SecondEngineRow
from wickstats.core.words import say
from wickstats.design.defaults import plan_of
from wickstats.design.trial import Trial
from wickstats.records.season import Season
from wickstats.second.dense import ENGINE, dense_fit

LARGEST = 800
RELATIVE = 1e-6


def dense_opinion(
    results: Results, trial: Trial, season: Season
) -> tuple[SecondEngineRow, ...]:
    """Check the mixed model of every response that has one."""
    units = lay_out_units(trial, season.layout)
    lives = read_lives(season, units)
    weights = {
        (family.term, family.within, contrast.name): contrast.weights
        for family in families_of(trial, units)
        if family.planned
        for contrast in family.contrasts
    }
    out: list[SecondEngineRow] = []
    for response in results.responses:
        model = response.mixed_model
        if model is None or not model.converged or model.objective is None:
            continue
        covariate = plan_of(trial).covariates.get(response.name)
        found = gather(trial, trial.response(response.name), season, units, lives, covariate)
        if found.main is None:
            continue
        asked = [
            (row, weights[row.term, row.within, row.name])
            for row in model.comparisons
            if row.estimate is not None and (row.term, row.within, row.name) in weights
        ]
        out.extend(_model(response.name, model, mixed_rows(units, found.main), asked))
    return tuple(out)


def _model(
    name: str,
    model: MixedModel,
    rows: MixedRows,
    asked: list[tuple[Comparison, "np.ndarray[tuple[int], np.dtype[np.float64]]"]],
) -> list[SecondEngineRow]:
    sizes = {c.term: c.estimate for c in model.variance_components}
    residual = sizes.get("residual")
    what = f"{name}: mixed model"
    if rows.values.size > LARGEST or residual is None or not asked:
        return [SecondEngineRow(what, None, None, None, say("second too large"))]
    width = rows.fixed.shape[1]
    contrasts = np.zeros((len(asked), width))
    for k, (_, weight) in enumerate(asked):
        contrasts[k, : weight.size] = weight
    groups = [(float(sizes.get(term) or 0.0), code) for term, code in rows.groups.items()]
    try:
        fit = dense_fit(rows.values, rows.fixed, groups, residual, contrasts)
    except ValueError as error:
        why = say("second refused", why=str(error))
        return [SecondEngineRow(what, None, None, None, why)]
    out = [
        _row(f"{what}: -2 REML log likelihood ({ENGINE})", model.objective, fit.minus_two_reml)
    ]
    for (row, _), answer in zip(asked, fit.contrasts, strict=True):
        ours = row.estimate
        if ours is not None and row.measure == "ratio":
            ours = math.log(ours)
        out.append(_row(f"{what}: {row.name}: estimate ({ENGINE})", ours, answer.estimate))
    return out


def _row(what: str, ours: float | None, theirs: float) -> SecondEngineRow:
    if ours is None:
        return SecondEngineRow(what, None, None, None, say("second not estimable"))
    agrees = math.isclose(ours, theirs, rel_tol=RELATIVE, abs_tol=1e-8)
    return SecondEngineRow(what, float(ours), float(theirs), agrees, None)
