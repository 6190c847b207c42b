"""The community garden's peppers: picks, refills, events and plants of one workbook.

Model: a plot's season mass is the arm's mean times a block's and a plot's part,
spread over the picks; fruits follow from the mass of one. A bucket feeds two plots.
Leans on draws and oak_water's calendar.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from wickstats.demo.draws import Draws
from wickstats.demo.oak_water import summer, week_days
from wickstats.demo.oaks import Truth
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import Cell

PLANTED = date(2025, 5, 12)
WEEKS = 20
PICK_HEAD = ("date", "pick", "plot", "mass_kg", "marketable_kg", "count", "status", "note")
REFILL_HEAD = (
    "date", "plot", "reservoir", "applied_l", "level_before_l", "level_after_l",
    "meter_start_l", "meter_end_l", "leaked_l", "note",
)  # fmt: skip
EVENT_HEAD = ("date", "plot", "reservoir", "what", "plant", "new_plant", "until", "note")
PLANT_HEAD = ("plot", "plant", "planted_on", "replaces", "stock", "note")
Water = tuple[Cell, ...]


def plant_rows(plots: Sequence[Plot], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the sheet of plants."""
    gap = truth["mess"]["replaced"]
    rows: list[tuple[Cell, ...]] = []
    for plot in plots:
        rows += [
            (plot.plot, number, PLANTED, None, "own seed", None)
            for number in range(1, (plot.plants or 4) + 1)
        ]
        if plot.plot == gap["plot"]:
            new = (plot.plants or 4) + 1
            rows.append(
                (plot.plot, new, gap["day"], gap["plant"], "own seed", "from the spares")
            )
    return rows


