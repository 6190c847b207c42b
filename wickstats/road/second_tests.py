"""F tests and survival curves computed again.

Classical sums of squares by loops over means, F tests of one stratum by statsmodels, the
last step of survival curves by lifelines. Leans on second, ``material`` and core.
"""

from collections.abc import Mapping

import numpy as np

from wickstats.analysis.lives import Lives
from wickstats.analysis.summary import Summary
from wickstats.core.responses import ResponseResult, TestRow
from wickstats.core.results import SecondEngineRow
from wickstats.core.words import say
from wickstats.road.material import Material, checked, unchecked


def tests_again(
    material: Material, response: ResponseResult, main: Summary
) -> list[SecondEngineRow]:
    """F tests: of classical tables by loops over means, of one stratum by statsmodels."""
    where, arms = material.used(main)
    plants = main.plants[where]
    if main.rule != "strata" or (main.guard and np.ptp(plants) > 0):
        return []
    told = {t.term: t for t in response.tests if t.statistic == "F" and t.value is not None}
    try:
        if material.units.is_split:
            found, engine = _split_table(material, main)
        elif len(material.units.factors) == 1 and main.covariate is None:
            found, engine = _plain_table(material, main)
        else:
            found, engine = _ordinary_tests(material, main, arms)
    except ValueError:
        return []
    return [
        checked(f"{response.name}: F of {term} ({engine})", told[term].value, value)
        for term, value in found.items()
        if term in told and _one_stratum(told[term])
    ]


def _one_stratum(row: TestRow) -> bool:
    return row.df_den is not None and abs(row.df_den - round(row.df_den)) < 1e-9


def _plain_table(material: Material, main: Summary) -> tuple[Mapping[str, float], str]:
    from wickstats.second.strata import ENGINE, complete_blocks, one_way

    where, arms = material.used(main)
    values = main.values[where].tolist()
    blocks = [material.units.block_of(int(j)) for j in where]
    if material.trial.design.type == "completely randomized":
        lines = one_way(values, arms)
    elif material.trial.design.type == "randomized complete block" and all(blocks):
        lines = complete_blocks(values, arms, blocks)
    else:
        return _ordinary_tests(material, main, arms)
    tested = next((line.f for line in lines if line.f is not None), None)
    return ({} if tested is None else {"treatment": tested}), ENGINE


def _split_table(material: Material, main: Summary) -> tuple[Mapping[str, float], str]:
    from wickstats.second.strata import ENGINE, split_plot

    where, _ = material.used(main)
    units = material.units
    if len(units.factors) != 2:
        raise ValueError("more than two factors")
    cells = material.split_cells(units.cells[where])
    blocks = [units.block_of(int(j)) for j in where]
    lines = split_plot(
        main.values[where].tolist(), blocks, [w for w, _ in cells], [s for _, s in cells]
    )
    (whole,) = units.whole_factors
    names = {
        "whole": units.factors[whole],
        "sub": units.factors[1 - whole],
        "whole x sub": " x ".join(units.factors),
    }
    return {
        names[n.source]: n.f for n in lines if n.f is not None and n.source in names
    }, ENGINE


def _ordinary_tests(
    material: Material, main: Summary, arms: list[str]
) -> tuple[Mapping[str, float], str]:
    from wickstats.second.ordinary import ENGINE, ordinary_test

    where, _ = material.used(main)
    covariate = None if main.covariate is None else main.covariate[where]
    found = {}
    for term, rows in material.terms.items():
        asked = [material.named(row) for row in rows]
        found[term] = ordinary_test(
            main.values[where], arms, asked, material.blockings(where), covariate
        ).statistic
    return found, ENGINE


def curves_again(
    material: Material, response: ResponseResult, lives: Lives
) -> list[SecondEngineRow]:
    """The last step of every treatment's curve, by lifelines."""
    from wickstats.second.lifetimes import (
        ENGINE,
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
        what = f"{response.name}: {name}: share alive at the end of the curve ({ENGINE})"
        at = [last.time_low or 0.0]
        if steps_do_not_overlap(low, high):
            out.append(checked(what, last.share, float(midpoint_shares(low, high, at)[0])))
        elif mine.sum() <= LARGEST and np.isfinite(high).any():
            out.append(checked(what, last.share, float(interval_shares(low, high, at)[0])))
        else:
            out.append(unchecked(what, last.share, say("second too large")))
    return out
