"""Log-rank scores of lives known to end in (low, high], summed by unit.

Model: in each block the pooled curve of all arms has masses p_j on regions j, hazards
p_j / S_(j-1) and cumulative hazards H_j. A plant that ended in region j scores 1 - H_j, one
known only to have ended in a run of regions the mean of these scores over the run (Sun
1996, Statistics in Medicine 15:1387-1395; Fay 1999, 18:273-285). Known days and right
censoring give 1 - H and -H at the plant's own time, so that an arm's sum is the observed
less the expected deaths of the log-rank test (Mantel 1966). A block's scores sum to zero.

The sum over a unit's plants is the unit's number: blocks and treatments on these numbers
are the first line's overall test, and re-randomization may use them too. Plants as units
would be the classical test, given here for reference.

Aligned scores, beside: one curve for the whole trial, and the block's mean taken off its
plants' scores (aligned ranks, Hodges & Lehmann 1962, Annals of Mathematical Statistics
33:482). They too sum to zero in a block.
Leans on numpy, scipy.special, models.lifetimes.regions and models.lifetimes.mass.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc

from wickstats.models.lifetimes.mass import fit_mass
from wickstats.models.lifetimes.regions import find_regions

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class LogRank:
    """Classical log-rank test with plants as units (right-censored).

    ``observed, expected`` (g,) deaths by group, ``variance`` (g, g) hypergeometric.
    """

    observed: Array
    expected: Array
    variance: Array
    chi_square: float
    df: int
    p: float


def plant_scores(lows: ArrayLike, highs: ArrayLike, strata: ArrayLike | None = None) -> Array:
    """(n,) log-rank scores of plants.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead; low = high: day known.
    strata
        (n,) block of each plant, None for one stratum.

    Returns
    -------
    Array
        Positive: died earlier than expected. The scores of a stratum sum to zero.

    Raises
    ------
    ValueError
        For shapes that do not fit, missing ends, high below low.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    if strata is None:
        return _scores(low, high)
    block = np.unique(np.asarray(strata), return_inverse=True)[1].reshape(-1)
    if block.shape != low.shape:
        raise ValueError("strata must be one code a plant")
    out = np.zeros(low.shape)
    for code in range(int(block.max(initial=-1)) + 1):
        inside = block == code
        out[inside] = _scores(low[inside], high[inside])
    return out


def aligned_scores(lows: ArrayLike, highs: ArrayLike, strata: ArrayLike | None) -> Array:
    """(n,) scores on the curve of all plants, less the mean of each stratum's plants.

    As ``plant_scores`` in all else; without strata they are the same.
    """
    out = plant_scores(lows, highs)
    if strata is None:
        return out
    block = np.unique(np.asarray(strata), return_inverse=True)[1].reshape(-1)
    if block.shape != out.shape:
        raise ValueError("strata must be one code a plant")
    held = np.maximum(np.bincount(block), 1.0)
    aligned = out - (np.bincount(block, weights=out) / held)[block]
    # a block in which all fared alike tells nothing: what rounding leaves there is none
    aligned[np.abs(aligned) <= ROUNDING * max(1.0, float(np.abs(out).max(initial=0.0)))] = 0.0
    return aligned


def unit_scores(scores: ArrayLike, units: ArrayLike, n_units: int) -> Array:
    """(n_units,) sum of plant scores; ``units`` are codes 0..n_units-1."""
    codes = np.asarray(units, dtype=np.int64)
    if codes.size and (codes.min() < 0 or codes.max() >= n_units):
        raise ValueError("a unit code is out of range")
    sums = np.bincount(codes, weights=np.asarray(scores, dtype=float), minlength=n_units)
    return sums.astype(np.float64)


def unit_score_variances(
    scores: ArrayLike, units: ArrayLike, n_units: int, strata: ArrayLike | None = None
) -> Array:
    """(n_units,) plants of each unit times the variance of plants' scores in its stratum.

    Divisor n - 1, about zero, to which the scores of a stratum sum. Where a unit's plants
    stand in several strata each counts with its own.
    """
    a, codes = np.asarray(scores, dtype=float), np.asarray(units, dtype=np.int64)
    block = np.zeros(a.size, dtype=np.int64)
    if strata is not None:
        block = np.unique(np.asarray(strata), return_inverse=True)[1].reshape(-1)
    squares = np.bincount(block, weights=a * a)
    variance = squares / np.maximum(np.bincount(block) - 1.0, 1.0)
    found = np.bincount(codes, weights=variance[block], minlength=n_units)
    return found.astype(np.float64)


def log_rank(
    times: ArrayLike, died: ArrayLike, groups: ArrayLike, strata: ArrayLike | None = None
) -> LogRank:
    """Classical log-rank test (Mantel 1966; stratified), where plants are the units.

    Parameters
    ----------
    times, died
        (n,) time of death or last seen, and whether it is the death.
    groups, strata
        (n,) codes.

    Raises
    ------
    ValueError
        For fewer than two groups, no death, or shapes that do not fit.
    """
    t, dead = np.asarray(times, dtype=float), np.asarray(died, dtype=bool)
    group = np.unique(np.asarray(groups), return_inverse=True)[1].reshape(-1)
    block = np.zeros(t.size, dtype=np.int64)
    if strata is not None:
        block = np.unique(np.asarray(strata), return_inverse=True)[1].reshape(-1)
    g = int(group.max(initial=-1)) + 1
    if g < 2 or not dead.any() or not t.shape == dead.shape == group.shape == block.shape:
        raise ValueError("a log-rank test needs two groups and at least one death")
    observed = np.bincount(group[dead], minlength=g).astype(float)
    expected, variance = np.zeros(g), np.zeros((g, g))
    for code in range(int(block.max()) + 1):
        inside = block == code
        e, v = _moments(t[inside], dead[inside], group[inside], g)
        expected, variance = expected + e, variance + v
    gap = observed - expected
    inverse = np.linalg.pinv(variance, rcond=1e-10, hermitian=True)
    df = int(
        np.linalg.matrix_rank(variance, tol=1e-10 * float(np.abs(variance).max()) + 1e-300)
    )
    chi_square = float(gap @ inverse @ gap)
    return LogRank(observed, expected, variance, chi_square, df, float(chdtrc(df, chi_square)))


def _scores(low: Array, high: Array) -> Array:
    regions = find_regions(low, high)
    m = regions.lows.size
    p = fit_mass(regions.first, regions.stop, np.ones(low.size), m).mass
    before = np.cumsum(p[::-1])[::-1]
    hazard = np.divide(p, before, out=np.zeros(m), where=p > 0.0)
    weighted = np.concatenate([[0.0], np.cumsum(p * (1.0 - np.cumsum(hazard)))])
    total = np.concatenate([[0.0], np.cumsum(p)])
    a, b = regions.first, regions.stop
    return np.asarray((weighted[b] - weighted[a]) / (total[b] - total[a]))


def _moments(t: Array, dead: NDArray[np.bool_], group: IntArray, g: int) -> tuple[Array, Array]:
    points = np.unique(t[dead])
    at_risk = (t[:, None] >= points).astype(float)
    by_group = np.stack([at_risk[group == c].sum(axis=0) for c in range(g)])
    n = by_group.sum(axis=0)
    d = ((t[:, None] == points) & dead[:, None]).sum(axis=0)
    share = by_group / n
    spread = d * (n - d) / np.maximum(n - 1.0, 1.0)
    variance = np.diag((share * spread).sum(axis=1)) - (share * spread) @ share.T
    return (share * d).sum(axis=1), variance
