"""Plants whose state is not known, counted against each comparison, and in its favor.

Counted alive everywhere or dead everywhere, open plants move both sides of a comparison
alike; here they are dead on one side and alive on the other. Leans on comparisons,
families, first_line and the summary of shares alive.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from wickstats.analysis.comparisons import compare
from wickstats.analysis.context import Context
from wickstats.analysis.decide import bound_correlation
from wickstats.analysis.first_line import fit_line
from wickstats.analysis.plan import Family
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array
from wickstats.core.responses import Comparison
from wickstats.core.words import say


def least_favorable(
    context: Context, worst: Summary, best: Summary, opened: Array
) -> tuple[Comparison, ...]:
    """Both extremes of every planned comparison of shares.

    Parameters
    ----------
    worst, best
        Shares of all plants, open ones dead and alive.
    opened
        (n units,) plants whose state is not known.
    """
    if worst.alive is None or not opened.any():
        return ()
    out: list[Comparison] = []
    for label, sign in ((say("sensitivity against"), 1.0), (say("sensitivity favor"), -1.0)):
        for family, weights in _sides(context):
            alive_there = sign * weights[context.units.cells] < 0
            alive = worst.alive + np.where(alive_there, opened, 0.0)
            with np.errstate(invalid="ignore", divide="ignore"):
                values = np.where(best.used, alive / best.plants, np.nan)
            case = replace(best, values=values, alive=alive)
            line = fit_line(context.units, case, context.confidence, by_arm=context.by_arm)
            if line is None:
                continue
            one = replace(context, families=(family,))
            rho = bound_correlation(one, case, line)
            out.extend(compare(one, case, line, with_verdict=False, rho=rho, label=label))
    return tuple(out)


def _sides(context: Context) -> Iterator[tuple[Family, Array]]:
    """Families to judge together, and which side (positive, negative) each cell is on.

    Comparisons with one reference share their sides and stay one family; any others are
    judged one by one, each with its own interval and not adjusted.
    """
    for family in context.families:
        if not family.planned:
            continue
        pairs = [c.pair for c in family.contrasts]
        same = {p[1] for p in pairs if p is not None}
        if len(same) == 1 and None not in pairs:
            weights = np.ones(context.units.n_cells)
            weights[same.pop()] = -1.0
            yield family, weights
            continue
        for contrast in family.contrasts:
            alone = replace(family, contrasts=(contrast,), adjustment="none")
            yield alone, contrast.weights
