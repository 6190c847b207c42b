"""Standard errors of pairs of treatments in a layout, under the assumed variances.

In the stratum of the smallest units: variance of a pair in units' variances (from the
layout) times the assumed variance of a unit's summary, averaged over treatments. Leans on
assumed, layout.efficiency; numpy.
"""

import numpy as np

from wickstats.core.numbers import number, percent
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.design.trial import Response, Trial
from wickstats.layout.efficiency import pair_variances
from wickstats.layout.pieces import plots_each
from wickstats.layout.plots import Layout
from wickstats.layout.strata import strata_of
from wickstats.layout.tell import efficiency_line
from wickstats.sizing.assumed import Expected, expected

MOST_PLOTS = 2_000  # larger layouts take long and are sure enough


def pair_lines(trial: Trial, layout: Layout) -> list[str]:
    """One sentence a response of which enough is assumed under power.

    About all pairs; in split-plots about those inside one whole plot.
    """
    if trial.power is None or len(layout.plots) > MOST_PLOTS:
        return []
    names = tuple(dict.fromkeys(plot.treatment for plot in strata_of(layout).units))
    pairs = pair_variances(layout)[np.triu_indices(len(names), 1)]
    known = pairs[np.isfinite(pairs)]
    if not known.size:
        return []
    each = trial.design.plants_per_plot
    plants = None
    if each is not None:
        plants = np.array([float(plots_each(trial, name) * each) for name in names])
    inside = layout.type == "split-plot"
    which = say("pairs inside", piece="whole plot") if inside else ""
    out = []
    for response in trial.responses:
        what = expected(trial, response, names, plants)
        if isinstance(what, str) or not np.isfinite(what.variances).any():
            continue
        ses = np.sqrt(float(np.nanmean(what.variances)) * known)
        middle = float(np.sqrt(np.mean(np.square(ses))))
        out.append(_sentence(response, what, middle, (ses.min(), ses.max()), which))
    return out


def _sentence(
    response: Response, what: Expected, middle: float, ends: tuple[float, float], which: str
) -> str:
    low, high = (_text(response, what, float(end)) for end in ends)
    words = {"response": response.name, "which": which, "se": _text(response, what, middle)}
    if low == high:
        return say("pairs se", **words)
    return say("pairs se range", low=low, high=high, **words)


def _text(response: Response, what: Expected, se: float) -> str:
    if what.ratio:  # on the log scale: a ratio of treatments
        return percent(float(np.expm1(se)))
    if response.kind == "survival":
        return say("pairs points", points=number(100 * se, 2))
    return f"{number(se, 3)} {measured_in_of(response)}"


def precision_lines(trial: Trial, layout: Layout) -> list[str]:
    """What a layout keeps of complete blocks, and standard errors, where one is not plain."""
    if layout.type in ("completely randomized", "randomized complete block"):
        return []
    kept = efficiency_line(layout) if len(layout.plots) <= MOST_PLOTS else None
    return [*([kept] if kept else []), *pair_lines(trial, layout)]
