"""The claim of equal water, judged as an equivalence, and what it does to reading yields.

Every treatment's delivered water against the planned, on its own units, and against the
reference's within blocks; equal where the 90 % interval lies inside the stated ratio (two
one-sided 5 % tests, Schuirmann 1987). The plan says which of the two is its claim; the
other stands beside. A shared error of cans and meters widens the interval once where it
does not cancel. Leans on models.ratios.equivalence and the summaries of liters.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.summaries.liters import calibration_of, water_liters
from wickstats.analysis.summary import Calibration, shared_half
from wickstats.analysis.units import Array, Units
from wickstats.core.numbers import number
from wickstats.core.responses import Check
from wickstats.core.water import EqualWaterResult, EqualWaterRow
from wickstats.core.words import say
from wickstats.design.trial import EqualWater as Claim
from wickstats.models.ratios.equivalence import (
    EqualWater,
    equal_water_one_arm,
    equal_water_two_arms,
)
from wickstats.records.season import Season

PLANNED = "planned"
NO_CLAIM = 1.10  # the half-width is shown against something; nothing is judged by it


@dataclass(frozen=True, slots=True, eq=False)
class _Water:
    """What all rows are reckoned from."""

    liters: Array
    planned: Array
    units: Units
    calibration: Calibration | None
    ratio: float
    claim: Claim | None


def equal_water(
    claim: Claim | None, season: Season, units: Units, reference: str | None
) -> EqualWaterResult | None:
    """Rows against the planned and against the reference; None where no water is known."""
    liters = water_liters(season, units, "delivered").known
    if not np.isfinite(liters).any():
        return None
    water = _Water(
        liters,
        water_liters(season, units, PLANNED).known,
        units,
        calibration_of(season, units, log=True),
        NO_CLAIM if claim is None else claim.ratio,
        claim,
    )
    rows = (*_against_planned(water), *_against_reference(water, reference))
    if not rows:
        return None
    return EqualWaterResult(
        bound=None if claim is None else claim.ratio,
        against=None if claim is None else claim.against,
        rows=rows,
        reading=_reading(claim, rows),
    )


def equal_water_check(found: EqualWaterResult) -> Check | None:
    """The claim as a check; None where the plan makes none, or nothing stands against it."""
    claimed = [row for row in found.rows if row.claimed]
    if found.bound is None or not claimed:
        return None
    parts = []
    for row in claimed:
        if row.equal is None:
            reason = row.not_estimable or ""
            parts.append(say("equal water open", name=row.treatment, reason=reason))
            continue
        parts.append(
            say(
                "equal water yes" if row.equal else "equal water no",
                name=row.treatment,
                value=number(row.ratio),
                low=number(row.low),
                high=number(row.high),
                attainable=number(row.attainable),
            )
        )
    return Check(say("check equal water", ratio=number(found.bound)), " ".join(parts), None)


def _against_planned(water: _Water) -> tuple[EqualWaterRow, ...]:
    units, out = water.units, []
    claimed = water.claim is not None and water.claim.against == PLANNED
    for code, name in enumerate(units.cell_names):
        mine = (units.cells == code) & np.isfinite(water.liters) & np.isfinite(water.planned)
        mine &= water.planned > 0.0
        if not mine.any():
            continue
        weights = np.zeros(units.n_cells)
        weights[code] = 1.0
        found = equal_water_one_arm(
            water.liters[mine],
            water.planned[mine],
            ratio=water.ratio,
            calibration=shared_half(water.calibration, weights, units),
        )
        out.append(_row(name, PLANNED, found, int(mine.sum()), claimed=claimed))
    return tuple(out)


def _against_reference(water: _Water, reference: str | None) -> tuple[EqualWaterRow, ...]:
    units = water.units
    base = units.cell_names.index(reference) if reference in units.cell_names else 0
    claimed = water.claim is not None and water.claim.against == "reference"
    blocks, there, out = units.pairs, np.isfinite(water.liters), []
    for code, name in enumerate(units.cell_names):
        own = units.cells[there]
        if code == base or not (own == code).any() or not (own == base).any():
            continue
        weights = np.zeros(units.n_cells)
        weights[code], weights[base] = 1.0, -1.0
        found = equal_water_two_arms(
            water.liters[there],
            own,
            weights,
            ratio=water.ratio,
            blocks=None if blocks is None else blocks[there],
            calibration=shared_half(water.calibration, weights, units),
        )
        n = int(((own == code) | (own == base)).sum())
        out.append(_row(name, units.cell_names[base], found, n, claimed=claimed))
    return tuple(out)


def _row(name: str, against: str, found: EqualWater, n: int, *, claimed: bool) -> EqualWaterRow:
    reach = found.attainable
    return EqualWaterRow(
        treatment=name,
        against=against,
        claimed=claimed,
        ratio=found.ratio,
        low=found.low,
        high=found.high,
        df=found.df,
        p=found.p if claimed else None,
        bound=found.bound if claimed else None,
        attainable=reach,
        could_show=None if reach is None or not claimed else reach < found.bound,
        equal=found.equal if claimed else None,
        n_units=n,
        sentence=_sentence(name, against, found, claimed=claimed),
        not_estimable=found.not_estimable,
    )


def _sentence(name: str, against: str, found: EqualWater, *, claimed: bool) -> str:
    other = say("equal water planned") if against == PLANNED else against
    if found.equal is None or found.low is None or found.high is None:
        reason = found.not_estimable or ""
        return say("equal water row open", name=name, against=other, reason=reason)
    told = {
        "name": name,
        "against": other,
        "bound": number(found.bound),
        "value": number(found.ratio),
        "low": number(found.low),
        "high": number(found.high),
        "attainable": number(found.attainable),
    }
    if not claimed:
        return say("equal water row plain", **told)
    if found.equal:
        return say("equal water row yes", **told)
    if found.low > found.bound or found.high < 1.0 / found.bound:
        return say("equal water row no", **told)
    within = (found.attainable or np.inf) < found.bound
    key = "equal water reach" if within else "equal water out of reach"
    return say("equal water row unclear", reach=say(key, **told), **told)


def _reading(claim: Claim | None, rows: tuple[EqualWaterRow, ...]) -> str:
    """What the supply does to the reading of yields, from the rows between treatments."""
    pairs = [r for r in rows if r.against != PLANNED and r.low is not None]
    if not pairs:
        return say("reading none")
    bound = NO_CLAIM if claim is None else claim.ratio
    told = "; ".join(
        say(
            "reading pair",
            name=r.treatment,
            value=number(r.ratio),
            against=r.against,
            low=number(r.low),
            high=number(r.high),
        )
        for r in pairs
    )
    inside = [_inside(r, bound) for r in pairs]
    apart = [(r.low or 0.0) > 1.0 or (r.high or np.inf) < 1.0 for r in pairs]
    claimed = [r for r in rows if r.claimed]
    if claim is not None and claim.against == PLANNED and any(apart):
        if claimed and all(r.equal for r in claimed):
            return say("reading as planned", bound=number(bound), list=told)
        return say("reading unequal", list=told)
    if claim is not None and all(inside):
        return say("reading equal", bound=number(bound))
    return say("reading unequal" if any(apart) else "reading open", list=told)


def _inside(row: EqualWaterRow, bound: float) -> bool:
    return (row.low or 0.0) >= 1.0 / bound and (row.high or np.inf) <= bound
