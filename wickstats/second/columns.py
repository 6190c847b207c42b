"""Columns of a linear model with labels: treatments, blockings, a covariate.

One column a label, without leaving any out: the model may depend on itself, and contrasts
are checked to be estimable. Leans on numpy only.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The model's matrix.

    Attributes
    ----------
    x
        (n, p) columns: treatments first, then each blocking, then the covariate.
    lean
        (n, rank) those columns that do not depend on the ones before them.
    arms
        Treatments, in the order of their columns; without interactions (place, level) of
        each factor's levels.
    factors
        Numbers of factors whose levels add up; None: treatments stand for themselves.
    """

    x: Array
    lean: Array
    arms: list[object]
    factors: int | None = None

    @property
    def rank(self) -> int:
        """Columns that do not depend on the ones before them."""
        return int(self.lean.shape[1])

    def row(self, weights: Mapping[object, float]) -> Array:
        """(rank,) weights of a contrast of treatments on ``lean``.

        Raises
        ------
        ValueError
            For a treatment without a unit, or a contrast that cannot be estimated.
        """
        full = np.zeros(self.x.shape[1])
        for treatment, weight in weights.items():
            parts = [treatment]
            if self.factors is not None and isinstance(treatment, tuple):
                parts = list(enumerate(treatment))
            for arm in parts:
                if arm not in self.arms:
                    raise ValueError(f"no unit has treatment {arm!r}")
                full[self.arms.index(arm)] += weight
        use = np.linalg.lstsq(self.x.T, full, rcond=None)[0]
        if float(np.abs(self.x.T @ use - full).max()) > 1e-8:
            raise ValueError("the contrast cannot be estimated from these units")
        return np.asarray(use @ self.lean)


def columns_of(
    treatments: ArrayLike,
    blockings: Sequence[ArrayLike] = (),
    covariate: ArrayLike | None = None,
) -> Columns:
    """Build the columns.

    Parameters
    ----------
    treatments
        (n,) labels; (n, f) labels of the levels of f factors that add up.
    blockings
        Each (n,) labels, or (n, b) shares of blocks where units span them.
    covariate
        (n,) numbers.
    """
    given = np.asarray(treatments)
    factors = given.shape[1] if given.ndim == 2 else None
    sets = [given.tolist()] if factors is None else given.T.tolist()
    arms: list[object] = []
    parts: list[Array] = []
    for place, labels in enumerate(sets):
        own = list(dict.fromkeys(labels))
        arms += own if factors is None else [(place, level) for level in own]
        parts.append(np.array([[label == arm for arm in own] for label in labels], dtype=float))
    for blocking in blockings:
        shares = np.asarray(blocking)
        if shares.ndim == 2:
            parts.append(shares.astype(float))
            continue
        _, codes = np.unique(shares, return_inverse=True)
        parts.append(np.eye(int(codes.max()) + 1)[codes])
    if covariate is not None:
        moved = np.asarray(covariate, dtype=float)
        parts.append((moved - moved.mean())[:, None])
    x = np.column_stack(parts)
    return Columns(x, x[:, _independent(x)], arms, factors)


def _independent(x: Array) -> list[int]:
    """Places of the columns that do not depend on the ones before them (Gram-Schmidt)."""
    kept: list[int] = []
    basis = np.zeros((x.shape[0], 0))
    for place in range(x.shape[1]):
        rest = x[:, place]
        for _ in range(2):  # twice, against rounding
            rest = rest - basis @ (basis.T @ rest)
        size = float(np.linalg.norm(rest))
        if size > 1e-9 * max(float(np.linalg.norm(x[:, place])), 1e-300):
            kept.append(place)
            basis = np.column_stack([basis, rest / size])
    return kept
