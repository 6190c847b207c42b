"""Physics as a check of units: the tube that would fill as fast, and what it would hold.

Leans on bench, summaries.rise and core.capillary.
"""

from wickstats.analysis.bench import pieces_of
from wickstats.analysis.summaries import rise
from wickstats.analysis.units import Units
from wickstats.core.capillary import jurin_height, washburn_radius
from wickstats.core.numbers import number
from wickstats.core.responses import Check
from wickstats.core.words import say
from wickstats.design.trial import Response
from wickstats.records.season import Season

FINEST_UM, WIDEST_UM = 0.01, 1000.0
ROOT_SECONDS = 60.0**0.5


def bench_checks(response: Response, season: Season, units: Units) -> tuple[Check, ...]:
    """Radius by Washburn, and heights above Jurin's of that radius; none for other kinds."""
    if response.kind != "rise" or not units.n:
        return ()
    found = []
    for piece in pieces_of(response, season):
        slope = rise.measure_rise(piece.series, rise.EARLY, response.top_mm).value
        if slope is not None and slope > 0.0:
            radius = washburn_radius(slope / 1000.0 / ROOT_SECONDS)
            height = max(rise.highest_mm(piece.series), 0.0)
            found.append((radius, height))
    if not found:
        return ()
    least, most = 1e6 * min(r for r, _ in found), 1e6 * max(r for r, _ in found)
    told = {"least": number(least, 2), "most": number(most, 2)}
    if least < FINEST_UM or most > WIDEST_UM:
        return (Check(say("check radius"), say("check radius odd", **told), None),)
    holds = number(1000.0 * jurin_height(min(r for r, _ in found)), 2)
    checks = [Check(say("check radius"), say("check radius words", height=holds, **told), None)]
    above = sum(height > 1000.0 * jurin_height(radius) for radius, height in found)
    if above:
        checks.append(Check(say("check jurin"), say("check jurin odd", n=above), None))
    return tuple(checks)
