"""Terms of a mixed model's covariance as values: what each adds to Var(y), and derivatives.

    Var(y) = sum over terms of their covariance

    Intercept   theta for rows of one group
    Slope       (1, x) G (1, x)' for rows of one group, G = [[g11, g12], [g12, g22]]
    Serial      sqrt(v_i v_j) rho^(|t_i - t_j| / unit) for rows of one group; v one variance
                or one a level of ``by`` (visits, arms)
    Residual    v on the diagonal, one variance or one a level of ``by``

A first-order autoregression for equally spaced visits has whole-number distances and rho
between -1 and 1; for unequal spacing rho is between 0 and 1 (exponential decay in time:
Jennrich & Schluchter 1986; Jones & Boadi-Boateng 1991). Growth curves that differ by unit are
Laird & Ware (1982). Each term knows its natural parameters theta (variances, covariances,
correlations: the scale on which Kenward & Roger 1997 work), and a working scale without
bounds on which the likelihood is maximized: Cholesky factors (square roots) for variances,
so that zero is a plain value (logarithms for serial variances by level, which must stay
above it); inverse hyperbolic tangent or logit for correlations.
Leans on numpy.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wickstats.models.linear.grouping import Array

Ints = NDArray[np.int_]
# A working scale: a variance, two variances with their covariance, a correlation.
Scale = str
SIZES = {"variance": 1, "pair": 3, "positive": 1, "autocorrelation": 1, "decay": 1}
# Scales that may run away: a correlation to its end, a variance that must stay above zero.
OPEN = ("positive", "autocorrelation", "decay")
CORRELATIONS = ("autocorrelation", "decay")
FARTHEST = 30.0  # a working parameter that has no end is not taken further


@dataclass(frozen=True, slots=True, eq=False)
class Intercept:
    """A common shift for the rows of a group (n,)."""

    name: str
    group: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Slope:
    """A shift and a slope over x (n,) for the rows of a group (n,), correlated."""

    name: str
    group: Ints
    x: Array


@dataclass(frozen=True, slots=True, eq=False)
class Serial:
    """Rows of a group (n,) are the more alike the closer their times (n,).

    Attributes
    ----------
    equal
        Whole-number distances, and a correlation that may be negative.
    unit
        The distance at which ``rho`` is the correlation.
    by, levels
        (n,) codes from 0 of rows with a variance of their own, and the levels' names.
    """

    name: str
    group: Ints
    times: Array
    equal: bool = True
    unit: float = 1.0
    by: Ints | None = None
    levels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """Independent rows, with a variance a level of ``by`` (n,) where it is given."""

    by: Ints | None = None
    levels: tuple[str, ...] = ()
    name: str = field(default="residual")


Term = Intercept | Slope | Serial | Residual


def parameter_names(term: Term) -> tuple[str, ...]:
    """Name the natural parameters of a term."""
    if isinstance(term, Intercept):
        return (term.name,)
    if isinstance(term, Slope):
        return (f"{term.name} intercept", f"{term.name} covariance", f"{term.name} slope")
    variances = tuple(f"{term.name} {level}" for level in term.levels) or (term.name,)
    if isinstance(term, Serial):
        return (*variances, f"{term.name} correlation")
    return variances


def scales(term: Term) -> tuple[Scale, ...]:
    """Working scale of each parameter, or set of three."""
    if isinstance(term, Intercept):
        return ("variance",)
    if isinstance(term, Slope):
        return ("pair",)
    if isinstance(term, Residual):
        return ("variance",) * max(1, len(term.levels))
    # several serial variances enter by their roots, which may not change sign
    variances = ("positive",) * len(term.levels) or ("variance",)
    return (*variances, "autocorrelation" if term.equal else "decay")


def natural(scale: Scale, phi: Array) -> tuple[Array, Array, Array]:
    """Natural theta (s,) of one scale, d theta / d phi (s, s), second derivatives (s, s, s)."""
    if scale == "variance":
        return phi**2, np.array([[2.0 * phi[0]]]), np.array([[[2.0]]])
    if scale == "pair":
        a, b, c = phi
        J = np.array([[2 * a, 0, 0], [b, a, 0], [0, 2 * b, 2 * c]])
        H = np.zeros((3, 3, 3))
        H[0, 0, 0] = H[2, 1, 1] = H[2, 2, 2] = 2.0
        H[1, 0, 1] = H[1, 1, 0] = 1.0
        return np.array([a * a, a * b, b * b + c * c]), J, H
    if scale == "positive":
        theta = np.exp(2.0 * np.clip(phi, -FARTHEST, FARTHEST))
        return theta, 2.0 * theta[:, None], 4.0 * theta[:, None, None]
    if scale == "autocorrelation":
        rho = np.tanh(phi)
        J = 1.0 - rho**2
        return rho, J[:, None], (-2.0 * rho * J)[:, None, None]
    rho = 1.0 / (1.0 + np.exp(-np.clip(phi, -FARTHEST, FARTHEST)))
    J = rho * (1.0 - rho)
    return rho, J[:, None], (J * (1.0 - 2.0 * rho))[:, None, None]


def working(scale: Scale, theta: Array) -> Array:
    """Working phi of given theta, the inverse of ``natural``."""
    if scale == "variance":
        return np.sqrt(theta)
    if scale == "pair":
        a = np.sqrt(theta[0])
        b = theta[1] / a if a > 0 else 0.0
        return np.array([a, b, np.sqrt(max(theta[2] - b * b, 0.0))])
    if scale == "positive":
        return 0.5 * np.log(theta)
    if scale == "autocorrelation":
        return np.arctanh(theta)
    return np.log(theta / (1.0 - theta))


Derivatives = tuple[Array, Array, dict[tuple[int, int], Array]]


def random_part(z: Array, theta: Array) -> Derivatives:
    """Covariance of rows that share effects: z G z' for columns z (P, n, d), d 1 or 2.

    Returns (P, n, n), first derivatives (s, P, n, n) and the second ones that are not zero
    by pair of parameters.
    """
    first = np.einsum("pia,kab,pjb->kpij", z, selections(z.shape[2]), z)
    return np.tensordot(theta, first, axes=1), first, {}


def selections(d: int) -> Array:
    """(s, d, d) derivatives of G with respect to its parameters."""
    if d == 1:
        return np.ones((1, 1, 1))
    out = np.zeros((3, 2, 2))
    out[0, 0, 0] = out[1, 0, 1] = out[1, 1, 0] = out[2, 1, 1] = 1.0
    return out


def residual_part(marks: Array, theta: Array) -> Derivatives:
    """Diagonal covariance; marks (P, n, h) are 1 where a row has the h-th variance."""
    n = marks.shape[1]
    first = np.zeros((marks.shape[2], len(marks), n, n))
    diagonal = np.arange(n)
    first[:, :, diagonal, diagonal] = marks.transpose(2, 0, 1)
    return np.tensordot(theta, first, axes=1), first, {}


def serial_part(times: Array, marks: Array, theta: Array) -> Derivatives:
    """Serial covariance of times (P, n), in units; marks as for ``residual_part``."""
    variances, rho = theta[:-1], float(theta[-1])
    h = len(variances)
    lag = np.abs(times[:, :, None] - times[:, None, :])
    decay = _power(1.0, rho, lag)
    slope = _power(lag, rho, lag - 1.0)
    bend = _power(lag * (lag - 1.0), rho, lag - 2.0)
    if h == 1:  # linear in its one variance, which may be zero
        v = float(variances[0])
        first = np.array([decay, v * slope])
        return v * decay, first, {(0, 1): slope, (1, 1): v * bend}
    sd = np.sqrt(marks @ variances)
    size = sd[:, :, None] * sd[:, None, :]
    # how often a row of the pair has variance k: d log sqrt(v_i v_j) / d v_k = often / 2 v_k
    often = [marks[:, :, None, k] + marks[:, None, :, k] for k in range(h)]
    rates = [o / (2.0 * v) for o, v in zip(often, variances, strict=True)]
    cov = size * decay
    first = np.array([*(cov * rate for rate in rates), size * slope])
    second = {(h, h): size * bend}
    for k in range(h):
        second[(k, h)] = size * slope * rates[k]
        for j in range(k, h):
            bent = rates[k] * rates[j]
            if j == k:
                bent = bent - often[k] / (2.0 * variances[k] ** 2)
            second[(k, j)] = cov * bent
    return cov, first, second


def _power(factor: Array | float, rho: float, exponent: Array) -> Array:
    """``factor`` rho^exponent, zero where the factor is (and the power has no end)."""
    if rho <= 0:  # whole numbers; those below zero only stand beside a zero
        power = np.power(rho, np.maximum(np.rint(exponent), 0.0))
        return np.where(exponent >= 0, factor * power, 0.0)
    with np.errstate(over="ignore", invalid="ignore"):
        return np.where(np.equal(factor, 0.0), 0.0, factor * np.power(rho, exponent))
