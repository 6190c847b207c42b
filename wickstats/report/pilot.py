"""A pilot's answers: what its plots came to and how much plots treated alike differ.

One treatment leaves nothing to compare; the variation is what a pilot is made for, since it
sizes the next trial. Leans on report.facts, pages and core.
"""

from math import exp, expm1, sqrt

from wickstats.core.numbers import fixed, with_interval
from wickstats.core.responses import Mean, ResponseResult
from wickstats.core.words import say
from wickstats.report.amounts import cubic_scale
from wickstats.report.facts import (
    Scene,
    headline_means,
    of_plants,
    ordered,
    plain_unit,
    scale_of,
    times,
    title_of,
)


def pilot_lines(scene: Scene) -> list[str]:
    """One line a response that has a number: its mean, and how much plots differ."""
    out = []
    for response in ordered(scene):
        for row in headline_means(response, scene.arms):
            if row.estimate is None:
                continue
            told = _mean_words(response, row)
            out.append(" ".join([told, *_spread(scene, response)]))
            break
    return out


def _mean_words(response: ResponseResult, row: Mean) -> str:
    """What such plots come to, with its interval."""
    factor, cubic = cubic_scale(response, (row,))
    k = factor if cubic else scale_of(row)
    value, between = with_interval(
        times(row.estimate, k), times(row.low, k), times(row.high, k)
    )
    name = title_of(response)
    if row.estimand == "share alive":
        key = "answer share plants" if of_plants(response) else "answer share subjects"
        return f"{name}: {say(key, value=value, between=between)}."
    unit = _unit(cubic or response.measured_in)
    return say("answer pilot", name=name, value=value, unit=unit, between=between)


def _unit(measured_in: str) -> str:
    return "" if measured_in in ("", "1") else f" {plain_unit(measured_in)}"


def _spread(scene: Scene, response: ResponseResult) -> list[str]:
    """The standard deviation between units treated alike, where it says something itself."""
    rows = [s for s in response.strata if s.source == "residual" and s.mean_square is not None]
    if not rows or response.kind in ("survival", "count"):
        return []
    square = rows[-1].mean_square or 0.0
    piece = say("pilot pieces" if scene.results.trial.place == "bench" else "pilot plots")
    if response.model_scale == "log":
        percent = 100.0 * sqrt(expm1(square)) if square < 10.0 else 100.0 * exp(square / 2.0)
        return [say("pilot spread percent", pieces=piece, percent=fixed(percent, 0))]
    value, _ = with_interval(sqrt(square), None, None)
    told = f"{value}{_unit(response.measured_in)}"
    return [say("pilot spread", pieces=piece, value=told)]
