"""Critical values of families in many seasons at once, by tables that are worked out once.

The joint t of the contrasts' correlation: exact at one df, a Chebyshev series in log df
where df differ. Where arms' variances are estimated anew every season so is the correlation:
for families that share an arm (all correlations above zero) the value is moved by the ratio
of the equicorrelated values at the season's and at the tabled mean correlation. Leans on
models.linear.joint_t; numpy.
"""

from functools import lru_cache

import numpy as np
from numpy.polynomial.chebyshev import chebval, chebval2d
from numpy.typing import NDArray

from wickstats.models.linear.joint_one_sided import OneSidedT, one_sided_t
from wickstats.models.linear.joint_t import JointT, joint_t

Array = NDArray[np.float64]
MOST_DF, NODES = 1_000.0, 33
DF_NODES, R_NODES, MOST_R = 17, 9, 0.98


def correlation_of(rows: Array) -> Array:
    """(k, k) correlation of contrasts with unit weights (k, n), unit variances equal."""
    scaled = rows / np.sqrt(np.sum(rows * rows, axis=1))[:, None]
    found: Array = np.round(scaled @ scaled.T, 12)
    np.fill_diagonal(found, 1.0)
    return found


def mean_correlations(rows: Array, variances: Array) -> Array:
    """(S,) mean correlation of contrasts under unit variances (S, n); NaN where none."""
    covariance = np.einsum("kn,sn,ln->skl", rows, variances, rows, optimize=True)
    variance = np.einsum("skk->sk", covariance)
    upper = np.triu_indices(len(rows), 1)
    below = np.sqrt(variance[:, upper[0]] * variance[:, upper[1]])
    safe = np.where(below > 0.0, below, np.nan)
    found: Array = (covariance[:, upper[0], upper[1]] / safe).mean(axis=1)
    return found


def critical_values(
    correlation: Array,
    df: Array,
    confidence: float,
    *,
    seasons: Array | None = None,
    sides: int = 2,
) -> Array:
    """Critical values for df of any shape, (S, k) with ``seasons``; NaN stays NaN.

    ``seasons`` (S,): mean correlation of each season, NaN where it is not known.
    """
    known = np.isfinite(df)
    out = np.full(df.shape, np.nan)
    size, data = len(correlation), correlation.tobytes()
    values = np.unique(df[known])
    if values.size == 1:
        out[known] = _exact(data, size, confidence, float(values[0]), sides)
    elif values.size:
        series = _series(data, size, confidence, sides)
        out[known] = np.exp(chebval(_log_df(df[known]), series))
    off = correlation[np.triu_indices(size, 1)]
    if seasons is None or not values.size or off.min() <= 0.0:
        return out
    table = _equal(size, confidence, sides)
    x = _log_df(np.where(known, df, 1.0))
    tabled = float(off.mean())
    own = np.where(np.isfinite(seasons), seasons, tabled)
    moved = chebval2d(x, _of_r(np.broadcast_to(own[:, None], df.shape)), table)
    moved = moved - chebval2d(x, _of_r(np.full(df.shape, tabled)), table)
    product: Array = out * np.exp(moved)
    return product


def _log_df(df: Array) -> Array:
    product: Array = np.log(np.clip(df, 1.0, MOST_DF)) * (2.0 / np.log(MOST_DF)) - 1.0
    return product


def _of_r(r: Array) -> Array:
    product: Array = np.clip(r, 0.0, MOST_R) * (2.0 / MOST_R) - 1.0
    return product


def _nodes(count: int) -> tuple[Array, Array]:
    """Chebyshev points on -1 to 1, and the matrix from values there to coefficients."""
    angles = (np.arange(count) + 0.5) * (np.pi / count)
    basis = np.cos(np.arange(count)[:, None] * angles[None, :]) * (2.0 / count)
    basis[0] *= 0.5
    return np.cos(angles), basis


def _joint(correlation: Array, sides: int) -> JointT | OneSidedT:
    return one_sided_t(correlation) if sides == 1 else joint_t(correlation)


@lru_cache(maxsize=256)
def _exact(correlation: bytes, size: int, confidence: float, df: float, sides: int) -> float:
    joint = _joint(np.frombuffer(correlation).reshape(size, size), sides)
    return float(joint.critical(confidence, df))


@lru_cache(maxsize=256)
def _series(correlation: bytes, size: int, confidence: float, sides: int) -> Array:
    """Log critical value as a series in log df, from 1 to 1,000."""
    joint = _joint(np.frombuffer(correlation).reshape(size, size), sides)
    x, basis = _nodes(NODES)
    df = np.exp(0.5 * np.log(MOST_DF) * (1.0 + x))
    logs = np.log([joint.critical(confidence, float(one)) for one in df])
    return np.asarray(basis @ logs)


@lru_cache(maxsize=64)
def _equal(size: int, confidence: float, sides: int) -> Array:
    """The same of equal correlations, as a series in log df and the correlation."""
    x, in_df = _nodes(DF_NODES)
    y, in_r = _nodes(R_NODES)
    df = np.exp(0.5 * np.log(MOST_DF) * (1.0 + x))
    logs = np.empty((DF_NODES, R_NODES))
    for j, r in enumerate(0.5 * MOST_R * (1.0 + y)):
        joint = _joint(np.full((size, size), r) + (1.0 - r) * np.eye(size), sides)
        logs[:, j] = np.log([joint.critical(confidence, float(one)) for one in df])
    return np.asarray(in_df @ logs @ in_r.T)
