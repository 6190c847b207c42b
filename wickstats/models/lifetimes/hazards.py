"""Grouped proportional hazards with plots as clusters.

Model: a plant at risk in the step (c_(k-1), c_k] dies there with chance
1 - exp(-exp(eta)), eta = step + arm + block (complementary log-log; Prentice & Gloeckler
1978, Biometrics 34:57), so that exp of a difference of arms is a ratio of hazards. Units'
deaths among those at risk are the data (``lifetimes.grouped``).

Plants of a unit share their fates. Covariance CR2 with units as clusters (Bell & McCaffrey
2002, Survey Methodology 28:169): with weighted rows X_g, residuals e_g, M = (X'X)^-1,

    V = M [sum_g X_g'A_g e_g e_g'A_g X_g] M,    A_g = (I - X_g M X_g')^(-1/2),

unbiased where rows are independent; df of c'Vc = (sum l)^2 / sum l^2, l the eigenvalues of
the G x G matrix p_g'p_h, p_g = (I - H)_g A_g X_g M c (Satterthwaite).

An arm without deaths (or whose plants all died at once) has no finite estimate: there
log|X'WX|/2 is added to the likelihood (Firth 1993, Biometrika 80:27), with an interval by
the penalized deviance divided by the dispersion of units and no p.

Every block is a parameter, so that ratios come out too far from 1 where blocks hold few
deaths (Neyman & Scott 1948, Econometrica 16:1, from memory). In 60 simulated seasons a
setting with a true log ratio of 0.92 and 39 to 53 deaths its mean was 1.02 in 6 blocks of
16 plants, 1.12 in 12 of 8, 1.21 in 25 of 4 and 1.40 in 50 of 3; the penalty hardly helps.
Leans on numpy, scipy, ``lifetimes.grouped`` and ``linear.estimates``.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from wickstats.core.words import say
from wickstats.models.lifetimes.grouped import HazardData
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    only_estimate,
    t_quantile,
    t_tail,
)

CR2 = "grouped hazards, units as clusters"
PENALIZED = "grouped hazards, penalized likelihood"
STEPS, HALVES = 500, 40
ROUNDING = 1e-14
LEAST, MOST = -35.0, 6.0  # linear predictors beyond which chances are 0 or 1
FEWEST, SUREST = -20.0, 3.0  # an estimate out here is on its way to infinity
FARTHEST = 15.0  # a log ratio beyond this is told as no limit


@dataclass(frozen=True, slots=True, eq=False)
class HazardFit:
    """A settled fit; contrasts of arms are logarithms of hazard ratios.

    ``phi`` is Pearson's dispersion of units, not below 1; used where penalized. ``rest``
    is the plain fit of the arms with deaths, where others had none.
    """

    data: HazardData
    coefficients: Array
    likelihood: float
    penalized: bool
    phi: float
    confidence: float
    rest: "HazardFit | None" = None

    def contrast(self, weights: ArrayLike) -> Estimate:
        """Contrast of arms: ``weights`` (t,) that sum to zero.

        Raises
        ------
        ValueError
            Where the weights do not sum to zero.
        """
        given = np.asarray(weights, dtype=float)
        if abs(float(given.sum())) > 1e-9 * float(np.abs(given).max(initial=0.0)):
            raise ValueError("the weights of a contrast must sum to zero")
        used = np.flatnonzero(given)
        if not np.isin(used, self.data.arms).all():
            return only_estimate(None, say("linear no unit"))
        if self.rest is not None and not np.isin(used, self.data.empty).any():
            return self.rest.contrast(given)
        row = self._row(given)
        estimate = float(row @ self.coefficients)
        if self.penalized:
            return self._penalized(row, estimate)
        variance, df = cluster_variance(self.data, self.coefficients, row)
        if not variance > 0.0:
            return only_estimate(estimate, say("linear no scatter"), CR2)
        se = float(np.sqrt(variance))
        half = t_quantile(self.confidence, df) * se
        t = estimate / se
        return Estimate(
            estimate, se, df, estimate - half, estimate + half, t, t_tail(t, df), CR2
        )

    def plain_se(self, weights: ArrayLike) -> float | None:
        """Standard error of a contrast if every plant died for itself (Fisher's information).

        With few deaths CR2 may find next to no scatter by luck; None where penalized.
        """
        given = np.asarray(weights, dtype=float)
        if self.rest is not None and not given[list(self.data.empty)].any():
            return self.rest.plain_se(given)
        if self.penalized:
            return None
        row = self._row(given)
        _, weight = _terms(self.data, self.data.design @ self.coefficients)
        x = np.sqrt(weight)[:, None] * self.data.design
        return float(np.sqrt(row @ np.linalg.pinv(x.T @ x, rcond=1e-11, hermitian=True) @ row))

    def _row(self, weights: Array) -> Array:
        """Weights of the coefficients behind those of the arms."""
        row = np.zeros(self.data.design.shape[1])
        for place, arm in enumerate(self.data.arms[1:]):
            row[self.data.first + place] = weights[arm]
        return row

    def _penalized(self, row: Array, estimate: float) -> Estimate:
        """Limits where the penalized deviance over phi reaches the normal quantile squared."""
        limit = self.phi * t_quantile(self.confidence, np.inf) ** 2
        eta = self.data.design @ self.coefficients

        def excess(value: float) -> float:
            return 2.0 * (self.likelihood - _profile(self.data, row, value, eta)) - limit

        low = _end(excess, estimate, -1.0)
        high = _end(excess, estimate, 1.0)
        return Estimate(estimate, None, None, low, high, None, None, PENALIZED)


def fit_hazards(data: HazardData, *, confidence: float = 0.95) -> HazardFit | str:
    """Fit, penalized where no finite estimate exists, or why it does not settle."""
    penalized = bool(data.empty)
    start = np.zeros(data.design.shape[1])
    start[: data.first] = np.log(data.deaths.sum() / data.at_risk.sum())
    found = None if penalized else _climb(data, data.design, 0.0, start, penalty=False)
    if found is None or not _inside(data, found[0]):
        # without deaths, or with none that lived on, there is no finite estimate
        penalized = True
        found = _climb(data, data.design, 0.0, start, penalty=True)
    if found is None:
        return say("hazards do not settle")
    beta, best = found
    rest = None
    if data.empty and data.arms.size - len(data.empty) > 1:
        plain = fit_hazards(_with_deaths(data), confidence=confidence)
        rest = None if isinstance(plain, str) else plain
    phi = _unit_dispersion(data, beta)
    return HazardFit(data, beta, best, penalized, phi, confidence, rest)


def cluster_variance(data: HazardData, beta: Array, row: Array) -> tuple[float, float]:
    """CR2 variance of ``row @ beta`` and its df."""
    score, weight = _terms(data, data.design @ beta)
    root = np.sqrt(weight)
    x, e = root[:, None] * data.design, score / root
    m = np.linalg.pinv(x.T @ x, rcond=1e-11, hermitian=True)
    reach = m @ row
    names = np.unique(data.units)
    parts = np.zeros((names.size, data.deaths.size))
    total = 0.0
    for g, name in enumerate(names):
        mine = np.flatnonzero(data.units == name)
        own = x[mine]
        a = _inverse_root(np.eye(mine.size) - own @ m @ own.T) @ (own @ reach)
        total += float(a @ e[mine]) ** 2
        parts[g, mine] += a
        parts[g] -= x @ (m @ (own.T @ a))
    inner = parts @ parts.T
    inner /= max(float(np.trace(inner)), 1e-300)
    return total, float(1.0 / np.sum(inner * inner)) if inner.any() else 1.0


def _inside(data: HazardData, beta: Array) -> bool:
    """Whether no chance of dying is as good as 0 or 1."""
    eta = data.design @ beta
    return bool(eta.min() > FEWEST and eta.max() < SUREST)


def _with_deaths(data: HazardData) -> HazardData:
    """The arms with deaths alone."""
    place = [data.first + k for k, arm in enumerate(data.arms[1:]) if int(arm) in data.empty]
    rows = data.design[:, place].sum(axis=1) == 0.0
    return HazardData(
        deaths=data.deaths[rows],
        at_risk=data.at_risk[rows],
        units=data.units[rows],
        design=np.delete(data.design[rows], place, axis=1),
        arms=data.arms[~np.isin(data.arms, data.empty)],
        first=data.first,
        empty=(),
    )


def _terms(data: HazardData, eta: Array) -> tuple[Array, Array]:
    """Score and weight of each row at ``eta``."""
    u = np.exp(np.clip(eta, LEAST, MOST))
    p = -np.expm1(-u)
    score = data.deaths * u * (1.0 - p) / p - (data.at_risk - data.deaths) * u
    weight = np.maximum(data.at_risk * u * u * (1.0 - p) / p, 1e-300)
    return score, weight


def _likelihood(
    data: HazardData, x: Array, beta: Array, offset: Array | float, *, penalty: bool
) -> float:
    eta = np.clip(x @ beta + offset, LEAST, MOST)
    u = np.exp(eta)
    total = float(data.deaths @ np.log(-np.expm1(-u)) - (data.at_risk - data.deaths) @ u)
    if penalty:
        _, weight = _terms(data, eta)
        full = data.design
        total += 0.5 * float(np.linalg.slogdet(full.T @ (weight[:, None] * full))[1])
    return total


def _climb(
    data: HazardData,
    x: Array,
    offset: Array | float,
    start: Array,
    *,
    penalty: bool,
    enough: float = ROUNDING,
) -> tuple[Array, float] | None:
    """Maximum by Fisher scoring with halved steps; None where it does not settle.

    With a penalty it settles when a step gains less than ``enough``, relative.
    """
    beta = start
    here = _likelihood(data, x, beta, offset, penalty=penalty)
    for _ in range(STEPS):
        eta = x @ beta + offset
        score, weight = _terms(data, eta)
        if penalty:
            score = score + 0.5 * _bend(data, eta, weight)
        inverse = np.linalg.pinv(x.T @ (weight[:, None] * x), rcond=1e-11, hermitian=True)
        step = inverse @ (x.T @ score)
        there = _likelihood(data, x, beta + step, offset, penalty=penalty)
        for _ in range(HALVES):
            if there >= here - ROUNDING * (abs(here) + 1.0):
                break
            step = 0.5 * step
            there = _likelihood(data, x, beta + step, offset, penalty=penalty)
        gain = there - here
        beta, here = beta + step, there
        settled = penalty and gain <= enough * (abs(here) + 1.0)
        if settled or float(np.abs(step).max(initial=0.0)) < 1e-9:
            return beta, here
    return None


def _bend(data: HazardData, eta: Array, weight: Array) -> Array:
    """Derivative of log|X'WX| by each row's linear predictor."""
    full = data.design
    inverse = np.linalg.pinv(full.T @ (weight[:, None] * full), rcond=1e-11, hermitian=True)
    leverage = weight * np.einsum("ij,jk,ik->i", full, inverse, full)
    u = np.exp(np.clip(eta, LEAST, MOST))
    product: Array = leverage * (2.0 - u - u * np.exp(-u) / -np.expm1(-u))
    return product


def _profile(data: HazardData, row: Array, value: float, eta: Array) -> float:
    """Penalized likelihood with ``row @ beta`` held at ``value``, from predictors ``eta``."""
    rest = np.linalg.svd(row[None, :])[2][1:].T
    x = data.design @ rest
    offset = value * (data.design @ row) / float(row @ row)
    start = np.linalg.lstsq(x, eta - offset, rcond=None)[0]
    found = _climb(data, x, offset, start, penalty=True, enough=1e-9)
    if found is None:
        raise ArithmeticError("a profile does not settle")
    return found[1]


def _end(excess: Callable[[float], float], estimate: float, sign: float) -> float | None:
    """Where the deviance reaches its limit; None beyond any ratio worth telling."""
    far = 1.0
    while excess(estimate + sign * far) < 0.0:
        far *= 2.0
        if far > FARTHEST:
            return None
    return float(brentq(excess, estimate, estimate + sign * far, xtol=1e-7))


def _inverse_root(a: Array) -> Array:
    """(I - H_gg)^(-1/2); directions that the cluster alone decides are left out."""
    values, vectors = np.linalg.eigh(0.5 * (a + a.T))
    root = np.where(values > 1e-9, 1.0 / np.sqrt(np.maximum(values, 1e-9)), 0.0)
    product: Array = (vectors * root) @ vectors.T
    return product


def _unit_dispersion(data: HazardData, beta: Array) -> float:
    """Units' summed residuals over what plants alone would scatter (Pearson), at least 1."""
    p = -np.expm1(-np.exp(np.clip(data.design @ beta, LEAST, MOST)))
    names, code = np.unique(data.units, return_inverse=True)
    gap = np.bincount(code, weights=data.deaths - data.at_risk * p)
    expected = np.bincount(code, weights=data.at_risk * p * (1.0 - p))
    free = names.size - (data.design.shape[1] - data.first) - 1
    if free <= 0:
        return 1.0
    return float(max(1.0, np.sum(gap**2 / np.maximum(expected, 1e-300)) / free))
