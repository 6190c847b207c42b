"""Comparisons of cords by their own coils, runs taken out by statsmodels.

Every coil, or every coil in every run where coils cancel, gives one number; each cord's
numbers have their own variance, added with df by Welch (1947, Biometrika 34:28). Leans on
statsmodels and ``answers``.
"""

from collections.abc import Hashable, Mapping, Sequence
from statistics import fmean, variance

import numpy as np

from wickstats.second.answers import ContrastAnswer

ENGINE = "own coils of each cord"
Cell = tuple[Hashable, Hashable]


def coil_contrast(
    values: Sequence[float],
    cells: Sequence[Cell],
    coils: Sequence[Hashable],
    weights: Mapping[Cell, float],
    runs: Sequence[Hashable] | None = None,
) -> ContrastAnswer:
    """Contrast of treatments given to coils (first of a cell) and to their pieces (second).

    Parameters
    ----------
    values, cells, coils, runs
        (n,) by piece.
    weights
        Cell -> weight.

    Raises
    ------
    ValueError
        Where a cord has fewer than two numbers.
    """
    clean = list(values) if runs is None else _without_runs(values, cells, coils, runs)
    cords = list(dict.fromkeys(cord for (cord, _), w in weights.items() if w != 0.0))
    within = runs is not None and all(
        abs(sum(w for (c, _), w in weights.items() if c == cord)) < 1e-12 for cord in cords
    )
    estimate = total = spread = 0.0
    for cord in cords:
        asked = {cell: w for cell, w in weights.items() if cell[0] == cord and w != 0.0}
        groups: dict[Hashable, dict[Cell, list[float]]] = {}
        for k, (value, cell) in enumerate(zip(clean, cells, strict=True)):
            if cell in asked:
                key = (coils[k], runs[k]) if within and runs is not None else coils[k]
                groups.setdefault(key, {}).setdefault(cell, []).append(float(value))
        own = [
            sum(w * fmean(held[cell]) for cell, w in asked.items())
            for held in groups.values()
            if len(held) == len(asked)
        ]
        if len(own) < 2:
            raise ValueError(f"fewer than two coils of {cord}")
        part = variance(own) / len(own)
        estimate += fmean(own)
        total += part
        spread += part**2 / (len(own) - 1)
    if spread == 0.0:
        raise ValueError("the coils of each cord are all alike")
    return ContrastAnswer(estimate, total**0.5, total**2 / spread, ENGINE)


def _without_runs(
    values: Sequence[float],
    cells: Sequence[Cell],
    coils: Sequence[Hashable],
    runs: Sequence[Hashable],
) -> list[float]:
    from statsmodels.regression.linear_model import OLS

    both = list(zip(coils, cells, strict=True))
    out = [float(v) for v in values]
    for days in _days_that_share(both, runs):
        rows = [k for k, run in enumerate(runs) if run in days]
        held = list(dict.fromkeys(both[k] for k in rows))
        # the last run is the base; centered, the runs' effects sum to zero
        x = [
            [
                *(float(both[k] == key) for key in held),
                *(float(runs[k] == d) for d in days[:-1]),
            ]
            for k in rows
        ]
        fit = OLS(np.array([out[k] for k in rows]), np.array(x)).fit()
        effects = [*np.asarray(fit.params)[len(held) :].tolist(), 0.0]
        center = fmean(effects)
        told = dict(zip(days, effects, strict=True))
        for k in rows:
            out[k] -= told[runs[k]] - center
    return out


def _days_that_share(
    both: Sequence[Hashable], runs: Sequence[Hashable]
) -> list[list[Hashable]]:
    """Runs in groups that no coil's treatment joins: between them runs are as coils."""
    groups: list[tuple[set[Hashable], list[Hashable]]] = []
    for run in dict.fromkeys(runs):
        mine = {key for key, r in zip(both, runs, strict=True) if r == run}
        joined = [g for g in groups if g[0] & mine]
        groups = [g for g in groups if not g[0] & mine]
        groups.append(
            (mine.union(*(g[0] for g in joined)), [r for g in joined for r in g[1]] + [run])
        )
    return [days for _, days in groups]
