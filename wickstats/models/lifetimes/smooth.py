"""Weibull and log-logistic curves for lives known to end in (low, high].

Model: z = a + b log(t), b > 0. Weibull: S = exp(-exp(z)) (Weibull 1951); log-logistic:
S = 1/(1 + exp(z)) (Bennett 1983, Applied Statistics 32:165). A life in (low, high] adds
log(S(low) - S(high)), one known to the day log(b f(z)/t), f = -dS/dz. Both densities are
log-concave, so that the likelihood is concave in (a, b) (Burridge 1981, JRSS B 43:41) and
Newton's steps, halved where they overshoot, reach the one maximum where there is one.
Where all deaths fit between two times that nobody else tells apart, b has no bound, and
where every life ends from the left, a has none: no curve.
Days are divided by their largest finite value first, so that the unit of time is no matter.
Leans on numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
WEIBULL, LOG_LOGISTIC = "Weibull", "log-logistic"
SHAPES = (WEIBULL, LOG_LOGISTIC)
STEPS, HALVES = 100, 40
STEEPEST = 20.0  # a slope beyond this is on its way to a jump
SETTLED = 1e-10  # slope of the likelihood by life


@dataclass(frozen=True, slots=True)
class SmoothCurve:
    """A settled fit: S(t) = exp(-(t/scale)^power), or 1/(1 + (t/scale)^power)."""

    shape: str
    scale: float  # in the unit of the times
    power: float
    log_likelihood: float
    steps: int

    def share(self, times: ArrayLike) -> Array:
        """Share alive at the times; 1 at 0 and before."""
        t = np.asarray(times, dtype=float)
        with np.errstate(divide="ignore"):
            z = self.power * (np.log(np.maximum(t, 0.0)) - np.log(self.scale))
        return np.asarray(np.exp(_log_share(z, self.shape)))

    @property
    def median(self) -> float:
        """Time at which half are alive."""
        part = np.log(2.0) ** (1.0 / self.power) if self.shape == WEIBULL else 1.0
        return float(self.scale * part)


def fit_smooth(
    lows: ArrayLike, highs: ArrayLike, shape: str, weights: ArrayLike | None = None
) -> SmoothCurve | None:
    """Fit one shape; None where the likelihood has no maximum or it was not reached.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; low 0: from the left; high inf: not seen dead;
        low = high: day known.
    shape
        "Weibull" or "log-logistic".
    weights
        (n,) number of lives behind each row, default one.

    Raises
    ------
    ValueError
        For an unknown shape, shapes that do not fit, times below 0 or a death at 0.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    w = np.ones(low.shape) if weights is None else np.asarray(weights, dtype=float)
    if shape not in SHAPES:
        raise ValueError(f"no such shape: {shape}")
    if low.ndim != 1 or not low.shape == high.shape == w.shape:
        raise ValueError("one (low, high] and weight a life")
    if np.isnan(low).any() or np.isnan(high).any() or (low < 0.0).any() or (high < low).any():
        raise ValueError("a time is missing, below 0, or ends before it begins")
    if (high <= 0.0).any():
        raise ValueError("a life that ends at 0 has no logarithm")
    told = (low > 0.0) | np.isfinite(high)
    low, high, w = low[told], high[told], w[told]
    dead = np.isfinite(high)
    if not dead.any() or not (low > 0.0).any():
        return None
    unit = float(max(high[dead].max(), low.max()))
    rows = _Rows(low / unit, high / unit, w, shape)
    with np.errstate(over="ignore", invalid="ignore"):
        return _climb(rows, unit)


