"""The holm-oak terrace: plants, their lives, and what the crew wrote at visits.

Model: a plant is alive at the end with the share of its arm, on log odds with a
plot's own shift; a death falls in spring (planting shock) or around midsummer.
Height at the end is the arm's mean times a plot's, a plant's and the start's part.
The mess that ``truth.yaml`` lists is planted on top. Leans on draws.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from wickstats.demo.draws import Draws, log_odds, logistic
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import Cell

PLANTED = date(2025, 3, 17)
VISITS = tuple(PLANTED + timedelta(days=14 * k) for k in range(1, 16))
MEASURED = (PLANTED, date(2025, 6, 23), date(2025, 10, 13))
VISIT_HEAD = ("date", "plot", "plant", "status", "condition", "cause", "observer", "note")
PLANT_HEAD = ("plot", "plant", "planted_on", "start_cm", "replaces", "stock", "note")
SIZE_HEAD = ("date", "plot", "plant", "height, mm", "note")
Truth = Mapping[str, Any]


@dataclass(frozen=True)
class Oak:
    """One seedling: its true life, and how it grows while it lives."""

    plot: str
    number: int
    planted_on: date
    start_cm: float
    end_cm: float
    dies_on: date | None = None
    cause: str | None = None
    doubtful_first: bool = False
    browsed_on: date | None = None
    replaces: int | None = None


def find_plot(plots: Sequence[Plot], where: Mapping[str, Any]) -> Plot:
    """Return the plot of a block and treatment (the first, where there are several)."""
    return next(
        p for p in plots if p.block == str(where["block"]) and p.treatment == where["treatment"]
    )


def grow_oaks(plots: Sequence[Plot], truth: Truth) -> list[Oak]:
    """Draw every planted seedling, then let the mess happen to them."""
    oaks = [oak for plot in plots for oak in _plot_of_oaks(plot, truth)]
    return _replace_one(_browse(_doubtful_dead(oaks, plots, truth), plots, truth), plots, truth)


def _plot_of_oaks(plot: Plot, truth: Truth) -> list[Oak]:
    lives = Draws(truth["seed"], f"lives {plot.block} {plot.treatment}")
    sizes = Draws(truth["seed"], f"sizes {plot.block} {plot.treatment}")
    survival, height = truth["survival"], truth["height"]
    share = logistic(
        log_odds(survival["alive_at_end"][plot.treatment])
        + lives.normal(survival["plot_sd_log_odds"])
    )
    plot_factor = sizes.spread(height["plot_cv"])
    oaks = []
    for number in range(1, (plot.plants or 8) + 1):
        start = height["start_cm"] * sizes.spread(height["start_cv"])
        end = (
            height["mean_cm"][plot.treatment]
            * plot_factor
            * sizes.spread(height["plant_cv"])
            * (start / height["start_cm"]) ** height["start_carries"]
        )
        oak = Oak(plot.plot, number, PLANTED, round(start, 1), end)
        oaks.append(oak if lives.happens(share) else _dying(oak, lives, survival))
    return oaks


def _dying(oak: Oak, lives: Draws, survival: Mapping[str, Any]) -> Oak:
    if lives.happens(survival["died_in_spring"]):
        day = round(lives.uniform(10, 40))
    else:
        day = round(80 + 115 * (lives.uniform() + lives.uniform()) / 2)
    cause = "drought" if lives.happens(0.85) else "unknown"
    return replace(
        oak,
        dies_on=oak.planted_on + timedelta(days=day),
        cause=cause,
        doubtful_first=lives.happens(survival["doubtful_before_dead"]),
    )


def living(oak: Oak, day: date) -> bool:
    """Tell whether the seedling truly lives on that day."""
    return oak.planted_on <= day and (oak.dies_on is None or day < oak.dies_on)


def first_survivor(oaks: Sequence[Oak], plot: str) -> Oak:
    """Return the first seedling of a plot that lives to the end, not browsed."""
    return next(o for o in oaks if o.plot == plot and o.dies_on is None and not o.browsed_on)


def _doubtful_dead(oaks: list[Oak], plots: Sequence[Plot], truth: Truth) -> list[Oak]:
    planned = truth["mess"]["doubtful_then_dead"]
    chosen = first_survivor(oaks, find_plot(plots, planned).plot)
    dies = planned["dead_on"] - timedelta(days=3)
    return [
        replace(o, dies_on=dies, cause="drought", doubtful_first=True) if o is chosen else o
        for o in oaks
    ]


def _browse(oaks: list[Oak], plots: Sequence[Plot], truth: Truth) -> list[Oak]:
    planned = truth["mess"]["browsed_block"]
    block = {p.plot for p in plots if p.block == str(planned["block"])}
    draws = Draws(truth["seed"], "browsing")
    out = []
    for oak in oaks:
        hit = draws.happens(planned["share_browsed"])
        fatal = draws.happens(planned["share_of_them_dead"])
        later = round(draws.uniform(8, 30))
        if oak.plot in block and hit and living(oak, planned["day"]):
            left = oak.end_cm * planned["height_left"]
            oak = replace(oak, browsed_on=planned["day"], end_cm=left)
            if fatal and oak.dies_on is None:
                day = planned["day"] + timedelta(days=later)
                oak = replace(oak, dies_on=day, cause="browsing")
        out.append(oak)
    return out


def _replace_one(oaks: list[Oak], plots: Sequence[Plot], truth: Truth) -> list[Oak]:
    planned = truth["mess"]["replaced"]
    plot = find_plot(plots, planned).plot
    out = []
    last = max(o.number for o in oaks if o.plot == plot)
    for oak in oaks:
        if oak.plot == plot and oak.number == planned["plant"]:
            out.append(
                replace(
                    oak, dies_on=planned["died_on"], cause="mechanical", doubtful_first=False
                )
            )
        else:
            out.append(oak)
        if oak.plot == plot and oak.number == last:
            out.append(
                Oak(plot, last + 1, planned["day"], 25.0, 44.0, replaces=planned["plant"])
            )
    return out


def plant_rows(oaks: Sequence[Oak]) -> list[tuple[Cell, ...]]:
    """Rows of the table of plants."""
    return [
        (
            oak.plot,
            oak.number,
            oak.planted_on,
            oak.start_cm,
            oak.replaces,
            "lot 1" if oak.replaces is None else "lot 2",
            None if oak.replaces is None else "planted in the gap",
        )
        for oak in oaks
    ]


def size_rows(oaks: Sequence[Oak], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the sheet of heights: living plants of standing plots, in millimeters."""
    reading = truth["height"]["reading_mm"]
    gone = missing_from(oaks, truth)
    rows: list[tuple[Cell, ...]] = []
    for day in MEASURED:
        for oak in oaks:
            if not living(oak, day) or day >= gone.get((oak.plot, oak.number), date.max):
                continue
            grown = 0.0 if day == oak.planted_on else 0.45 if day < MEASURED[-1] else 1.0
            full = oak.end_cm
            if oak.browsed_on and day < oak.browsed_on:
                full /= truth["mess"]["browsed_block"]["height_left"]
            cm = oak.start_cm * math.exp(grown * math.log(full / oak.start_cm))
            rows.append((day, oak.plot, oak.number, round(10 * cm / reading) * reading, None))
    return rows


def missing_from(oaks: Sequence[Oak], truth: Truth) -> dict[tuple[str, int], date]:
    """Return plant -> first visit at which the crew did not find it, never to find it again."""
    gone = {}
    for where in truth["mess"]["not_found_again"]:
        oak = first_survivor(oaks, where["plot"])
        gone[(oak.plot, oak.number)] = where["from"]
    lost = truth["mess"]["lost_plot"]
    for oak in oaks:
        if oak.plot == lost["plot"]:
            gone[(oak.plot, oak.number)] = lost["day"]
    return gone
