"""The oak terrace's water log and its list of events.

Reservoirs are filled each week; the crew writes cans and the level before and
after. Leans on draws and oaks.
"""

import math
from collections.abc import Sequence
from datetime import date, timedelta

from wickstats.demo.draws import Draws
from wickstats.demo.oaks import PLANTED, Oak, Truth
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import Cell

WEEKS = 30
WATER_HEAD = (
    "date", "plot", "cans", "level_before_cm", "level_after_cm", "leaked_l", "source", "note",
)  # fmt: skip
EVENT_HEAD = ("date", "plot", "what", "plant", "new_plant", "until", "note")
FULL_L = 19.5


def summer(week: int, weeks: int) -> float:
    """Return how much a week takes, around one over the season, most at midsummer."""
    return 1 + 0.4 * math.sin(math.pi * (2 * (week + 0.5) / weeks - 0.5))


def week_days(start: date, weeks: int) -> list[date]:
    """Return the day of each weekly round, both ends included."""
    return [start + timedelta(days=7 * week) for week in range(weeks + 1)]


def water_rows(plots: Sequence[Plot], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the water log, by day and in walking order."""
    rows = [row for plot in plots for row in _one_plot(plot, truth)]
    order = {plot.plot: number for number, plot in enumerate(plots)}
    return sorted(rows, key=lambda row: (row[0], order[str(row[1])]))


def _one_plot(plot: Plot, truth: Truth) -> list[tuple[Cell, ...]]:
    draws = Draws(truth["seed"], f"water {plot.block} {plot.treatment}")
    lost = truth["mess"]["lost_plot"]
    days = [
        d for d in week_days(PLANTED, WEEKS) if plot.plot != lost["plot"] or d < lost["day"]
    ]
    weekly = truth["water"]["weekly_l"][plot.treatment] * draws.spread(
        truth["water"]["plot_cv"]
    )
    if plot.treatment == "hand watering":
        return [_by_hand(plot, day, weekly, draws, truth) for day in days[:WEEKS]]
    return _reservoir(plot, days, weekly, draws, truth)


def _by_hand(
    plot: Plot, day: date, weekly: float, draws: Draws, truth: Truth
) -> tuple[Cell, ...]:
    cans = round(weekly * draws.spread(truth["water"]["week_cv"]) / truth["water"]["can_l"], 1)
    return (day, plot.plot, cans, None, None, None, "tank by the track", None)


def _reservoir(
    plot: Plot, days: Sequence[date], weekly: float, draws: Draws, truth: Truth
) -> list[tuple[Cell, ...]]:
    water = truth["water"]
    per_cm, dead_l = water["liters_per_cm"], water["unusable_l"]
    held = 0.0
    rows: list[tuple[Cell, ...]] = []
    for week, day in enumerate(days):
        leaked, note = 0.0, None
        if week:
            used = weekly * summer(week - 1, WEEKS) * draws.spread(water["week_cv"])
            used, leaked, note = _mishaps(plot, day, used, truth)
            held = max(held - used - leaked, min(held, dead_l))
        before = _half(held / per_cm)
        last = week == WEEKS
        cans = 0.0 if last else max(round((FULL_L - held) / water["can_l"], 1), 0.0)
        held += cans * water["can_l"]
        after = before if last else _half(held / per_cm)
        source = None if last else "tank by the track"
        rows.append((day, plot.plot, cans, before, after, leaked or None, source, note))
    return rows


def _mishaps(
    plot: Plot, day: date, used: float, truth: Truth
) -> tuple[float, float, str | None]:
    mess = truth["mess"]
    leak, blocked, empty = mess["leak"], mess["blocked_wick"], mess["empty_reservoir"]
    if plot.plot == leak["plot"] and day == leak["until"]:
        return used, leak["liters"], "wet ground under the tap; caught in a pan and measured"
    if plot.plot == blocked["plot"] and day == blocked["until"]:
        return 0.3 * used, 0.0, "wick full of grit, rinsed"
    if plot.plot == empty["plot"] and day == empty["day"]:
        return truth["water"]["holds_l"], 0.0, "nothing left to draw"
    return used, 0.0, None


def _half(cm: float) -> float:
    return round(2 * cm) / 2


def event_rows(
    plots: Sequence[Plot], oaks: Sequence[Oak], truth: Truth
) -> list[tuple[Cell, ...]]:
    """Rows of the list of events, by day."""
    mess = truth["mess"]
    lost, leak, blocked = mess["lost_plot"], mess["leak"], mess["blocked_wick"]
    empty, gap, browsed = mess["empty_reservoir"], mess["replaced"], mess["browsed_block"]
    new = next(oak for oak in oaks if oak.replaces is not None)
    rows: list[tuple[Cell, ...]] = [
        (
            gap["day"],
            new.plot,
            "replaced",
            new.replaces,
            new.number,
            None,
            "stepped on in April",
        ),
        (lost["day"], lost["plot"], lost["what"], None, None, None, "bank gave way, plot gone"),
        (leak["from"], leak["plot"], "leak", None, None, leak["until"], "tap not shut"),
        (blocked["from"], blocked["plot"], "blocked wick", None, None, blocked["until"], None),
        (empty["day"], empty["plot"], "reservoir empty", None, None, None, None),
    ]
    for plot in plots:
        if plot.block == str(browsed["block"]):
            note = "goats through the fence"
            rows.append((browsed["day"], plot.plot, "browsed", None, None, None, note))
    return sorted(rows, key=lambda row: str(row[0]))
