"""The pictures of one response with their words. Leans on pages, report.facts and core."""

from collections.abc import Callable, Sequence

from wickstats.core.language import ENGLISH, spoken
from wickstats.core.numbers import fixed, number, with_interval
from wickstats.core.responses import Comparison, CurvePoint, Mean, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Picture
from wickstats.pages.figures.diagnostics import diagnostics
from wickstats.pages.figures.forest import forest
from wickstats.pages.figures.survival import MOST_BANDS, survival_curves
from wickstats.pages.figures.units import shown_value, unit_values
from wickstats.pages.figures.water import water_beside_yield
from wickstats.report.amounts import CUBIC_METER, cubic_scale
from wickstats.report.effects import adjusted
from wickstats.report.facts import (
    Scene,
    headline,
    listed,
    of_plants,
    per_plot,
    plain_unit,
    scale_of,
    times,
    title_of,
    what_of,
)
from wickstats.report.levels import shown_by

EARLY = "early slope"  # of a rise: its unit is not the response's
GRACE = 14.0  # days by which a curve may end before the others
MANY_MEANS = 6  # more are told by their lowest and highest; the table holds all


def both(draw: Callable[..., bytes], *values: object, **named: object) -> tuple[bytes, bytes]:
    """Draw a picture wide, and narrow for a phone."""
    return draw(*values, **named), draw(*values, narrow=True, **named)


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
        words = _ends(last)
        plants = of_plants(response)
        wide, narrow = both(
            survival_curves,
            response.curves,
            arms,
            scene.looks,
            say("axis days" if plants else "axis days followed"),
            say("axis alive" if plants else "axis alive followed"),
            response.curve_fits or (),
        )
        key = "picture survival words" if plants else "picture followed words"
        told = [say(key, list=listed(words))]
        if len(arms) <= MOST_BANDS:
            key = "picture survival bands" if plants else "picture followed bands"
            told.append(say(key, percent=scene.confidence))
        told.append(say("picture survival rows" if plants else "picture followed rows"))
        if any(fit.drawn for fit in response.curve_fits or ()):
            told.append(say("picture smooth brief"))
        return Picture(
            f"{stem}-curves.svg",
            wide,
            say("picture survival title" if plants else "picture followed title"),
            " ".join(told),
            narrow,
            (f"{stem}-curves.csv", f"{stem}-smooth-curves.csv"),
        )
    return units_picture(scene, response, stem)


def _ends(last: dict[str, CurvePoint]) -> list[str]:
    """Share alive at the end of each curve; the day, where living plants were left unseen."""
    days = {arm: max(p.time_low or 0.0, p.time_high or 0.0) for arm, p in last.items()}
    out = []
    for arm, point in last.items():
        share = point.share or 0.0
        early = share > 0.0 and days[arm] < max(days.values()) - GRACE
        out.append(
            say(
                "mean words until" if early else "mean words",
                treatment=arm,
                value=fixed(100.0 * share, 0),
                **({"day": fixed(days[arm], 0)} if early else {}),
            )
        )
    return out


def smooth_words(response: ResponseResult) -> list[str]:
    """Which smooth curves are drawn beside the survival curves, and why others are not."""
    fits = response.curve_fits or ()
    drawn = [say("smooth of", name=f.group, shape=f.shape or "") for f in fits if f.drawn]
    none = [
        say("smooth not of", name=f.group, why=f.smooth_note or "") for f in fits if not f.drawn
    ]
    parts = (("picture smooth words", drawn), ("picture smooth none", none))
    return [say(key, list="; ".join(rows)) for key, rows in parts if rows]


def units_picture(scene: Scene, response: ResponseResult, stem: str) -> Picture | None:
    """Unit values under means with intervals; None where no unit has a value."""
    if not any(u.value is not None for u in response.unit_summary.values):
        return None
    shown = shown_by(response, scene.arms, scene.looks)
    means = shown.means
    scale, unit = cubic_scale(response, means)
    told = [m for m in means if m.estimate is not None]
    words = _units_words(scene, told, scale, f" {unit}" if unit else "")
    if shown.by_level:
        words = f"{words} {say('picture units levels')}"
    label = _axis_of(means[0], response, unit) if means else response.name
    if unit:
        cubic = say("picture units cubic", unit=unit, measured=response.measured_in)
        words = f"{words} {cubic}"
    elif means:
        scale = scale_of(means[0])
    wide, narrow = both(
        unit_values,
        response,
        shown.arms,
        means,
        shown.looks,
        label,
        scale=scale,
        held=shown.held,
    )
    return Picture(
        f"{stem}-units.svg",
        wide,
        say("picture units title", name=title_of(response)),
        words,
        narrow,
        (f"{stem}-units.csv", f"{stem}-means.csv"),
    )


def _axis_of(mean: Mean, response: ResponseResult, unit: str | None) -> str:
    """What is drawn, in words; ``unit`` where another than the response's is drawn.

    What is estimated has English names only: elsewhere name and unit stand alone.
    """
    if spoken() == ENGLISH:
        what = what_of(mean, response)
        return what.replace(response.measured_in, unit) if unit else what
    if mean.estimand == "share alive":
        told = say("axis alive" if of_plants(response) else "axis alive followed")
    elif mean.estimand == EARLY:
        told = "mm/√min"
    else:
        told = unit or plain_unit(response.measured_in)
    return f"{response.name}, {told}" if told else response.name


