"""What a reservoir of every treatment loses a day: by demand, as was seen, by its wicks.

Leans on records' tables, layout and ``visits``.
"""

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickstats.core.supply import ReservoirPlan
from wickstats.core.words import say
from wickstats.demand.demand import Days
from wickstats.demand.visits import BENCH_FLOW, Losses, reservoir_plan
from wickstats.design.defaults import value_of
from wickstats.design.trial import BenchFlow, Trial
from wickstats.layout.plots import Layout

FloatArray = NDArray[np.float64]
EVERY_D = 7
ML_H_TO_L_D = 24.0 / 1000.0
ASSUMED_CV = 0.3  # common practice, no source: wicks of one batch differ by a third
_FEWEST = 3  # reservoirs whose difference tells how much wicks differ


def planned_reservoirs(trial: Trial, losses: Sequence[Losses]) -> ReservoirPlan | None:
    """Volumes and visits for these losses, with the trial's reservoirs and visits."""
    water = trial.water
    size = None if water is None else water.reservoirs
    every = None if water is None else water.visits_every_d
    return reservoir_plan(
        losses,
        every_d=EVERY_D if every is None else max(round(every), 1),
        holds_l=None if size is None else size.holds_l,
        unusable_l=0.0 if size is None else size.unusable_l or 0.0,
        seed=trial.trial.id,
    )


def losses_of(
    trial: Trial,
    layout: Layout,
    units: dict[str, float],
    seen: pd.DataFrame | None,
    days: Days,
    demand: FloatArray,
) -> list[Losses]:
    """Of every treatment with reservoirs; of any plot where no treatment has one.

    Parameters
    ----------
    units
        Unit -> plants.
    seen
        Periods between two visits of reservoirs whose levels were read.
    demand
        (n,) liters a plant and day, NaN where not known.
    """
    fed = _plants_fed(trial, layout, units, seen)
    assumed = _assumed(trial)
    known = demand[np.isfinite(demand)]
    out: list[Losses] = []
    for treatment, plants in fed.items():
        rates = _rates(layout, treatment, seen, days)
        cv, whence = _cv(rates) or assumed
        if len(known) and plants:
            out.append(Losses(treatment, "demand", plants, known * plants, cv, whence))
        if len(rates):
            whole = np.isfinite(rates).any(axis=0)
            series = np.nanmean(rates[:, whole], axis=0)
            out.append(Losses(treatment, "loss seen", plants, series, cv, whence))
        flow = _at_the_bench(trial, treatment)
        if flow is not None:
            own = assumed if flow.cv is None else (flow.cv, say("supply cv from bench"))
            own = _together(*own, flow.wicks)
            rate = np.array([flow.ml_h * ML_H_TO_L_D * flow.wicks])
            out.append(
                Losses(treatment, BENCH_FLOW, plants, rate, *own, flow.wicks, flow.found_in)
            )
    return out


def _together(cv: float, whence: str, wicks: int) -> tuple[float, str]:
    """How reservoirs differ on which several wicks hang that differ each for itself.

    The sum of k alike lognormals has mean k and coefficient of variation cv/sqrt(k); that it
    is nearly lognormal itself: Fenton (1960), IRE Trans. Commun. Syst. 8:57 (from memory).
    """
    if wicks < 2:
        return cv, whence
    return cv / math.sqrt(wicks), say("supply cv wicks", why=whence, wicks=wicks)


def _at_the_bench(trial: Trial, treatment: str) -> BenchFlow | None:
    """What the trial file tells of a treatment's wick at the bench."""
    return None if trial.water is None else value_of(trial.water.bench_flow, treatment)


def in_order(trial: Trial, layout: Layout) -> tuple[str, ...]:
    """Treatments as the trial file names their levels."""
    names = [factor.level_names for factor in trial.factors]
    found = {p.treatment: tuple(p.levels.values()) for p in layout.plots}
    return tuple(
        sorted(
            found,
            key=lambda t: [n.index(v) for n, v in zip(names, found[t], strict=True) if v in n],
        )
    )


def _plants_fed(
    trial: Trial, layout: Layout, units: dict[str, float], seen: pd.DataFrame | None
) -> dict[str, int]:
    """Treatment -> plants on one reservoir (the middle one), 0 where not known."""
    levels = set() if seen is None else set(seen["unit"])
    with_reservoir = {
        p.treatment
        for p in layout.plots
        if p.reservoir
        or _at_the_bench(trial, p.treatment) is not None
        or layout.unit_of[p.plot] in levels
        or any(name in trial.design.plots_per_reservoir for name in p.levels.values())
        or p.treatment in trial.design.plots_per_reservoir
    }
    out: dict[str, int] = {}
    for treatment in in_order(trial, layout):
        if treatment not in with_reservoir:
            continue
        by_vessel: dict[str, int] = {}
        for plot in layout.plots:
            if plot.treatment == treatment:
                plants = plot.plants or trial.design.plants_per_plot or 0
                name = plot.reservoir or plot.plot
                by_vessel[name] = by_vessel.get(name, 0) + plants
        out[treatment] = int(np.median(list(by_vessel.values())))
    if not out and units:
        out[say("supply any plot")] = int(np.median(list(units.values())))
    return out


def _rates(layout: Layout, treatment: str, seen: pd.DataFrame | None, days: Days) -> FloatArray:
    """(vessels, n) liters a day that left each reservoir of a treatment."""
    mine = {layout.unit_of[p.plot] for p in layout.plots if p.treatment == treatment}
    rows = []
    if seen is not None:
        own = seen[seen["unit"].isin(mine).to_numpy()]
        for _, periods in own.groupby("vessel", sort=True):
            rate = np.full(len(days), np.nan)
            since = periods["from"].to_numpy().astype("datetime64[D]")
            to = periods["to"].to_numpy().astype("datetime64[D]")
            for a, b, lost, long in zip(
                since, to, periods["lost_l"], periods["days"], strict=True
            ):
                rate[(days >= a) & (days < b)] = max(float(lost), 0.0) / float(long)
            if np.isfinite(rate).any():
                rows.append(rate)
    return np.vstack(rows) if rows else np.empty((0, len(days)))


def _cv(rates: FloatArray) -> tuple[float, str] | None:
    """Coefficient of variation between reservoirs of their mean losses."""
    if len(rates) < _FEWEST:
        return None
    means = np.nanmean(rates, axis=1)
    if means.mean() <= 0.0:
        return None
    spread = float(means.std(ddof=1) / means.mean())
    return spread, say("supply cv seen", n=len(means))


def _assumed(trial: Trial) -> tuple[float, str]:
    """How much wicks are assumed to differ: by the plan, else a common figure."""
    if trial.power is not None:
        told = [a.liters_cv for a in trial.power.assume.values() if a.liters_cv is not None]
        if told:
            return max(told), say("supply cv planned")
    return ASSUMED_CV, say("supply cv assumed")