def pick_rows(plots: Sequence[Plot], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the sheet of picks, by day and in walking order."""
    rows = [row for number, plot in enumerate(plots) for row in _picks(plot, number, truth)]
    rows.sort(key=lambda item: (item[0], item[1]))
    out: list[tuple[Cell, ...]] = []
    twice = truth["mess"]["duplicate_pick_row"]
    for _, _, row in rows:
        out.append(row)
        if row[0] == twice["day"] and row[2] == twice["plot"]:
            out.append(row)
    return out


def _picks(plot: Plot, number: int, truth: Truth) -> list[tuple[date, int, tuple[Cell, ...]]]:
    fruit, mess = truth["fruit"], truth["mess"]
    draws = Draws(truth["seed"], f"picks {plot.block} {plot.treatment} {number}")
    mass = (
        fruit["mass_kg"][plot.treatment]
        * Draws(truth["seed"], f"block {plot.block}").spread(fruit["block_cv"])
        * draws.spread(fruit["plot_cv"])
    )
    if plot.block == str(mess["browsed_block"]["block"]):
        mass *= mess["browsed_block"]["yield_left"]
    one = fruit["fruit_kg"] * draws.spread(fruit["fruit_cv"])
    out = []
    for pick, (day, share) in enumerate(_by_day(fruit["picks"]), start=1):
        count = draws.whole(mass * share * draws.spread(fruit["pick_cv"]) / one)
        marketable = round(count * one * draws.spread(0.03), 2)
        total = round(marketable / (1 - fruit["unmarketable"] * draws.spread(0.4)), 2)
        cells: tuple[Cell, ...] = (total, marketable, count, "picked", None)
        if count == 0:
            cells = (None, None, None, "nothing ripe", None)
        lost, missed = mess["lost_plot"], mess["pick_missed"]
        if plot.plot == lost["plot"] and day >= lost["day"]:
            cells = (None, None, None, "not picked", "plants pulled out")
        if plot.plot == missed["plot"] and day == missed["day"]:
            cells = (None, None, None, "not picked", "basket mixed up with the neighbor's")
        out.append((day, number, (day, pick, plot.plot, *cells)))
    return out


def _by_day(picks: Mapping[date, float]) -> list[tuple[date, float]]:
    return sorted(picks.items())


def refill_rows(plots: Sequence[Plot], truth: Truth) -> list[Water]:
    """Rows of the sheet of refills; dates are text, day first, as the group typed them."""
    rows: list[tuple[date, int, Water]] = []
    done: set[str] = set()
    for number, plot in enumerate(plots):
        shared = plot.treatment == "capillary wick"
        if shared and str(plot.reservoir) in done:
            continue
        if shared:
            done.add(str(plot.reservoir))
        rows += [(day, number, row) for day, row in _water(plot, truth)]
    rows.sort(key=lambda item: (item[0], item[1]))
    return [(day.strftime("%d/%m/%Y"), *row) for day, _, row in rows]


def _water(plot: Plot, truth: Truth) -> list[tuple[date, Water]]:
    draws = Draws(truth["seed"], f"water {plot.block} {plot.treatment}")
    weekly = truth["water"]["weekly_l"][plot.treatment] * draws.spread(
        truth["water"]["plot_cv"]
    )
    lost = truth["mess"]["lost_plot"]
    days = [
        d for d in week_days(PLANTED, WEEKS) if plot.plot != lost["plot"] or d <= lost["day"]
    ]
    cv = truth["water"]["week_cv"]
    if plot.treatment == "hand watering":
        return [
            (day, (plot.plot, None, round(2 * weekly * draws.spread(cv)) / 2, *[None] * 6))
            for day in days[:WEEKS]
        ]
    if plot.treatment == "drip":
        return _meter(plot, days, weekly, draws, truth)
    return _levels(plot, days, weekly, draws, truth)


def _meter(
    plot: Plot, days: Sequence[date], weekly: float, draws: Draws, truth: Truth
) -> list[tuple[date, Water]]:
    valve = truth["mess"]["valve_opened"]
    meter = round(draws.uniform(100, 900))
    out: list[tuple[date, Water]] = []
    for week, day in enumerate(days[1:]):
        used = weekly * summer(week, WEEKS) * draws.spread(truth["water"]["week_cv"])
        note = None
        if plot.plot == valve["plot"] and day - timedelta(days=7) < valve["day"] <= day:
            used += valve["liters"]
            note = "valve was open overnight"
        end = meter + round(used)
        out.append((day, (plot.plot, None, None, None, None, meter, end, None, note)))
        meter = end
    return out


def _levels(
    plot: Plot, days: Sequence[date], weekly: float, draws: Draws, truth: Truth
) -> list[tuple[date, Water]]:
    water, leak = truth["water"], truth["mess"]["leak"]
    shared = plot.treatment == "capillary wick"
    place = (None, plot.reservoir) if shared else (plot.plot, None)
    full = water["holds_l"] - 0.5
    plots_fed = 2 if shared else 1
    held = 0.0
    out: list[tuple[date, Water]] = []
    for week, day in enumerate(days):
        leaked, note = 0.0, None
        if week:
            used = plots_fed * weekly * summer(week - 1, WEEKS)
            used *= draws.spread(water["week_cv"])
            if shared and plot.plot == leak["plot"] and day == leak["until"]:
                leaked, note = leak["liters"], "crack below the rim of the stand, patched"
            held = max(held - used - leaked, water["unusable_l"])
        before = round(2 * held) / 2
        last = week == WEEKS
        added = None if last else round(2 * (full - held)) / 2
        held += added or 0.0
        after = None if last else round(2 * held) / 2
        out.append((day, (*place, added, before, after, None, None, leaked or None, note)))
    return out


def event_rows(plots: Sequence[Plot], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the sheet of events, by day."""
    mess: Mapping[str, Any] = truth["mess"]
    gap, lost, leak = mess["replaced"], mess["lost_plot"], mess["leak"]
    valve, missed, browsed = mess["valve_opened"], mess["pick_missed"], mess["browsed_block"]
    new = next(p.plants or 4 for p in plots if p.plot == gap["plot"]) + 1
    bucket = next(p.reservoir for p in plots if p.plot == leak["plot"])
    rows: list[tuple[Cell, ...]] = [
        (gap["day"], gap["plot"], None, "replaced", gap["plant"], new, None, "damped off"),
        (valve["day"], valve["plot"], None, "valve opened", None, None, None, "one night"),
        (leak["from"], None, bucket, "leak", None, None, leak["until"], "cracked bucket"),
        (lost["day"], lost["plot"], None, lost["what"], None, None, None, "plants pulled out"),
        (missed["day"], missed["plot"], None, "pick missed", None, None, None, None),
    ]
    for plot in plots:
        if plot.block == str(browsed["block"]):
            note = "rabbits under the fence"
            rows.append((browsed["day"], plot.plot, None, "browsed", None, None, None, note))
    return sorted(rows, key=lambda row: str(row[0]))
