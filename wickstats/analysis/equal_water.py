"""The claim of equal water, judged as an equivalence and told as a check.

Every treatment's delivered water against the planned, on its own units, or against the
reference's within blocks; equal where the 90 % interval lies inside the stated ratio
(two one-sided 5 % tests, Schuirmann 1987). Leans on models.ratios.equivalence.
"""

import numpy as np

from wickstats.analysis.summaries.totals import water_liters
from wickstats.analysis.units import Array, Units
from wickstats.core.numbers import number
from wickstats.core.responses import Check
from wickstats.core.words import say
from wickstats.design.trial import EqualWater as Claim
from wickstats.models.ratios.equivalence import (
    EqualWater,
    equal_water_one_arm,
    equal_water_two_arms,
)
from wickstats.records.season import Season


def equal_water_check(
    claim: Claim, season: Season, units: Units, reference: str | None
) -> Check | None:
    """One check over all treatments; None where no water was recorded."""
    liters = water_liters(season, units, "delivered").known
    if not np.isfinite(liters).any():
        return None
    parts = [
        _words(name, found)
        for name, found in (
            _against_planned(claim, liters, season, units)
            if claim.against == "planned"
            else _against_reference(claim, liters, units, reference)
        )
    ]
    return Check(say("check equal water", ratio=number(claim.ratio)), " ".join(parts), None)


def _against_planned(
    claim: Claim, liters: Array, season: Season, units: Units
) -> list[tuple[str, EqualWater]]:
    planned = water_liters(season, units, "planned").known
    out = []
    for code, name in enumerate(units.cell_names):
        mine = (units.cells == code) & np.isfinite(liters) & np.isfinite(planned)
        if mine.any():
            found = equal_water_one_arm(liters[mine], planned[mine], ratio=claim.ratio)
            out.append((name, found))
    return out


def _against_reference(
    claim: Claim, liters: Array, units: Units, reference: str | None
) -> list[tuple[str, EqualWater]]:
    base = units.cell_names.index(reference) if reference in units.cell_names else 0
    blocks = units.pairs
    there = np.isfinite(liters)
    out = []
    for code, name in enumerate(units.cell_names):
        if code == base or not (units.cells[there] == code).any():
            continue
        weights = np.zeros(units.n_cells)
        weights[code], weights[base] = 1.0, -1.0
        found = equal_water_two_arms(
            liters[there],
            units.cells[there],
            weights,
            ratio=claim.ratio,
            blocks=None if blocks is None else blocks[there],
        )
        out.append((name, found))
    return out


def _words(name: str, found: EqualWater) -> str:
    if found.equal is None:
        return say("equal water open", name=name, reason=found.not_estimable or "")
    return say(
        "equal water yes" if found.equal else "equal water no",
        name=name,
        value=number(found.ratio),
        low=number(found.low),
        high=number(found.high),
        attainable=number(found.attainable),
    )
