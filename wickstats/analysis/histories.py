"""What became of every plant, kind by kind and treatment by treatment, and how it counts.

Every plant planted first has one ending; remarks may overlap; replacements stand beside.
Deaths of the first 14 days and states short of death are told apart. Leans on units, lives,
records.season and pandas.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.lives import Lives
from wickstats.analysis.units import Units
from wickstats.core.histories import ConditionRow, EarlyDeaths, HistoryRow
from wickstats.core.words import say
from wickstats.design.tables import CONDITION_WORDS
from wickstats.records.season import Season

EARLY_DAYS = 14.0
LATE = pd.Timedelta(days=14)
COUNTED = "counted "
Mask = NDArray[np.bool_]

# kind -> how it is observed; the words stand in the catalog
ENDINGS = {
    "alive": "from the right",
    "no longer seen": "from the right",
    "doubtful at the end": "from the right",
    "dead between visits": "between visits",
    "dead at first sight": "from the left",
    "dead on a known day": "exactly",
    "not found": "from the right",
    "lost singly": "from the right",
    "never seen": "none",
    "lost with its plot": "none",
}
REMARKS = (
    "doubtful then dead",
    "doubtful then alive",
    "not found then found",
    "not visited",
    "dead then alive",
    "replaced",
    "planted late",
    "counted",
)


def history_rows(
    season: Season, units: Units, *, plants: bool = True
) -> tuple[HistoryRow, ...]:
    """All kinds that occur: endings, remarks, replacements; ``plants``: not other subjects."""
    frame = season.lives
    if frame is None or frame.empty:
        return ()
    frame = frame.loc[frame["plot"].isin(list(units.index))].reset_index(drop=True)
    original = frame["original"].fillna(value=True).astype(bool).to_numpy()
    arms = _arms(frame["plot"], units)
    ending = _endings(frame, season)
    rows = [
        _row("ending", kind, observed, (ending == kind) & original, arms, units)
        for kind, observed in ENDINGS.items()
    ]
    noted = _remarks(frame, season)
    rows += [
        _row("remark", kind, "none", noted[kind] & original, arms, units) for kind in REMARKS
    ]
    rows.append(_row("beside", "replacement", "none", ~original, arms, units))
    kept = tuple(row for row in rows if row.total)
    if plants:
        return kept
    first = say("history dead at first sight")
    return tuple(
        replace(row, handled=say("handled at first sight followed"))
        if row.kind == first
        else row
        for row in kept
    )


def _row(
    part: str, kind: str, observed: str, mine: Mask, arms: NDArray[np.int64], units: Units
) -> HistoryRow:
    counts = np.bincount(arms[mine], minlength=units.n_cells)
    return HistoryRow(
        part=part,
        kind=say(f"history {kind}"),
        observed=say(f"observed {observed}"),
        handled=say(f"handled {kind}"),
        total=int(mine.sum()),
        by_treatment={name: int(n) for name, n in zip(units.cell_names, counts, strict=True)},
    )


def _arms(plots: Iterable[object], units: Units) -> NDArray[np.int64]:
    return np.array([units.cells[units.index[str(p)]] for p in plots], dtype=np.int64)


def _endings(frame: pd.DataFrame, season: Season) -> NDArray[np.object_]:
    """The one ending of every plant."""
    fate = frame["fate"].to_numpy(dtype=object)
    out = np.full(len(frame), "alive", dtype=object)
    if not season.days_not_dates:
        seen = pd.to_datetime(frame["last_seen"])
        unseen = (seen < seen.max() - LATE).fillna(value=False).to_numpy(dtype=bool)
        out[(fate == "alive") & unseen] = "no longer seen"
    out[(fate == "alive") & frame["doubtful_from"].notna().to_numpy()] = "doubtful at the end"
    low, high = frame["last_alive"], frame["first_dead"]
    dead = high.notna().to_numpy()
    known = dead & (high <= low).to_numpy()
    first = dead & ~known & ~(low > frame["planted_on"]).to_numpy()
    out[dead] = "dead between visits"
    out[first] = "dead at first sight"
    out[known] = "dead on a known day"
    for word, kind in (
        ("not found", "not found"),
        ("lost", "lost singly"),
        ("never seen", "never seen"),
    ):
        out[fate == word] = kind
    out[frame["plot"].isin(list(season.lost_plots)).to_numpy()] = "lost with its plot"
    return out


def _remarks(frame: pd.DataFrame, season: Season) -> dict[str, Mask]:
    """(n,) masks by remark."""
    n = len(frame)
    nothing = np.zeros(n, dtype=bool)
    doubted = frame["doubtful_from"].notna().to_numpy()
    dead = frame["first_dead"].notna().to_numpy()
    out = dict.fromkeys(REMARKS, nothing)
    out["doubtful then dead"] = doubted & dead
    if "revived" in frame:
        out["dead then alive"] = frame["revived"].fillna(value=False).to_numpy(dtype=bool)
    gone = {(str(p), str(r)) for p, r in zip(frame["plot"], frame["replaces"], strict=True)}
    keys = list(zip(frame["plot"].astype(str), frame["plant"].astype(str), strict=True))
    out["replaced"] = np.array([key in gone for key in keys], dtype=bool)
    out["counted"] = frame["plant"].astype(str).str.startswith(COUNTED).to_numpy()
    if not season.days_not_dates:
        planted = pd.to_datetime(frame["planted_on"])
        out["planted late"] = (planted > planted.min() + LATE).to_numpy()
    visits = season.table("visits")
    if visits is None or not {"status", "plant", "date"} <= set(visits.columns):
        return out
    place = {key: k for k, key in enumerate(keys)}
    named = visits.loc[visits["plant"].notna() & visits["status"].notna()]
    codes = np.array(
        [
            place.get((str(p), str(q)), -1)
            for p, q in zip(named["plot"], named["plant"], strict=True)
        ],
        dtype=np.int64,
    )
    status = named["status"].to_numpy(dtype=object)
    days = named["date"].to_numpy(dtype="datetime64[ns]").astype(np.int64)
    known = codes >= 0
    codes, status, days = codes[known], status[known], days[known]
    seen = np.isin(status, np.array(["alive", "doubtful", "dead"], dtype=object))
    out["doubtful then alive"] = _before(
        codes, days, status == "doubtful", status == "alive", n
    )
    out["not found then found"] = _before(codes, days, status == "not found", seen, n)
    out["not visited"] = np.bincount(codes[status == "not visited"], minlength=n) > 0
    return out


def _before(
    codes: NDArray[np.int64], days: NDArray[np.int64], first: Mask, then: Mask, n: int
) -> Mask:
    """(n,) plants with a row ``first`` on an earlier day than some row ``then``."""
    none = np.iinfo(np.int64).max
    early, late = np.full(n, none), np.full(n, -none)
    np.minimum.at(early, codes[first], days[first])
    np.maximum.at(late, codes[then], days[then])
    return np.asarray(early < late)


def early_deaths(lives: Lives, units: Units) -> tuple[EarlyDeaths, ...]:
    """Deaths in the first 14 days by treatment; empty where nobody may have died then."""
    low, high = lives.low - lives.planted, lives.high - lives.planted
    dead = high <= EARLY_DAYS
    perhaps = lives.dead & ~dead & (low < EARLY_DAYS)
    if not dead.any() and not perhaps.any():
        return ()
    arms = units.cells[lives.units]
    out = []
    for code, name in enumerate(units.cell_names):
        mine = arms == code
        n, early = int(mine.sum()), int((mine & dead).sum())
        out.append(
            EarlyDeaths(
                treatment=name,
                days=EARLY_DAYS,
                plants=n,
                dead=early,
                perhaps=int((mine & perhaps).sum()),
                share=early / n if n else None,
                rest=n - early,
                rest_dead=int((mine & lives.dead & ~dead).sum()),
            )
        )
    return tuple(out)


def condition_rows(season: Season, units: Units) -> tuple[ConditionRow, ...]:
    """Plants once noted leafless, resprouting, browsed or doubtful, and what became of them."""
    visits, frame = season.table("visits"), season.lives
    if visits is None or frame is None or frame.empty or "plant" not in visits:
        return ()
    fates = {
        (str(p), str(q)): str(f)
        for p, q, f, first in zip(
            frame["plot"], frame["plant"], frame["fate"], frame["original"], strict=True
        )
        if first and str(p) in units.index and p not in season.lost_plots
    }
    out: list[ConditionRow] = []
    for column, word in (*(("condition", w) for w in CONDITION_WORDS), ("status", "doubtful")):
        if column not in visits:
            continue
        mine = visits.loc[(visits[column] == word) & visits["plant"].notna(), ["plot", "plant"]]
        keys = {(str(p), str(q)) for p, q in mine.itertuples(index=False)} & fates.keys()
        if keys:
            out.extend(_condition(word, keys, fates, units))
    return tuple(out)


def _condition(
    word: str, keys: set[tuple[str, str]], fates: dict[tuple[str, str], str], units: Units
) -> list[ConditionRow]:
    out = []
    for code, name in enumerate(units.cell_names):
        mine = [fates[key] for key in keys if units.cells[units.index[key[0]]] == code]
        alive, dead = mine.count("alive"), mine.count("dead")
        out.append(ConditionRow(word, name, len(mine), alive, dead, len(mine) - alive - dead))
    return out
