"""Dates at which shares alive are asked for, and plots that no visit served.

A visit serves a date that lies within 14 days of it. Units that nobody visited then are not
known, and are left out of the share; told while the crew can still go there or find the
sheet. Nothing is asked about dates that may still have their visit. Leans on the modules of
this package.
"""

from collections.abc import Mapping
from datetime import date

import numpy as np
import pandas as pd

from wickstats.records.coverage import MOST_NAMED
from wickstats.records.ground import Ground, day
from wickstats.records.visits import UNSEEN

NEAR_DAYS = 14.0


def ask_dates_unserved(
    visits: pd.DataFrame | None,
    lives: pd.DataFrame | None,
    lost: Mapping[str, str],
    ground: Ground,
) -> None:
    """One query a date without any visit near it, or with plots that were not visited then.

    Parameters
    ----------
    visits
        Checked rows.
    lives
        One row a plant; plots whose plants were all seen dead before need no visit.
    lost
        Plot to why nothing of it can be used; these are not asked about.
    """
    if visits is None or lives is None or "date" not in visits:
        return
    went = visits[visits["date"].notna() & (visits["status"].fillna("") != UNSEEN)]
    if not len(went):
        return
    file, days = str(went["file"].iloc[0]), went["date"].to_numpy(dtype="datetime64[ns]")
    for asked in _dates(ground):
        near = np.abs(days - asked) <= np.timedelta64(int(NEAR_DAYS), "D")
        if near.any():
            _ask_plots(file, set(went["plot"][near]), asked, lives, lost, ground)
        elif (days > asked).any():
            ground.out.query(
                file,
                "date without a visit",
                found=f"no visit within {NEAR_DAYS:g} days of {day(asked)}",
                expected="a visit near every date at which survival is asked for",
                fix="name the date of a visit in `at`; as it stands the shares alive are those "
                "of the last visit before",
                column="date",
            )


def _dates(ground: Ground) -> list[np.datetime64]:
    asked = {
        np.datetime64(at, "ns")
        for response in ground.trial.responses
        if response.kind == "survival"
        for at in response.at
        if isinstance(at, date)
    }
    return sorted(asked)


def _ask_plots(
    file: str,
    seen: set[str],
    asked: np.datetime64,
    lives: pd.DataFrame,
    lost: Mapping[str, str],
    ground: Ground,
) -> None:
    died = lives["first_dead"].to_numpy(dtype="datetime64[ns]")
    living = set(lives["plot"][lives["original"].to_numpy(dtype=bool) & ~(died < asked)])
    plots = [p.plot for p in ground.layout.plots if p.plot in living and p.plot not in lost]
    absent = [plot for plot in plots if plot not in seen]
    if not absent:
        return
    named = ", ".join(absent[:MOST_NAMED])
    more = f" and {len(absent) - MOST_NAMED} more" if len(absent) > MOST_NAMED else ""
    ground.out.query(
        file,
        "plots not visited",
        found=f"{len(absent)} of {len(plots)} plots with living plants without a visit within "
        f"{NEAR_DAYS:g} days of {day(asked)}: {named}{more}",
        expected="all of them visited near a date at which survival is asked for",
        fix="type in what is missing, or go there if it is not too late; as it stands they are "
        "left out of the shares alive at that date",
        column="plot",
    )
