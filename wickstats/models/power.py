"""Closed-form power: noncentral t, F; proportions; log-rank; equivalence.

Leans on scipy.special. All tests two-sided unless said.
"""


def t_power(difference: float, se: float, df: float, *, alpha: float = 0.05) -> float:
    """Power of the t test of a contrast with true value ``difference``, standard error
    ``se`` (true sigma times root of the variance factor) and df of its stratum.
    """
    raise NotImplementedError


def t_detectable(se: float, df: float, *, power: float = 0.8, alpha: float = 0.05) -> float:
    """Smallest difference detected with that power."""
    raise NotImplementedError


def f_power(noncentrality: float, df_num: float, df_den: float, *, alpha: float = 0.05) -> float:
    """Power of an F test; noncentrality = sum of squared effects over error variance."""
    raise NotImplementedError


def blocks_needed(
    difference: float, sd: float, treatments: int, *, variance_factor: float = 2.0,
    power: float = 0.8, alpha: float = 0.05, most: int = 1000,
) -> int | None:
    """Fewest complete blocks for a contrast with variance sd^2 factor / blocks,
    df (blocks - 1)(treatments - 1); None where ``most`` do not suffice.
    """
    raise NotImplementedError


def sd_upper_limit(sd: float, df: float, *, confidence: float = 0.8) -> float:
    """One-sided upper limit of a standard deviation (chi-square)."""
    raise NotImplementedError
