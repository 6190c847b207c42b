"""Shares alive by unit at a date: what was counted, and what a unit's own curve adds.

In a unit whose plants are all known at the date the share is a count. Plants not seen
around the date count by the curve of their own unit: the nonparametric maximum likelihood
estimate for (low, high] data (Turnbull 1976, JRSS B 38:290), which on common visits is the
product-limit estimate (Kaplan & Meier 1958, JASA 53:457) of plants censored when last seen.
Leaving them out would keep the dead of the unit and drop living ones. Where nothing was
seen of the plants that lived before, the unit is not known: its dead alone would be counted.

Leans on restricted (counts) and turnbull.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.lifetimes.restricted import AliveCounts, alive_at
from wickstats.models.lifetimes.turnbull import interval_curve

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class UnitShares:
    """Shares alive of n units at a date.

    Attributes
    ----------
    counts
        Plants alive, dead and open as they were seen.
    spared
        (n,) plants among the dead that the share does not count as such.
    share
        (n,) share alive; NaN without a plant, or where no plant is known.
    seen
        (n,) whether of the plants alive before the window some were seen in it, or none
        was left; False without a plant.
    """

    counts: AliveCounts
    spared: Array
    share: Array
    seen: BoolArray


def unit_shares(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    n_units: int,
    dates: ArrayLike,
    *,
    grace: float = 14.0,
    spared: ArrayLike | None = None,
    curves: bool = True,
) -> UnitShares:
    """Shares alive by unit.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead.
    units
        (n,) unit codes 0..n_units-1.
    dates
        The date, or (n_units,) one a unit.
    grace
        A plant seen alive within so much before the date counts as alive.
    spared
        (n,) deaths of a cause that the share does not count; none by default.
    curves
        Whether open plants count by their unit's curve; else they are left out, for who
        asks only which units are known.

    Raises
    ------
    ValueError
        For shapes that do not fit, or an interval that ends before it begins.
    """
    codes = np.asarray(units, dtype=np.int64)
    by_unit = np.broadcast_to(np.asarray(dates, dtype=float), (n_units,))
    date = by_unit[codes]
    counts = alive_at(lows, highs, codes, n_units, date, grace=grace)
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    dead = high <= date
    never = np.zeros(low.size, dtype=bool) if spared is None else dead & np.asarray(spared)
    late = np.bincount(codes[dead & (high >= date - grace)], minlength=n_units) > 0
    known, kept = counts.alive + counts.dead, np.bincount(codes[never], minlength=n_units)
    share = np.full(n_units, np.nan)
    np.divide(counts.alive + kept, known, out=share, where=known > 0)
    seen = (counts.plants > 0) & ((counts.alive > 0) | (counts.open == 0) | late)
    # seen alive shortly before is alive at the date; what is spared never dies otherwise
    low = np.where((~dead & (low >= date - grace)) | never, np.maximum(low, date), low)
    high = np.where(never, np.inf, np.maximum(high, low))
    for j in np.flatnonzero(seen & (counts.open > 0) & curves):
        mine = codes == j
        share[j] = interval_curve(low[mine], high[mine]).between(by_unit[j])
    return UnitShares(counts, kept.astype(float), share, seen)
