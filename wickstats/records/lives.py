"""Visits become lives: between which two days every plant died, or until when it lived.

Death lies in (last seen alive, first seen dead]. A doubtful plant is neither: the
interval still opens at the last confirmed life, and the first doubtful day is kept
beside it. A plant that was not found is known until it was last seen. A plant seen alive
after it was seen dead was not dead: that sighting is set aside and told. Leans on numpy
and pandas.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from wickstats.records.duplicates import group_codes
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import NO_DAY, Ground, day, drop, groups

_LONG_AGO = np.iinfo(np.int64).min  # numpy's NaT
_NEVER = np.iinfo(np.int64).max
FAR_DAYS = 180

COLUMNS = (
    "plot",
    "plant",
    "planted_on",
    "original",
    "replaces",
    "last_alive",
    "first_dead",
    "cause",
    "last_seen",
    "fate",
    "doubtful_from",
    "revived",
)


def lives_from_visits(
    visits: pd.DataFrame,
    origins: Mapping[tuple[str, str], "Origin"],
    lost: Mapping[str, pd.Timestamp],
    ground: Ground,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One row a plant, and the visits that are used.

    Parameters
    ----------
    visits
        Checked rows that name a plant.
    origins
        What is known of plants before any visit: planting day, what they replace.
    lost
        Plot to the day on which all of it was lost.
    """
    visits = _set_aside_lost(visits, lost, ground)
    visits = _set_aside_early(visits, origins, ground)
    codes = group_codes(visits, ("plot", "plant"))
    n = int(codes.max()) + 1 if len(codes) else 0
    time = visits["date"].to_numpy().astype("datetime64[ns]").astype(np.int64)
    status = visits["status"].to_numpy()
    alive, dead = status == "alive", status == "dead"
    doubtful, missing = status == "doubtful", status == "not found"

    last_alive = _latest(codes, time, alive, n)
    revived = dead & (time < last_alive[codes])
    if revived.any():
        _ask_revived(visits, revived, last_alive[codes], ground)
        dead = dead & ~revived
    first_dead = _earliest(codes, time, dead, n)
    _ask_doubtful_after_death(visits, doubtful & (time > first_dead[codes]), ground)
    open_doubt = doubtful & (time > last_alive[codes]) & (time < first_dead[codes])
    doubtful_from = _earliest(codes, time, open_doubt, n)
    last_seen = _latest(codes, time, alive | doubtful | dead, n)
    last_missed = _latest(codes, time, missing, n)

    where = np.zeros(n, dtype=np.int64)
    where[codes[::-1]] = np.arange(len(codes))[::-1]
    died = first_dead != _NEVER
    fate = np.where(
        died, "dead", np.where(last_seen == _LONG_AGO, "never seen", "alive")
    ).astype(object)
    fate[~died & (last_missed > last_seen)] = "not found"
    lives = pd.DataFrame(
        {
            "plot": visits["plot"].to_numpy()[where],
            "plant": visits["plant"].to_numpy()[where],
            "last_alive": last_alive.astype("datetime64[ns]"),
            "first_dead": np.where(died, first_dead, _LONG_AGO).astype("datetime64[ns]"),
            "cause": _causes(visits, codes, time, dead, n),
            "last_seen": last_seen.astype("datetime64[ns]"),
            "fate": fate,
            "doubtful_from": np.where(doubtful_from == _NEVER, _LONG_AGO, doubtful_from).astype(
                "datetime64[ns]"
            ),
            "revived": np.bincount(codes[revived], minlength=n).astype(bool),
        }
    )
    first_day = np.datetime64(int(time.min()), "ns") if len(time) else NO_DAY
    lives = _with_origins(lives, origins, first_day, visits, ground)
    return lives, drop(visits, revived, ground.out, "dead, but seen alive later")


def _latest(codes: np.ndarray, time: np.ndarray, rows: np.ndarray, n: int) -> np.ndarray:
    out = np.full(n, _LONG_AGO)
    np.maximum.at(out, codes[rows], time[rows])
    return out


def _earliest(codes: np.ndarray, time: np.ndarray, rows: np.ndarray, n: int) -> np.ndarray:
    out = np.full(n, _NEVER)
    np.minimum.at(out, codes[rows], time[rows])
    return out


