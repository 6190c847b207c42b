"""What a layout keeps of the information of complete blocks, and standard errors of pairs.

Model on the units: y = ground (blocks, rows, columns, larger plots) + treatment + e. With X1
the ground's incidence, X2 the treatments', M1 the projector off X1 and R = X2'X2, the
information on treatments is C = X2' M1 X2. The canonical efficiency factors are the
eigenvalues of R^-1/2 C R^-1/2 other than that of R^1/2 1; their harmonic mean is the average
efficiency factor (James & Wilkinson 1971, Biometrika 58, 279-294; from memory). A pair's
variance is (ei - ej)' C^- (ei - ej) times that of a unit.

Bounds. The factors' mean is trace(R^-1 C)/(t - 1) and is never below the harmonic mean; it
is largest when every treatment is spread over blocks as evenly as it goes:
t(k - 1)/(k(t - 1)) for equal replication, which balanced incomplete blocks reach. Resolvable
designs of r replicates of s blocks: (t - 1)(r - 1)/((t - 1)(r - 1) + r(s - 1)) (Patterson &
Williams 1976, Biometrika 63, 83-92; from memory). Leans on strata; numpy.
"""

from collections import Counter
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from wickstats.layout.plots import Layout
from wickstats.layout.strata import Strata, incidence, strata_of

Array = NDArray[np.float64]
ZERO = 1e-9
JUDGED = ("incomplete block", "row-column")


@dataclass(frozen=True, slots=True)
class Efficiency:
    """Average efficiency factor of a layout.

    Attributes
    ----------
    average
        0 to 1 (1: as good as complete blocks); None where treatments are not connected.
    bound
        No layout of these sizes has more.
    groups
        Groups of treatments that cannot be compared with each other (1: connected).
    """

    average: float | None
    bound: float
    groups: int


def efficiency(layout: Layout) -> Efficiency | None:
    """Average efficiency and its bound, for incomplete blocks and row-column layouts."""
    if layout.type not in JUDGED:
        return None
    strata = strata_of(layout)
    info, replication = information(strata)
    if len(replication) < 2:  # a pilot compares nothing
        return None
    root = np.sqrt(replication)
    values = np.linalg.eigvalsh(info / np.outer(root, root))
    groups = int((values < ZERO).sum())
    others = values[1:]
    average = None if groups > 1 else float(others.size / (1.0 / others).sum())
    return Efficiency(average, _bound(layout, strata, replication), groups)


def pair_variances(layout: Layout) -> Array:
    """(t, t) variance of the difference of two treatments, in units' variances.

    In the stratum of the smallest units, with all larger pieces of ground fixed; treatments in
    the order of the units. NaN for pairs that cannot be compared there.
    """
    info, _ = information(strata_of(layout), deepest=True)
    values, vectors = np.linalg.eigh(info)
    none = values < ZERO * max(float(values[-1]), 1.0)
    inverse = (vectors[:, ~none] / values[~none]) @ vectors[:, ~none].T
    diagonal = np.diag(inverse)
    out: Array = diagonal[:, None] + diagonal[None, :] - 2 * inverse
    # a difference is known when it has no part in what the ground takes up
    hidden = vectors[:, none]
    apart = np.square(hidden[:, None, :] - hidden[None, :, :]).sum(axis=2)
    out[apart > ZERO] = np.nan
    return out


def information(strata: Strata, *, deepest: bool = False) -> tuple[Array, Array]:
    """C of the treatments and their replication; ``deepest``: larger plots are ground too."""
    ground = [np.ones((len(strata.units), 1)), *(g.shares for g in strata.grounds)]
    if deepest:
        ground += [incidence(tier.codes.tolist()) for tier in strata.tiers[:-1]]
    x1 = np.hstack(ground)
    x2 = incidence([plot.treatment for plot in strata.units])
    lost = x2.T @ x1
    gram = np.linalg.pinv(x1.T @ x1, rcond=ZERO, hermitian=True)
    return x2.T @ x2 - lost @ gram @ lost.T, x2.sum(axis=0)


def _bound(layout: Layout, strata: Strata, replication: Array) -> float:
    each = [int(r) for r in replication]
    t = len(each)
    if layout.type == "row-column":
        return min(1.0, _array_bound(layout, strata, each))
    blocks = Counter((plot.replicate, plot.block) for plot in strata.units)
    sizes = sorted(blocks.values())
    # the loss of a label in a block of size k is n^2/(k r): least spread evenly, large blocks
    lost = sum(_least_squares(r, len(sizes)) / (sizes[-1] * r) for r in each)
    bound = (t - lost) / (t - 1)
    found = _resolvable(layout, strata, t)
    if found is not None:
        r, s = found
        bound = min(bound, resolvable_bound(t, r, s))
    return min(1.0, bound)


def resolvable_bound(treatments: int, replicates: int, blocks: int) -> float:
    """Bound of resolvable designs with so many blocks a replicate."""
    top = (treatments - 1) * (replicates - 1)
    return top / (top + replicates * (blocks - 1))


def _resolvable(layout: Layout, strata: Strata, t: int) -> tuple[int, int] | None:
    """Replicates and blocks in each, where every replicate holds every treatment once."""
    if any(plot.replicate is None for plot in strata.units):
        return None
    held = Counter((plot.replicate, plot.treatment) for plot in strata.units)
    names = {plot.replicate for plot in strata.units}
    blocks = {(plot.replicate, plot.block) for plot in strata.units}
    complete = len(held) == t * len(names) == len(strata.units)
    if not complete or len(blocks) % len(names) or layout.type != "incomplete block":
        return None
    return len(names), len(blocks) // len(names)


def _array_bound(layout: Layout, strata: Strata, each: list[int]) -> float:
    """Mean of the factors when labels are spread as evenly as they go over rows and columns."""
    del layout
    rows = Counter((plot.replicate, plot.row) for plot in strata.units)
    columns = Counter((plot.replicate, plot.column) for plot in strata.units)
    arrays = len({plot.replicate for plot in strata.units})
    long, wide = len(rows) // arrays, len(columns) // arrays
    counts = Counter((plot.replicate, plot.treatment) for plot in strata.units)
    alike = len(set(counts.values())) == 1 and len(counts) == arrays * len(each)

    def loss(n: int) -> float:
        return (
            _least_squares(n, long) / wide
            + _least_squares(n, wide) / long
            - n * n / (long * wide)
        )

    if alike:
        lost = [arrays * loss(r // arrays) / r for r in each]
    else:
        lost = [_least_loss(tuple(loss(n) for n in range(r + 1)), r, arrays) / r for r in each]
    return (len(each) - sum(lost)) / (len(each) - 1)


@cache
def _least_loss(loss: tuple[float, ...], total: int, arrays: int) -> float:
    """Least sum of losses when a label's plots are shared out among the arrays."""
    if arrays == 1:
        return loss[total]
    return min(
        loss[n] + _least_loss(loss[: total - n + 1], total - n, arrays - 1)
        for n in range(total + 1)
    )


def _least_squares(total: int, parts: int) -> int:
    """Least sum of squares of so many whole numbers with that sum."""
    low, more = divmod(total, parts)
    return parts * low * low + more * (2 * low + 1)
