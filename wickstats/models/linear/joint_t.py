"""The largest of several correlated t statistics: tail probabilities and critical values.

T = max_j |Z_j| / s, Z normal with correlation R, s^2 ~ chi-square(df)/df independent.
By the structure of R:

three dimensions or fewer (up to four arms, compared in any way): along all directions
             (``directions``, ``sphere``), to about 1e-13
one factor   R_ij = l_i l_j (comparisons with a reference): with x = z + e,
             P(T <= c) = int f(s) int phi(z) prod_j P(|l_j z + sqrt(1 - l_j^2) e_j| <= c s)
             (Dunnett 1955, J. Am. Stat. Assoc. 50:1096)
range        all pairs of k equally replicated means: the studentized range at c sqrt(2)
             (Tukey 1953), P = int f(s) int k phi(z) [Phi(z) - Phi(z - q s)]^(k-1)
otherwise    along fixed directions (``directions``), with a bound on the error.

The middle two are smooth and integrated with fixed rules, to about 1e-8 for df of 1 and
more. Neither the order of the statistics nor, two-sided, their signs matter. Everything is
deterministic; correlations count to 13 decimals, so that what was worked out before is
found again. Leans on ``directions``, numpy and scipy.special.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import chdtri, gammaln, ndtr

from wickstats.models.linear.directions import (
    QUADRATURE_ERROR,
    Spread,
    canonical,
    spread_over_directions,
)
from wickstats.models.linear.estimates import NORMAL_DF, Array, t_quantile, t_tail

NODES_SCALE = 48
NODES_SCALE_FEW_DF = 192  # the density of log s has a long lower tail
NODES_NORMAL = 128
NODES_STEEP = 384  # for loadings near one, whose inner function is steep
STEEP = 0.97
STEEPEST = 0.996
STRUCTURE_TOLERANCE = 1e-8
DECIMALS = 13


@dataclass(frozen=True, slots=True, eq=False)
class JointT:
    """The joint distribution for one correlation matrix.

    Attributes
    ----------
    k
        Number of statistics.
    structure
        "single", "one factor", "range" or "general".
    """

    k: int
    structure: str
    loadings: Array
    means: int
    spread: Spread | None  # None for one factor or a range in more than three dimensions

    def tail(self, c: float, df: float) -> tuple[float, float]:
        """P(max |T| > c) and a bound on its error; never below one t's, nor k times it."""
        if c <= 0.0:
            return 1.0, 0.0
        alone = t_tail(c, df)
        value, error = self._tail(c, df)
        return min(1.0, max(alone, min(value, self.k * alone))), error

    def critical(self, confidence: float, df: float) -> float:
        """Value c with P(max |T| <= c) = confidence."""
        return _critical(self, confidence, df)

    def _tail(self, c: float, df: float) -> tuple[float, float]:
        if self.structure == "single":
            return t_tail(c, df), 0.0
        if self.spread is not None:
            return self.spread.tail(c, df)
        if self.structure == "one factor":
            return 1.0 - one_factor_share(c, self.loadings, df), QUADRATURE_ERROR
        return 1.0 - range_share(c * np.sqrt(2.0), self.means, df), QUADRATURE_ERROR


def joint_t(correlation: Array) -> JointT:
    """Recognize the structure of a correlation matrix (k, k).

    Raises
    ------
    ValueError
        For a matrix that is not a correlation matrix.
    """
    return _recognized(*held_correlation(correlation))


def held_correlation(correlation: Array) -> tuple[bytes, int]:
    """A correlation matrix (k, k) as what is worked out for it is kept by, and k.

    Raises
    ------
    ValueError
        For a matrix that is not a correlation matrix.
    """
    r = np.asarray(correlation, dtype=float)
    k = r.shape[0]
    if r.shape != (k, k) or k == 0 or not np.isfinite(r).all():
        raise ValueError("a square matrix of finite correlations is needed")
    if not np.allclose(np.diag(r), 1.0, atol=1e-8) or not np.allclose(r, r.T, atol=1e-8):
        raise ValueError("a correlation matrix has ones on its diagonal and is symmetric")
    return (np.round(r, DECIMALS) + 0.0).tobytes(), k  # no zero below zero