def _causes(
    visits: pd.DataFrame, codes: np.ndarray, time: np.ndarray, dead: np.ndarray, n: int
) -> np.ndarray:
    """The cause noted first among the days on which a plant was seen dead."""
    causes = np.full(n, None, dtype=object)
    if not dead.any():
        return causes
    said = visits["cause"].to_numpy()
    rows = np.flatnonzero(dead & visits["cause"].notna().to_numpy())
    rows = rows[np.argsort(-time[rows], kind="stable")]
    causes[codes[rows]] = said[rows]  # the earliest is written last
    return causes


def _ask_revived(
    visits: pd.DataFrame, revived: np.ndarray, alive_on: np.ndarray, ground: Ground
) -> None:
    wrong = visits[revived].assign(alive_on=alive_on[revived].astype("datetime64[ns]"))
    for (plot, plant), group in groups(wrong, "plot", "plant"):
        ground.out.query(
            str(group["file"].iloc[0]),
            "alive after dead",
            found=f"plant {plant} of plot {plot} dead on {day(group['date'].min())} and alive "
            f"on {day(group['alive_on'].iloc[0])}",
            expected="no life after death",
            fix="correct the visit that is wrong; as it stands the death is set aside",
            row=int(group["row"].min()),
            column="status",
        )


def _ask_doubtful_after_death(visits: pd.DataFrame, rows: np.ndarray, ground: Ground) -> None:
    for (plot, plant), group in groups(visits[rows], "plot", "plant"):
        ground.out.query(
            str(group["file"].iloc[0]),
            "doubtful after dead",
            found=f"plant {plant} of plot {plot} dead, and doubtful on "
            f"{day(group['date'].min())}",
            expected="no doubt after death",
            fix="correct the visit that is wrong; as it stands the death counts",
            row=int(group["row"].min()),
            column="status",
        )


def _set_aside_lost(
    visits: pd.DataFrame, lost: Mapping[str, pd.Timestamp], ground: Ground
) -> pd.DataFrame:
    """What was seen dead when its whole plot was lost did not die of its treatment."""
    if not lost:
        return visits
    since = visits["plot"].map(lost).to_numpy(dtype="datetime64[ns]")
    after = (visits["date"].to_numpy() >= since) & (visits["status"] == "dead").to_numpy()
    for plot, group in groups(visits[after], "plot"):
        ground.out.query(
            str(group["file"].iloc[0]),
            "dead in a lost plot",
            found=f"plants of plot {plot} dead in {rows_in_words(group['row'])}, "
            "when the plot was lost",
            expected="lost, not dead of its treatment",
            fix="nothing to do if the event took the whole plot: these deaths are set aside",
            row=int(group["row"].min()),
        )
    return drop(visits, after, ground.out, "the plot was lost")


def _set_aside_early(
    visits: pd.DataFrame, origins: Mapping[tuple[str, str], "Origin"], ground: Ground
) -> pd.DataFrame:
    """A sighting before the plant was planted, of a plant that was seen after it too."""
    if not origins or not len(visits):
        return visits
    codes = group_codes(visits, ("plot", "plant"))
    first = np.unique(codes, return_index=True)[1]
    names = zip(
        visits["plot"].to_numpy()[first], visits["plant"].to_numpy()[first], strict=True
    )
    known = (origins.get(name) for name in names)
    planted = np.asarray([NO_DAY if o is None else o.planted_on for o in known], "M8[ns]")
    seen = visits["status"].isin(("alive", "doubtful", "dead")).to_numpy()
    early = seen & (visits["date"].to_numpy() < planted[codes])  # NaT: no
    early &= (np.bincount(codes[seen & ~early], minlength=first.size) > 0)[codes]
    told = visits[early].assign(planted=planted[codes][early])
    for (file, when, day_one), group in groups(told, "file", "date", "planted"):
        ground.out.query(
            file,
            "seen before planting",
            found=f"plants planted on {day(day_one)} seen on {day(when)}, "
            f"in {rows_in_words(group['row'])}",
            expected="visits after planting",
            fix="correct the date of the visit or of planting; the rows are not used",
            row=int(group["row"].min()),
            column="date",
        )
    return drop(visits, early, ground.out, "before the plant was planted")


