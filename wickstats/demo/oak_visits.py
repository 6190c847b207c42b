"""What the crew of the oak terrace wrote at each visit, slips included.

A plant is written down until it was seen dead twice. The truth's mess has been
given its plots before (``with_plots``). Leans on oaks.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from wickstats.demo.oaks import (
    VISITS,
    Oak,
    Truth,
    find_plot,
    first_survivor,
    living,
    missing_from,
)
from wickstats.layout.plots import Plot
from wickstats.simulate.sheets import Cell

Seen = tuple[str, str | None, str | None, str | None]  # status, condition, cause, note


def with_plots(truth: Truth, plots: Sequence[Plot]) -> dict[str, Any]:
    """Give every piece of mess that names a block and treatment its plot."""

    def placed(item: Any) -> Any:
        if isinstance(item, list):
            return [placed(one) for one in item]
        if isinstance(item, Mapping) and {"block", "treatment"} <= set(item):
            return {**item, "plot": find_plot(plots, item).plot}
        return item

    return {**truth, "mess": {key: placed(item) for key, item in truth["mess"].items()}}


def visit_rows(oaks: Sequence[Oak], truth: Truth) -> list[tuple[Cell, ...]]:
    """Rows of the visits, in the order in which they were written."""
    gone = missing_from(oaks, truth)
    slips = _slips(oaks, truth)
    lost = truth["mess"]["lost_plot"]
    twice = truth["mess"]["duplicate_visit_row"]
    twice_key = (twice["plot"], first_survivor(oaks, twice["plot"]).number)
    rows: list[tuple[Cell, ...]] = []
    times_dead: dict[tuple[str, int], int] = {}
    for number, day in enumerate(VISITS):
        observer = "A. Example" if number % 3 else "B. Example"
        for oak in oaks:
            key = (oak.plot, oak.number)
            after_loss = oak.plot == lost["plot"] and day > _first_visit_after(lost["day"])
            if oak.planted_on >= day or after_loss or times_dead.get(key, 0) >= 2:
                continue
            seen = slips.get((*key, day)) or _seen(oak, day, gone.get(key))
            if seen[0] == "dead" and (*key, day) not in slips:
                times_dead[key] = times_dead.get(key, 0) + 1
            status, condition, cause, note = seen
            if oak.plot == lost["plot"] and status == "not found":
                note = "plot washed away"
            row = (day, oak.plot, oak.number, status, condition, cause, observer, note)
            rows.append(row)
            if key == twice_key and day == twice["day"]:
                rows.append(row)
    return rows


def _first_visit_after(day: date) -> date:
    return next(visit for visit in VISITS if visit >= day)


def _seen(oak: Oak, day: date, missing: date | None) -> Seen:
    if missing is not None and day >= missing:
        return ("not found", None, None, None)
    if living(oak, day):
        dying = oak.doubtful_first and oak.dies_on is not None
        if dying and oak.dies_on is not None and (oak.dies_on - day).days <= 14:
            return ("doubtful", "leafless", None, None)
        if oak.browsed_on and 0 <= (day - oak.browsed_on).days <= 30:
            return ("alive", "browsed", None, None)
        return ("alive", None, None, None)
    first = oak.dies_on is not None and (day - oak.dies_on).days < 14
    return ("dead", None, oak.cause if first else None, None)


def _slips(oaks: Sequence[Oak], truth: Truth) -> dict[tuple[str, int, date], Seen]:
    """Return plant and visit -> what was written there in place of the truth."""
    mess = truth["mess"]
    out: dict[tuple[str, int, date], Seen] = {}

    def put(item: Mapping[str, Any], day: date, seen: Seen) -> None:
        oak = first_survivor(oaks, item["plot"])
        out[(oak.plot, oak.number, day)] = seen

    once = mess["not_found_once"]
    put(once, once["day"], ("not found", None, None, "label under the mulch?"))
    doubt = mess["doubtful_but_alive"]
    put(doubt, doubt["day"], ("doubtful", "leafless", None, None))
    dead = mess["dead_then_alive"]
    put(dead, dead["dead_on"], ("dead", None, "drought", None))
    put(dead, dead["alive_on"], ("alive", "resprouting", None, "green at the base"))
    away = mess["not_visited"]
    for oak in oaks:
        if oak.plot == away["plot"] and not _known_dead(oak, away["day"]):
            key = (oak.plot, oak.number, away["day"])
            out[key] = ("not visited", None, None, away["note"])
    return out


def _known_dead(oak: Oak, day: date) -> bool:
    return oak.dies_on is not None and sum(oak.dies_on <= v < day for v in VISITS) >= 2
