"""Intervals for variance components.

Profile likelihood: the restricted deviance of one component, the others at their best (at
or above zero), may rise so far; the ends are where it has risen that far. The lower end is
zero where zero is not ruled out. Source: Venzon & Moolgavkar (1988); under REML the fixed
part stays the same throughout, so the criteria may be compared.

How far it may rise is the chi-square(1) quantile in large samples (method "profile"). With
few groups that misses too often (Bartlett 1937), so that by default (method "small sample")

residual     has no profile interval where W, the sum of squares left by the fixed part and
             all random terms taken as fixed, has f > 0 degrees of freedom: W is distributed
             as the variance times chi-square(f) whatever the other components are, hence
             W/chi-square quantiles (exact; Searle, Casella & McCulloch 1992, chapter 3). It
             reaches to the estimate where that, pooled with other strata, stands outside
others       may rise by ``likelihood_rise``: the exact quantile of the deviance of a single
             variance known on d degrees of freedom, d those of the term's own stratum. Terms
             with as many levels or fewer stand as fixed in that deviance: where such a
             component is estimated at zero, its stratum would be pooled with the term's own
             just when that stratum's mean square is large, and plots that vary more than
             blocks would be missed in up to 6 % of seasons (6 blocks of 2, 4 plants a plot,
             plot variance 2, block variance 0.25; by fixed ones in 5.0 %). The interval
             reaches to the estimate where that stands outside

A term stands as fixed where its component is held far above the others. With the finer ones'
far below, the expected information about theta is d/theta^2, which gives d. W comes from the
cross-products of the rows whose variance is the residual's alone, by least squares on what
they share.
Leans on reml, solver, likelihood, scipy.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import special
from scipy.optimize import brentq

from wickstats.core.words import say
from wickstats.models.linear.grouping import Array
from wickstats.models.linear.likelihood import evaluate
from wickstats.models.linear.reduction import Reduced
from wickstats.models.linear.reml import MixedFit
from wickstats.models.linear.solver import Flags, minimize

# How far from the estimate an end is looked for, as a factor.
FARTHEST = 1e9
# Relative accuracy of an end.
ACCURACY = 1e-8
# How far other components are set apart to see one stratum alone.
APART = 1e3
# How far above the others a component stands as good as fixed: what it still tells shifts ends
# by some 1e-5 of themselves, and further off rounding would.
FAR = 1e4
# Newton decrement below which a deviance is known to half its square: 5e-7.
SETTLED = 1e-3
RANK = 1e-9  # relative size of an eigenvalue that counts as zero
SCATTER = 1e-10  # sum of squares by degrees of freedom, below which there is none

Method = Literal["small sample", "profile"]


@dataclass(frozen=True, slots=True)
class ComponentInterval:
    """Interval of one variance; an end is None where ``not_estimable`` says why."""

    term: str
    estimate: float
    low: float | None
    high: float | None
    not_estimable: str | None = None


def profile_components(
    fit: MixedFit, *, level: float = 0.95, method: Method = "small sample"
) -> tuple[ComponentInterval, ...]:
    """One interval a component, the residual last.

    For fits with components at or above zero; others get the reason in words. ``method``
    "profile" is the plain profile likelihood of all components, as in other programs.
    """
    reason = fit.reason
    data = fit.inner.reduced
    if fit.mode != "nonnegative":
        reason = say("mixed profile needs nonnegative")
    elif data is None and reason is None:
        reason = say("mixed profile plain")
    if reason is not None or data is None:
        return tuple(
            ComponentInterval(name, value, None, None, reason)
            for name, value in zip(fit.names, fit.components, strict=True)
        )
    square = fit.inner.scale**2
    out = []
    for k, (name, value) in enumerate(zip(fit.names, fit.components, strict=True)):
        small = method == "small sample"
        low, high = _interval(data, fit, k, level, small=small)
        out.append(
            ComponentInterval(
                name,
                value,
                None if low is None else square * low,
                None if high is None else square * high,
                say("mixed flat profile") if low is None or high is None else None,
            )
        )
    return tuple(out)


@lru_cache(maxsize=256)
def likelihood_rise(df: float, level: float) -> float:
    """How far the deviance of one variance on ``df`` may rise, exactly.

    With x = chi-square(df)/df the deviance rises by df (x - 1 - log x) from the estimate to
    the truth; this is that variable's quantile. Near the chi-square(1) quantile times
    1 + 1/(3 df) (Bartlett 1937).
    """
    large = float(special.chdtri(1, 1 - level))

    def excess(rise: float) -> float:
        at = -math.exp(-1.0 - rise / df)
        ends = [-float(special.lambertw(at, branch).real) for branch in (0, -1)]
        return float(special.chdtr(df, df * ends[1]) - special.chdtr(df, df * ends[0])) - level

    return float(brentq(excess, 0.9 * large, 4.0 * large, xtol=1e-12))


def _interval(
    data: Reduced, fit: MixedFit, k: int, level: float, *, small: bool
) -> tuple[float | None, float | None]:
    """Ends of one component on unit scale."""
    theta, objective = fit.inner.at.theta, fit.inner.at.objective
    rise = float(special.chdtri(1, 1 - level))
    held = np.arange(len(theta)) == k
    estimate = float(theta[k])
    if small and k == len(theta) - 1:
        found = _exact(data, estimate, level)
        if found is not None:
            return found
    elif small:
        coarse = ~held & (np.array(fit.levels) <= fit.levels[k])
        own = _own_df(data, coarse, k)
        if own is not None:
            rise = likelihood_rise(own, level)
            theta, objective = _standing_alone(data, theta, objective, coarse)
            held = held | coarse
    profile = _Profile(data, theta, objective, k, held)
    low, high = profile.lower(rise), profile.upper(rise)
    if profile.failed or low is None or high is None:
        return None, None
    return min(low, estimate), max(high, estimate)


def _standing_alone(
    data: Reduced, theta: Array, objective: float, coarse: Flags
) -> tuple[Array, float]:
    """Components and deviance at their best with the ``coarse`` ones as good as fixed."""
    if not coarse.any():
        return theta, objective
    total = float(np.sum(theta[~coarse]))
    none = np.zeros(len(theta))
    none[-1] = total
    found = []
    for start in (theta, none):
        here = start.copy()
        here[coarse] = np.maximum(theta[coarse], FAR * total)
        here[-1] = max(here[-1], 1e-6 * total)
        found.append(minimize(data, here, bounded=True, held=coarse).at)
    best = min(found, key=lambda at: at.objective)
    return best.theta, best.objective


def _exact(data: Reduced, estimate: float, level: float) -> tuple[float, float] | None:
    """Interval of the residual variance from what no other component touches."""
    found = _left_over(data)
    if found is None:
        return None
    df, squares = found
    tail = 0.5 * (1.0 - level)
    low, high = (squares / float(special.chdtri(df, p)) for p in (tail, 1.0 - tail))
    return min(low, estimate), max(high, estimate)


def _left_over(data: Reduced) -> tuple[float, float] | None:
    """Degrees of freedom and sum of squares that the fixed part and all terms leave.

    Rows with a random effect of their own are fitted exactly and tell nothing.
    """
    alone = ~(data.coefficients[:, :-1] > 0).any(axis=1)
    if not alone.any():
        return None
    gram = data.grams[alone].sum(axis=0)
    df = float(data.dims[alone].sum())
    for blocks in data.blocks:
        shares, sums = blocks.shares[alone].sum(axis=0), blocks.sums[alone].sum(axis=0)
        values, vectors = np.linalg.eigh(shares)
        kept = values > RANK * max(float(values.max(initial=0.0)), 1.0)
        turned = np.swapaxes(vectors, 1, 2) @ sums
        turned *= np.where(kept, 1.0 / np.sqrt(np.where(kept, values, 1.0)), 0.0)[:, :, None]
        gram = gram - np.einsum("cqv,cqw->vw", turned, turned)
        df -= float(kept.sum())
    values, vectors = np.linalg.eigh(gram[:-1, :-1])
    kept = values > RANK
    along = vectors[:, kept].T @ gram[:-1, -1]
    df -= float(kept.sum())
    squares = float(gram[-1, -1] - along @ (along / values[kept]))
    return (df, squares) if df >= 1.0 and squares > SCATTER * df else None


def _own_df(data: Reduced, coarse: Flags, k: int) -> float | None:
    """Degrees of freedom of a term's own stratum; None where it has none."""
    theta = np.where(coarse, APART, 1.0 / APART)
    theta[k], theta[-1] = 1.0, 1.0 / APART
    at = evaluate(data, theta)
    df = 0.0 if at is None else float(round(float(at.expected[k, k])))
    return df if df >= 1.0 else None


