"""Numbers of the report computed again by code that shares nothing with the first.

From the same unit summaries: ordinary least squares and the log-linear model by
statsmodels, the dispersion by explicit matrices, paired and left-out blocks and coils by
plain loops, restricted times by hand. What cannot be checked says why. Leans on second,
``material``, ``second_tests`` and core.
"""

import numpy as np

from wickstats.analysis.summary import Summary
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import say
from wickstats.road.lives_opinion import hazards_again, incidence_again
from wickstats.road.material import Array, Material, checked, on_model_scale, unchecked
from wickstats.road.second_tests import curves_again, tests_again
from wickstats.second.answers import ContrastAnswer, wider

Weights = dict[object, float]


def second_opinion(material: Material) -> tuple[SecondEngineRow, ...]:
    """Check primary and secondary responses, or the first one where none is planned."""
    responses = material.results.responses
    chosen = [r for r in responses if r.role in ("primary", "secondary")] or list(responses[:1])
    rows: list[SecondEngineRow] = []
    for response in chosen:
        rows.extend(_response(material, response))
    return tuple(rows)


def _response(material: Material, response: ResponseResult) -> list[SecondEngineRow]:
    found = material.gathered.get(response.name)
    if found is None or found.main is None:
        return [unchecked(response.name, None, say("second no units"))]
    rows: list[SecondEngineRow] = []
    for row in response.comparisons:
        key = (row.term, row.within, row.name)
        told = response.role == "primary" or row.verdict is not None
        if key in material.planned or (told and key in material.weights):
            rows.extend(_comparison(material, response, row, material.weights[key]))
    rows.extend(tests_again(material, response, found.main))
    if response.kind == "survival" and material.lives is not None:
        rows.extend(curves_again(material, response, material.lives))
        rows.extend(hazards_again(material, response, material.lives))
        rows.extend(incidence_again(material, response, material.lives))
    return rows


def _comparison(
    material: Material, response: ResponseResult, row: Comparison, weights: Array
) -> list[SecondEngineRow]:
    parts = (response.name, row.name, row.within, row.at, row.estimand)
    what = ": ".join(part for part in parts if part)
    summary = material.summary_of(response, row)
    if row.estimate is None or summary is None:
        return [unchecked(what, row.estimate, say("second not estimable"))]
    try:
        answer = _answer(material, response, row, summary, weights)
    except ValueError as error:
        return [unchecked(what, row.estimate, say("second refused", why=str(error)))]
    if answer is None:
        return [unchecked(what, row.estimate, say("second rule"))]
    ours = on_model_scale(row)
    out = [checked(f"{what}: estimate ({answer.engine})", ours, answer.estimate)]
    if row.se is not None and answer.se is not None:
        out.append(checked(f"{what}: standard error", row.se, answer.se))
    if row.df is not None and answer.df is not None:
        out.append(checked(f"{what}: degrees of freedom", row.df, answer.df))
    return out


def _answer(
    material: Material,
    response: ResponseResult,
    row: Comparison,
    summary: Summary,
    weights: Array,
) -> ContrastAnswer | None:
    """The contrast by other code, by the rule that the report names; None without any."""
    if summary.rule == "zero":
        return _zero(material, summary, weights)
    split = material.units.is_split
    strange = row.rule not in ("strata", "paired") or summary.rule == "counts"
    if row.rule == "mixed" or (split and strange):
        return None
    named = material.named(weights)
    where, arms = material.used(summary)
    values = summary.values[where].tolist()
    if row.rule == "paired":
        return _paired(material, summary, weights)
    blockings = () if material.units.is_split else material.blockings(where)
    if summary.rule == "counts":
        from wickstats.second.ordinary import wider_count_contrast

        told = np.array(material.told(arms), dtype=object)
        asked = material.named_as_told(weights)
        return wider_count_contrast(values, told, asked, blockings, material.confidence)
    if material.units.is_split:
        if summary.covariate is not None:
            return _covaried(material, summary, weights)
        if len(material.units.strata) == 2 and not material.units.main_effects:
            return _split(material, summary, weights)
        found = material.gathered[response.name].main
        if found is None or summary.name != found.name:
            return None
        plants = summary.plants[where]
        if summary.guard and np.ptp(plants) > 0 and plants.min() > 0:
            raise ValueError(say("second split gaps"))
        from wickstats.road.classical_opinion import several_strata_contrast

        return several_strata_contrast(
            material.results, response, {str(k): v for k, v in named.items()}
        )
    named = material.named_as_told(weights)
    if row.rule in ("dispersion", "bound"):  # a bound's estimate is that of the same rule
        return _dispersed(material, summary, named)
    if row.rule != "strata":
        return None
    return _strata(material, summary, named)


def _strata(material: Material, summary: Summary, named: Weights) -> ContrastAnswer:
    from wickstats.second.ordinary import ordinary_contrast
    from wickstats.second.scatter import scatter_contrast

    where, names = material.used(summary)
    arms = material.told(names)
    values, plants = summary.values[where].tolist(), summary.plants[where].tolist()
    blockings = material.blockings(where)
    covariate = None if summary.covariate is None else summary.covariate[where]
    labels = np.array(arms, dtype=object)
    plain = ordinary_contrast(values, labels, named, blockings, covariate)
    if not summary.guard or len(set(plants)) == 1 or min(plants) <= 0:
        return plain
    guard = scatter_contrast(
        values, [1.0 / n for n in plants], arms, named, blockings, 0.0, covariate
    )
    return wider([plain, guard], material.confidence)


