"""Cost per survivor, per kg and per m3 saved, with intervals; what costs are made of.

    per survivor, per kg    sum of cost / sum of survivors (kg), logarithm; standard error by
                            leaving out one block at a time, t with blocks - 1 df
                            (Quenouille 1956, Biometrika 43:353; Tukey 1958)
    per m3 saved, per extra survivor or kg, against the reference: mean cost difference over
                            mean effect difference within blocks, limits by Fieller (1954,
                            J. R. Stat. Soc. B 16:175), df blocks - 1

Leans on costs_units, costs_pairs, gather, units, models.ratios and core.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp

import numpy as np

from wickstats.analysis.costs_pairs import Effect, pair_costs
from wickstats.analysis.costs_units import UnitCosts, unit_costs
from wickstats.analysis.gather import Gathered
from wickstats.analysis.units import Array, Units
from wickstats.core.costs import Cost, CostArm, CostParts, CostScenario
from wickstats.core.words import say
from wickstats.design.defaults import plan_of
from wickstats.design.trial import Trial
from wickstats.models.ratios.sums import log_ratio_of_sums
from wickstats.records.season import Season

SURVIVOR, KG, SAVED = "survivor", "kg", "m3"
METHOD = "leaving out one block at a time"
_KG = {"kg": 1.0, "g": 1e-3, "t": 1e3}


@dataclass(frozen=True, slots=True, eq=False)
class Bought:
    """(n,) what units gave: survivors, kg, delivered liters; None where nobody recorded it."""

    survivors: Array | None
    kg: Array | None
    liters: Array | None


def season_costs(
    trial: Trial, units: Units, season: Season, gathered: Mapping[str, Gathered]
) -> tuple[tuple[Cost, ...], CostParts | None]:
    """Costs of every treatment; nothing where the trial file has no prices."""
    costs = trial.costs
    if costs is None or not (costs.items or costs.hours_per_visit or costs.travel):
        return (), None
    paid = unit_costs(trial, units, season)
    got = bought(trial, units, season, gathered)
    confidence = plan_of(trial).confidence
    rows: list[Cost] = []
    for per, counts in ((SURVIVOR, got.survivors), (KG, got.kg)):
        if counts is not None:
            rows += [
                per_one(paid.total, counts, units, cell, per, confidence)
                for cell in range(units.n_cells)
            ]
    effects = _effects(got)
    reference = reference_cell(trial, units)
    differences = []
    if reference is not None and effects:
        for cell in (c for c in range(units.n_cells) if c != reference):
            for effect in effects:
                row, difference = pair_costs(
                    paid.total, effect, units, cell, reference, confidence, trial
                )
                rows.append(row)
                if difference is not None:
                    differences.append(difference)
    parts = CostParts(
        currency=costs.currency,
        arms=tuple(_arm(paid, got, units, cell) for cell in range(units.n_cells)),
        differences=tuple(differences),
        scenarios=_scenarios(trial, units, season, got),
        notes=(*_notes(trial), *paid.notes),
    )
    return tuple(rows), parts


def reference_cell(trial: Trial, units: Units) -> int | None:
    """The treatment that others are set against; None with several factors."""
    if len(trial.factors) != 1 or trial.factors[0].reference is None:
        return None
    return units.cell_names.index(trial.factors[0].reference)


def bought(
    trial: Trial, units: Units, season: Season, gathered: Mapping[str, Gathered]
) -> Bought:
    """Survivors of the first survival, kg of the first yield, and delivered water."""
    survivors = kg = liters = None
    for response in trial.responses:
        found = gathered[response.name].main
        if found is None:
            continue
        if response.kind == "survival" and survivors is None and found.alive is not None:
            survivors = np.where(found.used, found.alive, np.nan)
        factor = _KG.get(found.measured_in)
        if response.kind == "yield" and kg is None and factor and found.numerators is not None:
            kg = found.numerators * units.n_plots * factor  # a yield is told per plot
    ledger = season.ledger
    if ledger is not None and len(ledger):
        told = dict(zip(ledger["unit"], ledger["delivered_l"].to_numpy(float), strict=True))
        liters = np.array([told.get(name, np.nan) for name in units.names])
    return Bought(survivors, kg, liters)


def _effects(got: Bought) -> list[Effect]:
    out = []
    if got.survivors is not None:
        out.append(Effect("extra survivor", "survivors", got.survivors, 1.0))
    if got.kg is not None:
        out.append(Effect("extra kg", "kg", got.kg, 1.0))
    if got.liters is not None and np.isfinite(got.liters).any():
        out.append(Effect(SAVED, "m3 saved", got.liters, -1e-3))
    return out


def per_one(
    total: Array, counts: Array, units: Units, cell: int, per: str, confidence: float
) -> Cost:
    """Cost of a survivor or kg of one treatment."""
    name = units.cell_names[cell]
    known = np.isfinite(counts)
    mine = known & (units.cells == cell)
    if not mine.any():
        return Cost(name, per, None, None, None, say(f"cost unknown {per}"))
    gave, paid = float(counts[mine].sum()), float(total[mine].sum())
    if gave <= 0.0:
        return Cost(name, per, None, None, None, say(f"cost no {per}"))
    if paid <= 0.0:
        return Cost(name, per, 0.0, None, None, say("cost nothing"))
    codes = units.block_codes
    found = log_ratio_of_sums(
        counts[known],
        units.cells[known],
        arms=(cell,),
        water=total[known],
        blocks=None if codes is None else codes[known],
        confidence=confidence,
    )
    estimate = paid / gave
    df = None if found.df is None else float(found.df)
    if found.low is None or found.high is None:
        return Cost(name, per, estimate, None, None, _why(found.not_estimable or "", per))
    # the logarithm found is that of survivors over cost
    return Cost(
        name,
        per,
        estimate,
        exp(-found.high),
        exp(-found.low),
        method=METHOD if codes is not None else say("cost method units"),
        df=df,
        blocks_used=None if df is None else int(df) + 1,
    )


def _why(reason: str, per: str) -> str:
    """Reasons that speak of yield, in words of what is counted."""
    if reason == say("ratio few blocks with yield"):
        return say(f"cost few {per}")
    return reason


def _arm(paid: UnitCosts, got: Bought, units: Units, cell: int) -> CostArm:
    mine = units.cells == cell
    plots = float(units.n_plots[mine].sum())

    def mean(values: Array) -> float:
        return float(values[mine].sum()) / plots

    def told(values: Array | None) -> float | None:
        if values is None:
            return None
        known = mine & np.isfinite(values)
        if not known.any():
            return None
        return float(values[known].sum()) / float(units.n_plots[known].sum())

    return CostArm(
        treatment=units.cell_names[cell],
        n_plots=int(plots),
        items=mean(paid.items),
        work=mean(paid.work),
        travel=mean(paid.travel),
        total=mean(paid.total),
        hours=mean(paid.hours),
        visits=float(paid.visits[mine].mean()),
        survivors=told(got.survivors),
        kg=told(got.kg),
        liters=told(got.liters),
    )


_SCENARIOS: tuple[tuple[str, dict[str, float | bool]], ...] = (
    ("as written", {}),
    ("half the wage", {"wage": 0.5}),
    ("twice the wage", {"wage": 2.0}),
    ("half the years of use", {"years": 0.5}),
    ("twice the years of use", {"years": 2.0}),
    ("travel borne alone", {"alone": True}),
)


def _scenarios(
    trial: Trial, units: Units, season: Season, got: Bought
) -> tuple[CostScenario, ...]:
    """Estimates with other assumptions, per survivor, else per kg, else per plot."""
    per, counts = SURVIVOR, got.survivors
    if counts is None:
        per, counts = (KG, got.kg) if got.kg is not None else ("plot", None)
    gave = units.n_plots.astype(np.float64) if counts is None else counts
    known = np.isfinite(gave)
    out = []
    for name, change in _SCENARIOS:
        paid = unit_costs(
            trial,
            units,
            season,
            wage=float(change.get("wage", 1.0)),
            years=float(change.get("years", 1.0)),
            alone=bool(change.get("alone", False)),
        ).total
        for cell in range(units.n_cells):
            mine = known & (units.cells == cell)
            bottom = float(gave[mine].sum())
            value = float(paid[mine].sum()) / bottom if bottom > 0.0 else None
            out.append(CostScenario(name, units.cell_names[cell], per, value))
    return tuple(out)


def _notes(trial: Trial) -> list[str]:
    costs = trial.costs
    out = [say("cost note units")]
    if costs is not None and costs.hours_per_visit:
        out.append(say("cost note hours"))
    if costs is not None and costs.travel is not None:
        out.append(say("cost note travel"))
    if costs is not None and any(item.per == "plant" for item in costs.items):
        out.append(say("cost note replacements"))
    return out