class _Profile:
    """The deviance of one component above its minimum, warm-started (unit-scale data).

    ``held`` (m,): that component and those that stay where they are.
    """

    def __init__(
        self, data: Reduced, theta: Array, objective: float, k: int, held: Flags
    ) -> None:
        self.data, self.best, self.objective, self.k = data, theta, objective, k
        self.held = held
        moving = ~held
        moving[k] = True
        self.total = float(np.sum(theta[moving]))
        self.warm = theta
        self.failed = False
        self.cold = False

    def above(self, value: float) -> float:
        """Deviance at ``value`` minus its minimum."""
        warm = self.best if self.cold else self.warm
        start = np.where(warm > 0, warm, 0.0)
        start[self.k] = value
        start[-1] = max(start[-1], 1e-6 * self.total)
        if self.held[-1]:
            start[-1] = value
        found = minimize(self.data, start, bounded=True, held=self.held)
        self.warm = found.at.theta
        self.failed = self.failed or found.decrement > SETTLED
        return found.at.objective - self.objective

    def lower(self, rise: float) -> float | None:
        """Lower end; zero where the deviance there has not risen enough."""
        best = float(self.best[self.k])
        if not self.held[-1] and (best == 0 or self.above(0.0) <= rise):
            return 0.0
        self.warm = self.best
        return self._end(best, 0.5, rise)

    def upper(self, rise: float) -> float | None:
        """Upper end; None where the deviance does not rise enough in reach."""
        self.warm = self.best
        best = float(self.best[self.k])
        return self._end(best if best > 0 else 1e-3 * self.total, 2.0, rise)

    def _end(self, start: float, factor: float, rise: float) -> float | None:
        """Step away from ``start`` by powers of ``factor``, then close in."""
        best = float(self.best[self.k])
        known = {math.log(start): -math.sqrt(rise)} if start == best else {}

        def excess(log: float) -> float:
            # the root of a deviance is nearly a straight line in log variance
            if log not in known or self.cold:
                deviance = max(self.above(math.exp(log)), 0.0)
                known[log] = math.sqrt(deviance) - math.sqrt(rise)
            return known[log]

        step = math.log(factor)
        near, far = math.log(start), math.log(start) + step
        while excess(far) < 0.0:
            near, far = far, far + step
            if abs(far - math.log(start)) > math.log(FARTHEST):
                return None
        if best == 0.0 and near == math.log(start) and excess(near) >= 0.0:
            root = math.sqrt(rise)
            return self._close(
                lambda v: math.sqrt(max(self.above(v), 0.0)) - root, 0.0, start, 1e-14
            )
        found = self._close(excess, min(near, far), max(near, far), ACCURACY)
        return None if found is None else math.exp(found)

    def _close(
        self, excess: Callable[[float], float], low: float, high: float, xtol: float
    ) -> float | None:
        """Close in; a warm start that went astray is replaced by cold ones, then given up."""
        for cold in (False, True):
            self.cold = cold
            try:
                return float(brentq(excess, low, high, rtol=ACCURACY, xtol=xtol))
            except ValueError:  # no change of sign between the ends
                continue
        self.failed = True
        return None
