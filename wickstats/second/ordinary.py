"""Contrasts of one-stratum trials and of counts, by statsmodels.

Ordinary least squares of block + treatment, and a log-linear Poisson model with the
Pearson dispersion (McCullagh & Nelder 1989, chapter 6). Leans on numpy, statsmodels.
"""

import warnings
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.second.answers import ContrastAnswer, TestAnswer

Array = NDArray[np.float64]


def ordinary_contrast(
    values: ArrayLike,
    treatments: ArrayLike,
    weights: Mapping[object, float],
    blocks: ArrayLike | None = None,
    covariate: ArrayLike | None = None,
) -> ContrastAnswer:
    """Contrast of treatments by ordinary least squares, blocks fixed.

    Parameters
    ----------
    values, treatments, blocks, covariate
        (n,) by unit; treatments and blocks are labels.
    weights
        Treatment label -> weight.
    """
    import statsmodels.api as sm

    x, arms = _columns(treatments, blocks, covariate)
    fit = sm.OLS(np.asarray(values, dtype=float), x).fit()
    test = fit.t_test(_row(weights, arms, x.shape[1]))
    return ContrastAnswer(
        float(test.effect[0]), float(test.sd[0, 0]), float(fit.df_resid), "statsmodels OLS"
    )


def ordinary_test(
    values: ArrayLike,
    treatments: ArrayLike,
    blocks: ArrayLike | None = None,
    covariate: ArrayLike | None = None,
) -> TestAnswer:
    """F test of all treatment differences by ordinary least squares, blocks fixed."""
    import statsmodels.api as sm

    x, arms = _columns(treatments, blocks, covariate)
    fit = sm.OLS(np.asarray(values, dtype=float), x).fit()
    first = {arms[0]: -1.0}
    rows = np.array([_row({**first, arm: 1.0}, arms, x.shape[1]) for arm in arms[1:]])
    test = fit.f_test(rows)
    return TestAnswer(
        float(np.squeeze(test.fvalue)),
        float(fit.df_resid),
        float(test.pvalue),
        "statsmodels OLS",
    )


def count_contrast(
    counts: ArrayLike,
    treatments: ArrayLike,
    weights: Mapping[object, float],
    blocks: ArrayLike | None = None,
) -> ContrastAnswer:
    """Log-linear contrast of counts; the scale is Pearson chi-square / df, not below 1."""
    import statsmodels.api as sm
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

    x, arms = _columns(treatments, blocks, None)
    model = sm.GLM(np.asarray(counts, dtype=float), x, family=sm.families.Poisson())
    with warnings.catch_warnings():
        # counts that the arms fit exactly are an answer here, not a separation
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        free = model.fit(scale="X2")
        fit = free if free.scale >= 1.0 else model.fit(scale=1.0)
    test = fit.t_test(_row(weights, arms, x.shape[1]))
    return ContrastAnswer(
        float(np.squeeze(test.effect)),
        float(np.squeeze(test.sd)),
        float(fit.df_resid),
        "statsmodels GLM (Poisson)",
    )


def _columns(
    treatments: ArrayLike, blocks: ArrayLike | None, covariate: ArrayLike | None
) -> tuple[Array, list[object]]:
    """Full-rank columns: one a treatment, then blocks but the first, then the covariate."""
    given = np.asarray(treatments)
    arms = list(np.unique(given).tolist())
    columns = [(given == arm).astype(float) for arm in arms]
    if blocks is not None:
        places = np.asarray(blocks)
        columns += [(places == place).astype(float) for place in np.unique(places)[1:]]
    if covariate is not None:
        columns.append(np.asarray(covariate, dtype=float))
    x = np.column_stack(columns)
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise ValueError("treatments and blocks are not connected: no second opinion")
    return x, arms


def _row(weights: Mapping[object, float], arms: list[object], width: int) -> Array:
    unknown = [arm for arm in weights if arm not in arms]
    if unknown:
        raise ValueError(f"no unit has treatment {unknown[0]!r}")
    row = np.zeros(width)
    for arm, weight in weights.items():
        row[arms.index(arm)] = weight
    return row
