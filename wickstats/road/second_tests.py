"""F tests and survival curves computed again.

F tests of one stratum by statsmodels, the last step of survival curves by lifelines,
classical tables by ``classical_opinion``. Leans on second, ``material`` and core.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.lives import Lives
from wickstats.analysis.summary import Summary
from wickstats.core.responses import ResponseResult, TestRow
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import say
from wickstats.road.classical_opinion import classical_pairs
from wickstats.road.material import Material, checked, unchecked
from wickstats.second.ordinary import ENGINE


def tests_again(
    material: Material, response: ResponseResult, main: Summary
) -> list[SecondEngineRow]:
    """F tests of one stratum by statsmodels, and classical tables of strata by hand.

    Where units differ in their numbers of plants a guard may have made the report's test.
    """
    rows: list[SecondEngineRow] = []
    if main.covariate is None:
        units = [v for v in response.unit_summary.values if v.value is not None]
        if main.rule == "counts":  # as they are judged where several strata hold treatments
            units = [replace(v, value=float(np.log((v.value or 0.0) + 0.5))) for v in units]
        rows.extend(
            checked(f"{response.name}: {what} (sums of squares)", ours, theirs)
            for what, ours, theirs in classical_pairs(material.results, response, units)
        )
    where, arms = material.used(main)
    even = not main.guard or np.ptp(main.plants[where]) == 0
    by_pairs = any(row.rule == "paired" for row in response.comparisons)
    if main.rule != "strata" or material.units.is_split or not even:
        return rows
    if by_pairs and material.units.n_cells > 2:  # no pooled variance in that F
        return rows
    told = {t.term: t for t in response.tests if t.statistic == "F" and t.value is not None}
    try:
        found = _ordinary_tests(material, main, arms)
    except ValueError:
        return rows
    rows.extend(
        checked(f"{response.name}: F of {term} ({ENGINE})", told[term].value, value)
        for term, value in found.items()
        if term in told and _one_stratum(told[term])
    )
    return rows


def _one_stratum(row: TestRow) -> bool:
    return row.df_den is not None and abs(row.df_den - round(row.df_den)) < 1e-9


def _ordinary_tests(material: Material, main: Summary, arms: list[str]) -> dict[str, float]:
    from wickstats.second.ordinary import ordinary_test

    where, _ = material.used(main)
    covariate = None if main.covariate is None else main.covariate[where]
    found = {}
    told = np.array(material.told(arms), dtype=object)
    for term, rows in material.terms.items():
        asked = [material.named_as_told(row) for row in rows]
        found[term] = ordinary_test(
            main.values[where], told, asked, material.blockings(where), covariate
        ).statistic
    return found


def curves_again(
    material: Material, response: ResponseResult, lives: Lives
) -> list[SecondEngineRow]:
    """The last step of every treatment's curve, by lifelines."""
    from wickstats.second.lifetimes import (
        LARGEST,
        interval_shares,
        midpoint_shares,
        steps_do_not_overlap,
    )

    out = []
    for code, name in enumerate(material.units.cell_names):
        mine = material.units.cells[lives.units] == code
        points = [p for p in response.curves if p.group == name]
        if not points or not mine.any():
            continue
        low = (lives.low - lives.planted)[mine]
        high = (lives.high - lives.planted)[mine]
        last = max(points, key=lambda p: p.time_low or 0.0)
        what = f"{response.name}: {name}: share alive at the end of the curve (lifelines)"
        at = [last.time_low or 0.0]
        if steps_do_not_overlap(low, high):
            out.append(checked(what, last.share, float(midpoint_shares(low, high, at)[0])))
        elif mine.sum() <= LARGEST and np.isfinite(high).any():
            out.append(checked(what, last.share, float(interval_shares(low, high, at)[0])))
        else:
            out.append(unchecked(what, last.share, say("second too large")))
    return out
