"""Simultaneous intervals in many seasons: Dunnett, Tukey, single-step, Bonferroni.

As ``models.linear.multiplicity``: the contrasts' correlation is that of equal unit variances
and so the same in all seasons on one layout; each interval has its own df, which takes few
values (two, where plants are the same in all seasons). Where there are many, the critical
value is interpolated between 33 Chebyshev points in log df, to 1e-8. Verdicts come from
intervals, so that no adjusted p is given here. Leans on ``layout`` and the joint t.
"""

from typing import Literal

import numpy as np

from wickstats.models.batch.layout import BatchLayout
from wickstats.models.batch.results import Answers
from wickstats.models.batch.strata import t_quantiles
from wickstats.models.linear.estimates import Array
from wickstats.models.linear.joint_t import JointT, joint_t

Method = Literal["dunnett", "tukey", "single-step", "bonferroni", "none"]
FEW = 8  # different df that are worked out one by one
POINTS = 33


def simultaneous(
    layout: BatchLayout, answers: Answers, method: Method, *, confidence: float = 0.95
) -> tuple[Array, Array]:
    """Limits (S, k), (S, k) that hold for the whole family of the layout's contrasts.

    Parameters
    ----------
    answers
        To the layout's contrasts, by ``judge_units``; limits are NaN where a season is not
        judged. Contrasts that the units cannot tell stay out of the family.

    Raises
    ------
    ValueError
        For an unknown method.
    """
    kept = layout.contrasts.estimable
    k = int(kept.sum())
    df = answers.df
    if method == "none" or k == 0:
        critical = t_quantiles(confidence, df)
    elif method == "bonferroni":
        critical = t_quantiles(1.0 - (1.0 - confidence) / k, df)
    elif method in {"dunnett", "tukey", "single-step"}:
        rows = layout.contrasts.rows[kept]
        scale = np.sqrt(np.sum(rows * rows, axis=1))
        correlation = (rows / scale[:, None]) @ (rows / scale[:, None]).T
        np.fill_diagonal(correlation, 1.0)
        critical = _critical(joint_t(correlation), df, confidence)
    else:
        raise ValueError(f"no such method: {method}")
    half = critical * answers.se
    return answers.estimate - half, answers.estimate + half


def _critical(joint: JointT, df: Array, confidence: float) -> Array:
    """Critical values for df of any shape; NaN stays NaN."""
    there = np.isfinite(df)
    values, place = np.unique(df[there], return_inverse=True)
    if values.size <= FEW:
        found = np.array([joint.critical(confidence, float(one)) for one in values])
    else:
        found = _interpolated(joint, values, confidence)
    out = np.full(df.shape, np.nan)
    out[there] = found[place.ravel()] if values.size else 0.0
    return out


def _interpolated(joint: JointT, df: Array, confidence: float) -> Array:
    """Give log c as a Chebyshev series in log df over the range that is needed."""
    x = np.log(df)
    low, high = float(x[0]), float(x[-1])
    angles = (np.arange(POINTS) + 0.5) * (np.pi / POINTS)
    nodes = 0.5 * (low + high) + 0.5 * (high - low) * np.cos(angles)
    logs = np.log([joint.critical(confidence, float(np.exp(node))) for node in nodes])
    basis = np.cos(np.arange(POINTS)[:, None] * angles[None, :]) * (2.0 / POINTS)
    basis[0] *= 0.5
    series = basis @ logs
    scaled = (2.0 * x - (low + high)) / (high - low)
    found: Array = np.exp(np.polynomial.chebyshev.chebval(scaled, series))
    return found