@lru_cache(maxsize=256)
def _recognized(held: bytes, k: int) -> JointT:
    r = np.frombuffer(held).reshape(k, k)
    none = np.zeros(0)
    if k == 1:
        return JointT(1, "single", none, 0, None)
    loadings = product_loadings(r)
    if loadings is not None:
        spread = spread_over_directions(r) if k <= 3 else None
        return JointT(k, "one factor", loadings, 0, spread)
    means = _means_of_range(r)
    if means:
        spread = spread_over_directions(r) if means <= 4 else None
        return JointT(k, "range", none, means, spread)
    return JointT(k, "general", none, 0, spread_over_directions(r))


@lru_cache(maxsize=4096)
def _critical(joint: JointT, confidence: float, df: float) -> float:
    return critical_of(lambda c: joint.tail(c, df)[0], joint.k, confidence, df)


def critical_of(
    tail: Callable[[float], float], k: int, confidence: float, df: float, sides: int = 2
) -> float:
    """Value c at which the tail of the largest of k statistics is 1 - confidence.

    It lies between that of one statistic and Bonferroni's; ``sides`` of each count.
    """
    target = 1.0 - confidence
    one = (2.0 if sides == 1 else 1.0) * target
    low = t_quantile(1.0 - one, df)
    if k == 1:
        return low

    def excess(c: float) -> float:
        # on a scale on which the tail is nearly a straight line
        return float(np.log(max(tail(c), 1e-300) / target))

    return falling_root(excess, low, t_quantile(1.0 - one / k, df))


def one_factor_share(c: float, loadings: Array, df: float, *, two_sided: bool = True) -> float:
    """P(max |T| <= c), or P(max T <= c), for R_ij = l_i l_j, |l| below 1.

    One-sided probabilities need loadings of one sign.
    """
    s, weight = _scale_rule(df)
    steep = float(np.abs(loadings).max(initial=0.0)) > STEEP
    z, normal = _normal_rule(NODES_STEEP if steep else NODES_NORMAL)
    each = np.asarray(loadings, dtype=float)
    if two_sided:  # z and -z, and either sign of a loading, give the same
        z, normal, each = z[z > 0.0], 2.0 * normal[z > 0.0], np.abs(each)
    inner = np.ones((s.size, z.size))
    for loading, alike in zip(*np.unique(each, return_counts=True), strict=True):
        rest = np.sqrt(1.0 - loading * loading)
        share = ndtr((c * s[:, None] - loading * z[None, :]) / rest)
        if two_sided:
            share -= ndtr((-c * s[:, None] - loading * z[None, :]) / rest)
        inner *= share if alike == 1 else share ** int(alike)
    return float(weight @ (inner @ normal))


def range_share(q: float, means: int, df: float) -> float:
    """P(studentized range of ``means`` means <= q)."""
    s, weight = _scale_rule(df)
    z, normal = _normal_rule(NODES_NORMAL)
    inner = ndtr(z)[None, :] - ndtr(z[None, :] - q * s[:, None])
    return float(weight @ (means * inner ** (means - 1) @ normal))


