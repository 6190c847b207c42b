"""Rounds of picking: which rows are one pick of the crew, and plots that one of them misses.

Leans on numpy, pandas and the modules of this package.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.records.ground import Ground, day

NOT_PICKED, NOTHING_RIPE = "not picked", "nothing ripe"
NEAR_DAYS = 3.0


def pick_statuses(held: pd.DataFrame) -> "pd.Series[str]":
    """The status of every row; without one, a pick was picked."""
    if "status" in held:
        return held["status"].fillna("picked")
    return pd.Series("picked", index=held.index)


def pick_names(held: pd.DataFrame) -> "pd.Series[str]":
    """The pick of every row: as named, else rounds of days close together."""
    if "pick" in held and held["pick"].notna().all():
        return held["pick"].astype(str)
    if "date" not in held or held["date"].isna().all():
        return pd.Series("season", index=held.index)
    dates = pd.to_datetime(held["date"])
    days = np.sort(dates.dropna().unique())
    gaps = np.diff(days) / np.timedelta64(1, "D")
    # days close together are one pick of the crew's round, if no plot was picked twice in it
    group = np.concatenate([[0], np.cumsum(gaps > NEAR_DAYS)])
    named = dict(zip(days, group, strict=True))
    round_of = dates.map(named)
    twice = pd.DataFrame({"plot": held["plot"], "round": round_of, "date": dates})
    often = twice.drop_duplicates().groupby(["plot", "round"]).size()
    if (often > 1).any():
        return dates.dt.date.astype(str)
    return round_of.astype(str)


def ask_picks_missing(
    picks: pd.DataFrame, lost: Mapping[str, str], events: pd.DataFrame | None, ground: Ground
) -> None:
    """One query a pick that most plots have and some have not: their totals are not known.

    Plots without any pick, lost ones, and those of which an event says that a pick was missed
    are not asked about.
    """
    if not len(picks):
        return
    told = set() if events is None else set(events["plot"][events["what"] == "pick missed"])
    names = pick_names(picks)
    there = set(picks["plot"])
    plots = [p.plot for p in ground.layout.plots if p.plot in there and p.plot not in lost]
    for _, rows in picks.groupby(names, sort=False):
        seen = set(rows["plot"])
        absent = [plot for plot in plots if plot not in seen and plot not in told]
        if not absent or 2 * len(seen) < len(there):
            continue
        ground.out.query(
            str(rows["file"].iloc[0]),
            "pick missing",
            found=f"no amount of {_which(absent)} at {_called(rows)}",
            expected="a row a plot and pick, also where nothing was ripe",
            fix="add the amount, or a row with the status nothing ripe or not picked; as it "
            "stands the season total of such a plot is not known, and comparisons of totals "
            "leave it out",
            row=int(rows["row"].min()),
        )


def _which(plots: list[str]) -> str:
    return f"plot {plots[0]}" if len(plots) == 1 else f"plots {', '.join(plots)}"


def _called(rows: pd.DataFrame) -> str:
    """The pick as it is named, else by its days."""
    if rows["pick"].notna().all():
        return f"pick {rows['pick'].iloc[0]}"
    days = rows["date"].dropna()
    if not len(days):
        return "the pick"
    first, last = day(days.min()), day(days.max())
    return f"the pick of {first}" + ("" if first == last else f" to {last}")
