"""Rows of comparisons: numbers on the reported scale, verdict, sentence, redraws.

Leans on families, effects, verdict, sentences, bounds, few_line, rows, would_tell and
redraw_line.
"""

from dataclasses import dataclass, replace

from wickstats.analysis.bounded_rows import bound_effect, bounded_row
from wickstats.analysis.bounds import PairBound
from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_for, verdict_for
from wickstats.analysis.effects import (
    absolute_of,
    back,
    per_at_mean,
    relative_of,
    reported,
    side_weights,
)
from wickstats.analysis.families import Judged, judge, replication_word
from wickstats.analysis.few_line import FewBound, absolute_limits, few_bound, few_effect
from wickstats.analysis.line import Line
from wickstats.analysis.redraw_line import Redrawer
from wickstats.analysis.rows import Joint, Numbers, Verdict, What, comparison_row
from wickstats.analysis.sentences import (
    effect_words,
    place,
    plants_words,
    sentence_of,
    with_role,
)
from wickstats.analysis.strata_line import StrataLine
from wickstats.analysis.summary import Summary, shared_half
from wickstats.analysis.verdict import CANNOT_TELL, of_the_side, one_sided_word
from wickstats.analysis.would_tell import would_tell
from wickstats.core.responses import Absolute, Comparison, Redraws, Relative
from wickstats.core.words import say
from wickstats.models.ratios.equivalence import equivalence_within


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
        for judged in judge(
            family,
            line,
            context.units,
            context.confidence,
            summary.calibration,
            better=context.better,
        ):
            redraws = None
            if redrawer is not None:
                redraws = _redraws(redrawer, judged, seen)
            few = few_bound(context, line, judged)
            bound = bound_for(context, summary, judged, rho)
            said = Said(None, None)
            if with_verdict and few is not None:
                said = _say_few(context, summary, judged, few, redraws)
            elif with_verdict:
                said = _say(context, summary, judged, bound)
            out.append(_row(context, summary, line, judged, said, redraws, few or bound, label))
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
    ends = (judged.low, judged.high)
    unknown = judged.estimate.estimate is None or ends.count(None) > abs(judged.side)
    if unknown and bound is None:
        reason = judged.estimate.not_estimable or say("no interval")
        text = say("verdict no inference", reason=reason + ".", **names)
        return Said(None, with_role(text, told.role, planned=planned))
    if context.units.drawn == "not at random":
        text = say("verdict not at random", effect=effect, **names)
        return Said(None, with_role(text, told.role, planned=planned))
    if bound is not None:
        effect = bound_effect(summary, bound)
    gap = context.survival_gap.get((contrast.treatment, contrast.versus, judged.family.within))
    if gap is not None:
        text = say("verdict survivors", difference=plants_words(gap), effect=effect, **names)
        return Said(None, with_role(text, told.role, planned=planned))
    verdict = verdict_for(context, judged, bound) or CANNOT_TELL
    more = ""
    if verdict == CANNOT_TELL:
        more = (
            would_tell(judged, summary, told, context.units)
            if bound is None
            else say("would tell bounded shares")
        )
    return Said(verdict, sentence_of(verdict, judged, summary, told, effect, more))


def _say_few(
    context: Context, summary: Summary, judged: Judged, few: FewBound, redraws: Redraws | None
) -> Said:
    """Where a side bore in fewer than two blocks: the verdict of the bound."""
    contrast, told = judged.contrast, context.told
    effect = few_effect(context, judged, few, redraws)
    names = {
        "treatment": contrast.treatment,
        "versus": contrast.versus,
        "response": place(told.response, judged),
    }
    planned = judged.family.planned
    if context.units.drawn == "not at random":
        text = say("verdict not at random", effect=effect, **names)
        return Said(None, with_role(text, told.role, planned=planned))
    verdict = of_the_side(few.verdict, judged.side)
    if verdict is None:
        text = say("verdict no inference", reason=effect + ".", **names)
        return Said(None, with_role(text, told.role, planned=planned))
    more = say("would tell bounded totals") if verdict == CANNOT_TELL else ""
    return Said(verdict, sentence_of(verdict, judged, summary, told, effect, more))


