"""Rows of comparisons: numbers on the reported scale, verdict, sentence, redraws.

Leans on families, effects, verdict, sentences, bounds, would_tell and redraw_line.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.bounds import PairBound
from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_for, verdict_for
from wickstats.analysis.effects import absolute_of, back, relative_of, reported
from wickstats.analysis.families import Judged, judge, replication_word
from wickstats.analysis.line import Line
from wickstats.analysis.plan import factor_term
from wickstats.analysis.redraw_line import Redrawer
from wickstats.analysis.sentences import (
    effect_words,
    place,
    plants_words,
    sentence_of,
    with_role,
)
from wickstats.analysis.strata_line import StrataLine
from wickstats.analysis.summary import Summary
from wickstats.analysis.verdict import CANNOT_TELL
from wickstats.analysis.would_tell import would_tell
from wickstats.core.responses import Comparison, Redraws
from wickstats.core.words import say
from wickstats.models.ratios.equivalence import equivalence_test


@dataclass(frozen=True, slots=True)
class Said:
    """Verdict and sentence of one comparison."""

    verdict: str | None
    sentence: str | None


def compare(
    context: Context,
    summary: Summary,
    line: Line,
    *,
    with_verdict: bool,
    redrawer: Redrawer | None = None,
    rho: float | None = None,
    label: str | None = None,
) -> tuple[Comparison, ...]:
    """All comparisons of one summary.

    ``label`` goes before every name (sensitivity runs). ``rho`` is the plot correlation
    for arms in which all lived or died.
    """
    out = []
    seen: dict[str, Redraws] = {}
    for family in context.families:
        for judged in judge(family, line, context.units, context.confidence):
            bound = bound_for(context, summary, judged, rho)
            said = Said(None, None)
            if with_verdict:
                said = _say(context, summary, judged, bound)
            redraws = None
            if redrawer is not None:
                redraws = _redraws(context, redrawer, judged, seen)
            out.append(_row(context, summary, line, judged, said, redraws, bound, label))
    return tuple(out)


def _say(context: Context, summary: Summary, judged: Judged, bound: PairBound | None) -> Said:
    contrast, told = judged.contrast, context.told
    effect = effect_words(judged, summary, told)
    names = {
        "treatment": contrast.treatment,
        "versus": contrast.versus,
        "response": place(told.response, judged),
    }
    planned = judged.family.planned
    if judged.estimate.estimate is None or judged.low is None or judged.high is None:
        reason = judged.estimate.not_estimable or say("no interval")
        text = say("verdict no inference", reason=reason + ".", **names)
        return Said(None, with_role(text, told.role, planned=planned))
    if context.units.drawn == "not at random":
        text = say("verdict not at random", effect=effect, **names)
        return Said(None, with_role(text, told.role, planned=planned))
    gap = context.survival_gap.get((contrast.treatment, contrast.versus, judged.family.within))
    if gap is not None:
        text = say("verdict survivors", difference=plants_words(gap), effect=effect, **names)
        return Said(None, with_role(text, told.role, planned=planned))
    verdict = verdict_for(context, judged, bound) or CANNOT_TELL
    if bound is not None:
        effect = say(
            "effect share bound",
            value=plants_words(judged.estimate.estimate),
            name=bound.name,
            fate=bound.fate,
            limit=bound.words,
        )
    more = would_tell(judged, summary, told, context.units) if verdict == CANNOT_TELL else ""
    return Said(verdict, sentence_of(verdict, judged, summary, told, effect, more))


def _redraws(
    context: Context, redrawer: Redrawer, judged: Judged, seen: dict[str, Redraws]
) -> Redraws:
    """Of one comparison; the same pair in two families is redrawn once."""
    if not judged.family.planned and redrawer.barred is None:
        return Redraws(None, "none", 0, None, say("redraw not planned"))
    contrast = judged.contrast
    key = f"{judged.family.term}: {contrast.treatment} against {contrast.versus}"
    if judged.family.within is not None:
        key = f"{key} within {judged.family.within}"
    if key not in seen or contrast.pair is None:
        levels = _whole_levels(context, judged)
        seen[key] = (
            redrawer.pair(key, contrast.pair)
            if levels is None
            else redrawer.whole_pair(key, levels)
        )
    return seen[key]


def _whole_levels(context: Context, judged: Judged) -> tuple[int, int] | None:
    """Level codes, where two levels of the only whole-plot factor are compared."""
    units = context.units
    if len(units.whole_factors) != 1 or judged.family.within is not None:
        return None
    factor = units.whole_factors[0]
    names = units.levels[factor]
    pair = (judged.contrast.treatment, judged.contrast.versus)
    if judged.family.term != factor_term(units, factor) or not set(pair) <= set(names):
        return None
    if np.ptp(np.abs(judged.contrast.weights[judged.contrast.weights != 0])) > 1e-9:
        return None
    return names.index(pair[0]), names.index(pair[1])


def _row(
    context: Context,
    summary: Summary,
    line: Line,
    judged: Judged,
    said: Said,
    redraws: Redraws | None,
    bound: PairBound | None,
    label: str | None,
) -> Comparison:
    e, log = judged.estimate, summary.log
    plain = reported(e.estimate, e.low, e.high, log=log)
    family, contrast = judged.family, judged.contrast
    matters = context.matters if with_matters(context, summary) else None
    equivalence = None
    if matters is not None and e.se is not None and e.estimate is not None:
        equivalence = equivalence_test(
            e.estimate, e.se, float(e.df or 1.0), -matters, matters
        ).p
    unbounded = None
    relative = relative_of(judged, summary, line, context.confidence)
    tried = isinstance(line, StrataLine) and e.se is not None and not log
    if tried and relative is not None and relative.high is None:
        unbounded = say("ratio unbounded")
    return Comparison(
        term=family.term,
        name=contrast.name if label is None else f"{contrast.name} ({label})",
        treatment=contrast.treatment,
        versus=contrast.versus,
        within=family.within,
        estimand=summary.estimand,
        at=summary.at,
        measure="ratio" if log else "difference",
        rule=line.rule,
        unit_of_replication=replication_word(contrast.weights, context.units),
        estimate=plain.estimate,
        se=e.se,
        df=e.df,
        low=plain.low,
        high=plain.high,
        p=e.p,
        adjustment=judged.adjustment,
        p_adjusted=judged.p,
        low_adjusted=back(judged.low, log=log),
        high_adjusted=back(judged.high, log=log),
        p_equivalence=equivalence,
        matters=back(matters, log=log),
        verdict=said.verdict,
        sentence=said.sentence,
        redraws=redraws,
        absolute=absolute_of(judged, summary, line),
        relative=relative,
        denominator=summary.denominator,
        unbounded=unbounded,
        not_estimable=e.not_estimable,
    )


def with_matters(context: Context, summary: Summary) -> bool:
    """Whether the response's ``matters`` is on this summary's scale and estimand."""
    if context.matters is None:
        return False
    if context.response.kind == "survival":
        return summary.estimand == "share alive"
    return True
