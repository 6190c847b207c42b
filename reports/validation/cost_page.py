"""The study of costs: the numbers that may be quoted, and its part of the page.

Bounds that the package sets itself: intervals of cost per survivor and per kg hold the truth
in 93 % or more; of cost per cubic meter saved, where they have an end, in 92 %; counting
those without an end, per cubic meter and per extra survivor, in 94 %. Leans on the package's
pages and core.numbers, cost_cells and cost_run.
"""

from collections.abc import Sequence
from typing import Any

from cost_cells import BLOCKS
from cost_run import BASE, DEARER, ITEMS, KG, PLANTS, SAVED, SHIFT, WORK, WORK_CV

from wickstats.core.numbers import fixed
from wickstats.pages.blocks import Column, Items, Section, Table, Text

COVER, COVER_SAVED, COVER_OPEN = 0.93, 0.92, 0.94
NAMES = {
    "survivor": "cost per surviving plant",
    "kg": "cost per kg",
    "m3 saved": "cost per cubic meter saved",
    "extra survivor": "extra cost for one more survivor",
}
LEVELS = {
    "survivor": "alive {level}, correlation {more}",
    "kg": "CV {level}, {more} without yield",
    "m3 saved": "CV between blocks {level}, correlation with cost {more}",
    "extra survivor": "{level} more alive, correlation {more}",
}


def summarize_costs(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest and median coverage by what was bought, most seasons without an interval."""
    out: dict[str, Any] = {"cells": len(cells)}
    for kind in NAMES:
        own = [c for c in cells if c["settings"]["kind"] == kind]
        rates = sorted(c["rate"] for c in own)
        out[kind] = {
            "lowest": rates[0],
            "median": rates[len(rates) // 2],
            "highest": rates[-1],
            "lowest_or_open": min(c["or open"] for c in own),
            "most_none": max(c["none"] for c in own),
        }
    return out


def cost_sections(cells: Sequence[dict[str, Any]], summary: dict[str, Any]) -> list[Section]:
    """What was found, and how the seasons were made."""
    return [
        Section(
            "Costs",
            (Items(tuple(_sentences(summary))), _table(cells)),
            sections=(Section("How costs were simulated", (Text(_how()),)),),
        )
    ]


def _sentences(summary: dict[str, Any]) -> list[str]:
    out = []
    for kind in ("survivor", "kg"):
        of = summary[kind]
        out.append(
            f"Intervals of {NAMES[kind]} (leaving out one block at a time, t) hold the true "
            f"value in {_rate(of['lowest'])} to {_rate(of['highest'])} % of seasons, "
            f"{_rate(of['median'])} % in the median setting."
        )
    saved, extra = summary["m3 saved"], summary["extra survivor"]
    out.append(
        f"Intervals of {NAMES['m3 saved']} (Fieller) hold it in {_rate(saved['lowest'])} % or "
        f"more where they have an end; in up to {_rate(saved['most_none'])} % of seasons (3 "
        "blocks whose saving differs by half) they have none, and words say so."
    )
    out.append(
        f"Of {NAMES['extra survivor']} few intervals have an end: none in up to "
        f"{_rate(extra['most_none'])} % of seasons. Counting those without an end they hold "
        f"the true value in {_rate(extra['lowest_or_open'])} % or more; those with an end "
        f"alone in as few as {_rate(extra['lowest'])} %, since only seasons that flatter the "
        "gain have one. The report says so beside such a cost."
    )
    return out


def _table(cells: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        told = cell["settings"]
        of = LEVELS[told["kind"]].format(level=f"{told['level']:g}", more=f"{told['more']:g}")
        rates = (_rate(cell["rate"]), _rate(cell["none"]), _rate(cell["or open"]))
        rows.append((NAMES[told["kind"]], str(told["blocks"]), of, *rates))
    return Table(
        "Costs: coverage of 95 % intervals, in percent",
        (
            Column("Cost"),
            Column("Blocks", numeric=True),
            Column("Setting"),
            Column("Covered, of intervals with an end", numeric=True),
            Column("No such interval", numeric=True),
            Column("Covered, an open one counted as holding it", numeric=True),
        ),
        tuple(rows),
    )


def _how() -> str:
    return (
        f"Two treatments in {', '.join(map(str, BLOCKS))} blocks. A plot costs {ITEMS:g} for "
        f"items and {WORK:g} for work whose hours vary by {100 * WORK_CV:g} % between plots. "
        f"Survivors: {PLANTS} plants a plot, beta-binomial, blocks shifted by {SHIFT:g} on the "
        f"logit. Kilograms: {KG:g} a plot, log-normal. Saved: {SAVED:g} cubic meters a plot "
        f"(gamma between blocks) for {DEARER:g} more. One more survivor: against {BASE:g} "
        "alive. The true cost is the mean cost over the mean of what it bought."
    )


def _rate(value: float) -> str:
    return fixed(100.0 * value, 1)
