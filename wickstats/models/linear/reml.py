"""Mixed models by restricted maximum likelihood, fitted on the reduced data.

Model: y = X b + sum_k Z_k u_k + e, u_k ~ N(0, theta_k I), e ~ N(0, theta_e I); each
Z_k marks the groups of one random intercept term. Source: Patterson & Thompson (1971).
Leans on numpy and core.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mode = Literal["nonnegative", "strata"]


@dataclass(frozen=True, slots=True)
class Diary:
    """What the solver did (components on the scale of the response)."""

    start: tuple[float, ...]
    end: tuple[float, ...]
    objective_start: float
    objective_end: float
    iterations: int
    evaluations: int
    gradient_norm: float  # Newton decrement: has no unit
    tolerance: float
    zero_tolerance: float
    code: str


@dataclass(frozen=True, slots=True, eq=False)
class MixedFit:
    """A fitted mixed model, complete.

    Attributes
    ----------
    names
        The random terms in the order given, then "residual".
    components
        (K + 1,) variances in that order.
    levels
        Groups per term; rows for the residual.
    fixed, covariance
        (p,), (p, p) fixed effects and their covariance; columns named in ``aliased`` are
        linear combinations of earlier ones and are held at zero.
    objective
        -2 log restricted likelihood with its constant (n - rank) log 2 pi.
    singular
        A component stands at zero (an answer, not a failure).
    reason
        Why the fit is not converged, in words; None where it is.
    """

    names: tuple[str, ...]
    components: tuple[float, ...]
    levels: tuple[int, ...]
    fixed: Array
    covariance: Array
    aliased: tuple[int, ...]
    n: int
    rank: int
    objective: float
    mode: Mode
    singular: bool
    converged: bool
    reason: str | None
    diary: Diary
    inner: Any = field(repr=False)


def fit_mixed(
    values: Array,
    fixed: Array,
    groups: Mapping[str, NDArray[np.int_]],
    *,
    mode: Mode = "nonnegative",
) -> MixedFit:
    """Fit by REML.

    Parameters
    ----------
    values
        (n,) finite responses.
    fixed
        (n, p) columns of the fixed part (with the intercept or cell indicators).
    groups
        Term -> (n,) integer group codes, coarsest first (block, whole plot, plot, plant);
        nested or crossed. Codes must be unique over the trial (plot 1 of block 2 is not
        plot 1 of block 1). A term must have more rows than groups.
    mode
        "nonnegative": components at or above zero. "strata": they may go below while the
        covariance matrix stays positive definite (balanced data: the classical components).

    Raises
    ------
    AnalysisError
        In words: constant response, no residual degrees of freedom, a term that cannot be
        told from another, from the residual or from the fixed part.
    """
    raise NotImplementedError
