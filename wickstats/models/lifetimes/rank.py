"""Stub: see the docstrings."""

from dataclasses import dataclass

from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class RankComparison:
    """Probability that a plant of A ends above one of B, ties half.

    All but ``probability`` are None where ``not_estimable`` says why. ``se`` is on the
    logit scale. ``basis``: "blocks", "units" or "binomial", whichever is wider.
    """

    probability: float | None
    low: float | None
    high: float | None
    se: float | None
    df: float | None
    p: float | None
    basis: str
    n_a: int
    n_b: int
    not_estimable: str | None = None


def compare_ranks(
    scores_a: ArrayLike,
    scores_b: ArrayLike,
    *,
    blocks_a: ArrayLike | None = None,
    blocks_b: ArrayLike | None = None,
    units_a: ArrayLike | None = None,
    units_b: ArrayLike | None = None,
    confidence: float = 0.95,
) -> RankComparison:
    """Composite rank comparison of two arms; ``-inf`` marks a dead plant (below all living).

    Blocks are averaged where given; without blocks the units are left out one by one.
    """
    raise NotImplementedError
