"""The table of picks: what was harvested, by plot (or plant) and pick.

Leans on the modules of this package.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.design.tables import PICKS
from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import (
    Ground,
    ask_out_of_season,
    drop,
    groups,
    need_dates,
    with_columns,
)
from wickstats.records.ledger import planned_liters


def check_picks(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a plot (or plant) and pick; nothing ripe is a zero that somebody saw."""
    frame = with_columns(frame, date="date", plant="text", pick="text", status="text")
    fixed = {"plot", "date", "pick", "plant", "status", "note", "file", "row"}
    names = [c for c in frame.columns if c not in fixed]
    need_dates(frame, ("plot", "plant", "pick"), ground.out)
    filled = frame[names].notna().any(axis=1).to_numpy()
    some = (frame[names] > 0).any(axis=1).to_numpy()
    status = frame["status"].to_numpy()
    silent = (status == "not picked") | (status == "nothing ripe")
    for file, group in groups(frame[silent & some], "file"):
        ground.out.query(
            file,
            "status and amount disagree",
            found=f"an amount where nothing was picked in {rows_in_words(group['row'])}",
            expected="picked, or no amount",
            fix="correct one of the two; the rows are not used",
            row=int(group["row"].min()),
            column="status",
        )
    frame = drop(frame, silent & some, ground.out, "status and amount disagree")
    empty = (frame["status"].isna() | (frame["status"] == "picked")).to_numpy() & ~filled[
        ~(silent & some)
    ]
    for file, group in groups(frame[empty], "file"):
        ground.out.query(
            file,
            "no amount",
            found=f"no amount and no reason in {rows_in_words(group['row'])}",
            expected="an amount, or the status nothing ripe or not picked",
            fix="fill in the amount or the status; the rows are not used, blank is not zero",
            row=int(group["row"].min()),
        )
    frame = drop(frame, empty, ground.out, "no amount and no status").copy()
    frame = settle_duplicates(
        frame, ("plot", "plant", "date", "pick"), ground.out, "one plot (or plant) and pick"
    )
    _ask_marketable(frame, ground)
    ask_out_of_season(frame, ground, "a pick")
    return frame


def _ask_marketable(frame: pd.DataFrame, ground: Ground) -> None:
    if "mass_kg" not in frame or "marketable_kg" not in frame:
        return
    more = frame["marketable_kg"].to_numpy() > frame["mass_kg"].to_numpy() * (1 + 1e-9)
    for file, group in groups(frame[more], "file"):
        ground.out.query(
            file,
            "marketable above all",
            found=f"more marketable than picked in all in {rows_in_words(group['row'])}",
            expected="marketable_kg not above mass_kg",
            fix="correct one of the two; both are used as they are",
            row=int(group["row"].min()),
            column="marketable_kg",
        )


def ask_pick_without_water(
    picks: pd.DataFrame, water: pd.DataFrame | None, ground: Ground
) -> None:
    """A unit with a yield but no water row before it, where water was planned for it."""
    if water is None or not len(picks):
        return
    unit_of = ground.layout.unit_of
    units_of_water = set(water["unit"])
    dry = {
        p.plot
        for p in ground.layout.plots
        if unit_of[p.plot] not in units_of_water and not _planned_dry(p.levels, ground)
    }
    amounts = [
        c for c in PICKS.column_names if c in picks and c in ("mass_kg", "marketable_kg")
    ]
    taken = (
        (picks[amounts] > 0).any(axis=1).to_numpy()
        if amounts
        else np.ones(len(picks), dtype=bool)
    )
    wanting = picks[picks["plot"].isin(dry).to_numpy() & taken]
    for plot, group in groups(wanting, "plot"):
        ground.out.query(
            str(group["file"].iloc[0]),
            "pick without water",
            found=f"picks of plot {plot} in {rows_in_words(group['row'])}",
            expected="water records of its unit",
            fix="add the water, or set `planned_l` to 0 for this treatment if it gets none",
            row=int(group["row"].min()),
            column="plot",
        )


def _planned_dry(levels: Mapping[str, str], ground: Ground) -> bool:
    return planned_liters(levels, ground.trial) == 0
