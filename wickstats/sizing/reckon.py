"""Power of one family of contrasts under assumed means and unit variances.

Each contrast is a t statistic with noncentrality difference/se in its stratum; the
critical value is the family's own (Dunnett, Tukey, single-step; Bonferroni for Holm and
the paired rule, which makes Holm's power a lower bound). Intervals of shares and counts are
no narrower than their events' own scatter (``events``). Leans on models.power, power_events,
models.linear and numpy.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wickstats.design.defaults import names_of
from wickstats.models.linear.estimates import t_quantile, t_tail
from wickstats.models.linear.joint_one_sided import one_sided_t
from wickstats.models.linear.joint_t import joint_t
from wickstats.models.linear.multiplicity import JOINT
from wickstats.models.power import t_detectable, t_power
from wickstats.models.power_events import widest_detectable, widest_power
from wickstats.sizing.assumed import Expected
from wickstats.sizing.grounds import Ground
from wickstats.sizing.pieces import Pieces
from wickstats.sizing.plots import Sizes

Array = NDArray[np.float64]
MOST_BLOCKS = 400


@dataclass(frozen=True, slots=True)
class Precision:
    """One contrast's standard error, df and per-comparison error rate.

    ``spread`` is the standard error that the units' interval shows, where it is another than
    the estimate's own; ``least`` the half-width below which no interval falls. Where only one
    ``side`` is asked for (1 or -1), ``alpha`` is twice that of the side.
    """

    se: float
    df: float
    alpha: float
    spread: float | None = None
    least: float = 0.0
    side: int = 0

    def scaled(self, size: float) -> "Precision":
        """The same where units differ ``size`` times as much."""
        spread = None if self.spread is None else self.spread * size
        return replace(self, se=self.se * size, spread=spread)


@dataclass(frozen=True, slots=True)
class Judged:
    """How a family is judged."""

    adjustment: str
    confidence: float
    target: float
    side: int = 0  # 1 or -1: only more or only less is asked for


def precision(
    sizes: Sizes, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    """Standard errors, df and error rates of a family; None where df are 0.

    None too for a comparison of which one side is one unit: the analysis judges none.
    """
    if sizes.pieces is not None:
        return _on_pieces(sizes.pieces, count, what, weights, plan)
    found = _precision(sizes, count, what, weights, plan)
    return [
        None
        if one is None or alone(sizes, count, w) is not None
        else replace(one, side=plan.side)
        for one, w in zip(found, weights, strict=True)
    ]


def alone(sizes: Sizes, count: int, weights: Array) -> str | None:
    """The treatment that would stand on a single unit; none where others share its levels."""
    units = sizes.units_at(count)
    for side in (weights > 0, weights < 0):
        cells = np.flatnonzero(side)
        if cells.size != 1 or units[cells[0]] != 1:
            continue
        name = sizes.cells[int(cells[0])]
        if names_of(name) == (name, name):
            return name
    return None


def _precision(
    sizes: Sizes, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    paired = what.rule == "paired"
    if sizes.ground is not None and not (paired and sizes.additive):
        return _on_ground(sizes.ground, count, what, weights, plan)
    units = sizes.units_at(count)
    if paired:
        return _paired(units, what, weights, plan)
    variances = what.variances
    if what.rule == "strata":
        variances = np.full(variances.size, float(np.nanmean(variances)))
    # counts have the design's df, whatever the variances of the arms
    told = np.ones_like(variances) if what.rule == "counts" else variances
    first, second = sizes.traces(units, told)
    if first <= 0 or second <= 0:
        return [None for _ in weights]
    df = first * first / second
    rows = np.array(weights)
    covariance = (rows * (variances / units)) @ rows.T
    ses = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(ses, ses)
    alpha = _alpha(correlation, df, plan)
    found = [Precision(float(se), df, alpha) for se in ses]
    return [
        _with_events(one, what, units, weight, (correlation, plan))
        for one, weight in zip(found, weights, strict=True)
    ]


def _with_events(
    at: Precision,
    what: Expected,
    units: NDArray[np.int64],
    weight: Array,
    family: tuple[Array, Judged],
) -> Precision | None:
    """The same with the half-width that single plants or fruits leave in any case."""
    events = what.events
    if events is None:
        return at
    se, df = events.own_scatter(units, weight, at.df)
    least = t_quantile(1.0 - _alpha(family[0], df, family[1]), df) * se
    if what.rule != "counts":
        return replace(at, least=least)
    return replace(at, least=least, spread=events.pooled(what.variances, units, weight))


def _on_ground(
    ground: Ground, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    """One variance for all units: the mean of what is assumed."""
    df = ground.error_at(count)
    if df <= 0:
        return [None for _ in weights]
    rows = np.array(weights)
    covariance = rows @ ground.inverse_at(count) @ rows.T * float(np.nanmean(what.variances))
    ses = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(ses, ses)
    alpha = _alpha(correlation, df, plan)
    units = ground.units_at(count)
    pooled = replace(what, rule="pooled")
    return [
        _with_events(
            Precision(float(se), df, alpha), pooled, units, weight, (correlation, plan)
        )
        for se, weight in zip(ses, weights, strict=True)
    ]


def _on_pieces(
    pieces: Pieces, count: int, what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    """Each contrast by the mean squares and df of the strata that it lies in."""
    larger = what.larger or 0.0
    squares = pieces.mean_squares(float(np.nanmean(what.variances)), larger)
    error = pieces.error_at(count)
    covariance = pieces.covariance(np.array(weights), squares, count)
    ses = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(ses, ses)
    out: list[Precision | None] = []
    for se, weight in zip(ses, weights, strict=True):
        shares = pieces.shares(weight, count)
        held = shares > 0.0
        unknown = what.larger is None and pieces.needs_larger(weight)
        if unknown or np.any(error[held] <= 0):
            out.append(None)
            continue
        parts = (shares * squares)[held]
        df = float(parts.sum() ** 2 / np.sum(np.square(parts) / error[held]))
        alpha = _alpha(correlation, df, plan)
        out.append(Precision(float(se), df, alpha, side=plan.side))
    return out


def _paired(
    units: NDArray[np.int64], what: Expected, weights: list[Array], plan: Judged
) -> list[Precision | None]:
    alpha = (2.0 if plan.side else 1.0) * (1.0 - plan.confidence) / len(weights)
    out: list[Precision | None] = []
    for weight in weights:
        used = weight != 0
        per_arm = np.square(weight[used]) * what.variances[used] / units[used]
        df = float(units[used].min() - 1)
        out.append(Precision(float(np.sqrt(per_arm.sum())), df, alpha) if df >= 1 else None)
    return out


def _alpha(correlation: Array, df: float, plan: Judged) -> float:
    adjustment, confidence = plan.adjustment, plan.confidence
    k = correlation.shape[0]
    sides = 2.0 if plan.side else 1.0
    if k == 1 or adjustment == "none":
        return sides * (1.0 - confidence)
    if adjustment in JOINT:
        joint = one_sided_t(correlation) if plan.side else joint_t(correlation)
        return float(t_tail(joint.critical(confidence, df), df))
    return sides * (1.0 - confidence) / float(k)


def power_of(difference: float, at: Precision | None) -> float | None:
    """Chance that the contrast's interval leaves zero out, on the side that is asked for."""
    if at is None:
        return None
    size, both = (at.side * difference, False) if at.side else (abs(difference), True)
    if at.least > 0.0 or at.spread is not None:
        return widest_power(
            size, at.se, at.df, alpha=at.alpha, spread=at.spread, least=at.least, two_sided=both
        )
    alpha = at.alpha if both else 0.5 * at.alpha
    return t_power(size, at.se, at.df, alpha=alpha, two_sided=both)


