"""Survival curves with bands, names at the lines, and numbers at risk under the axis.

A point of a curve is a share that holds from ``time_low`` to ``time_high``; where
one point ends before the next begins, the deaths lie somewhere between two visits
and the line slopes. Leans on pages.figures and core.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.histories import CurveFit
from wickstats.core.numbers import fixed
from wickstats.core.responses import CurvePoint
from wickstats.core.words import say
from wickstats.pages.figures.fit import fitted
from wickstats.pages.figures.palette import INK, QUIET, Look
from wickstats.pages.figures.svg import (
    WIDTH_IN,
    axes_at,
    drawing,
    new_figure,
    spread,
    to_svg,
    type_size,
    width_of,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_BANDS = 4  # more of them would lie on each other as one gray
_ROW_IN = 0.2
_LEFT_IN = 1.85
_RIGHT_IN = 1.45


def survival_curves(
    curves: Sequence[CurvePoint],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    days: str,
    alive: str,
    fits: Sequence[CurveFit] = (),
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture of all arms' curves; ``days`` and ``alive`` name the axes.

    ``fits`` bring counts of those seen alive, and thin smooth lines where they are drawn.
    """
    groups = {arm: _points(curves, arm) for arm in arms}
    groups = {arm: points for arm, points in groups.items() if points}
    end = max(_end(points) for points in groups.values())
    rows_in = _ROW_IN * (2 * len(groups) + 1 if narrow else len(groups) + 1)
    left, right = (0.62, 0.42) if narrow else (_LEFT_IN, _RIGHT_IN)
    wide = width_of(narrow=narrow)
    height = 3.1 + 0.75 + rows_in
    with drawing(narrow=narrow):
        figure = new_figure(height, wide)
        axes = axes_at(figure, left, 0.75 + rows_in, wide - left - right, 2.95)
        for arm, points in groups.items():
            _draw_curve(axes, points, looks[arm], band=len(groups) <= MOST_BANDS)
        _draw_smooth(axes, [f for f in fits if f.group in groups], looks, narrow=narrow)
        axes.set_xlim(0.0, end * 1.01)
        axes.set_ylim(0.0, 1.02)
        axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100"])
        axes.set_ylabel(alive)
        axes.set_xlabel(days)
        axes.grid(axis="y")
        _name_lines(axes, groups, looks, end, narrow=narrow)
        seen = {f.group: f for f in fits}
        _at_risk(axes, groups, looks, seen, narrow=narrow)
        return to_svg(figure)


def _points(curves: Sequence[CurvePoint], arm: str) -> list[CurvePoint]:
    kept = [
        p for p in curves if p.group == arm and p.share is not None and p.time_low is not None
    ]
    return sorted(kept, key=lambda p: (p.time_low or 0.0, p.time_high or 0.0))


def _end(points: Sequence[CurvePoint]) -> float:
    last = points[-1]
    return float(last.time_high if last.time_high is not None else last.time_low or 0.0)


def _draw_curve(axes: "Axes", points: Sequence[CurvePoint], look: Look, *, band: bool) -> None:
    times: list[float] = []
    shares: list[float] = []
    lows: list[float] = []
    highs: list[float] = []
    for point in points:
        share = point.share or 0.0
        begin = float(point.time_low or 0.0)
        finish = begin if point.time_high is None else float(point.time_high)
        for moment in (begin, finish):
            times.append(moment)
            shares.append(share)
            lows.append(share if point.low is None else point.low)
            highs.append(share if point.high is None else point.high)
    if band:
        axes.fill_between(times, lows, highs, color=look.color, alpha=0.12, linewidth=0)
    axes.plot(times, shares, color=look.color, linestyle=look.line_style, linewidth=1.8)
    axes.plot(
        times[::2],
        shares[::2],
        color=look.color,
        linestyle="none",
        marker=look.marker,
        markersize=4,
    )


