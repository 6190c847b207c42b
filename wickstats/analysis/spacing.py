"""Days between visits by treatment: where they differ, dates of death are biased.

A death is dated between two visits, so that plots visited seldom seem to lose their plants
later. Leans on units and records.season.
"""

import numpy as np
import pandas as pd

from wickstats.analysis.units import Units
from wickstats.core.histories import VisitSpacing
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.records.season import Season

DIFFER = 1.25  # times as long, mean or median
APART = pd.Timedelta(days=7)


def visit_spacing(season: Season, units: Units) -> tuple[VisitSpacing, ...]:
    """One row a treatment; empty without dated visits."""
    frame = season.table("visits")
    if frame is None or "date" not in frame or frame["date"].isna().all():
        return ()
    held = frame["plot"].isin(list(units.index)) & frame["date"].notna()
    if "status" in frame:
        held &= frame["status"].fillna("") != "not visited"
    plots = frame["plot"].to_numpy(dtype=object)[held.to_numpy()]
    day = frame["date"].to_numpy(dtype="datetime64[D]")[held.to_numpy()].astype(np.int64)
    names, plot = np.unique(plots.astype(str), return_inverse=True)
    cells = np.array([units.cells[units.index[name]] for name in names], dtype=np.int64)
    lost = np.isin(names, [*season.lost_plots, *_dead_plots(season)])
    visits = np.unique(np.stack([plot, day]), axis=1)  # by plot, then day
    plot, day = visits
    same = plot[1:] == plot[:-1]
    gap, of = np.diff(day)[same].astype(float), cells[plot[1:][same]]
    last = np.zeros(names.size, dtype=np.int64)
    np.maximum.at(last, plot, day)
    out = []
    for code, name in enumerate(units.cell_names):
        mine, known = cells == code, gap[of == code]
        ends = last[mine & ~lost]
        out.append(
            VisitSpacing(
                treatment=name,
                plots=int(mine.sum()),
                visits=float(mine[plot].sum() / mine.sum()) if mine.any() else None,
                median_days=float(np.median(known)) if known.size else None,
                mean_days=float(known.mean()) if known.size else None,
                last_visit=str(np.datetime64(int(ends.min()), "D")) if ends.size else None,
                not_estimable=None if known.size else say("spacing one visit"),
            )
        )
    return tuple(out)


def _dead_plots(season: Season) -> list[str]:
    """Plots whose plants were all seen dead: nobody need go there again."""
    lives = season.lives
    if lives is None or "first_dead" not in lives:
        return []
    dead = lives["first_dead"].notna().groupby(lives["plot"].astype(str)).all()
    return [str(plot) for plot in dead.index[dead]]


def spacing_cautions(rows: tuple[VisitSpacing, ...]) -> list[str]:
    """What a reader must know where treatments were not visited alike."""
    out: list[str] = []
    known = [r for r in rows if r.mean_days is not None and r.median_days is not None]
    if len(known) < 2:
        return out
    means = [r.mean_days or 0.0 for r in known]
    medians = [r.median_days or 0.0 for r in known]
    if max(means) >= DIFFER * min(means) or max(medians) >= DIFFER * min(medians):
        often = known[int(np.argmin(means))].treatment
        seldom = known[int(np.argmax(means))].treatment
        told = "; ".join(
            say(
                "spacing of",
                name=r.treatment,
                median=number(r.median_days),
                mean=number(r.mean_days),
            )
            for r in known
        )
        out.append(say("visits differ", told=told, often=often, seldom=seldom))
    ends = [pd.Timestamp(r.last_visit) for r in known if r.last_visit is not None]
    if ends and max(ends) - min(ends) > APART:
        told = "; ".join(f"{r.treatment} {r.last_visit}" for r in known if r.last_visit)
        out.append(say("last visits differ", told=told))
    return out
