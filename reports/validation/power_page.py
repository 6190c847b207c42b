"""The part of the page on power. Leans on the package's pages and core.numbers, power_run."""

from typing import Any

from power_run import CORRELATION, CV, MOST, PLANTS

from wickstats.core.numbers import fixed
from wickstats.pages.blocks import Column, Items, Section, Table, Text

LIMIT = 0.06  # rejection of a true null after a blind second year
KIND = {
    "size": "sizes (noncentral t)",
    "share": "shares (simulated)",
    "count": "counts (simulated)",
}


def power_sections(summary: dict[str, Any]) -> list[Section]:
    """What was found, and how."""
    second = summary["second_year"]
    low, high = second["rejection"]
    where = second["highest"]
    told = [
        f"Power of {KIND[kind]} claimed before planting and reached in other seasons differ by "
        f"{fixed(100 * gap, 1)} points at most."
        for kind, gap in summary["largest_gap"].items()
    ]
    told.append(
        f"After a second year whose number of blocks was corrected blind, a true null pair is "
        f"rejected in {fixed(100 * low, 1)} to {fixed(100 * high, 1)} % "
        f"(most with {where['blocks']} first-year blocks, {where['arms']} arms)."
    )
    above = [c["settings"] for c in summary["second"] if c["rejection"] > LIMIT]
    told.append(
        f"In no setting of the second year is that above {fixed(100 * LIMIT, 0)} %."
        if not above
        else f"It is above {fixed(100 * LIMIT, 0)} % with "
        + "; ".join(f"{s['blocks']} blocks, {s['arms']} arms, SD {s['sd']:g}" for s in above)
        + "."
    )
    how = (
        f"{summary['cells']} settings, {summary['seasons_a_cell']:,} seasons each; {PLANTS} "
        f"plants a plot, shares with plot correlation {CORRELATION}, counts with a "
        f"coefficient of variation of {CV}. Second year: {second['cells']} settings, "
        f"{second['trials_a_cell']:,} trials each; at most {MOST} blocks in all; the SD is in "
        "units of the difference that matters, for which the blocks are chosen; treatment "
        "differences do not change between years."
    )
    return [
        Section(
            "Power",
            (Items(tuple(told)), _claims(summary["claims"]), _second(summary["second"])),
            sections=(Section("How power was checked", (Text(how),)),),
        )
    ]


def _claims(cells: list[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        s = cell["settings"]
        words = (s["kind"], str(s["blocks"]), str(s["arms"]), s["adjustment"])
        pair = f"{s['first']:g} and {s['second']:g}"
        rates = [fixed(100 * cell[name], 1) for name in ("claimed", "reached")]
        rows.append((*words, pair, *rates))
    return Table(
        "Power claimed and reached, in percent",
        (
            Column("Response"),
            Column("Blocks", numeric=True),
            Column("Arms", numeric=True),
            Column("Adjustment"),
            Column("Levels"),
            Column("Claimed", numeric=True),
            Column("Reached", numeric=True),
        ),
        tuple(rows),
    )


def _second(cells: list[dict[str, Any]]) -> Table:
    rows = []
    for cell in cells:
        s = cell["settings"]
        rows.append(
            (
                str(s["blocks"]),
                str(s["arms"]),
                f"{s['sd']:g}",
                fixed(100 * cell["rejection"], 1),
                fixed(100 * cell["power"], 1),
                fixed(cell["power_blocks"], 1),
            )
        )
    return Table(
        "A second year corrected blind, in percent",
        (
            Column("First-year blocks", numeric=True),
            Column("Arms", numeric=True),
            Column("SD", numeric=True),
            Column("Null pair rejected", numeric=True),
            Column("Shown what matters", numeric=True),
            Column("Blocks in all", numeric=True),
        ),
        tuple(rows),
    )
