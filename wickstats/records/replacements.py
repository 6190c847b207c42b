"""Replacement plants: their own name, their own planting day, entering late.

The plant that was replaced keeps its fate. Where the new plant took over the old label,
its visits are told apart by the day of the replacement. Leans on numpy and pandas.
"""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from wickstats.records.events import TAKES_ALL
from wickstats.records.findings import rows_in_words
from wickstats.records.ground import Ground, day, drop
from wickstats.records.lives import Origin

_MOST = 1000  # replacements of one label


def origins_of_plants(
    plants: pd.DataFrame | None,
    events: pd.DataFrame | None,
    visits: pd.DataFrame | None,
    ground: Ground,
) -> tuple[dict[tuple[str, str], Origin], pd.DataFrame | None, list[tuple[str, str]]]:
    """Plants with their planting day and what they replace; visits under the right names.

    Returns
    -------
    origins, visits, replaced
        ``replaced`` are the (plot, plant) that an event says were replaced.
    """
    origins: dict[tuple[str, str], Origin] = {}
    if plants is not None:
        columns = [plants[c].to_numpy() for c in ("plot", "plant", "planted_on", "replaces")]
        for plot, plant, when, old in zip(*columns, strict=True):
            origins[plot, plant] = Origin(when, old)
    gone: list[tuple[str, str]] = [
        (plot, o.replaces)
        for (plot, plant), o in origins.items()
        if o.replaces is not None and o.replaces != plant
    ]
    if events is None:
        return origins, visits, gone
    named = events[((events["what"] == "replaced") & events["plant"].notna()).to_numpy()]
    columns = [
        named[c].to_numpy() for c in ("plot", "plant", "new_plant", "date", "file", "row")
    ]
    for plot, plant, new, when, file, row in sorted(
        zip(*columns, strict=True), key=lambda e: (e[3], str(e[0]), e[1], e[2] or "")
    ):
        if plot is None:
            continue
        gone.append((plot, plant))
        if new == plant:
            new = None  # the old label again is no name of its own
        name = new or _fresh_name(plot, plant, origins)
        if visits is not None:
            visits = _part_label(
                visits, (plot, plant, name), when, ground, given=new is not None
            )
        known = origins.get((plot, name))
        if known is None:
            origins[plot, name] = Origin(when, plant)
        elif known.replaces is None:
            known.replaces = plant
        if new is None:
            ground.out.query(
                file,
                "replacement without a name",
                found=f"plant {plant} of plot {plot} replaced on {day(when)}, no new_plant",
                expected="a name of its own for the new plant",
                fix=f"name it in new_plant; it is called {name!r} here",
                row=int(row),
                column="new_plant",
            )
    return origins, visits, list(dict.fromkeys(gone))


def _fresh_name(plot: str, plant: str, origins: dict[tuple[str, str], Origin]) -> str:
    for i in range(1, _MOST):
        name = f"{plant} (replacement)" if i == 1 else f"{plant} (replacement {i})"
        if (plot, name) not in origins:
            return name
    raise ValueError(f"more than {_MOST} replacements of one plant")


def _part_label(
    visits: pd.DataFrame,
    names: tuple[str, str, str],
    when: np.datetime64,
    ground: Ground,
    *,
    given: bool,
) -> pd.DataFrame:
    """Visits under the old label after the replacement are the new plant's, or nobody's."""
    plot, plant, name = names
    later = (
        (visits["plot"] == plot) & (visits["plant"] == plant) & (visits["date"] > when)
    ).to_numpy()
    if not given:
        if later.any():
            visits = visits.copy()
            visits.loc[later, "plant"] = name
        return visits
    living = later & visits["status"].isin(("alive", "doubtful")).to_numpy()
    if living.any():
        group = visits[living]
        ground.out.query(
            str(group["file"].iloc[0]),
            "old label after replacement",
            found=f"plant {plant} of plot {plot} seen alive in {rows_in_words(group['row'])}, "
            f"after it was replaced on {day(when)}",
            expected=f"the new plant, {name}",
            fix="correct the plant in these rows; they are not used",
            row=int(group["row"].min()),
            column="plant",
        )
    return drop(visits, living, ground.out, "the plant had been replaced")


def close_replaced(
    lives: pd.DataFrame, replaced: list[tuple[str, str]], ground: Ground, file: str
) -> pd.DataFrame:
    """A plant that was replaced but never seen dead is known until it was last seen."""
    if not replaced:
        return lives
    wanted = set(replaced)
    here = (
        np.fromiter(
            (key in wanted for key in zip(lives["plot"], lives["plant"], strict=True)),
            dtype=bool,
            count=len(lives),
        )
        & lives["fate"].isin(("alive", "not found", "never seen")).to_numpy()
    )
    for plot, plant in zip(lives["plot"][here], lives["plant"][here], strict=True):
        ground.out.query(
            file,
            "replaced but not dead",
            found=f"plant {plant} of plot {plot} replaced without having been seen dead",
            expected="a visit that says dead before the replacement",
            fix="add the visit; as it stands the plant counts as lost when it was last seen",
        )
    if here.any():
        lives.loc[here, "fate"] = "lost"
    return lives


def close_lost(
    lives: pd.DataFrame, events: pd.DataFrame | None, lost_on: Mapping[str, pd.Timestamp]
) -> pd.DataFrame:
    """Plants that went with their plot, or were taken by a flood or theft, are lost."""
    gone = lives["plot"].isin(list(lost_on)).to_numpy()
    if events is not None:
        taken = events[(events["what"].isin(TAKES_ALL) & events["plant"].notna()).to_numpy()]
        last: dict[tuple[str, str], pd.Timestamp] = {}
        for plot, plant, when in zip(taken["plot"], taken["plant"], taken["date"], strict=True):
            last[plot, plant] = when
        if last:
            since = pd.Series(
                [last.get(k) for k in zip(lives["plot"], lives["plant"], strict=True)],
                index=lives.index,
                dtype="datetime64[ns]",
            )
            gone = gone | (since >= lives["last_seen"]).to_numpy()
    gone = gone & lives["fate"].isin(("alive", "not found", "never seen")).to_numpy()
    if gone.any():
        lives.loc[gone, "fate"] = "lost"
    return lives
