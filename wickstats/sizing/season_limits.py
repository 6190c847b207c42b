"""Limits of the planned comparisons in many seasons, one error stratum.

By the analysis' own rules: sizes and totals in their stratum, shares and restricted means
with their dispersion (shares with the bound where an arm is of one fate), counts, pairs
within blocks; families by their own critical values. Leans on analysis, models.batch and
``critical``.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.plan import Family
from wickstats.design.defaults import Better, side_of
from wickstats.models.batch.bounds import bounded_limits
from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.dispersion import (
    first_variances,
    judge_restricted_means,
    judge_shares,
    restricted_variances,
)
from wickstats.models.batch.layout import BatchLayout, Flags
from wickstats.models.batch.paired import judge_pairs
from wickstats.models.batch.results import Answers
from wickstats.models.batch.strata import judge_units, t_quantiles
from wickstats.models.linear.estimates import t_tail
from wickstats.models.linear.multiplicity import JOINT
from wickstats.sizing.critical import correlation_of, critical_values, mean_correlations

Array = NDArray[np.float64]
RESTRICTED = "restricted mean"


@dataclass(frozen=True, slots=True, eq=False)
class Lived:
    """(S, n, K) plants that lived each of ``times`` (K,), of at most ``full_time``."""

    counts: Array
    times: Array
    full_time: float


@dataclass(frozen=True, slots=True, eq=False)
class Ruled:
    """How families are judged.

    Attributes
    ----------
    rule
        "strata", "dispersion", "counts", "paired" or "restricted mean".
    families, confidence
        As planned.
    planned
        Plot correlation that the plan assumes, for bounds.
    blocks
        (n,) codes of blocks, for pairs.
    """

    rule: str
    families: tuple[Family, ...]
    confidence: float
    planned: float | None = None
    blocks: NDArray[np.int64] | None = None
    better: Better = "more"

    def side_of(self, family: Family) -> int:
        """1 or -1 where the plan asks only whether better."""
        return side_of(self.better, one_sided=family.one_sided)

    def sides(self, family: Family) -> int:
        """Of a comparison: 2, or 1 where only better is asked for."""
        return 1 if self.side_of(family) else 2

    def level(self, family: Family) -> float:
        """Confidence of two sides with the family's own limits."""
        return 2.0 * self.confidence - 1.0 if self.side_of(family) else self.confidence


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Values (S, n) of the units that are left, plants (S, n) behind them, times lived."""

    values: Array
    plants: Array
    lived: Lived | None = None


def groups_of(families: tuple[Family, ...]) -> Iterator[slice]:
    """Where each family's contrasts stand."""
    start = 0
    for family in families:
        yield slice(start, start + len(family.contrasts))
        start += len(family.contrasts)


def limits_of(ruled: Ruled, left: BatchLayout, drawn: Drawn) -> tuple[Array, Array, Flags]:
    """Limits (S, k) at the families' level, and where a bound gave them.

    ``left`` lays out the units of ``drawn``; NaN where a season gives no interval.
    """
    y, m = drawn.values, drawn.plants
    shape = (len(y), len(left.contrasts.rows))
    low, high = np.full(shape, np.nan), np.full(shape, np.nan)
    bounded = np.zeros(shape, dtype=bool)
    spread = _spread(ruled, left, drawn)
    by_level: dict[float, Answers] = {}
    for family, group in zip(ruled.families, groups_of(ruled.families), strict=True):
        level = _level(ruled, left, family, group)
        if level not in by_level:
            by_level[level] = _answers(ruled, left, drawn, level)
        answers = by_level[level]
        half = _critical(ruled, left, family, group, answers, spread) * answers.se[:, group]
        low[:, group] = answers.estimate[:, group] - half
        high[:, group] = answers.estimate[:, group] + half
        if ruled.rule == "dispersion":
            level = 1.0 - (1.0 - ruled.confidence) / len(family.contrasts)
            for k in range(group.start, group.stop):
                a, b, of_bound = bounded_limits(
                    left, y, m, left.contrasts.weights[k], answers.estimate[:, k],
                    level=level, planned=ruled.planned,
                )  # fmt: skip
                low[:, k] = np.where(of_bound, a, low[:, k])
                high[:, k] = np.where(of_bound, b, high[:, k])
                bounded[:, k] = of_bound
        open_sides(ruled.side_of(family), low[:, group], high[:, group])
    return low, high, bounded


def open_sides(side: int, low: Array, high: Array) -> None:
    """Where one side is asked for the other limit is infinite."""
    if side > 0:
        high[np.isfinite(high)] = np.inf
    elif side < 0:
        low[np.isfinite(low)] = -np.inf


def _spread(ruled: Ruled, left: BatchLayout, drawn: Drawn) -> Array | None:
    """(S, n) unit variances of the first scale, where arms' variances differ."""
    if ruled.rule == "dispersion":
        return first_variances(left, drawn.values, drawn.plants)
    if ruled.rule == RESTRICTED and drawn.lived is not None:
        lived = drawn.lived
        return restricted_variances(left, lived.counts, lived.times, lived.full_time)
    return None


def _answers(ruled: Ruled, left: BatchLayout, drawn: Drawn, confidence: float) -> Answers:
    """Of several intervals the widest at this level."""
    y, m = drawn.values, drawn.plants
    if ruled.rule == "dispersion":
        return judge_shares(left, y, m, confidence=confidence).contrasts
    if ruled.rule == RESTRICTED and drawn.lived is not None:
        lived = drawn.lived
        return judge_restricted_means(
            left, lived.counts, lived.times, lived.full_time, confidence=confidence
        ).contrasts
    if ruled.rule == "counts":
        return judge_counts(left, y, confidence=confidence).contrasts
    if ruled.rule == "paired":
        return judge_pairs(left, y, blocks=ruled.blocks, confidence=confidence)
    plants = m if np.ptp(m) > 0.0 else None
    return judge_units(left, y, plants=plants, confidence=confidence).contrasts


def _level(ruled: Ruled, left: BatchLayout, family: Family, group: slice) -> float:
    """Confidence of one comparison by itself that comes to the family's critical value."""
    size = int(left.contrasts.estimable[group].sum())
    if size <= 1 or family.adjustment == "none":
        return ruled.level(family)
    if not _joint(ruled, family):
        return 1.0 - (1.0 - ruled.level(family)) / size
    df = float(max(left.geometry.df, 1))
    rows = left.contrasts.rows[group][left.contrasts.estimable[group]]
    critical = critical_values(
        correlation_of(rows),
        np.array([df]),
        ruled.confidence,
        sides=ruled.sides(family),
    )
    return 1.0 - float(t_tail(float(critical[0]), df))


def _joint(ruled: Ruled, family: Family) -> bool:
    return family.adjustment in JOINT and ruled.rule != "paired"


def _critical(
    ruled: Ruled,
    left: BatchLayout,
    family: Family,
    group: slice,
    answers: Answers,
    variances: Array | None,
) -> Array:
    df = answers.df[:, group]
    kept = left.contrasts.estimable[group]
    size = int(kept.sum())
    if size <= 1 or family.adjustment == "none":
        return t_quantiles(ruled.level(family), df)
    if not _joint(ruled, family):
        return t_quantiles(1.0 - (1.0 - ruled.level(family)) / size, df)
    rows = left.contrasts.rows[group][kept]
    own = None if variances is None else mean_correlations(rows, variances)
    return critical_values(
        correlation_of(rows),
        df,
        ruled.confidence,
        seasons=own,
        sides=ruled.sides(family),
    )
