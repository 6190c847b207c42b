"""Cumulative incidence of causes of death at the end of what was seen, by hand.

Masses of deaths in (low, high] by the self-consistency equations (Turnbull 1976, J. R.
Stat. Soc. B 38:290), iterated until they stand: each plant is shared over the innermost
regions in its interval in proportion to their masses. A region's mass goes to causes as
the deaths expected in it noted them; with known days that is Aalen & Johansen (1978, Scand.
J. Statist. 5:141). Leans on numpy.
"""

from collections.abc import Hashable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
LARGEST = 2_000
ROUNDS = 20_000
STANDS = 1e-13

Edge = tuple[float, int]  # a value, and what comes first where values are equal


def incidence_at_end(
    lows: Sequence[float], highs: Sequence[float], causes: Sequence[Hashable | None]
) -> dict[Hashable, float]:
    """Incidence of each cause when everything has been seen.

    Parameters
    ----------
    lows, highs
        Death in (low, high]; high inf: not seen dead; low = high: day known.
    causes
        Of each death; None where not dead.

    Raises
    ------
    ValueError
        Where there are too many plants for plain iteration, or it does not settle.
    """
    if len(lows) > LARGEST:
        raise ValueError(f"{len(lows)} plants are too many for plain iteration")
    opens: list[Edge] = [(a, -1 if a == b else 1) for a, b in zip(lows, highs, strict=True)]
    closes: list[Edge] = [(b, 0) for b in highs]
    edges = sorted([(edge, 0) for edge in set(opens)] + [(edge, 1) for edge in set(closes)])
    regions = [
        (one, other)
        for (one, kind), (other, then) in pairwise(edges)
        if kind == 0 and then == 1
    ]
    inside = np.array(
        [
            [float(a <= start and end <= b) for start, end in regions]
            for a, b in zip(opens, closes, strict=True)
        ]
    )
    shared = _settle(inside)
    mass = shared.mean(axis=0)
    finite = np.array([np.isfinite(end[0]) for _, end in regions])
    dead = np.array([cause is not None for cause in causes])
    expected = shared[dead].sum(axis=0)
    out: dict[Hashable, float] = {}
    for cause in dict.fromkeys(c for c in causes if c is not None):
        mine = np.array([c == cause for c in causes])
        part = shared[mine].sum(axis=0) / np.where(expected > 0.0, expected, 1.0)
        out[cause] = float(np.sum((mass * part)[finite]))
    return out


def _settle(inside: Array) -> Array:
    """(n, regions) how each plant is shared when the masses stand."""
    mass = np.full(inside.shape[1], 1.0 / inside.shape[1])
    for _ in range(ROUNDS):
        shared = inside * mass
        shared /= shared.sum(axis=1, keepdims=True)
        new = shared.mean(axis=0)
        if float(np.abs(new - mass).max()) < STANDS:
            return np.asarray(shared)
        mass = new
    raise ValueError("the masses do not settle by plain iteration")
