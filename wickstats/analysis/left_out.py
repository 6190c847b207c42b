"""Every planned comparison refitted without each block: numbers, verdicts and a finding.

Fitted on unit summaries under the same rule, so that one season costs blocks times
families of small fits. Leans on first_line, families, decide and few_line.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wickstats.analysis.bounded_rows import bound_reason
from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_correlation, bound_for, verdict_for
from wickstats.analysis.effects import back
from wickstats.analysis.families import Judged, judge
from wickstats.analysis.few_line import few_bound
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.line import Line
from wickstats.analysis.summary import Summary
from wickstats.analysis.verdict import of_the_side, one_sided_word
from wickstats.core.responses import Check, Comparison, LeftOut
from wickstats.core.words import say

FEWEST_BLOCKS = 3


def left_out_rows(context: Context, summary: Summary) -> tuple[LeftOut, ...] | None:
    """One row a block and planned comparison; None without three blocks or more."""
    units = context.units
    codes = units.block_codes
    families = [f for f in context.families if f.planned]
    if codes is None or units.n_blocks < FEWEST_BLOCKS or not families:
        return None
    out: list[LeftOut] = []
    for block, name in enumerate(units.block_names):
        if not (summary.used & (codes == block)).any():
            continue  # nothing of it is in the analysis
        left = replace(summary, values=np.where(codes == block, np.nan, summary.values))
        line = fit_line(units, left, context.confidence, by_arm=context.by_arm)
        if line is None:
            continue
        rho = bound_correlation(context, left, line)
        for family in families:
            out.extend(
                _row(context, left, line, judged, name, rho)
                for judged in judge(
                    family,
                    line,
                    units,
                    context.confidence,
                    left.calibration,
                    better=context.better,
                )
            )
    return tuple(out) or None


def _row(
    context: Context, left: Summary, line: Line, judged: Judged, block: str, rho: float | None
) -> LeftOut:
    log = left.log
    contrast, e = judged.contrast, judged.estimate
    estimate, df = back(e.estimate, log=log), e.df
    low, high = back(judged.low, log=log), back(judged.high, log=log)
    limits = bound_for(context, left, judged, rho)
    verdict = verdict_for(context, judged, limits)
    why, bound = e.not_estimable, one_sided_word(judged.side)
    if limits is not None:
        estimate, df, (low, high) = limits.difference, None, limits.ends
        why, bound = bound_reason(context, limits), limits.which
    few = few_bound(context, line, judged)
    if few is not None:
        estimate, df, low, high = few.found.estimate, None, few.found.low, few.found.high
        why = few.found.reason or say("few bound only")
        bound, verdict = few.side, of_the_side(few.verdict, judged.side)
    withheld = (contrast.treatment, contrast.versus, judged.family.within)
    if context.units.drawn == "not at random" or withheld in context.survival_gap:
        verdict = None
    return LeftOut(
        block=block,
        term=judged.family.term,
        name=contrast.name,
        treatment=contrast.treatment,
        versus=contrast.versus,
        within=judged.family.within,
        estimand=left.estimand,
        at=left.at,
        measure="ratio" if log else "difference",
        estimate=estimate,
        df=df,
        low_adjusted=low,
        high_adjusted=high,
        verdict=verdict,
        not_estimable=why,
        bound=bound,
    )


def left_out_check(
    rows: Sequence[LeftOut] | None, comparisons: Sequence[Comparison]
) -> Check | None:
    """Which verdicts change when a block is left out; None where there is no verdict."""
    before = {
        (c.term, c.within, c.name, c.estimand, c.at): c.verdict
        for c in comparisons
        if c.verdict is not None
    }
    if rows is None or not before:
        return None
    changes = []
    for row in rows:
        verdict = before.get((row.term, row.within, row.name, row.estimand, row.at))
        if verdict is None or row.verdict == verdict:
            continue
        changes.append(
            say(
                "verdict changes",
                name=row.name if row.within is None else f"{row.name} ({row.within})",
                block=row.block,
                verdict=row.verdict or say("verdict none left"),
            )
        )
    text = "; ".join(changes) if changes else say("verdicts hold")
    return Check(say("check left out"), text, None)