def _redraws(redrawer: Redrawer, judged: Judged, seen: dict[str, Redraws]) -> Redraws:
    """Of one comparison; the same pair in two families is redrawn once."""
    if not judged.family.planned and redrawer.barred is None:
        return Redraws(None, "none", 0, None, say("redraw not planned"))
    contrast = judged.contrast
    key = f"{judged.family.term}: {contrast.treatment} against {contrast.versus}"
    if judged.side:
        key = f"{key}, one side"
    if judged.family.within is not None:
        key = f"{key} within {judged.family.within}"
    if key not in seen or contrast.pair is None:
        seen[key] = redrawer.contrast(key, contrast.pair, contrast.weights, judged.side)
    return seen[key]


def _row(
    context: Context,
    summary: Summary,
    line: Line,
    judged: Judged,
    said: Said,
    redraws: Redraws | None,
    bound: FewBound | PairBound | None,
    label: str | None,
) -> Comparison:
    e, log = judged.estimate, summary.log
    matters = context.matters if with_matters(context, summary) else None
    equivalence = None
    if matters is not None and e.se is not None and e.estimate is not None and not judged.side:
        half = shared_half(summary.calibration, judged.contrast.weights, context.units)
        df = float(e.df or 1.0)
        equivalence = equivalence_within(e.estimate, e.se, df, matters, hidden=half)
    unbounded = None
    relative = relative_of(judged, summary, line, context.confidence)
    tried = isinstance(line, StrataLine) and e.se is not None and not log
    end = relative and (relative.low if judged.side > 0 else relative.high)
    if tried and relative is not None and end is None:
        unbounded = say("ratio unbounded")
    what = What(
        summary.estimand,
        summary.at,
        "ratio" if log else "difference",
        line.rule,
        replication_word(judged.contrast.weights, context.units),
        summary.denominator,
    )
    told = Verdict(
        p_equivalence=equivalence,
        matters=back(matters, log=log),
        verdict=said.verdict,
        sentence=said.sentence,
        redraws=redraws,
        absolute=absolute_of(judged, summary, line),
        relative=relative,
        unbounded=unbounded,
        bound=one_sided_word(judged.side) if e.se is not None else None,
    )
    plain = reported(e.estimate, e.low, e.high, log=log)
    numbers = Numbers(plain.estimate, e.se, e.df, plain.low, plain.high, e.p, e.not_estimable)
    joint = Joint(
        judged.adjustment,
        judged.p,
        back(judged.low, log=log),
        back(judged.high, log=log),
        judged.error,
    )
    if isinstance(bound, PairBound):
        what = replace(what, rule="bound")
        numbers, joint, told = bounded_row(context, summary, bound, joint, told)
    elif bound is not None:
        numbers, joint, told = _bounded(judged, summary, line, bound, joint, told)
    return comparison_row(
        judged.family, judged.contrast, what, numbers, joint, told, label=label
    )


def _bounded(
    judged: Judged, summary: Summary, line: Line, few: FewBound, joint: Joint, told: Verdict
) -> tuple[Numbers, Joint, Verdict]:
    """The row of a one-sided bound: no standard error, no p, one limit."""
    found = few.found
    why = found.reason or say("few bound only")
    numbers = Numbers(found.estimate, None, None, found.low, found.high, None, why)
    relative = None
    if found.estimate is not None or few.side is not None:
        relative = Relative(found.estimate, found.low, found.high)
    center = back(line.mean(side_weights(judged.contrast.weights, -1.0)).estimate, log=True)
    estimate, low, high = absolute_limits(few, center)
    absolute = None
    if center is not None:
        absolute = Absolute(estimate, low, high, per_at_mean(summary, judged))
    return (
        numbers,
        Joint(joint.adjustment, None, found.low, found.high),
        replace(told, absolute=absolute, relative=relative, bound=few.side),
    )


def with_matters(context: Context, summary: Summary) -> bool:
    """Whether the response's ``matters`` is on this summary's scale and estimand."""
    if context.matters is None:
        return False
    if context.response.kind == "survival":
        return summary.is_share
    return True
