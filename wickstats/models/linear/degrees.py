"""Degrees of freedom for mixed-model contrasts: Kenward & Roger (1997), Satterthwaite.

Leans on reml.
"""

from dataclasses import dataclass
from typing import Literal

from wickstats.models.linear.reml import Array, MixedFit

Method = Literal["kenward-roger", "satterthwaite"]


@dataclass(frozen=True, slots=True)
class MixedContrast:
    """One contrast L b. All numbers None where ``not_estimable`` says why."""

    estimate: float | None
    se: float | None
    df: float | None
    t: float | None
    p: float | None
    low: float | None
    high: float | None
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class JointTest:
    """F test of L b = 0. All numbers None where ``not_estimable`` says why."""

    f: float | None
    df_num: float | None
    df_den: float | None
    p: float | None
    scaling: float | None
    not_estimable: str | None = None


def mixed_contrasts(
    fit: MixedFit, L: Array, *, method: Method = "kenward-roger", level: float = 0.95,
    design_df: float | None = None,
) -> tuple[MixedContrast, ...]:
    """Each row of L (m, p) on its own; ``design_df`` caps the df (the smaller counts)."""
    raise NotImplementedError


def mixed_test(fit: MixedFit, L: Array, *, method: Method = "kenward-roger") -> JointTest:
    """All rows of L (m, p) together; dependent rows count once."""
    raise NotImplementedError


def contrast_covariance(fit: MixedFit, L: Array) -> Array:
    """(m, m) covariance of L b, Kenward-Roger adjusted."""
    raise NotImplementedError
