"""Accounting of plants and plots, water by unit, and facts about the trial.

Leans on units, lives, records.season and core.results.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.analysis.rounds import GRACE_DAYS
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import IntArray, Units
from wickstats.core.results import (
    Accounting,
    ArmCount,
    LostUnit,
    TrialFacts,
)
from wickstats.core.words import say
from wickstats.design.defaults import comparisons_of, is_planned, main_effects_only, plan_of
from wickstats.design.trial import Trial
from wickstats.records.season import Season

GONE = ("not found", "lost", "never seen")


def trial_facts(trial: Trial) -> TrialFacts:
    """What the page says about the trial before any number."""
    head, plan = trial.trial, plan_of(trial)
    return TrialFacts(
        id=head.id,
        title=head.title or head.id,
        question=head.question,
        invented=head.invented,
        place=head.place,
        season_start=head.season.start.isoformat() if head.season else None,
        season_end=head.season.end.isoformat() if head.season else None,
        site=site_facts(trial),
        people=dict(head.people),
        factors={factor.name: factor.level_names for factor in trial.factors},
        references={f.name: f.reference for f in trial.factors if f.reference is not None},
        details={
            level.name: level.detail
            for factor in trial.factors
            for level in factor.levels
            if level.detail
        },
        confidence=plan.confidence,
        planned=is_planned(trial),
        primary=plan.primary,
        secondary=plan.secondary,
        comparisons=comparisons_of(trial),
        matters={
            name: {
                key: value
                for key, value in (("difference", m.difference), ("ratio", m.ratio))
                if value is not None
            }
            for name, m in plan.matters.items()
        },
        interactions="left out" if main_effects_only(trial) else "kept",
        browsing=plan.browsing,
    )


def site_facts(trial: Trial) -> dict[str, str | float]:
    """The site as far as its owner shares it: exact, rounded to 0.1 degree, or withheld."""
    site = trial.trial.site
    out: dict[str, str | float] = {"share": site.share}
    if site.share == "withheld":
        return out
    if site.name is not None:
        out["name"] = site.name
    if site.soil is not None:
        out["soil"] = site.soil
    rounded = site.share == "rounded"
    for key, value, places in (
        ("latitude", site.latitude, 1),
        ("longitude", site.longitude, 1),
        ("elevation_m", site.elevation_m, -1),
    ):
        if value is not None:
            out[key] = round(value, places) if rounded else value
    return out


def accounting_of(season: Season, units: Units, main: Summary | None) -> Accounting:
    """Plants planned, planted, analyzed (in the first response), and what was lost."""
    planted = _planted(season, units)
    planned = np.where(units.laid_plants > 0, units.laid_plants, planted)
    analyzed = np.zeros(units.n, dtype=np.int64)
    used = np.zeros(units.n, dtype=bool)
    if main is not None:
        used = main.used
        analyzed = main.plants_behind(planted)
    arms = []
    for code, name in enumerate(units.cell_names):
        mine = units.cells == code
        arms.append(
            ArmCount(
                treatment=name,
                planned=int(planned[mine].sum()),
                planted=int(planted[mine].sum()),
                analyzed=int(analyzed[mine].sum()),
                plots_planned=int(units.n_plots[mine].sum()),
                plots_analyzed=int(units.n_plots[mine & used].sum())
                - _lost_in(season, units, mine & used),
            )
        )
    return Accounting(
        planned=int(planned.sum()),
        planted=int(planted.sum()),
        analyzed=int(analyzed.sum()),
        by_treatment=tuple(arms),
        lost=_lost(season, units, main),
    )


def _lost_in(season: Season, units: Units, mine: NDArray[np.bool_]) -> int:
    return sum(
        plot in season.lost_plots for j in np.flatnonzero(mine) for plot in units.plots[int(j)]
    )


def _planted(season: Season, units: Units) -> IntArray:
    out = np.zeros(units.n, dtype=np.int64)
    frame = season.lives
    if frame is not None and not frame.empty:
        original = frame["original"].fillna(value=True).astype(bool)
        for plot in frame.loc[original, "plot"]:
            if plot in units.index:
                out[units.index[plot]] += 1
        return out
    table = season.table("measurements")
    if table is not None and "plant" in table:
        pairs = table.loc[table["plant"].notna(), ["plot", "plant"]].drop_duplicates()
        for plot in pairs["plot"]:
            if plot in units.index:
                out[units.index[plot]] += 1
    return out


def _lost(season: Season, units: Units, main: Summary | None) -> tuple[LostUnit, ...]:
    out = [
        LostUnit(plot, None, reason)
        for plot, reason in season.lost_plots.items()
        if plot in units.index
    ]
    if main is not None:
        for j in np.flatnonzero(~main.used):
            reason = main.reasons[int(j)] or ""
            out.extend(
                LostUnit(plot, None, reason)
                for plot in units.plots[int(j)]
                if plot not in season.lost_plots
            )
    frame = season.lives
    # without visits nobody was to look, so no plant can be missing from them
    looked = season.days_not_dates or season.table("visits") is not None
    if looked and frame is not None and not frame.empty:
        original = frame["original"].fillna(value=True).astype(bool)
        gone = frame["fate"].isin(GONE) & original & ~frame["plot"].isin(season.lost_plots)
        out.extend(
            LostUnit(str(plot), str(plant), str(fate))
            for plot, plant, fate in frame.loc[gone, ["plot", "plant", "fate"]].itertuples(
                index=False
            )
        )
        out.extend(_open(frame, season, main, units))
    return tuple(out)


def _open(
    frame: pd.DataFrame, season: Season, main: Summary | None, units: Units
) -> list[LostUnit]:
    """Plants of units in the analysis that were last seen alive too long before the date."""
    if main is None or main.alive is None or main.at is None or season.days_not_dates:
        return []
    first = frame["original"].fillna(value=True).astype(bool) & (frame["fate"] == "alive")
    seen = pd.to_datetime(frame["last_alive"])
    short = first & frame["first_dead"].isna() & ~frame["plot"].isin(season.lost_plots)
    short &= seen < pd.Timestamp(main.at) - pd.Timedelta(days=GRACE_DAYS)
    out = {plot for j in np.flatnonzero(~main.used) for plot in units.plots[int(j)]}
    short &= ~frame["plot"].isin(out)
    rows = frame.loc[short, ["plot", "plant", "last_alive"]].itertuples(index=False)
    return [
        LostUnit(
            str(plot),
            str(plant),
            say("lost open", seen=pd.Timestamp(last).date().isoformat(), at=main.at),
        )
        for plot, plant, last in rows
    ]