def _units_words(scene: Scene, means: Sequence[Mean], scale: float, unit: str) -> str:
    """Every mean with its interval; of many, the lowest and the highest."""
    if not means:
        return say("picture units plain")
    if len(means) <= MANY_MEANS:
        told = listed([_mean_words(m, scale, unit) for m in means])
        return say("picture units words", list=told, percent=scene.confidence)
    ordered = sorted(means, key=lambda m: m.estimate or 0.0)
    low, high = (_mean_words(ordered[k], scale, unit) for k in (0, -1))
    return say("picture units range", low=low, high=high, percent=scene.confidence)


def _mean_words(mean: Mean, scale: float, unit: str) -> str:
    k = scale * scale_of(mean)
    if mean.bound is not None and mean.estimand.startswith("share "):
        key, limit = ("at most", mean.high) if mean.low is None else ("at least", mean.low)
        between = say(key, n=fixed(times(limit, k), 0))
        value = fixed(times(mean.estimate, k), 0)
        return say(
            "mean words interval", treatment=mean.treatment, value=value, between=between
        )
    value, between = with_interval(
        times(mean.estimate, k), times(mean.low, k), times(mean.high, k)
    )
    told = f"{value}{unit}"
    return say("mean words interval", treatment=mean.treatment, value=told, between=between)


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
        share = "per 100 planted" if of_plants(response) else "per 100 followed"
        unit = say(share) if k == 100.0 else response.measured_in
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
    wide, narrow = both(forest, ordered, scene.looks, label, scale=k)
    return Picture(
        f"{stem}-comparisons.svg",
        wide,
        say("picture forest title", name=title_of(response)),
        words,
        narrow,
        (f"{stem}-comparisons.csv",),
    )


def _comparison_words(row: Comparison) -> str:
    name = row.name if row.within is None else f"{row.name} ({row.within})"
    if row.estimate is None:
        return f"{name}: {say('picture no estimate')}"
    k = scale_of(row)
    low, high = adjusted(row)
    value, between = with_interval(times(row.estimate, k), times(low, k), times(high, k))
    return f"{name}: {value} ({between})"


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
    key = "picture checks words" if len(arms) > 1 else "picture checks one"
    if len(blocks) < 2:
        key = "picture checks plain"
    wide, narrow = both(diagnostics, response, arms, scene.looks, base)
    return Picture(
        f"{stem}-checks.svg",
        wide,
        say("picture checks title", name=title_of(response)),
        say(key, base=base, largest=largest),
        narrow,
        (f"{stem}-units.csv",),
    )


def productivity_picture(scene: Scene, response: ResponseResult) -> Picture | None:
    """Yield beside water: for a yield per liter, with every unit's own water.

    A unit's yield is its ratio times its water, so that the picture cannot disagree
    with the ratio that is compared.
    """
    if response.kind != "yield per liter" or "/" not in response.measured_in:
        return None
    mass, volume = (part.strip() for part in response.measured_in.split("/", 1))
    per_liter = {"L": 1.0, "m3": 0.001, CUBIC_METER: 0.001}.get(volume)
    named = next(
        (c.denominator for c in response.comparisons if c.denominator),
        say("water which", which="delivered"),
    )
    liters = _liters(scene, named)
    pairs = [
        (u.treatment, water, shown_value(response, u.value) * per_liter * water)
        for u in response.unit_summary.values
        if u.value is not None and per_liter is not None
        if (water := liters.get(u.unit)) is not None and water > 0
    ]
    if not pairs or max(harvest for _, _, harvest in pairs) <= 0:
        return None
    arms = tuple(arm for arm in scene.arms if any(name == arm for name, _, _ in pairs))
    per = f"{mass}/{CUBIC_METER}"
    told: list[str] = []
    for arm in arms:
        harvest = sum(y for name, _, y in pairs if name == arm)
        water = sum(x for name, x, _ in pairs if name == arm)
        ratio = f"{number(1000.0 * harvest / water)} {per}"
        told.append(say("mean words", treatment=arm, value=ratio))
    wide, narrow = both(
        water_beside_yield,
        pairs,
        arms,
        scene.looks,
        yield_axis=say("axis yield", unit=mass),
        water_axis=say("axis water", denominator=named),
        per=per,
    )
    stem = scene.stems[scene.results.responses.index(response)]
    return Picture(
        f"{stem}-water.svg",
        wide,
        say("picture productivity title", name=title_of(response)),
        say("picture productivity words", list=listed(told)),
        narrow,
        (f"{stem}-units.csv", "water.csv")
        if response.productivity is None
        else (f"{stem}-productivity.csv", f"{stem}-productivity-by-treatment.csv"),
    )


def _liters(scene: Scene, named: str) -> dict[str, float | None]:
    water = tuple(per_plot(w) for w in scene.results.water)
    if "planned" in named:
        return {w.unit: w.planned_l for w in water}
    if "applied" in named:
        return {w.unit: w.applied_l for w in water}
    return {w.unit: w.delivered_l for w in water}
