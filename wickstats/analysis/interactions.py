"""Interactions that the plan leaves out: whether the units show some all the same.

Main effects alone stay the analysis, as planned; this looks once at what they leave out, each
interaction tested in its own stratum with all interactions in the model, p by Holm. Leans on
plan, first_line and models.linear.
"""

from dataclasses import replace

from wickstats.analysis.context import Context
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.plan import terms_of
from wickstats.analysis.summary import Summary
from wickstats.core.numbers import p_value
from wickstats.core.responses import Check
from wickstats.core.words import say
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.multiplicity import holm

VISIBLE = 0.05


def interactions_seen(context: Context, summary: Summary) -> dict[str, float]:
    """Adjusted p of every interaction that was left out; empty where none can be tested."""
    if not context.units.main_effects or summary.rule == "zero" or context.by_arm:
        return {}
    units = replace(context.units, main_effects=False)
    line = fit_line(units, summary, context.confidence)
    if line is None:
        return {}
    crossed = [term for term in terms_of(units) if len(term.factors) > 1]
    found = [line.test(term_rows(units.shape, term.factors)).p for term in crossed]
    held = [(t.name, p) for t, p in zip(crossed, found, strict=True) if p is not None]
    adjusted = holm([p for _, p in held])
    return {name: p for (name, _), p in zip(held, adjusted, strict=True)}


def interactions_told(
    context: Context, summary: Summary
) -> tuple[tuple[Check, ...], tuple[str, ...]]:
    """What was seen of them, beside the other diagnostics; a caution where it is much."""
    seen = interactions_seen(context, summary)
    if not seen:
        return (), ()
    parts = [say("one redrawn", name=name, p=p_value(p)) for name, p in seen.items()]
    large = [name for name, p in seen.items() if p < VISIBLE]
    key = "interactions visible" if large else "interactions not visible"
    check = Check(say("check interactions"), say(key, told="; ".join(parts)), None)
    caution = (say("interactions caution", names=", ".join(large)),) if large else ()
    return (check,), caution
