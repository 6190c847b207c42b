"""Rows of means and of tests.

Means of each main effect, of the cells, and of one factor inside each level of another.
A share's interval is that of its counts (logit, leaving out one unit), or a one-sided
bound where all lived or died. Leans on line, plan, bounds and models.lifetimes.
"""

from collections.abc import Iterator

import numpy as np

from wickstats.analysis.bounds import all_seen, side_of
from wickstats.analysis.context import Context
from wickstats.analysis.effects import back
from wickstats.analysis.families import independent_units, replication_word, stands_alone
from wickstats.analysis.few_line import few_arm
from wickstats.analysis.line import Line
from wickstats.analysis.plan import JOIN, Term, factor_term
from wickstats.analysis.redraw_line import Redrawer
from wickstats.analysis.sentences import share_key
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import Mean, TestRow
from wickstats.core.words import say
from wickstats.models.lifetimes.intervals import share_interval
from wickstats.models.linear.contrasts import mean_weights, term_rows
from wickstats.models.linear.estimates import Estimate, only_estimate


def mean_rows(
    context: Context, summary: Summary, line: Line, *, rho: float | None
) -> tuple[Mean, ...]:
    """Means of all terms."""
    return tuple(
        _mean(context, summary, line, term, name, within, weights, rho)
        for term, name, within, weights in _arms(context.units)
    )


def _arms(units: Units) -> Iterator[tuple[str, str, str | None, Array]]:
    for k, levels in enumerate(units.levels):
        for level, name in enumerate(levels):
            yield factor_term(units, k), name, None, mean_weights(units.shape, {k: level})
    if len(units.factors) == 1 or units.main_effects:
        return
    eye = np.eye(units.n_cells)
    for code, name in enumerate(units.cell_names):
        yield JOIN.join(units.factors), name, None, eye[code]
    if len(units.factors) != 2:
        return
    for k, levels in enumerate(units.levels):
        for other, within in enumerate(units.levels[1 - k]):
            for level, name in enumerate(levels):
                weights = mean_weights(units.shape, {k: level, 1 - k: other})
                yield factor_term(units, k), name, within, weights


def _mean(
    context: Context,
    summary: Summary,
    line: Line,
    term: str,
    name: str,
    within: str | None,
    weights: Array,
    rho: float | None,
) -> Mean:
    units = context.units
    cells = np.flatnonzero(weights).astype(np.int64)
    held = np.isin(units.cells, cells) & summary.used
    found = line.mean(weights)
    alone = stands_alone(cells, weights, units)
    if alone and found.estimate is not None:
        found = only_estimate(found.estimate, say("one unit only", name=name))
    low, high, bound = found.low, found.high, None
    if summary.calibration is not None and low is not None and high is not None:
        # an arm's own mean keeps all of the shared error
        half = summary.calibration.half_width(weights, units)
        low, high = low - half, high + half
    if summary.alive is not None and found.estimate is not None and not alone:
        found, low, high, bound = _share_limits(context, summary, found, cells, rho)
    estimate = back(found.estimate, log=summary.log)
    low, high = back(low, log=summary.log), back(high, log=summary.log)
    few = None if alone or found.se is not None else few_arm(line, weights, context.confidence)
    if few is not None:
        estimate, low, high = few.estimate, None, few.high
        found = only_estimate(None, few.reason or say("few bound only"))
        bound = None if few.high is None else "upper"
    return Mean(
        term=term,
        treatment=name,
        within=within,
        estimand=summary.estimand,
        at=summary.at,
        estimate=_possible(estimate, summary),
        se=found.se,
        df=found.df,
        low=_possible(low, summary),
        high=_possible(high, summary),
        n_units=int(held.sum()),
        n_plants=int(summary.plants_behind(units.laid_plants)[held].sum()),
        not_estimable=found.not_estimable,
        bound=bound,
        n_unseen=0
        if summary.unseen is None
        else int(summary.unseen[np.isin(units.cells, cells)].sum()),
    )