def range_critical(confidence: float, means: int, df: float) -> float:
    """Value q with P(studentized range <= q) = confidence."""
    single = JointT(means * (means - 1) // 2, "range", np.zeros(0), means, None)
    return single.critical(confidence, df) * float(np.sqrt(2.0))


def one_factor_critical(
    confidence: float, loadings: Array, df: float, *, two_sided: bool = True
) -> float:
    """Value c with P(max |T| <= c), or P(max T <= c), equal to ``confidence``."""
    given = np.asarray(loadings, dtype=float)

    def tail(c: float) -> float:
        return 1.0 - one_factor_share(c, given, df, two_sided=two_sided)

    return critical_of(tail, given.size, confidence, df, 2 if two_sided else 1)


@lru_cache(maxsize=256)
def _scale_rule(df: float) -> tuple[Array, Array]:
    """Nodes s and weights for the density of sqrt(chi-square(df)/df), on log s."""
    if df > NORMAL_DF:
        return np.ones(1), np.ones(1)
    low = 0.5 * float(np.log(chdtri(df, 1.0 - 1e-9) / df))
    high = 0.5 * float(np.log(chdtri(df, 1e-13) / df))
    x, w = np.polynomial.legendre.leggauss(NODES_SCALE if df >= 4.0 else NODES_SCALE_FEW_DF)
    log_s = 0.5 * (high - low) * x + 0.5 * (high + low)
    square = np.exp(2.0 * log_s)
    half = 0.5 * df
    log_density = (
        float(np.log(2.0) + half * np.log(half) - gammaln(half)) + df * log_s - half * square
    )
    weight = 0.5 * (high - low) * w * np.exp(log_density)
    return np.exp(log_s), weight / weight.sum()


@lru_cache(maxsize=2)
def _normal_rule(nodes: int) -> tuple[Array, Array]:
    x, w = np.polynomial.legendre.leggauss(nodes)
    z = 7.5 * x
    weight = 7.5 * w * np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
    return z, weight / weight.sum()


def product_loadings(r: Array) -> Array | None:
    """Loadings with R_ij = l_i l_j off the diagonal and |l| < 1, or None."""
    k = r.shape[0]
    if k == 2:
        size = float(np.sqrt(abs(r[0, 1])))
        out = np.array([size, size * np.sign(r[0, 1])])
    else:
        out = np.zeros(k)
        sizes = np.abs(np.triu(r, 1))
        for i in range(k):
            without = sizes.copy()
            without[i], without[:, i] = 0.0, 0.0
            # the pair with the largest correlation keeps the division safe
            a, b = divmod(int(np.argmax(without)), k)
            if without[a, b] > STRUCTURE_TOLERANCE:
                out[i] = np.sqrt(max(r[i, a] * r[i, b] / r[a, b], 0.0))
        lead = int(np.argmax(out))
        out = np.where(r[lead] < 0.0, -out, out)
    product = np.outer(out, out)
    np.fill_diagonal(product, 1.0)
    # nearly degenerate loadings need finer nodes than the fixed rule has
    if np.abs(out).max() > STEEPEST or np.abs(product - r).max() > STRUCTURE_TOLERANCE:
        return None
    return out


def _means_of_range(r: Array) -> int:
    """Number of means where R is that of all pairs of equally replicated means, else 0."""
    k = r.shape[0]
    means = round(0.5 * (1.0 + float(np.sqrt(1.0 + 8.0 * k))))
    if means < 3 or means * (means - 1) // 2 != k:
        return 0
    eye = np.eye(means)
    rows = np.array([eye[j] - eye[i] for i in range(means) for j in range(i + 1, means)])
    ideal = 0.5 * rows @ rows.T
    sizes = np.sort(np.abs(ideal[0]))
    if np.abs(np.sort(np.abs(r), axis=1) - sizes).max() > STRUCTURE_TOLERANCE:
        return 0
    # both in the one order and with the signs that depend on the correlations alone
    apart = float(np.abs(canonical(ideal) - canonical(r)).max())
    return means if apart <= STRUCTURE_TOLERANCE else 0


def falling_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of a falling function between ``low`` and ``high`` (Illinois rule)."""
    f_low, f_high = function(low), function(high)
    if f_low <= 0.0:
        return low
    if f_high >= 0.0:
        return high
    side = 0
    for _ in range(60):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        value = function(middle)
        if abs(value) < 1e-13 or high - low <= 1e-13 * high:
            return middle
        if value > 0.0:
            low, f_low = middle, value
            f_high = f_high / 2.0 if side > 0 else f_high
            side = 1
        else:
            high, f_high = middle, value
            f_low = f_low / 2.0 if side < 0 else f_low
            side = -1
    return 0.5 * (low + high)
