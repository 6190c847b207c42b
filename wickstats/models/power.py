"""Closed-form power, and the sample sizes and differences that follow from it.

Model: a contrast with true value delta and standard error se = sigma sqrt(factor), sigma^2
estimated on df degrees of freedom; T = estimate / (s sqrt(factor)) is noncentral t with
noncentrality delta / se, F noncentral F with sum of squared effects over variance. Two-sided
unless said. Sources: Cohen (1988); Schoenfeld (1981) and Freedman (1982) for the log-rank
test; Schuirmann (1987) and Phillips (1990) for two one-sided tests. Leans on numpy, scipy.
"""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy import special
from scipy.optimize import brentq

# Nodes of the quadratures; doubling them changes nothing above 1e-12.
NODES = 200


def _in_range(value: float, name: str, low: float, high: float) -> None:
    """Refuse a value outside the open interval (low, high)."""
    if not low < value < high:
        raise ValueError(f"{name} must lie between {low:g} and {high:g}, found {value!r}")


def _asked(power: float, alpha: float) -> None:
    """A power that chance alone exceeds needs no trial."""
    _in_range(alpha, "alpha", 0.0, 1.0)
    if not alpha < power < 1.0:
        raise ValueError(
            f"power must lie above alpha ({alpha:g}) and below 1, found {power!r}: "
            f"a test at alpha rejects that often without any difference"
        )


def t_critical(df: float, *, alpha: float = 0.05, two_sided: bool = True) -> float:
    """Critical value of Student's t."""
    _in_range(alpha, "alpha", 0.0, 1.0)
    _in_range(df, "df", 0.0, math.inf)
    return float(special.stdtrit(df, 1.0 - (alpha / 2 if two_sided else alpha)))


def t_power(
    difference: float,
    se: float,
    df: float,
    *,
    alpha: float = 0.05,
    two_sided: bool = True,
    critical: float | None = None,
) -> float:
    """Power of the t test of one contrast.

    Parameters
    ----------
    difference
        True value of the contrast.
    se
        Its true standard error: sigma times the root of its variance factor.
    df
        Degrees of freedom of the stratum in which it is tested.
    alpha, two_sided
        Of the test; one-sided tests reject for large positive values.
    critical
        A critical value other than Student's (Dunnett's, Tukey's / sqrt 2): the power for
        this one contrast of the family.

    Raises
    ------
    ValueError
        For se or df that are not positive, or alpha outside (0, 1).
    """
    _in_range(se, "se", 0.0, math.inf)
    at = t_critical(df, alpha=alpha, two_sided=two_sided) if critical is None else critical
    shift = difference / se
    if two_sided:
        shift = abs(shift)
        return min(1.0, _upper(at, df, shift) + _upper(at, df, -shift))
    return _upper(at, df, shift)


def _upper(t: float, df: float, shift: float) -> float:
    """P(T > t), t > 0, for noncentral t."""
    if shift < -8.0:  # below P(Z > 8)
        return 0.0
    if shift > 8.0 and shift > 40.0 * t * math.sqrt(1.0 + 20.0 / df):
        return 1.0
    below = float(special.nctdtr(df, shift, t))
    if math.isfinite(below):
        return min(1.0, max(0.0, 1.0 - below))
    return averaged(lambda s: special.ndtr(shift - t * s), df)


@lru_cache(maxsize=1)
def _rule() -> tuple[np.ndarray, np.ndarray]:
    return leggauss(NODES)


def averaged(function: Callable[[np.ndarray], np.ndarray], df: float) -> float:
    """Mean of a function of s, df s^2 chi-square on df, by Gauss-Legendre quadrature."""
    low, high = scatter_range(df)
    x, w = _rule()
    s = low + (high - low) * (x + 1.0) / 2.0
    return float(w @ (function(s) * scatter_density(s, df))) * (high - low) / 2.0