def _draw_smooth(
    axes: "Axes", fits: Sequence[CurveFit], looks: Mapping[str, Look], *, narrow: bool
) -> None:
    drawn = [fit for fit in fits if fit.drawn]
    for fit in drawn:
        color = looks[fit.group].color
        axes.plot(fit.smooth_days, fit.smooth_shares, color=color, linestyle="-", linewidth=0.6)
    if drawn:
        shapes = ", ".join(sorted({fit.shape for fit in drawn if fit.shape}))
        axes.text(
            0.0,
            1.005,
            say("smooth key", shapes=shapes),
            transform=axes.transAxes,
            fontsize=type_size(7.5, narrow=narrow),
            color=QUIET,
            va="bottom",
        )


def _name_lines(
    axes: "Axes",
    groups: Mapping[str, list[CurvePoint]],
    looks: Mapping[str, Look],
    end: float,
    *,
    narrow: bool,
) -> None:
    arms = list(groups)
    heights = [float(groups[arm][-1].share or 0.0) for arm in arms]
    for arm, own, at in zip(arms, heights, spread(heights, 0.065, 0.02, 1.0), strict=True):
        axes.annotate(
            fixed(100 * own, 0)
            if narrow
            else fitted(arm, _RIGHT_IN - 0.15, 8.5, after=f" {fixed(100 * own, 0)}"),
            xy=(end, own),
            xycoords="data",
            xytext=(end * 1.035, at),
            textcoords="data",
            va="center",
            fontsize=type_size(8.5, narrow=narrow),
            color=INK,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": looks[arm].color,
                "linewidth": 1.2,
                "linestyle": looks[arm].line_style,
                "shrinkA": 0,
                "relpos": (0.0, 0.5),
                "shrinkB": 0,
            },
        )


def _at_risk(
    axes: "Axes",
    groups: Mapping[str, list[CurvePoint]],
    looks: Mapping[str, Look],
    seen: Mapping[str, CurveFit],
    *,
    narrow: bool,
) -> None:
    """Rows of counts under the time ticks, with the arm's own line as its key."""
    low, high = axes.get_xlim()
    ticks = [float(t) for t in axes.get_xticks() if low <= t <= high]
    axes.set_xticks(ticks)
    axes.set_xlim(low, high)
    _, figure_height = map(float, axes.figure.get_size_inches())  # type: ignore[union-attr]
    scale = figure_height / (axes.get_position().height * figure_height)
    first = -0.62 / figure_height * scale
    step = _ROW_IN / figure_height * scale
    transform = axes.get_xaxis_transform()
    name_at = 0.02 if narrow else -1.2 / (WIDTH_IN - _LEFT_IN - _RIGHT_IN)
    size = type_size(8.0, narrow=narrow)
    axes.text(
        name_at,
        first,
        say("at risk"),
        transform=axes.transAxes,
        fontsize=size,
        color=QUIET,
        va="center",
    )
    for i, (arm, points) in enumerate(groups.items(), start=1):
        y = first - (2 * i - 1 if narrow else i) * step
        axes.plot(
            [name_at - 0.085, name_at - 0.012],
            [y, y],
            transform=axes.transAxes,
            clip_on=False,
            color=looks[arm].color,
            linestyle=looks[arm].line_style,
            linewidth=1.5,
        )
        axes.text(
            name_at,
            y,
            fitted(arm, 3.0 if narrow else 1.05, size),
            transform=axes.transAxes,
            fontsize=size,
            va="center",
        )
        for tick in ticks:
            axes.text(
                tick,
                y - step if narrow else y,
                str(seen_at(seen[arm], tick) if arm in seen else _risk_at(points, tick)),
                transform=transform,
                ha="center",
                va="center",
                fontsize=size,
            )


def seen_at(fit: CurveFit, day: float) -> int:
    """Plants seen alive on the day or later; all of them at the start."""
    if day <= 0.0:
        return fit.plants
    later = (n for at, n in zip(fit.seen_days, fit.seen_alive, strict=True) if at >= day)
    return next(later, 0)


def _risk_at(points: Sequence[CurvePoint], time: float) -> int:
    found = points[0].at_risk
    for point in points:
        if (point.time_low or 0.0) <= time:
            found = point.at_risk
    return found
