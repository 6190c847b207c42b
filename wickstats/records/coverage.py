"""Plots of which a table says nothing, although it says something of others.

A blank is never a result; but a sheet that was not typed in looks the same as plots of
which nothing was left, so a person is asked. Leans on the modules of this package.
"""

from collections.abc import Iterator, Mapping

import pandas as pd

from wickstats.core.numbers import number
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, units_of
from wickstats.records.ledger import planned_liters
from wickstats.records.visits import UNSEEN

MOST_NAMED = 12


def ask_plots_without_records(
    tables: Mapping[str, pd.DataFrame], lost: Mapping[str, str], ground: Ground
) -> None:
    """One query a table (or quantity): which plots of the layout have no record in it.

    Parameters
    ----------
    tables
        Checked tables.
    lost
        Plot to why nothing of it can be used; plots lost to an event are not asked about.
    """
    gone = {plot for plot, reason in lost.items() if reason != "no records"}
    plots = [p.plot for p in ground.layout.plots if p.plot not in gone]
    for table, what, column, rows in _looked_at(tables, ground):
        if not len(tables[table]):
            continue
        seen = set(rows["plot"])
        absent = [plot for plot in plots if plot not in seen]
        if not absent:
            continue
        named = ", ".join(absent[:MOST_NAMED])
        more = f" and {len(absent) - MOST_NAMED} more" if len(absent) > MOST_NAMED else ""
        ground.out.query(
            str(tables[table]["file"].iloc[0]),
            "plots without records",
            found=f"{len(absent)} of {len(plots)} plots without {what}: {named}{more}",
            expected="every plot of the layout that was not lost",
            fix="fill in what is missing, or tell the loss in events; nothing is said of "
            "these plots here",
            column=column,
        )


def ask_units_without_water(
    units: pd.DataFrame,
    water: pd.DataFrame,
    events: pd.DataFrame | None,
    asked: set[str],
    ground: Ground,
) -> None:
    """A unit that got nothing or kept all of it where it is to get some, or some where none.

    ``asked`` are units whose losses are asked about already.
    """
    plots = {ground.layout.unit_of[p.plot]: p for p in ground.layout.plots}
    kept = (units["delivered_l"] == 0.0) & (units["applied_l"] > 0.0)
    for unit in units["unit"][(kept & ~units["unit"].isin(asked)).to_numpy()]:
        rows = water[(water["unit"] == unit).to_numpy()]
        if rows["date"].nunique() < 2:
            continue  # a season that has just begun
        ground.out.query(
            str(rows["file"].iloc[0]),
            "all of it was kept",
            found=f"water given to {unit}, none of it gone, in {rows_in_words(rows['row'])}",
            expected="levels that fall between visits",
            fix="look for a blocked wick or levels that were copied, and note it in events; "
            "a unit to which nothing was delivered has no yield per liter",
            row=int(rows["row"].min()),
        )
    given = (units["planned_l"] == 0.0) & (units["applied_l"] > 0.0)
    if events is not None:
        told = events[(events["what"] == "wrong treatment").to_numpy()]
        given &= ~units["unit"].isin(units_of(told, ground.layout))
    for unit, liters in units.loc[given, ["unit", "applied_l"]].itertuples(index=False):
        rows = water[(water["unit"] == unit).to_numpy()]
        ground.out.query(
            str(rows["file"].iloc[0]),
            "water that was not planned",
            found=f"{number(liters)} L given to {unit} in {rows_in_words(rows['row'])}, whose "
            "treatment is planned to get none",
            expected="no water",
            fix="correct the plot or `planned_l`, or tell a wrong treatment in events; it "
            "counts as given",
            row=int(rows["row"].min()),
        )
    none = (units["applied_l"] == 0.0) & ~(units["delivered_l"] > 0.0)
    for unit in units["unit"][none.to_numpy()]:
        if planned_liters(plots[unit].levels, ground.trial) == 0:
            continue
        rows = water[(water["unit"] == unit).to_numpy()]
        ground.out.query(
            str(rows["file"].iloc[0]),
            "no water at all",
            found=f"0 L given to {unit} in {rows_in_words(rows['row'])}",
            expected="some water, or a treatment that is planned to get none",
            fix="correct the amounts, or set `planned_l` to 0 for its treatment; a unit "
            "without water has no yield per liter and is left out there",
            row=int(rows["row"].min()),
            column="applied_l",
        )


def _looked_at(
    tables: Mapping[str, pd.DataFrame], ground: Ground
) -> Iterator[tuple[str, str, str | None, pd.DataFrame]]:
    """Table, what it should tell of every plot, its column, and the rows that tell it."""
    visits = tables.get("visits")
    if visits is not None:
        said = visits["status"].notna() & (visits["status"] != UNSEEN)
        counted = visits[["alive_n", "dead_n", "not_found_n"]].notna().any(axis=1)
        yield "visits", "a plant seen in visits", None, visits[said | counted]
    sizes = tables.get("measurements")
    if sizes is not None:
        kinds = ("growth", "measurement", "score")
        columns = dict.fromkeys(r.column for r in ground.trial.responses if r.kind in kinds)
        for column in columns:
            if column in sizes:
                yield (
                    "measurements",
                    f"a value of {column}",
                    column,
                    sizes[sizes[column].notna()],
                )
    if "picks" in tables:
        yield "picks", "a row in picks", None, tables["picks"]
    if "readings" in tables:
        yield "readings", "a row in readings", None, tables["readings"]
    if "lifetimes" in tables:
        yield "lifetimes", "a row in lifetimes", None, tables["lifetimes"]
