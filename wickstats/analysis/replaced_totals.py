"""Totals of plots with and without their replacement plants, for yields and counts.

What was picked from a plot holds what its replacements bore: that is the plot's total, and
primary. Beside it stand the units without any replacement, and, where picks name plants,
the totals of the plants first planted. Leans on the summaries of totals and records.season.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.records.season import Season

Run = tuple[str, Summary]


def with_and_without(
    main: Summary, season: Season, units: Units, again: Callable[[Season], Summary | None]
) -> tuple[Summary, tuple[Run, ...]]:
    """The main summary with its note, and the runs without replacements.

    Parameters
    ----------
    main
        Of totals, replacements included.
    again
        The same summary from other records.
    """
    held = _replacements(season, units)
    names = sorted({units.index[plot] for plot, _ in held})
    inside = [j for j in names if main.used[j]]
    if not inside:
        return main, ()
    told = ", ".join(units.names[j] for j in inside)
    note = say("totals hold replacements", n=len(inside), units=told)
    values = main.values.copy()
    values[inside] = np.nan
    runs: list[Run] = [(say("plots without replacements"), replace(main, values=values))]
    notes = [note]
    apart = _of_first_plants(season, held)
    summary = None if apart is None else again(apart)
    if summary is not None:
        runs.append((say("totals of first plants"), summary))
        if main.estimand == summary.estimand == "total":
            notes.append(say("replacements bore", told=_bore(main, summary, units)))
    return replace(main, notes=(*main.notes, *notes)), tuple(runs)


def _bore(main: Summary, first: Summary, units: Units) -> str:
    """What replacements bore of each treatment's total, in words."""
    both = main.used & first.used
    whole, less = main.numerators, first.numerators
    if whole is None or less is None:
        raise ValueError("totals without what was picked")
    out = []
    for code, name in enumerate(units.cell_names):
        mine = both & (units.cells == code)
        if mine.any():
            total = float((whole * units.n_plots)[mine].sum())
            late = total - float((less * units.n_plots)[mine].sum())
            told = {"name": name, "late": number(late), "total": number(total)}
            out.append(say("bore of", **told, unit=main.measured_in.strip("{}")))
    return "; ".join(out)


def _replacements(season: Season, units: Units) -> frozenset[tuple[str, str]]:
    """(plot, plant) of the replacements in plots that are not lost."""
    frame = season.lives
    if frame is None or frame.empty:
        return frozenset()
    late = frame.loc[~frame["original"].fillna(value=True).astype(bool), ["plot", "plant"]]
    return frozenset(
        (str(plot), str(plant))
        for plot, plant in late.itertuples(index=False)
        if str(plot) in units.index and plot not in season.lost_plots
    )


def _of_first_plants(season: Season, held: frozenset[tuple[str, str]]) -> Season | None:
    """Records in which replacements bore nothing; None where picks do not name them."""
    tables = dict(season.tables)
    found = False
    for name in ("picks", "measurements"):
        frame = tables.get(name)
        if frame is None or "plant" not in frame:
            continue
        keys = zip(frame["plot"].astype(str), frame["plant"].astype(str), strict=True)
        mine = np.array([key in held for key in keys], dtype=bool)
        if not mine.any():
            continue
        found = True
        frame = frame.copy()
        numbers = [c for c in frame.columns if frame[c].dtype.kind in "fi" and c != "row"]
        # nothing, not missing: a pick without the replacement is still a whole pick
        frame[numbers] = frame[numbers].mask(
            np.repeat(mine[:, None], len(numbers), axis=1), 0.0
        )
        tables[name] = frame
    return replace(season, tables=tables) if found else None