def _dispersed(material: Material, summary: Summary, named: Weights) -> ContrastAnswer | None:
    from wickstats.second.scatter import restricted_contrast, share_contrast

    where, cells = material.used(summary)
    arms = material.told(cells)
    plants = summary.plants[where].tolist()
    blockings = material.blockings(where)
    if summary.alive is not None:
        alive = summary.alive[where].tolist()
        return share_contrast(alive, plants, arms, named, blockings, material.confidence)
    lives = material.lives
    if summary.lived is None or lives is None:
        return None
    from wickstats.second.restricted import plant_shares, plant_times

    horizon = summary.lived.full_time
    names, held = material.units.cell_names, material.units.cells
    of = material.told([names[int(held[j])] for j in lives.units])
    low, high = lives.low - lives.planted, lives.high - lives.planted
    if summary.is_share:
        day = float((summary.at or "").removesuffix(" d"))
        times = np.array(plant_shares(low.tolist(), high.tolist(), of, day))
    else:
        times = np.array(plant_times(low.tolist(), high.tolist(), of, horizon))
    values = [float(times[lives.units == j].mean()) for j in where]
    return restricted_contrast(
        values, plants, times.tolist(), of, horizon, arms, named, blockings, material.confidence
    )


def _paired(material: Material, summary: Summary, weights: Array) -> ContrastAnswer | None:
    from wickstats.second.pairs import own_units, paired_difference

    if material.units.is_split:
        return _coils(material, summary, weights) if summary.capped else None
    named = material.named(weights)
    where, arms = material.used(summary)
    values = summary.values[where].tolist()
    pairs = material.units.pairs
    if pairs is not None:
        blocks = pairs[where].tolist()
        held: dict[object, set[object]] = {}
        for arm, block in zip(arms, blocks, strict=True):
            held.setdefault(arm, set()).add(block)
        common = set.intersection(*(held.get(arm, set()) for arm in named))
        if len(common) > 1:
            return paired_difference(values, arms, named, blocks)
    return own_units(values, arms, named)


def _coils(material: Material, summary: Summary, weights: Array) -> ContrastAnswer:
    from wickstats.second.coils import coil_contrast

    where, _ = material.used(summary)
    units, given = material.units, np.flatnonzero(weights)
    codes = units.block_codes
    return coil_contrast(
        summary.values[where].tolist(),
        material.split_cells(units.cells[where]),
        units.strata[0].codes[where].tolist(),
        {
            key: float(weights[k])
            for key, k in zip(material.split_cells(given), given, strict=True)
        },
        None if codes is None else codes[where].tolist(),
    )


def _zero(material: Material, summary: Summary, weights: Array) -> ContrastAnswer | None:
    from wickstats.second.sums import ratio_of_sums

    if summary.numerators is None or summary.denominators is None:
        return None
    where, _ = material.used(summary)
    codes = material.units.pairs
    return ratio_of_sums(
        summary.numerators[where].tolist(),
        summary.denominators[where].tolist(),
        np.sign(weights[material.units.cells[where]]).astype(int).tolist(),
        None if codes is None else codes[where].tolist(),
    )


def _covaried(material: Material, summary: Summary, weights: Array) -> ContrastAnswer:
    """A contrast of one stratum beside a covariate: least squares on the pieces' means."""
    from wickstats.second.ordinary import ordinary_contrast

    units = material.units
    found = units.strata_of(weights)
    where, _ = material.used(summary)
    plants = summary.plants[where]
    uneven = summary.guard and np.ptp(plants) > 0 and plants.min() > 0
    lost = where.size < units.n
    if len(found) != 1 or lost or uneven or units.coils_in_runs or summary.covariate is None:
        raise ValueError(say("second split covariate"))
    stratum = units.strata[found[0]]
    first = np.unique(stratum.codes, return_index=True)[1]

    def arm(cell: int) -> object:
        levels = np.unravel_index(cell, units.shape)
        held = tuple(units.levels[f][int(levels[f])] for f in stratum.factors)
        return held if units.main_effects else " x ".join(held)

    named: dict[object, float] = {}
    for cell in np.flatnonzero(weights):
        named[arm(int(cell))] = named.get(arm(int(cell)), 0.0) + float(weights[cell])
    fixed = [
        (codes[:, None] == np.unique(codes)).astype(float)
        for codes in (units.strata[k].codes[first] for k in stratum.within)
    ]
    means = [
        [float(known[stratum.codes == code].mean()) for code in np.unique(stratum.codes)]
        for known in (summary.values, summary.covariate)
    ]
    return ordinary_contrast(
        means[0],
        np.array([arm(int(units.cells[k])) for k in first], dtype=object),
        named,
        fixed or [shares[first] for _, shares in units.grounds],
        np.round(means[1], 12),
    )


def _split(material: Material, summary: Summary, weights: Array) -> ContrastAnswer:
    from wickstats.second.ordinary import split_contrast

    where, _ = material.used(summary)
    units, plants = material.units, summary.plants[where]
    if units.whole_plots is None or len(units.strata) != 2:
        kind = material.trial.design.type
        raise ValueError(say("second strata unknown", type=kind))
    if summary.guard and np.ptp(plants) > 0 and plants.min() > 0:
        raise ValueError(say("second split gaps"))
    given = np.flatnonzero(weights)
    keys = material.split_cells(given)
    codes = units.block_codes
    return split_contrast(
        summary.values[where].tolist(),
        material.split_cells(units.cells[where]),
        [int(k) for k in units.whole_plots[where]],
        {key: float(weights[k]) for key, k in zip(keys, given, strict=True)},
        None if codes is None else codes[where].tolist(),
        crossed=units.coils_in_runs,
    )
