"""The table of plants, and whether a plant that is named elsewhere was ever planted.

Leans on the modules of this package.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from wickstats.records.duplicates import settle_duplicates
from wickstats.records.findings import Findings, rows_in_words
from wickstats.records.ground import Ground, day, drop, groups, need, with_columns


def check_plants(frame: pd.DataFrame, ground: Ground) -> pd.DataFrame:
    """One row a plant; planted before the season's end; what it replaces is a plant."""
    frame = with_columns(frame, replaces="text")
    need(frame, ("plant", "planted_on"), ground.out)
    frame = settle_duplicates(frame, ("plot", "plant"), ground.out, "one plant")
    _ask_late(frame, ground)
    names = set(zip(frame["plot"], frame["plant"], strict=True))
    replacing = frame[frame["replaces"].notna()]
    columns = [replacing[c] for c in ("plot", "plant", "replaces", "file", "row")]
    for plot, plant, old, file, row in zip(*columns, strict=True):
        if (plot, old) not in names:
            ground.out.query(
                file,
                "unknown plant",
                found=f"plant {plant} of plot {plot} replaces {old}",
                expected="a plant of the same plot in this table",
                fix="correct `replaces`, or add the first plant; this one stays a replacement",
                row=int(row),
                column="replaces",
            )
    originals = frame[frame["replaces"].isna()]
    planned = ground.planted()
    for plot, group in groups(originals, "plot"):
        if plot in planned and len(group) != planned[plot]:
            ground.out.query(
                str(group["file"].iloc[0]),
                "number of plants",
                found=f"{len(group)} plant{'' if len(group) == 1 else 's'} in plot {plot}, "
                "replacements left out",
                expected=f"{planned[plot]}, as in the layout",
                fix="add the plants that are missing, or correct the layout",
                row=int(group["row"].min()),
            )
    return frame


def _ask_late(frame: pd.DataFrame, ground: Ground) -> None:
    late = frame["planted_on"].to_numpy() > ground.season_end
    if not late.any():
        return
    for (file, when), group in groups(frame[late], "file", "planted_on"):
        rows = group["row"]
        ground.out.query(
            file,
            "out of season",
            found=f"planted on {day(when)} in {rows_in_words(rows)}",
            expected=f"a day not after {day(ground.season_end)}",
            fix="correct the date, or the season in the trial file; the rows are used",
            row=int(rows.min()),
            column="planted_on",
        )


def drop_unknown_plants(
    frame: pd.DataFrame,
    known: Mapping[str, frozenset[str]],
    out: Findings,
    *,
    listed: bool,
) -> pd.DataFrame:
    """Leave out rows about plants that were never planted, with a query.

    Parameters
    ----------
    known
        Plot to its plants. Plots that are not in it are not checked.
    listed
        The plants come from the table of plants (otherwise from the layout's numbers).
    """
    if "plant" not in frame or not known:
        return frame
    plots, plants = frame["plot"].to_numpy(), frame["plant"].to_numpy(dtype=object)
    nothing: frozenset[str] = frozenset()
    strange = np.fromiter(
        (
            plant is not None and plot in known and plant not in known.get(plot, nothing)
            for plot, plant in zip(plots, plants, strict=True)
        ),
        dtype=bool,
        count=len(frame),
    )
    if not strange.any():
        return frame
    frame = frame.copy()
    for (file, plot, plant), group in groups(frame[strange], "file", "plot", "plant"):
        rows = group["row"]
        alike = [k for k in known[plot] if k.lstrip("0") == plant.lstrip("0") != ""]
        if len(alike) == 1:
            here = (frame["plot"] == plot) & (frame["plant"] == plant)
            frame.loc[here, "plant"] = alike[0]
            strange &= ~here.to_numpy()
            out.query(
                file,
                "lost leading zeros",
                found=f"plant {plant} of plot {plot} in {rows_in_words(rows)}",
                expected=f"{alike[0]}, as in the table of plants",
                fix=f"nothing to do if {alike[0]} is meant: it is read so; "
                "format the column as text to keep the zeros",
                row=int(rows.min()),
                column="plant",
            )
            continue
        out.query(
            file,
            "unknown plant",
            found=f"plant {plant} of plot {plot} in {rows_in_words(rows)}",
            expected="a plant of the table of plants"
            if listed
            else f"a plant from 1 to {len(known[plot])}, as the layout has it",
            fix="correct the plant, or add it where plants are listed; the rows are not used",
            row=int(rows.min()),
            column="plant",
        )
    return drop(frame, strange, out, "the plant is not known")


def known_plants(
    plants: pd.DataFrame | None,
    events: pd.DataFrame | None,
    tables: Sequence[pd.DataFrame],
    ground: Ground,
) -> dict[str, frozenset[str]]:
    """Plot to plants, from the table of plants or, by number, from the layout.

    Numbers from the layout are taken only for plots where more plants were named than
    planted: elsewhere plants may be named in any way.
    """
    new: dict[str, set[str]] = {}
    if events is not None and "new_plant" in events:
        for plot, plant in zip(events["plot"], events["new_plant"], strict=True):
            if plot is not None and plant is not None:
                new.setdefault(plot, set()).add(plant)
    if plants is not None:
        named = plants.groupby("plot", sort=False)["plant"].agg(set).to_dict()
        return {
            p.plot: frozenset(named.get(p.plot, set()) | new.get(p.plot, set()))
            for p in ground.layout.plots
        }
    parts = [t[["plot", "plant"]].dropna().drop_duplicates() for t in tables if "plant" in t]
    parts = [part for part in parts if len(part)]
    if not parts:
        return {}
    planned = ground.planted()
    out: dict[str, frozenset[str]] = {}
    pairs = pd.concat(parts).drop_duplicates()
    for plot, group in pairs.groupby("plot", sort=False)["plant"]:
        names = set(group) - new.get(str(plot), set())
        numbers = {str(i + 1) for i in range(planned.get(str(plot), 0))}
        if len(names) > len(numbers) > 0 and numbers <= {n.lstrip("0") for n in names}:
            kept = {n for n in names if n.lstrip("0") in numbers}
            out[str(plot)] = frozenset(kept | new.get(str(plot), set()))
    return out
