"""A linear gradient along the position of units, where the plan names it as covariate.

Position is the column of a plot less the mean column of its block; without columns, the
place in walking order inside the block. A unit of several plots has their mean. Where
several strata hold treatments each has a slope of its own, on the means of its pieces. In
Latin squares and rows and columns the columns are in the analysis already. Leans on layout
and units.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, Units
from wickstats.core.words import say
from wickstats.layout.plots import Layout

POSITION = "position"


def positions(layout: Layout, units: Units) -> Array:
    """(n,) position of each unit, centered in its block."""
    places: dict[str, float] = {}
    inside: dict[str | None, list[str]] = {}
    for plot in layout.plots:
        inside.setdefault(plot.block, []).append(plot.plot)
    columns = {plot.plot: plot.column for plot in layout.plots}
    named = all(column is not None for column in columns.values())
    for names in inside.values():
        raw = [float(columns[p] or 0) if named else float(k) for k, p in enumerate(names)]
        center = sum(raw) / len(raw)
        places.update({p: x - center for p, x in zip(names, raw, strict=True)})
    return np.array([np.mean([places[p] for p in plots]) for plots in units.plots])


def placed(summary: Summary, layout: Layout, units: Units) -> Summary:
    """The summary with position as covariate, or with the reason why not."""
    where = positions(layout, units)
    why = None
    if layout.type in ("Latin square", "row-column"):
        why = say("position in the design")
    if why is None and float(np.ptp(where)) <= 0.0:
        why = say("position all alike")
    several = units.is_split and summary.rule not in ("zero", "paired")
    if why is None and summary.rule != "strata" and not several:
        why = say("position not with the rule")
    if why is not None:
        return replace(summary, notes=(*summary.notes, why))
    return replace(summary, covariate=where, covariate_name=POSITION)
