"""The water study's part of the page.

Leans on the package's pages and core.numbers, water_cells, water_run and water_seasons.
"""

from collections.abc import Sequence
from typing import Any

from water_cells import BLOCKS
from water_run import BOUND, FALL, PLANT_SD
from water_seasons import CAN_WITHIN, MISHAP, READ_SD, WEEKS
from water_summary import LEDGER

from wickstats.core.numbers import fixed
from wickstats.pages.blocks import Column, Items, Section, Table, Text

NAMES = {
    "unit": "a unit's own delivered water",
    "arm mean": "delivered water of an arm",
    "ratio of arms": "ratio of two arms' delivered water",
    "log ratio": "yield per liter, ratio of two arms",
    "log ratio, one arm": "yield per liter of an arm",
    "zero rule": "the same with zero yields, ratio of two arms",
    "zero rule, one arm": "the same with zero yields, one arm",
    "called equal, two arms": "arms that differ by the bound, called equal",
    "called equal, one arm": "an arm that differs from its plan by the bound, called equal",
    "fall a place": "fall along a line",
}


def water_sections(cells: Sequence[dict[str, Any]], summary: dict[str, Any]) -> list[Section]:
    """What was found, and how the seasons were made."""
    return [
        Section(
            "Water",
            (Items(tuple(_sentences(summary))), _ledgers(cells), _others(cells)),
            sections=(Section("How water was simulated", (Text(_how()),)),),
        )
    ]


def _sentences(summary: dict[str, Any]) -> list[str]:
    out = []
    for name in LEDGER:
        tame = summary["ledger"][name]["cv up to 0.3"]
        wild = summary["ledger"][name]["cv 0.5 and 0.8"]
        out.append(
            f"Intervals of {NAMES[name]} cover {_rate(tame['lowest'])} % or more at a "
            f"coefficient of variation between units up to 0.3, {_rate(wild['lowest'])} % or "
            "more at 0.5 and 0.8, planted leaks and blocked wicks included."
        )
    for name, of in summary["estimates"].items():
        if name.startswith("called equal"):
            out.append(f"{_capital(NAMES[name])}: in {_rate(of['highest'])} % at most.")
        else:
            out.append(
                f"Intervals of {NAMES[name]} cover {_rate(of['lowest'])} to "
                f"{_rate(of['highest'])} %, {_rate(of['median'])} % in the median cell."
            )
    out.append(
        "Rates of the zero rule are over seasons in which some unit bore nothing and each side "
        "bore in two blocks or more. Where one arm's own units happen to bear and others' do "
        "not, its numbers say nothing of the zeros it could have had: the wider of two "
        "intervals counts, the other from its bearing units and their share."
    )
    return out


def _ledgers(cells: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        told = cell["settings"]
        if told["kind"] == "ledger":
            rates = [_rate(cell["rates"][name]["rate"]) for name in LEDGER]
            parts = (told["mishaps"], told["instrument"])
            rows.append((str(told["blocks"]), f"{told['cv']:g}", *parts, *rates))
    heads = ("Unit", "Arm mean", "Ratio of arms")
    return Table(
        "Water ledgers: coverage of 95 % intervals, in percent",
        (
            Column("Blocks", numeric=True),
            Column("CV between units", numeric=True),
            Column("Leaks and blocked wicks"),
            Column("Measured by"),
            *(Column(head, numeric=True) for head in heads),
        ),
        tuple(rows),
    )


def _others(cells: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        told = cell["settings"]
        if told["kind"] == "ledger":
            continue
        for name, of in cell["rates"].items():
            if of["rate"] is not None:
                more = f"{told['zeros']:g}" if told["kind"] == "yield per liter" else ""
                places = str(told["places"] or "")
                row = (NAMES[name], str(told["blocks"]), f"{told['cv']:g}", more, places)
                rows.append((*row, _rate(of["rate"]), f"{of['judged']:,}".replace(",", " ")))
    return Table(
        "Yield per liter, equal water and lines: coverage (or calls), in percent",
        (
            Column("Estimate"),
            Column("Blocks", numeric=True),
            Column("CV", numeric=True),
            Column("Share of zero yields", numeric=True),
            Column("Plants a line", numeric=True),
            Column("Rate", numeric=True),
            Column("Seasons judged", numeric=True),
        ),
        tuple(rows),
    )


def _how() -> str:
    return (
        f"Two arms in {', '.join(map(str, BLOCKS))} blocks. Reservoirs of both arms are filled "
        f"up every week for {WEEKS} weeks; the can reads up to {100 * CAN_WITHIN:g} % wrong, "
        f"the same all season; levels are read with a standard deviation of {READ_SD:g} L on a "
        f"scale of quarter liters. Planted: a leak that was measured in {MISHAP:.2f} of the "
        f"units, a wick blocked for two weeks in {MISHAP:.2f}. A unit's interval is to hold "
        "its own true liters; an arm's the mean logarithm over all units like its own, the "
        "error of the can included; the ratio's the difference of the two. Yields are "
        "log-normal around yield per liter times water. Arms or plans that differ by just "
        f"{BOUND:g} times are to be called equal in 5 % at most. Lines fall by "
        f"{abs(FALL):g} a place on the logarithm, plants vary by {PLANT_SD:g} around them."
    )


def _rate(value: float) -> str:
    return fixed(100.0 * value, 1)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
