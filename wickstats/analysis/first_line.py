"""The first line: the rule that the summary and the layout call for.

    strata      one number a unit, one pooled variance a stratum
    dispersion  shares, restricted means: one dispersion over each arm's own variance
    counts      log ratio of arm totals
    paired      arms vary on their own: water used, `variance: by arm`, reservoirs with
                several plots in part of the arms
    zero        yields with zeros on a log scale: ratios of sums

Split-plots and strip-plots have several strata: their rule is ``strata`` whatever the
summary (counts as the logarithm of count + 0.5), and with gaps they go through the mixed
engine on unit summaries. Coils and pieces whose heights are counted up to a top are judged
each on their own coils.

Leans on the lines.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.coil_line import CoilLine, notes_on_runs
from wickstats.analysis.gaps_line import fit_gaps
from wickstats.analysis.line import Line, Used, used_units
from wickstats.analysis.paired_line import PairedLine
from wickstats.analysis.ratio_line import fit_count_line, fit_zero_line
from wickstats.analysis.strata_line import fit_dispersed, fit_several, fit_strata
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units


def rule_for(units: Units, summary: Summary, *, by_arm: bool) -> str:
    """Name the rule."""
    if summary.rule in ("counts", "zero"):
        return summary.rule
    if by_arm or (summary.rule == "strata" and units.uneven_reservoirs and summary.guard):
        return "paired"
    return summary.rule


def fit_line(
    units: Units, summary: Summary, confidence: float, *, by_arm: bool = False
) -> Line | None:
    """Fit the line, or None where no unit has a value."""
    used = used_units(units, summary, confidence)
    if used.n == 0:
        return None
    rule = rule_for(units, summary, by_arm=by_arm)
    if rule == "zero":
        return fit_zero_line(used)
    if units.is_split:
        if summary.capped and len(units.strata) == 2:
            return CoilLine(used, notes_on_runs(used))
        if rule == "counts":
            used = replace(used, values=np.log(used.values + 0.5))
        return _several(used)
    if rule == "counts":
        return fit_count_line(used)
    if rule == "paired":
        return PairedLine(used)
    if rule == "dispersion":
        return fit_dispersed(used)
    return fit_strata(used)


def paired_line(units: Units, summary: Summary, confidence: float) -> PairedLine | None:
    """The paired rule beside another one; None for rules on totals and for split-plots."""
    if summary.rule in ("counts", "zero") or units.is_split:
        return None
    used = used_units(units, summary, confidence)
    return PairedLine(used) if used.n else None


def _several(used: Used) -> Line:
    found = fit_several(used)
    return fit_gaps(used, found) if isinstance(found, str) else found
