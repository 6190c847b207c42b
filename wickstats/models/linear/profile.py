"""Profile-likelihood intervals for variance components.

The restricted deviance of one component, the others at their best (at or above zero), may
rise by the chi-square(1) quantile; the ends are where it has risen that far. The lower end
is zero where zero is not ruled out. Source: Venzon & Moolgavkar (1988); under REML the
fixed part stays the same throughout, so the criteria may be compared. Approximate with few
groups. Leans on reml, solver, scipy.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special
from scipy.optimize import brentq

from wickstats.core.words import say
from wickstats.models.linear.grouping import Array
from wickstats.models.linear.reduction import Reduced
from wickstats.models.linear.reml import MixedFit
from wickstats.models.linear.solver import minimize

# How far from the estimate an end is looked for, as a factor.
FARTHEST = 1e9
# Relative accuracy of an end.
ACCURACY = 1e-8


@dataclass(frozen=True, slots=True)
class ComponentInterval:
    """Interval of one variance; an end is None where ``not_estimable`` says why."""

    term: str
    estimate: float
    low: float | None
    high: float | None
    not_estimable: str | None = None


def profile_components(fit: MixedFit, *, level: float = 0.95) -> tuple[ComponentInterval, ...]:
    """One interval a component, the residual last.

    For fits with components at or above zero; others get the reason in words.
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
    rise = float(special.chdtri(1, 1 - level))
    square = fit.inner.scale**2
    out = []
    for k, (name, value) in enumerate(zip(fit.names, fit.components, strict=True)):
        profile = _Profile(data, fit.inner.at.theta, fit.inner.at.objective, k)
        low, high = profile.lower(rise), profile.upper(rise)
        if profile.failed:
            low = high = None
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


class _Profile:
    """The deviance of one component above its minimum, warm-started (unit-scale data)."""

    def __init__(self, data: Reduced, theta: Array, objective: float, k: int) -> None:
        self.data, self.best, self.objective, self.k = data, theta, objective, k
        self.held = np.zeros(len(theta), dtype=bool)
        self.held[k] = True
        self.warm = theta
        self.failed = False
        self.cold = False

    def above(self, value: float) -> float:
        """Deviance at ``value`` minus its minimum."""
        warm = self.best if self.cold else self.warm
        start = np.where(warm > 0, warm, 0.0)
        start[self.k] = value
        start[-1] = max(start[-1], 1e-6 * float(np.sum(self.best)))
        if self.held[-1]:
            start[-1] = value
        found = minimize(self.data, start, bounded=True, held=self.held)
        self.warm = found.at.theta
        self.failed = self.failed or found.code != "converged"
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
        return self._end(best if best > 0 else 1e-3 * float(np.sum(self.best)), 2.0, rise)

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