def _climb(rows: "_Rows", unit: float) -> SmoothCurve | None:
    """Newton's steps to the maximum; None where it is not reached."""
    w = rows.weights
    beta = np.array([0.0, 1.0])
    here = rows.value(beta)
    for k in range(1, STEPS + 1):
        slope, bend = rows.derivatives(beta)
        if float(np.abs(slope).max()) <= SETTLED * float(w.sum()):
            scale = unit * float(np.exp(-beta[0] / beta[1]))
            known = float(w[rows.low == rows.high].sum())  # densities by day, not by unit
            return SmoothCurve(
                rows.shape, scale, float(beta[1]), here - known * float(np.log(unit)), k
            )
        if not (np.isfinite(bend).all() and np.linalg.det(bend) > 0.0):
            return None
        step = np.linalg.solve(bend, slope)
        share = 1.0
        for _ in range(HALVES):
            there = rows.value(beta + share * step)
            if there >= here - 1e-13 * (abs(here) + 1.0):
                break
            share *= 0.5
        else:
            return None
        beta, here = beta + share * step, there
        if not 0.0 < beta[1] < STEEPEST or not np.isfinite(beta).all():
            return None
    return None


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """The likelihood of (a, b) and its derivatives; times as parts of their largest."""

    low: Array
    high: Array
    weights: Array
    shape: str

    def _ends(self, beta: Array) -> tuple[Array, Array, Array, Array]:
        with np.errstate(divide="ignore"):
            x, y = np.log(self.low), np.log(self.high)
        return x, y, beta[0] + beta[1] * x, beta[0] + beta[1] * y

    def value(self, beta: Array) -> float:
        if not beta[1] > 0.0:
            return -np.inf
        _, y, z, v = self._ends(beta)
        known = self.low == self.high
        parts = _log_between(z, v, self.shape)
        parts[known] = _log_density(v[known], self.shape) + np.log(beta[1]) - y[known]
        return float(self.weights @ parts)

    def derivatives(self, beta: Array) -> tuple[Array, Array]:
        """(2,) slope and (2, 2) bend (minus the second derivative)."""
        x, y, z, v = self._ends(beta)
        known = self.low == self.high
        between = _log_between(z, v, self.shape)
        f, g = (np.exp(_log_density(e, self.shape) - between) for e in (z, v))
        f, g = np.where(np.isfinite(z), f, 0.0), np.where(np.isfinite(v), g, 0.0)
        by_z, by_v = -f, g
        zz = f * _turn(z, self.shape) + f * f
        vv = -g * _turn(v, self.shape) + g * g
        zv = -f * g
        if known.any():
            by_z, zz, zv = (np.where(known, 0.0, part) for part in (by_z, zz, zv))
            by_v = np.where(known, _turn(v, self.shape), by_v)
            vv = np.where(known, _fall(v, self.shape), vv)
        x, y = np.where(np.isfinite(x), x, 0.0), np.where(np.isfinite(y), y, 0.0)
        w = self.weights
        count = float(w[known].sum())
        slope = np.array([w @ (by_z + by_v), w @ (by_z * x + by_v * y) + count / beta[1]])
        one = w @ (zz + vv + 2.0 * zv)
        two = w @ (zz * x + vv * y + zv * (x + y))
        three = w @ (zz * x * x + vv * y * y + 2.0 * zv * x * y) + count / beta[1] ** 2
        return slope, np.array([[one, two], [two, three]])


def _log_share(z: Array, shape: str) -> Array:
    if shape == WEIBULL:
        return np.asarray(-np.exp(np.minimum(z, 700.0)))
    return np.asarray(-np.logaddexp(0.0, z))


def _log_density(z: Array, shape: str) -> Array:
    if shape == WEIBULL:
        return np.asarray(z - np.exp(np.minimum(z, 700.0)))
    return np.asarray(-np.logaddexp(0.0, z) - np.logaddexp(0.0, -z))


def _log_between(z: Array, v: Array, shape: str) -> Array:
    """log(S(z) - S(v)) for z <= v; z may be -inf, v inf."""
    open_ended = np.isinf(v) & (v > 0.0)
    ends = np.where(open_ended, 0.0, v)
    begins = np.where(np.isneginf(z), -np.inf, np.minimum(z, 700.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        if shape == WEIBULL:
            gap = np.exp(np.minimum(ends, 700.0)) - np.exp(begins)
        else:
            gap = np.logaddexp(0.0, ends) - np.logaddexp(0.0, begins)
        closed = _log_share(begins, shape) + np.log(-np.expm1(-gap))
    return np.where(open_ended, _log_share(begins, shape), closed)


def _turn(z: Array, shape: str) -> Array:
    """f'/f."""
    u = np.exp(np.clip(z, -700.0, 700.0))
    return np.asarray(1.0 - u if shape == WEIBULL else (1.0 - u) / (1.0 + u))


def _fall(z: Array, shape: str) -> Array:
    """Minus the derivative of f'/f."""
    u = np.exp(np.clip(z, -700.0, 700.0))
    return np.asarray(u if shape == WEIBULL else 2.0 / (2.0 + u + 1.0 / u))
