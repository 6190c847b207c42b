"""Ratios of death rates and incidence of causes computed again.

Leans on second.hazards, second.incidence, ``material`` and core.
"""

from collections.abc import Sequence
from math import log

import numpy as np

from wickstats.analysis.causes import causes_of, lives_of_cause
from wickstats.analysis.lives import Lives
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import say
from wickstats.road.material import Material, checked, unchecked


def hazards_again(
    material: Material, response: ResponseResult, lives: Lives
) -> list[SecondEngineRow]:
    """Estimate, standard error and df of every ratio that is not penalized."""
    out = _ratios(material, response.name, lives, response.sensitivity)
    if response.plant_lives is None:
        return out
    causes = causes_of(lives)
    for k, cause in enumerate(causes.names):
        name = say("death rate of", cause=cause)
        rows = [r for r in response.plant_lives.cause_comparisons if r.estimand == name]
        own = lives_of_cause(lives, causes.codes, k)
        out += _ratios(material, f"{response.name}, {name}", own, rows)
    return out


def _ratios(
    material: Material, name: str, lives: Lives, told: Sequence[Comparison]
) -> list[SecondEngineRow]:
    from wickstats.second.hazards import hazard_contrasts

    units = material.units
    out: list[SecondEngineRow] = []
    if len(units.factors) != 1:
        return out
    of = [units.cell_names[int(units.cells[j])] for j in lives.units]
    codes = units.block_codes
    blocks = None if codes is None else [int(codes[j]) for j in lives.units]
    low, high = (lives.low - lives.planted).tolist(), (lives.high - lives.planted).tolist()
    rows = [
        row
        for row in told
        if row.measure == "hazard ratio" and row.estimate is not None and row.se is not None
    ]
    pairs = [(row.treatment, row.versus) for row in rows]
    if not pairs:
        return out
    try:
        answers = hazard_contrasts(low, high, lives.units.tolist(), of, blocks, pairs)
    except ValueError as error:
        why = say("second refused", why=str(error))
        return [unchecked(f"{name}: {row.name}", row.estimate, why) for row in rows]
    for row, found in zip(rows, answers, strict=True):
        what = f"{name}: {row.name}"
        ours = log(row.estimate or 1.0)
        out.append(checked(f"{what}: estimate ({found.engine})", ours, found.estimate))
        if found.se is not None and row.df is not None and found.df is not None:
            out.append(checked(f"{what}: standard error", row.se, found.se))
            out.append(checked(f"{what}: degrees of freedom", row.df, found.df))
    return out


def incidence_again(
    material: Material, response: ResponseResult, lives: Lives
) -> list[SecondEngineRow]:
    """Incidence of every cause at the end, by treatment."""
    from wickstats.second.incidence import incidence_at_end

    told = response.plant_lives.incidence if response.plant_lives is not None else ()
    blank = say("no cause noted")
    out: list[SecondEngineRow] = []
    low, high = lives.low - lives.planted, lives.high - lives.planted
    causes = [
        (word or blank) if dead else None
        for word, dead in zip(lives.cause, lives.dead.tolist(), strict=True)
    ]
    for code, name in enumerate(material.units.cell_names):
        last = {p.cause: p.share for p in told if p.group == name}
        mine = np.flatnonzero(material.units.cells[lives.units] == code)
        if not last or not mine.size:
            continue
        what = f"{response.name}: {name}: incidence at the end of"
        try:
            found = incidence_at_end(
                low[mine].tolist(), high[mine].tolist(), [causes[k] for k in mine]
            )
        except ValueError as error:
            out.append(
                unchecked(f"{what} all causes", None, say("second refused", why=str(error)))
            )
            continue
        out.extend(
            checked(f"{what} {cause} (self-consistency)", share, found.get(cause, 0.0))
            for cause, share in last.items()
        )
    return out
