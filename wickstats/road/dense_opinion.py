"""Mixed models computed again by dense generalized least squares.

At the reported components: -2 REML log likelihood and every planned comparison's estimate.
Leans on analysis for the rows that were fitted, on ``material`` and on second.dense.
"""

import numpy as np

from wickstats.analysis.mixed_line import MixedRows, mixed_rows
from wickstats.core.responses import Comparison, MixedModel
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import say
from wickstats.road.material import Array, Material, checked, on_model_scale, unchecked
from wickstats.second.dense import ENGINE, dense_fit

LARGEST = 800


def dense_opinion(material: Material) -> tuple[SecondEngineRow, ...]:
    """Check the mixed model of every response that has one."""
    out: list[SecondEngineRow] = []
    for response in material.results.responses:
        model = response.mixed_model
        found = material.gathered[response.name]
        if model is None or not model.converged or model.objective is None:
            continue
        if found.main is None:
            continue
        asked = [
            (row, material.columns(material.weights[key]))
            for row in model.comparisons
            if (key := (row.term, row.within, row.name)) in material.planned
            and row.estimate is not None
        ]
        out.extend(_model(response.name, model, mixed_rows(material.units, found.main), asked))
    return tuple(out)


def _model(
    name: str,
    model: MixedModel,
    rows: MixedRows,
    asked: list[tuple[Comparison, Array]],
) -> list[SecondEngineRow]:
    sizes = {c.term: c.estimate for c in model.variance_components}
    residual = _residual(sizes, rows)
    what = f"{name}: mixed model"
    if rows.values.size > LARGEST or residual is None or not asked:
        return [unchecked(what, None, say("second too large"))]
    width = rows.fixed.shape[1]
    contrasts = np.zeros((len(asked), width))
    for k, (_, weight) in enumerate(asked):
        contrasts[k, : weight.size] = weight
    groups = [(float(sizes.get(term) or 0.0), code) for term, code in rows.groups.items()]
    try:
        fit = dense_fit(rows.values, rows.fixed, groups, residual, contrasts)
    except ValueError as error:
        return [unchecked(what, None, say("second refused", why=str(error)))]
    out = [
        checked(
            f"{what}: -2 REML log likelihood ({ENGINE})", model.objective, fit.minus_two_reml
        )
    ]
    for (row, _), answer in zip(asked, fit.contrasts, strict=True):
        name = f"{what}: {row.name}: estimate ({ENGINE})"
        out.append(checked(name, on_model_scale(row), answer.estimate))
    return out


def _residual(sizes: dict[str, float | None], rows: MixedRows) -> Array | None:
    """Residual variance of each row (n,): one for all, or each arm's own."""
    one = sizes.get("residual")
    if one is not None:
        return np.full(rows.values.size, one)
    own = [sizes.get(f"residual {name}") for name in rows.arm_names]
    found = np.array([np.nan if v is None else v for v in own])
    return None if np.isnan(found).any() else found[rows.arms]