class Origin:
    """What is known of a plant before any visit."""

    __slots__ = ("planted_on", "replaces")

    def __init__(self, planted_on: np.datetime64, replaces: str | None) -> None:
        self.planted_on = planted_on
        self.replaces = replaces


def _with_origins(
    lives: pd.DataFrame,
    origins: Mapping[tuple[str, str], Origin],
    first_day: np.datetime64,
    visits: pd.DataFrame,
    ground: Ground,
) -> pd.DataFrame:
    """Add planting days and replacements, and plants that no visit ever named."""
    keys = list(zip(lives["plot"], lives["plant"], strict=True))
    unseen = [key for key in origins if key not in set(keys)]
    if unseen:
        lives = pd.concat([lives, _never_seen(unseen)], ignore_index=True)
        keys += unseen
    fallback = ground.season_start
    known = [origins.get(key) for key in keys]
    if np.isnat(fallback) and any(o is None for o in known):
        fallback = first_day
        ground.out.query(
            str(visits["file"].iloc[0]) if len(visits) else ground.trial.file,
            "no planting day",
            found="plants without a day of planting",
            expected="a table of plants, or the season's start in the trial file",
            fix=f"add one of them; the day of the first visit, {day(first_day)}, is taken",
        )
        _ask_far_first(visits, ground)
    planted = np.asarray([fallback if o is None else o.planted_on for o in known], "M8[ns]")
    planted = np.where(np.isnat(planted), fallback, planted)
    replaces = np.full(len(keys), None, dtype=object)
    replaces[:] = [None if o is None else o.replaces for o in known]
    lives["planted_on"], lives["replaces"] = planted, replaces
    lives["original"] = np.asarray([r is None for r in replaces], dtype=bool)
    last, first = lives["last_alive"].to_numpy(), lives["first_dead"].to_numpy()
    # a plant was alive when it was planted, unless it was seen dead on that very day
    usable = np.isnat(last) & ~(first <= planted)
    lives["last_alive"] = np.where(usable, planted, last)
    _ask_seen_before(lives, visits, ground)
    return lives[list(COLUMNS)]


def _ask_far_first(visits: pd.DataFrame, ground: Ground) -> None:
    """Ask for a slip of the year, as the first visit makes the day of planting here."""
    days = np.unique(visits["date"].to_numpy().astype("datetime64[D]"))
    if days.size < 2 or (days[1] - days[0]).astype(int) <= FAR_DAYS:
        return
    rows = visits[(visits["date"] == days[0]).to_numpy()]
    ground.out.query(
        str(rows["file"].iloc[0]),
        "first visit far from the others",
        found=f"a visit on {day(days[0])} in {rows_in_words(rows['row'])}, "
        f"{(days[1] - days[0]).astype(int)} days before the next one",
        expected="visits of one season",
        fix="correct the date if the year slipped; as it stands all days count from it",
        row=int(rows["row"].min()),
        column="date",
    )


def _never_seen(keys: list[tuple[str, str]]) -> pd.DataFrame:
    n = len(keys)
    no_day = np.full(n, NO_DAY)
    return pd.DataFrame(
        {
            "plot": [k[0] for k in keys],
            "plant": [k[1] for k in keys],
            "last_alive": no_day,
            "first_dead": no_day,
            "cause": np.full(n, None, dtype=object),
            "last_seen": no_day,
            "fate": np.full(n, "never seen", dtype=object),
            "doubtful_from": no_day,
            "revived": np.zeros(n, dtype=bool),
        }
    )


def _ask_seen_before(lives: pd.DataFrame, visits: pd.DataFrame, ground: Ground) -> None:
    early = (lives["last_seen"] < lives["planted_on"]).to_numpy()
    files: Any = visits["file"]
    for plot, plant, when in zip(
        lives["plot"][early], lives["plant"][early], lives["planted_on"][early], strict=True
    ):
        here = ((visits["plot"] == plot) & (visits["plant"] == plant)).to_numpy()
        ground.out.query(
            str(files[here].iloc[0]),
            "seen before planting",
            found=f"plant {plant} of plot {plot} seen only before its planting on {day(when)}",
            expected="visits after planting",
            fix="correct the date of the visit or of planting; the row is used",
            row=int(visits["row"][here].min()),
        )