def scatter_range(df: float) -> tuple[float, float]:
    """Ends of s, df s^2 chi-square on df, beyond which nothing counts."""
    low = math.sqrt(2.0 * float(special.gammaincinv(df / 2.0, 1e-17)) / df)
    high = math.sqrt(2.0 * float(special.gammainccinv(df / 2.0, 1e-17)) / df)
    return low, high


def scatter_density(s: np.ndarray, df: float) -> np.ndarray:
    """Density of s, df s^2 chi-square on df."""
    constant = math.log(2.0) + df / 2.0 * math.log(df / 2.0) - float(special.gammaln(df / 2.0))
    return np.asarray(np.exp(constant + (df - 1.0) * np.log(s) - df * s**2 / 2.0))


def t_detectable(
    se: float,
    df: float,
    *,
    power: float = 0.8,
    alpha: float = 0.05,
    two_sided: bool = True,
    critical: float | None = None,
) -> float:
    """Smallest difference that is detected with that power (arguments as ``t_power``)."""
    _asked(power, alpha)
    _in_range(se, "se", 0.0, math.inf)

    def missing(shift: float) -> float:
        given = t_power(shift, 1.0, df, alpha=alpha, two_sided=two_sided, critical=critical)
        return given - power

    high = 4.0
    while missing(high) < 0:
        high *= 2.0
    low = 0.0
    while missing(low) > 0:  # one-sided with a critical value below the asked power's
        low -= 1.0
    return se * float(brentq(missing, low, high, xtol=1e-13, rtol=1e-13))


def t_sample_size(
    difference: float,
    sd: float,
    *,
    groups: int = 2,
    power: float = 0.8,
    alpha: float = 0.05,
    two_sided: bool = True,
) -> float:
    """Units per group, not rounded: two groups on 2 (n - 1) df, or one (or pairs) on n - 1."""
    _asked(power, alpha)
    if groups not in (1, 2):
        raise ValueError(f"one group or two, found {groups}")
    _in_range(abs(difference), "difference", 0.0, math.inf)

    def missing(n: float) -> float:
        se = sd * math.sqrt(groups / n)
        df = groups * (n - 1.0)
        return t_power(abs(difference), se, df, alpha=alpha, two_sided=two_sided) - power

    return _solve_upwards(missing, 1.0 + 1e-3)


def f_power(
    noncentrality: float, df_num: float, df_den: float, *, alpha: float = 0.05
) -> float:
    """Power of an F test.

    Parameters
    ----------
    noncentrality
        Sum over units of squared effects over the error variance of the stratum: b sum of
        tau_i^2 / sigma^2 for b blocks, or N f^2 with Cohen's f.
    df_num, df_den
        Degrees of freedom.
    alpha
        Of the test.
    """
    _in_range(alpha, "alpha", 0.0, 1.0)
    _in_range(df_num, "df_num", 0.0, math.inf)
    _in_range(df_den, "df_den", 0.0, math.inf)
    if not 0.0 <= noncentrality < math.inf:
        raise ValueError(f"noncentrality must not be negative, found {noncentrality!r}")
    f = float(special.fdtri(df_num, df_den, 1.0 - alpha))
    x = df_num * f / (df_num * f + df_den)
    half = noncentrality / 2.0
    spread = 12.0 * math.sqrt(half) + 40.0
    j = np.arange(max(0.0, math.floor(half - spread)), math.ceil(half + spread) + 1.0)
    weights = np.exp(special.xlogy(j, half) - half - special.gammaln(j + 1.0))
    below = float(weights @ special.betainc(df_num / 2.0 + j, df_den / 2.0, x))
    return min(1.0, max(0.0, 1.0 - below))


def anova_sample_size(
    f_effect: float, groups: int, *, power: float = 0.8, alpha: float = 0.05
) -> float:
    """Units per group of a one-way layout, not rounded; Cohen's f = SD of means / sigma."""
    _asked(power, alpha)
    _in_range(f_effect, "f_effect", 0.0, math.inf)

    def missing(n: float) -> float:
        noncentrality = groups * n * f_effect**2
        return f_power(noncentrality, groups - 1.0, groups * (n - 1.0), alpha=alpha) - power

    return _solve_upwards(missing, 1.0 + 1e-3)