def power_of_size(size: float, at: Precision | None) -> float | None:
    """The same for a difference of that size, on the side that is asked for."""
    return power_of(size if at is None else size * (at.side or 1), at)


def detectable(at: Precision | None, target: float) -> float | None:
    """Return the smallest difference shown with that chance."""
    if at is None:
        return None
    if at.least > 0.0 or at.spread is not None:
        return widest_detectable(
            at.se, at.df, power=target, alpha=at.alpha, spread=at.spread, least=at.least
        )
    return t_detectable(at.se, at.df, power=target, alpha=at.alpha)


def blocks_for(
    sizes: Sizes,
    what: Expected,
    weights: list[Array],
    which: int,
    difference: float,
    plan: Judged,
) -> int | None:
    """Fewest blocks (or replicates) that reach the target; None beyond ``MOST_BLOCKS``.

    ``difference`` is a size: where one side is asked for, on that side.
    """

    def reached(count: int) -> bool:
        at = precision(sizes, count, what, weights, plan)[which]
        power = power_of_size(abs(difference), at)
        return power is not None and power >= plan.target

    if difference == 0.0 or not reached(MOST_BLOCKS):
        return None
    low, high = 1, MOST_BLOCKS
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high if sizes.ground is None else sizes.ground.rounded(high)
