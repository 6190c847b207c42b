"""Stub: see the docstrings."""

from dataclasses import dataclass

from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class ShareInterval:
    """An arm's share alive with its interval from units.

    ``share`` is x / n; limits are on the logit of (x + 0.5)/(n + 1). ``se`` is on the logit
    scale; ``df`` None where the binomial part is the wider. ``basis``: "units" or "binomial".
    """

    share: float | None
    low: float | None
    high: float | None
    se: float | None
    df: float | None
    basis: str
    n_units: int
    n_plants: float
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class ShareBound:
    """One-sided bound for an arm where all live (lower) or all die (upper).

    ``limit`` uses n_eff plants, ``by_plots`` is the worst case (each plot one observation).
    """

    side: str  # lower | upper
    limit: float
    by_plots: float
    n_eff: float
    rho: float
    confidence: float


def share_interval(
    alive: ArrayLike, planted: ArrayLike, confidence: float = 0.95
) -> ShareInterval:
    """Interval for an arm's share alive; ``alive, planted`` (u,) by unit."""
    raise NotImplementedError


def plot_correlation(planned: float | None, phi: float | None, m: float) -> float:
    """rho for the bound: the largest of the plan's, (phi - 1)/(m - 1) and 0.1."""
    raise NotImplementedError


def share_bound(
    alive: ArrayLike, planted: ArrayLike, rho: float, confidence: float = 0.95
) -> ShareBound:
    """One-sided bound where all or none are alive.

    Raises
    ------
    ValueError
        When some but not all are alive: then ``share_interval`` applies.
    """
    raise NotImplementedError


def difference_bound(share_a: float, limit_a: float, share_b: float, limit_b: float) -> float:
    """Bound of share_a - share_b from a one-sided limit of each."""
    raise NotImplementedError
