"""Water by treatment, and water beside yield with lines of equal productivity.

Leans on pages.figures and core.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.numbers import number
from wickstats.core.results import WaterUnit
from wickstats.core.words import say
from wickstats.pages.figures.palette import INK, QUIET, RULE, Look
from wickstats.pages.figures.svg import (
    KEY_ROW_IN,
    axes_at,
    drawing,
    key_under,
    lines_in,
    name_rows,
    new_figure,
    spread,
    to_svg,
    type_size,
    width_of,
    wrapped,
)
from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN = 1.75


def water_used(
    water: Sequence[WaterUnit],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture of every unit's delivered liters, the planned liters as a bar."""
    left, wide = 0.15 if narrow else _LEFT_IN, width_of(narrow=narrow)
    height = 0.75 + (0.8 if narrow else 0.5) * len(arms)
    with drawing(narrow=narrow):
        figure = new_figure(height, wide)
        axes = axes_at(figure, left, 0.6, wide - left - 0.25, height - 0.7)
        for row, arm in enumerate(arms):
            rows = [w for w in water if w.treatment == arm]
            _draw_units(axes, row, rows, looks[arm])
            planned = sorted({w.planned_l for w in rows if w.planned_l is not None})
            for liters in planned:
                axes.plot([liters, liters], [row - 0.36, row + 0.36], color=INK, linewidth=2)
        axes.set_ylim(len(arms) - 0.45, -0.75 if narrow else -0.55)
        axes.set_xlim(left=0.0)
        name_rows(axes, arms, narrow=narrow, over=0.52)
        axes.set_xlabel(say("axis delivered"))
        axes.grid(axis="x")
        return to_svg(figure)


def _draw_units(axes: "Axes", row: int, rows: Sequence[WaterUnit], look: Look) -> None:
    known = [w for w in rows if w.delivered_l is not None]
    for i, unit in enumerate(known):
        at = row + (0.0 if len(known) == 1 else -0.24 + 0.48 * i / (len(known) - 1))
        if unit.low is not None and unit.high is not None:
            axes.plot([unit.low, unit.high], [at, at], color=look.color, linewidth=1, alpha=0.6)
        axes.plot(
            [unit.delivered_l or 0.0],
            [at],
            marker=look.marker,
            markersize=5,
            markerfacecolor="white",
            color=look.color,
        )


def water_beside_yield(
    pairs: Sequence[tuple[str, float, float]],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    *,
    yield_axis: str,
    water_axis: str,
    per: str,
    narrow: bool = False,
) -> bytes:
    """Return the picture of yield against water.

    Parameters
    ----------
    pairs
        (treatment, liters, yield) of every unit that has both, liters above zero.
    yield_axis, water_axis
        Names of the axes with their units.
    per
        The unit of the ratio told at the lines, e.g. "g/L" (yield in kg, water in L: a
        thousand of yield over water).
    """
    water_axis = wrapped(water_axis, narrow=narrow)
    below = 0.65
    if narrow:
        below += lines_in(water_axis) + KEY_ROW_IN * len(arms)
    with drawing(narrow=narrow):
        figure = new_figure(below + 3.35, width_of(narrow=narrow))
        axes = axes_at(figure, 0.75, below, 2.85 if narrow else 5.1, 3.15)
        right = 1.08 * max(liters for _, liters, _ in pairs)
        top = 1.12 * max(max(harvest for _, _, harvest in pairs), 1e-9)
        _equal_lines(axes, right, top, per, narrow=narrow)
        for arm in arms:
            xs = [liters for name, liters, _ in pairs if name == arm]
            ys = [harvest for name, _, harvest in pairs if name == arm]
            look = looks[arm]
            axes.plot(
                xs,
                ys,
                linestyle="none",
                marker=look.marker,
                color=look.color,
                markersize=6,
                markerfacecolor="white",
                markeredgewidth=1.4,
            )
        axes.set_xlim(0.0, right)
        axes.set_ylim(0.0, top)
        axes.set_xlabel(water_axis)
        axes.set_ylabel(yield_axis)
        if narrow:
            key_under(axes, arms, looks, first_in=0.62 + lines_in(water_axis))
        else:
            _key(axes, arms, looks)
        return to_svg(figure)


def _equal_lines(axes: "Axes", right: float, top: float, per: str, *, narrow: bool) -> None:
    """Lines through zero: every point of a line has the same yield per liter."""
    from matplotlib.ticker import MaxNLocator

    size = type_size(7.5, narrow=narrow)
    ticks = MaxNLocator(3 if narrow else 5).tick_values(0.0, 1.6 * top / right)
    steep = [s for s in ticks if s > 0]
    at_edge: list[tuple[float, float]] = []
    named = 2.0 * right
    for slope in steep:
        end = min(right, top / slope)
        if slope * right > top:
            if named - end < (0.3 if narrow else 0.13) * right:
                continue  # its name would lie on the last one's
            named = end
        axes.plot([0.0, end], [0.0, end * slope], color=RULE, linewidth=0.9, zorder=0)
        words = f"{number(1000.0 * slope, 2)} {per}"
        if slope * right <= top:
            at_edge.append((slope, slope * right))
        else:
            axes.annotate(
                words,
                (end, top),
                xytext=(0, 2),
                textcoords="offset points",
                fontsize=size,
                color=QUIET,
                ha="center",
                annotation_clip=False,
            )
    heights = spread([y for _, y in at_edge], 0.06 * top, 0.0, 0.95 * top)
    for (slope, _), y in zip(at_edge, heights, strict=True):
        axes.annotate(
            f"{number(1000.0 * slope, 2)} {per}",
            (right, y),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            fontsize=size,
            color=QUIET,
            annotation_clip=False,
        )


def _key(axes: "Axes", arms: Sequence[str], looks: Mapping[str, Look]) -> None:
    for i, arm in enumerate(arms):
        y = 0.97 - 0.075 * i
        axes.plot(
            [1.16],
            [y],
            transform=axes.transAxes,
            clip_on=False,
            linestyle="none",
            marker=looks[arm].marker,
            color=looks[arm].color,
            markersize=6,
            markerfacecolor="white",
            markeredgewidth=1.4,
        )
        axes.text(
            1.19, y, one_line(arm, 22), transform=axes.transAxes, va="center", fontsize=8.5
        )
