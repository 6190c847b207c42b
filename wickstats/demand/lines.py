"""Supply as plain text for the terminal: sentences first, tables that line up.

Leans on core and ``visits``.
"""

from collections.abc import Sequence

from wickstats.core.numbers import MISSING, fixed, number, percent
from wickstats.core.supply import ReservoirPlan, Supply, SupplyRow
from wickstats.core.words import say
from wickstats.demand.visits import liters

# every intermediate: key, decimals, in the order of the reckoning
STEPS = (
    ("tmin_c", 1),
    ("tmax_c", 1),
    ("t_mean_c", 2),
    ("pressure_kpa", 2),
    ("gamma_kpa_c", 4),
    ("slope_kpa_c", 4),
    ("es_kpa", 3),
    ("ea_kpa", 3),
    ("vpd_kpa", 3),
    ("u2_m_s", 3),
    ("ra", 2),
    ("day_length_h", 2),
    ("rs", 2),
    ("rso", 2),
    ("rns", 2),
    ("rnl", 2),
    ("rn", 2),
    ("g", 2),
    ("et0_penman_mm", 2),
    ("et0_hargreaves_mm", 2),
    ("et0_mm", 2),
)
MOST_DAYS = 3


def supply_lines(supply: Supply, *, all_days: bool = False) -> list[str]:
    """Everything that was reckoned.

    Parameters
    ----------
    all_days
        Every day with its intermediates, not only the first ones.
    """
    out: list[str] = []
    plan = supply.reservoirs
    if plan is not None:
        out += [*plan.sentences, ""]
    out += [*(supply.supply_notes or ()), ""] if supply.supply_notes else []
    if supply.days:
        out += _days(supply.days, all_days=all_days)
    if supply.table:
        out += _weeks(supply.table)
    if plan is not None:
        out += _reservoirs(plan)
    while out and not out[-1]:
        out.pop()
    return out


def columns(heads: Sequence[str], rows: Sequence[Sequence[str]], numeric: int) -> list[str]:
    """Rows in columns, the last ``numeric`` ones aligned at the decimal point."""
    first = len(heads) - numeric
    table = [list(row) for row in rows]
    for k in range(first, len(heads)):
        after = max((_behind(row[k]) for row in table), default=0)
        for row in table:
            row[k] += " " * (after - _behind(row[k]))
    widths = [max(len(h), *(len(r[k]) for r in table), 0) for k, h in enumerate(heads)]
    return [
        "  ".join(
            cell.ljust(wide) if k < first else cell.rjust(wide)
            for k, (cell, wide) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in [list(heads), *table]
    ]


def _behind(cell: str) -> int:
    """Characters from the decimal point on."""
    body = cell.rstrip("%\N{NO-BREAK SPACE} ")
    point = body.find(".")
    return len(cell) - (len(body) if point < 0 else point)


def _days(rows: Sequence[SupplyRow], *, all_days: bool) -> list[str]:
    """One column a day, one line a step; or, of all days, one line a day."""
    shown = rows if all_days else rows[:MOST_DAYS]
    out = [say("supply steps title")]
    for place in range(0, len(shown), MOST_DAYS):
        part = shown[place : place + MOST_DAYS]
        table = []
        for key, places in STEPS:
            cells = [_cell(row[key], places) for row in part]
            table.append([say(f"supply step {key}"), *cells])
        heads = ["", *(str(row["date"]) for row in part)]
        out += columns(heads, table, len(part))
        out += [
            say("supply route", date=r["date"], route=r["route"], why=r["why"]) for r in part
        ]
        out.append("")
    if len(shown) < len(rows):
        out += [say("supply more days", n=len(rows) - len(shown)), ""]
    return out


def _cell(value: float | str | None, places: int) -> str:
    return fixed(value, places) if isinstance(value, float) else MISSING


def _weeks(rows: Sequence[SupplyRow]) -> list[str]:
    heads = [say(f"supply head {k}") for k in ("from", "treatment")]
    heads += [
        say(f"supply head {k}")
        for k in ("et0_mm", "rain_l", "demand_l", "planned_l", "delivered_l", "share")
    ]
    table = []
    for row in rows:
        share = row["share"]
        when = row["from"] if row["period"] == "week" else say("supply whole season")
        table.append(
            [
                str(when),
                str(row["treatment"]),
                _cell(row["et0_mm"], 1),
                *(_cell(row[k], 2) for k in ("rain_l", "demand_l", "planned_l", "delivered_l")),
                percent(share) if isinstance(share, float) else MISSING,
            ]
        )
    return [say("supply table title"), *columns(heads, table, 6), ""]


def _reservoirs(plan: ReservoirPlan) -> list[str]:
    out = []
    for treatment, source in dict.fromkeys((n.treatment, n.loss_from) for n in plan.needs):
        needs = [n for n in plan.needs if (n.treatment, n.loss_from) == (treatment, source)]
        own = [c for c in plan.chances if (c.treatment, c.loss_from) == (treatment, source)]
        first = needs[0]
        out.append(
            say(
                "supply chances title",
                treatment=treatment,
                basis=say(f"supply basis {source}"),
                cv=percent(first.cv),
                why=first.cv_from,
            )
        )
        heads = [
            say("supply head volume"),
            *(say("supply every", days=n.every_d) for n in needs),
        ]
        sizes = sorted({c.volume_l for c in own})
        table = [
            [
                liters(size),
                *(
                    f"{fixed(100.0 * c.chance, 1)} ({fixed(100.0 * c.error, 1)})"
                    for n in needs
                    for c in own
                    if (c.volume_l, c.every_d) == (size, n.every_d)
                ),
            ]
            for size in sizes
        ]
        table.append([say("supply row needed"), *(number(n.volume_l) for n in needs)])
        table.append([say("supply row reserve"), *(number(n.with_reserve_l) for n in needs)])
        out += [*columns(heads, table, len(needs)), ""]
    return out
