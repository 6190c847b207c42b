"""The table of lifetimes: days from planting, for data without visits.

Leans on the modules of this package.
"""

import numpy as np
import pandas as pd

from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, drop, groups, need, with_columns


def check_lifetimes(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a plant; seen dead not before it was last seen alive."""
    frame = with_columns(frame, cause="text")
    need(frame, ("plant", "last_alive_d"), ground.out)
    frame = settle_duplicates(frame, ("plot", "plant"), ground.out, "one plant")
    backwards = frame["first_dead_d"].to_numpy() < frame["last_alive_d"].to_numpy()
    for file, group in groups(frame[backwards], "file"):
        ground.out.query(
            file,
            "dead before alive",
            found=f"first_dead_d before last_alive_d in {rows_in_words(group['row'])}",
            expected="first_dead_d not before last_alive_d",
            fix="correct one of the two; the rows are not used",
            row=int(group["row"].min()),
            column="first_dead_d",
        )
    return drop(frame, backwards, ground.out, "seen dead before it was last seen alive")


def lives_from_lifetimes(frame: pd.DataFrame) -> pd.DataFrame:
    """One row a plant in days; death lies in (last_alive, first_dead].

    Where both days are equal the day of death is known exactly.
    """
    dead = frame["first_dead_d"].notna().to_numpy()
    n = len(frame)
    last, first = frame["last_alive_d"].to_numpy(), frame["first_dead_d"].to_numpy()
    return pd.DataFrame(
        {
            "plot": frame["plot"].to_numpy(),
            "plant": frame["plant"].to_numpy(),
            "planted_on": np.zeros(n),
            "original": np.ones(n, dtype=bool),
            "replaces": np.full(n, None, dtype=object),
            "last_alive": last,
            "first_dead": first,
            "cause": frame["cause"].to_numpy(),
            "last_seen": np.where(dead, first, last),
            "fate": np.where(dead, "dead", "alive").astype(object),
            "doubtful_from": np.full(n, np.nan),
            "revived": np.zeros(n, dtype=bool),
        }
    )
