"""Rows of comparisons in which every plant of an arm lived or died.

Estimate, limits and verdict of such a row all come from the bound: no standard error, no p,
and the words why. Leans on bounds, rows and effects.
"""

from dataclasses import replace

from wickstats.analysis.bounds import PairBound, of_hundred
from wickstats.analysis.context import Context
from wickstats.analysis.effects import per_hundred
from wickstats.analysis.rows import Joint, Numbers, Verdict
from wickstats.analysis.sentences import share_key, subject_words
from wickstats.analysis.summary import Summary
from wickstats.core.numbers import confidence_level
from wickstats.core.responses import Absolute, Relative
from wickstats.core.words import say


def bound_reason(context: Context, bound: PairBound) -> str:
    """Why the row has a range and a verdict, but no standard error and no p."""
    return say(
        "bound reason", fates=bound.fates, confidence=confidence_level(context.confidence)
    )


def bound_effect(summary: Summary, bound: PairBound) -> str:
    """The difference and its range in a grower's words."""
    return say(
        share_key(summary, "effect share bound"),
        value=of_hundred(bound.difference),
        fates=bound.fates,
        limit=bound.words,
        **subject_words(summary),
    )


def bounded_row(
    context: Context, summary: Summary, bound: PairBound, joint: Joint, told: Verdict
) -> tuple[Numbers, Joint, Verdict]:
    """The row's numbers, those from which its verdict comes."""
    why = bound_reason(context, bound)
    numbers = Numbers(bound.difference, None, None, bound.low, bound.high, None, why)
    low, high = bound.ends
    shared = "none" if joint.adjustment == "none" else "bonferroni"
    relative = None
    if told.relative is not None:
        relative = Relative(told.relative.ratio, None, None)
    return (
        numbers,
        Joint(shared, None, low, high),
        replace(
            told,
            p_equivalence=None,
            absolute=Absolute(
                100.0 * bound.difference,
                None if low is None else 100.0 * low,
                None if high is None else 100.0 * high,
                per_hundred(summary),
            ),
            relative=relative,
            unbounded=None,
            bound=bound.which,
        ),
    )
