"""Generalized least squares with an explicit covariance matrix.

Model: y = X b + e, V = sum_k s_k Z_k Z_k' + s_e I at given components s,
b = (X'V^-1 X)^-1 X'V^-1 y (Aitken 1935), -2 REML log likelihood (Patterson & Thompson 1971)
(n - p) log(2 pi) + log|V| + log|X'V^-1 X| + r'V^-1 r - log|X'X| of an orthonormal basis of
error contrasts; lme4 leaves log|X'X| out, and so does this. O(n^3). Leans on numpy only.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.second.answers import ContrastAnswer

ENGINE = "dense generalized least squares"
LARGEST = 4_000


@dataclass(frozen=True, slots=True)
class DenseFit:
    """Contrasts at the given components, and -2 REML log likelihood."""

    contrasts: tuple[ContrastAnswer, ...]
    minus_two_reml: float


def dense_fit(
    values: ArrayLike,
    fixed: ArrayLike,
    groups: Sequence[tuple[float, ArrayLike]],
    residual: float | ArrayLike,
    contrasts: ArrayLike,
) -> DenseFit:
    """Fit at given variance components.

    Parameters
    ----------
    values
        (n,) responses.
    fixed
        (n, p) columns of the fixed effects, full rank.
    groups
        (variance, (n,) labels) of each random term; a variance may be zero or negative.
    residual
        Residual variance, or (n,) that of each row.
    contrasts
        (q, p) rows on the fixed effects.

    Raises
    ------
    ValueError
        When n is over 4,000, or the covariance or the design cannot be inverted.
    """
    y = np.asarray(values, dtype=float)
    x = np.asarray(fixed, dtype=float)
    n = y.size
    if n > LARGEST:
        raise ValueError(f"{n} rows are too many for a dense matrix, at most {LARGEST}")
    v = np.diag(np.broadcast_to(np.asarray(residual, dtype=float), n)).copy()
    for variance, labels in groups:
        codes = np.asarray(labels)
        v += variance * (codes[:, None] == codes[None, :])
    try:
        log_v = 2.0 * float(np.log(np.diag(np.linalg.cholesky(v))).sum())
    except np.linalg.LinAlgError as error:
        raise ValueError(
            "the covariance is not positive definite at these components"
        ) from error
    v_x, v_y = np.linalg.solve(v, x), np.linalg.solve(v, y)
    information = x.T @ v_x
    sign, log_x = np.linalg.slogdet(information)
    if sign <= 0.0 or np.linalg.matrix_rank(x) < x.shape[1]:
        raise ValueError("the columns of the fixed effects depend on each other")
    covariance = np.linalg.inv(information)
    beta = covariance @ (x.T @ v_y)
    rest = y - x @ beta
    quadratic = float(rest @ np.linalg.solve(v, rest))
    answers = tuple(
        ContrastAnswer(float(row @ beta), float(np.sqrt(row @ covariance @ row)), None, ENGINE)
        for row in np.atleast_2d(np.asarray(contrasts, dtype=float))
    )
    minus_two = (n - x.shape[1]) * np.log(2.0 * np.pi) + log_v + log_x + quadratic
    return DenseFit(answers, float(minus_two))
