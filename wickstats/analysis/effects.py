"""Effect sizes in the units people use first, then as a ratio.

On a log scale a contrast is a ratio; its absolute size is given at the versus arm's mean.
On the scale as measured the ratio of two means is Fieller's (1954, J. R. Stat. Soc. B
16:175), blocks taken as they are; where it is unbounded there is no interval. Leans on
line, core.responses.
"""

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from wickstats.analysis.families import Judged
from wickstats.analysis.line import Line
from wickstats.analysis.strata_line import StrataLine
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array
from wickstats.core.responses import Absolute, Relative
from wickstats.core.words import say
from wickstats.models.linear.estimates import t_tail
from wickstats.models.ratios.fieller import fieller_limits


@dataclass(frozen=True, slots=True)
class Reported:
    """An estimate with limits on the reported scale."""

    estimate: float | None
    low: float | None
    high: float | None


def back(value: float | None, *, log: bool) -> float | None:
    """From the model's to the reported scale; None where it does not fit a number."""
    if value is None:
        return None
    if not log:
        return value
    return exp(value) if value < 700.0 else None


def reported(
    estimate: float | None, low: float | None, high: float | None, *, log: bool
) -> Reported:
    """Back-transform all three."""
    return Reported(back(estimate, log=log), back(low, log=log), back(high, log=log))


def absolute_of(judged: Judged, summary: Summary, line: Line) -> Absolute | None:
    """The effect in everyday units, from the adjusted interval."""
    value = judged.estimate.estimate
    if value is None:
        return None
    if summary.is_share:
        return Absolute(
            100.0 * value,
            _within(judged.low, 100.0),
            _within(judged.high, 100.0),
            per_hundred(summary),
        )
    if not summary.log:
        return Absolute(
            value, judged.low, judged.high, say("per unit", unit=_in(summary.measured_in))
        )
    if not is_plain_pair(judged.contrast.weights):
        return None  # a ratio of ratios has no size at one mean
    base = line.mean(side_weights(judged.contrast.weights, sign=-1.0)).estimate
    center = back(base, log=True)
    ratio = reported(value, judged.low, judged.high, log=True)
    if center is None or ratio.estimate is None:
        return None
    return Absolute(
        center * (ratio.estimate - 1.0),
        None if ratio.low is None else center * (ratio.low - 1.0),
        None if ratio.high is None else center * (ratio.high - 1.0),
        per_at_mean(summary, judged),
    )


def per_hundred(summary: Summary) -> str:
    """What a difference of shares is told in."""
    if summary.estimand != "share alive":
        return say("per 100 spared")
    return say("per 100 planted" if summary.subjects == "plants" else "per 100 followed")


def per_at_mean(summary: Summary, judged: Judged) -> str:
    """What an absolute size of a ratio is told in."""
    return say("per unit at mean", unit=_in(summary.measured_in), name=judged.contrast.versus)


def _in(unit: str) -> str:
    return "" if unit == "1" else f", in {unit.strip('{}')}"


def _within(value: float | None, scale: float) -> float | None:
    return None if value is None else scale * min(1.0, max(-1.0, value))


def relative_of(
    judged: Judged, summary: Summary, line: Line, confidence: float
) -> Relative | None:
    """The effect as a ratio."""
    if judged.estimate.estimate is None:
        return None
    if summary.log:
        found = reported(judged.estimate.estimate, judged.low, judged.high, log=True)
        return Relative(found.estimate, found.low, found.high)
    if not is_plain_pair(judged.contrast.weights):
        return None
    up, down = (
        side_weights(judged.contrast.weights, 1.0),
        side_weights(judged.contrast.weights, -1.0),
    )
    a, b = line.mean(up).estimate, line.mean(down).estimate
    if a is None or b is None or b <= 0.0 or a < 0.0:
        return None
    limits = _fieller(a, b, line.unit_row(up), line.unit_row(down), line, judged, confidence)
    return Relative(a / b, *limits)


def is_plain_pair(weights: Array) -> bool:
    """Whether the contrast sets one mean against another."""
    return abs(float(weights[weights > 0].sum()) - 1.0) < 1e-9


def side_weights(weights: Array, sign: float) -> Array:
    """One side of a contrast as weights that sum to one."""
    part = np.maximum(sign * np.asarray(weights, dtype=float), 0.0)
    total = float(part.sum())
    product: Array = part / total
    return product


def _fieller(
    a: float,
    b: float,
    row_a: Array | None,
    row_b: Array | None,
    line: Line,
    judged: Judged,
    confidence: float,
) -> tuple[float | None, float | None]:
    """Limits of a/b; the same scale, df and adjustment as the difference's interval."""
    e = judged.estimate
    if row_a is None or row_b is None or e.se is None or e.df is None:
        return None, None
    if not isinstance(line, StrataLine):
        return None, None
    scale = next((s for s in line.fit.scales if s.basis == e.basis), line.fit.scales[0])
    var_a = scale.phi * float(row_a * row_a @ scale.d)
    var_b = scale.phi * float(row_b * row_b @ scale.d)
    cov = scale.phi * float(row_a * row_b @ scale.d)
    # the same critical value as the adjusted interval, told as a confidence
    level = confidence
    end = judged.low if judged.high is None else judged.high
    if end is not None and e.estimate is not None:
        level = 1.0 - t_tail(abs(end - e.estimate) / e.se, e.df)
    if not 0.0 < level < 1.0:
        return None, None
    found = fieller_limits(
        a, b, sqrt(var_a), sqrt(var_b), df=e.df, covariance=cov, confidence=level
    )
    low = None if found.low is None else max(0.0, found.low)
    # where one side was asked about its limit is left alone
    return None if judged.side < 0 else low, None if judged.side > 0 else found.high
