"""Physics as a check of units: tubes that would fill as fast, and tubes that would hold.

Leans on bench, summaries.rise and core.capillary.
"""

from wickstats.analysis.bench import Piece
from wickstats.analysis.summaries import rise
from wickstats.analysis.units import Units
from wickstats.core.capillary import jurin_radius, washburn_radius
from wickstats.core.numbers import number
from wickstats.core.responses import Check
from wickstats.core.words import say
from wickstats.design.trial import Response

FINEST_UM, WIDEST_UM = 1e-3, 5000.0
ROOT_SECONDS = 60.0**0.5


def bench_checks(response: Response, pieces: list[Piece], units: Units) -> tuple[Check, ...]:
    """Radius by Washburn from early slopes and by Jurin from heights; none for other kinds."""
    if response.kind != "rise" or not units.n:
        return ()
    fills, holds = [], []
    for piece in pieces:
        slope = rise.measure_rise(piece.series, rise.EARLY, response.top_mm).value
        height = rise.highest_mm(piece.series)
        if slope is not None and slope > 0.0:
            fills.append(1e6 * washburn_radius(slope / 1000.0 / ROOT_SECONDS))
        if height > 0.0:
            holds.append(1e6 * jurin_radius(height / 1000.0))
    if not fills or not holds:
        return ()
    told = {
        "least": number(min(fills), 2),
        "most": number(max(fills), 2),
        "holds": number(min(holds), 2),
        "held": number(max(holds), 2),
    }
    odd = min(*fills, *holds) < FINEST_UM or max(*fills, *holds) > WIDEST_UM
    key = "check radius odd" if odd else "check radius words"
    return (Check(say("check radius"), say(key, **told), None),)
