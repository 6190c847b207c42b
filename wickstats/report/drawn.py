"""The pictures of one response with their words. Leans on pages, report.facts and core."""

from wickstats.core.numbers import fixed, number, with_interval
from wickstats.core.responses import Comparison, Mean, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Picture
from wickstats.pages.figures.diagnostics import diagnostics
from wickstats.pages.figures.forest import forest
from wickstats.pages.figures.survival import survival_curves
from wickstats.pages.figures.units import unit_values
from wickstats.report.effects import adjusted
from wickstats.report.facts import (
    Scene,
    headline,
    headline_means,
    listed,
    scale_of,
    times,
    title_of,
    what_of,
)


def main_picture(scene: Scene, response: ResponseResult, stem: str) -> Picture | None:
    """Survival curves where there are any, else unit values under means."""
    groups = {p.group for p in response.curves if p.share is not None}
    arms = tuple(arm for arm in scene.arms if arm in groups)
    if arms:
        last = {
            arm: max(
                (p for p in response.curves if p.group == arm and p.share is not None),
                key=lambda p: p.time_low or 0.0,
            )
            for arm in arms
        }
        words = [
            say("mean words", treatment=arm, value=fixed(100.0 * (last[arm].share or 0.0), 0))
            for arm in arms
        ]
        return Picture(
            f"{stem}-curves.svg",
            survival_curves(response.curves, arms, scene.looks, say("axis days")),
            say("picture survival title"),
            say("picture survival words", list=listed(words), percent=scene.confidence),
        )
    return units_picture(scene, response, stem)


def units_picture(scene: Scene, response: ResponseResult, stem: str) -> Picture | None:
    """Unit values under means with intervals; None where no unit has a value."""
    if not any(u.value is not None for u in response.unit_summary.values):
        return None
    means = headline_means(response, scene.arms)
    told = [_mean_words(m) for m in means if m.estimate is not None]
    words = (
        say("picture units words", list=listed(told), percent=scene.confidence)
        if told
        else say("picture units plain")
    )
    label = what_of(means[0], response) if means else response.name
    scale = scale_of(means[0]) if means else 1.0
    return Picture(
        f"{stem}-units.svg",
        unit_values(response, scene.arms, means, scene.looks, label, scale=scale),
        say("picture units title", name=title_of(response)),
        words,
    )


def _mean_words(mean: Mean) -> str:
    k = scale_of(mean)
    value, between = with_interval(
        times(mean.estimate, k), times(mean.low, k), times(mean.high, k)
    )
    return say("mean words interval", treatment=mean.treatment, value=value, between=between)


def forest_picture(scene: Scene, response: ResponseResult, stem: str) -> Picture | None:
    """The headline's comparisons; None where none has an estimate."""
    rows = headline(response)
    estimated = [c for c in rows if c.estimate is not None]
    if not estimated:
        return None
    first = estimated[0]
    rows = tuple(c for c in rows if c.measure == first.measure or c.estimate is None)
    k = scale_of(first)
    if first.measure == "difference":
        unit = say("per 100 planted") if k == 100.0 else response.measured_in
        label = say("axis difference more", unit=unit)
    else:
        label = say("axis ratio", what=response.name)
    words = say(
        "picture forest words",
        list="; ".join(_comparison_words(c) for c in rows),
        percent=scene.confidence,
    )
    if first.matters is not None:
        words = f"{words} {say('picture forest zone')}"
    ordered = (first, *(c for c in rows if c is not first)) if rows[0] is not first else rows
    return Picture(
        f"{stem}-comparisons.svg",
        forest(ordered, scene.looks, label, scale=k),
        say("picture forest title", name=title_of(response)),
        words,
    )


def _comparison_words(row: Comparison) -> str:
    if row.estimate is None:
        return f"{row.name}: {say('picture no estimate')}"
    k = scale_of(row)
    low, high = adjusted(row)
    value, between = with_interval(times(row.estimate, k), times(low, k), times(high, k))
    return f"{row.name}: {value} ({between})"


def checks_picture(scene: Scene, response: ResponseResult, stem: str) -> Picture | None:
    """Diagnostics by unit; None where no unit has a residual."""
    known = [u for u in response.unit_summary.values if u.residual is not None]
    if not known:
        return None
    arms = tuple(
        arm
        for arm in scene.arms
        if any(u.treatment == arm and u.value is not None for u in response.unit_summary.values)
    )
    worst = max(known, key=lambda u: abs(u.residual or 0.0))
    largest = say("largest residual", value=number(worst.residual), unit=worst.unit)
    base = scene.reference if scene.reference in arms else arms[0]
    blocks = {u.block for u in known}
    key = "picture checks words" if len(blocks) > 1 else "picture checks plain"
    return Picture(
        f"{stem}-checks.svg",
        diagnostics(response, arms, scene.looks, base),
        say("picture checks title", name=title_of(response)),
        say(key, base=base, largest=largest),
    )
