"""Numbers of the report computed again by code that shares nothing with the first.

From the unit summaries that the report shows: ordinary least squares by statsmodels, the
dispersion in plain loops, classical sums of squares. What cannot be checked says so.
Leans on second and core.
"""

import math
from collections.abc import Mapping, Sequence

from wickstats.core.responses import Comparison, ResponseResult, TestRow, UnitValue
from wickstats.core.results import PlannedComparison, Results, SecondEngineRow
from wickstats.core.words import say
from wickstats.second.answers import ContrastAnswer

RELATIVE = 1e-6
JOIN = " x "


def second_opinion(results: Results) -> tuple[SecondEngineRow, ...]:
    """Check the primary response, or the first one where none is primary."""
    chosen = [r for r in results.responses if r.role == "primary"] or list(
        results.responses[:1]
    )
    rows: list[SecondEngineRow] = []
    for response in chosen:
        rows.extend(_response(results, response))
    return tuple(rows)


def _response(results: Results, response: ResponseResult) -> list[SecondEngineRow]:
    units = [v for v in response.unit_summary.values if v.value is not None]
    if not units:
        return [_unchecked(response.name, None, say("second no units"))]
    rows = []
    for row in response.comparisons:
        weights = _weights(results, row)
        if weights is not None:
            rows.extend(_comparison(response, row, units, weights))
    rows.extend(_classical(results, response, units))
    return rows


def _weights(results: Results, row: Comparison) -> dict[str, float] | None:
    """Weights of treatments, for a comparison of one-factor trials or of treatments."""
    if len(results.trial.factors) != 1 and JOIN not in row.term:
        return None
    named = _planned(results.trial.comparisons, row.name)
    if named is not None:
        return {arm: weight for arm, weight in named.items() if weight}
    return {row.treatment: 1.0, row.versus: -1.0}


def _planned(entries: Sequence[PlannedComparison], name: str) -> Mapping[str, float] | None:
    return next((e.weights for e in entries if e.name == name and e.weights), None)


def _comparison(
    response: ResponseResult,
    row: Comparison,
    units: Sequence[UnitValue],
    weights: Mapping[str, float],
) -> list[SecondEngineRow]:
    what = ": ".join(part for part in (response.name, row.name, row.at, row.estimand) if part)
    if row.estimate is None:
        return [_unchecked(what, None, say("second not estimable"))]
    if row.estimand == "restricted mean survival time":
        return [_unchecked(what, row.estimate, say("second restricted"))]
    if row.estimand == "share alive" and row.at != _summary_at(response):
        return [_unchecked(what, row.estimate, say("second no units"))]
    if row.rule not in ("strata", "dispersion", "paired") or response.kind in (
        "count",
        "score rank",
    ):
        return [_unchecked(what, row.estimate, say("second rule"))]
    ours = math.log(row.estimate) if row.measure == "ratio" else row.estimate
    try:
        answer = _answer(row, units, weights)
    except ValueError as error:
        return [_unchecked(what, row.estimate, say("second refused", why=str(error)))]
    out = [_checked(f"{what}: estimate ({answer.engine})", ours, answer.estimate)]
    if row.se is not None and answer.se is not None:
        out.append(_checked(f"{what}: standard error", row.se, answer.se))
    if row.df is not None and answer.df is not None:
        out.append(_checked(f"{what}: degrees of freedom", row.df, answer.df))
    return out


def _summary_at(response: ResponseResult) -> str | None:
    """Return the date (or day) that the unit summary stands for."""
    dates = [c.at for c in response.comparisons if c.estimand == "share alive" and c.at]
    named = [at for at in dates if at in response.unit_summary.name]
    return named[0] if named else max(dates, default=None)


def _answer(
    row: Comparison, units: Sequence[UnitValue], weights: Mapping[str, float]
) -> ContrastAnswer:
    from wickstats.second.ordinary import ordinary_contrast
    from wickstats.second.pairs import paired_difference
    from wickstats.second.scatter import scatter_contrast, share_contrast

    values = [float(u.value) for u in units if u.value is not None]
    arms = [u.treatment for u in units]
    plants = [float(u.n_plants) for u in units]
    named = [u.block for u in units if u.block]
    blocks = named if len(named) == len(units) else None
    keyed: dict[object, float] = {}
    keyed.update(weights)
    if row.rule == "paired":
        if blocks is None:
            raise ValueError("units are not paired in blocks")
        return paired_difference(values, arms, keyed, blocks)
    if row.rule == "dispersion":
        alive = [v * n for v, n in zip(values, plants, strict=True)]
        return share_contrast(alive, plants, arms, keyed, blocks)
    plain = ordinary_contrast(values, arms, keyed, blocks)
    if len(set(plants)) == 1 or min(plants) <= 0:
        return plain
    guard = scatter_contrast(values, [1.0 / n for n in plants], arms, keyed, blocks, floor=0.0)
    return max(plain, guard, key=_half_width)


def _half_width(answer: ContrastAnswer) -> float:
    from scipy.special import stdtrit

    if answer.se is None or answer.df is None:
        return 0.0
    return float(answer.se * stdtrit(answer.df, 0.975))


def _classical(
    results: Results, response: ResponseResult, units: Sequence[UnitValue]
) -> list[SecondEngineRow]:
    """Hold the table of strata of a complete trial against sums of squares by loops."""
    if not response.strata or response.kind == "survival" or len(results.trial.factors) != 1:
        return []
    from wickstats.second.strata import complete_blocks, one_way

    values = [float(u.value) for u in units if u.value is not None]
    arms = [u.treatment for u in units]
    try:
        if all(u.block for u in units):
            lines = complete_blocks(values, arms, [u.block for u in units])
        else:
            lines = one_way(values, arms)
    except ValueError:
        return []
    theirs = next((line.f for line in lines if line.f is not None), None)
    test: TestRow | None = next((t for t in response.tests if t.statistic == "F"), None)
    if theirs is None or test is None or test.value is None:
        return []
    return [_checked(f"{response.name}: F of treatments (sums of squares)", test.value, theirs)]


def _checked(what: str, ours: float, theirs: float) -> SecondEngineRow:
    agrees = math.isclose(ours, theirs, rel_tol=RELATIVE, abs_tol=1e-10)
    return SecondEngineRow(what, float(ours), float(theirs), agrees, None)


def _unchecked(what: str, ours: float | None, why: str) -> SecondEngineRow:
    return SecondEngineRow(what, ours, None, None, why)