def _possible(value: float | None, summary: Summary) -> float | None:
    """Shares lie in 0 to 1 and restricted means below the full time."""
    if value is None:
        return None
    if summary.alive is not None:
        return min(1.0, max(0.0, value))
    if summary.lived is not None:
        return min(summary.lived.full_time, max(0.0, value))
    return value


def _share_limits(
    context: Context, summary: Summary, found: Estimate, cells: IntArray, rho: float | None
) -> tuple[Estimate, float | None, float | None, str | None]:
    """Limits of a share from its counts; one-sided where all lived or died."""
    units = context.units
    if rho is not None:
        arm = side_of(summary, units, cells, rho, context.confidence)
        if arm is not None and arm.bound is not None:
            whole = all_seen(summary, units, cells)
            key = share_key(summary, "bound only" if whole else "bound only known")
            one_sided = only_estimate(arm.share, say(key))
            if arm.extreme == "lived":
                return one_sided, arm.low, None, "lower"
            return one_sided, None, arm.high, "upper"
    held = np.isin(units.cells, cells) & summary.used
    if found.se is None or summary.alive is None or found.estimate is None:
        return found, found.low, found.high, None
    counts = share_interval(summary.alive[held], summary.plants[held], context.confidence)
    if counts.low is None or counts.high is None:
        return found, found.low, found.high, None
    low = min(counts.low, found.estimate)
    return found, low, max(counts.high, found.estimate), None


def term_tests(
    context: Context,
    line: Line,
    *,
    redrawer: Redrawer | None = None,
    label: str | None = None,
) -> tuple[TestRow, ...]:
    """One test a term; ``label`` is added to the term's name."""
    return tuple(_test(context, line, term, redrawer, label) for term in context.terms)


def _test(
    context: Context, line: Line, term: Term, redrawer: Redrawer | None, label: str | None
) -> TestRow:
    units = context.units
    rows = term_rows(units.shape, term.factors)
    name = term.name if label is None else f"{term.name}, {label}"
    word = replication_word(rows[0], units) if units.is_split else _word(units)
    alone = _single(term, units)
    redraws = redrawer.term(term) if redrawer is not None else None
    if alone is not None:
        q = float(rows.shape[0])
        return TestRow(name, word, word, "F", None, q, None, None, redraws, alone)
    found = line.test(rows)
    if found.f is not None and found.p is not None and no_variation(line):
        q = float(found.df_num)
        return TestRow(name, word, word, "F", None, q, None, None, redraws, say("no variation"))
    return TestRow(
        term=name,
        stratum=word,
        unit_of_replication=word,
        statistic="F",
        value=_exact(found.f),
        df_num=float(found.df_num),
        df_den=found.df_den,
        p=None if found.p is None else _whole(found.p),
        redraws=redraws,
        not_estimable=found.not_estimable,
    )


def no_variation(line: Line) -> bool:
    """Whether all units have one value, so that nothing can be told apart."""
    values = line.fitted + line.residuals
    largest = float(np.abs(values).max(initial=0.0))
    return values.size > 0 and float(np.ptp(values)) <= 1e-12 * largest


def _exact(f: float | None) -> float | None:
    """An F of means that tie exactly is 0, not what rounding leaves."""
    return 0.0 if f is not None and f < 1e-18 else f


def _whole(p: float) -> float:
    return 1.0 if p > 1.0 - 1e-9 else p


def _word(units: Units) -> str:
    if units.shared.any() and not units.shared.all():
        return say("plot or reservoir")
    return units.unit_word


def _single(term: Term, units: Units) -> str | None:
    """Why a term has no test: a level stood on one unit only."""
    for factor in term.factors:
        for level, name in enumerate(units.levels[factor]):
            weights = mean_weights(units.shape, {factor: level})
            cells = np.flatnonzero(weights).astype(np.int64)
            if independent_units(cells, weights, units) == 1:
                return say("one unit only", name=name)
    return None