def _solve_upwards(missing: Callable[[float], float], low: float) -> float:
    """Root of an increasing function above ``low``."""
    high = 2.0
    while missing(high) < 0:
        low, high = high, high * 2.0
        if high > 1e12:
            raise ValueError("the difference is too small for any number of units")
    if missing(low) >= 0:
        return low
    return float(brentq(missing, low, high, xtol=1e-10, rtol=1e-13))


def fewest(
    power_at: Callable[[int], float], *, power: float = 0.8, least: int = 2, most: int = 1000
) -> int | None:
    """Smallest number in ``least`` to ``most`` where ``power_at`` (increasing) suffices."""
    low, high = least - 1, least
    while high < most and power_at(high) < power:
        low, high = high, min(2 * high, most)
    if power_at(high) < power:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if power_at(middle) >= power else (middle, high)
    return high


def blocks_needed(
    difference: float,
    sd: float,
    treatments: int,
    *,
    variance_factor: float = 2.0,
    more_df: int = 0,
    power: float = 0.8,
    alpha: float = 0.05,
    most: int = 1000,
) -> int | None:
    """Fewest complete blocks for one contrast.

    Its variance is sd^2 x variance_factor / blocks (the factor is the sum of squared
    weights: 2 for two arms) on (blocks - 1)(treatments - 1) + more_df df. None where ``most``
    do not suffice.
    """
    _asked(power, alpha)
    if treatments < 2:
        raise ValueError(f"at least two treatments, found {treatments}")

    def at(blocks: int) -> float:
        se = sd * math.sqrt(variance_factor / blocks)
        df = (blocks - 1.0) * (treatments - 1.0) + more_df
        return t_power(difference, se, df, alpha=alpha)

    return fewest(at, power=power, most=most)


def sd_upper_limit(sd: float, df: float, *, confidence: float = 0.8) -> float:
    """One-sided upper limit of a standard deviation or standard error (chi-square)."""
    _in_range(df, "df", 0.0, math.inf)
    _in_range(confidence, "confidence", 0.0, 1.0)
    return sd * math.sqrt(df / float(special.chdtri(df, confidence)))


def assurance(power_at: Callable[[float], float], sd: float, df: float) -> float:
    """Power averaged over what a past season says about the standard deviation.

    The variance is drawn from sd^2 df / chi-square(df), the effect is held;
    ``power_at`` gives the power at a standard deviation.
    """
    _in_range(sd, "sd", 0.0, math.inf)
    _in_range(df, "df", 0.0, math.inf)
    x, w = leggauss(64)
    shares = (x + 1.0) / 2.0
    drawn = sd * np.sqrt(df / special.chdtri(df, shares))
    return float(w @ np.array([power_at(float(v)) for v in drawn])) / 2.0


def equivalence_power(
    difference: float, margin: float, se: float, df: float, *, alpha: float = 0.05
) -> float:
    """Power to show a contrast within -margin to margin by two one-sided tests at alpha."""
    _in_range(margin, "margin", 0.0, math.inf)
    _in_range(se, "se", 0.0, math.inf)
    critical = t_critical(df, alpha=alpha, two_sided=False)
    top = margin / (se * critical)  # a scatter above this can never show it
    low, most = scatter_range(df)
    high = min(top, most)
    if high <= low:
        return 0.0
    x, w = _rule()
    s = low + (high - low) * (x + 1.0) / 2.0
    inside = special.ndtr((margin - difference) / se - critical * s) - special.ndtr(
        -(margin + difference) / se + critical * s
    )
    return max(0.0, float(w @ (inside * scatter_density(s, df))) * (high - low) / 2.0)
