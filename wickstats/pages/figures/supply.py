"""Demand and supply of a plant by week; cost difference against effect difference.

Leans on pages.figures and core.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.costs import CostDifference
from wickstats.core.supply import SupplyRow
from wickstats.core.words import say
from wickstats.pages.figures.palette import INK, QUIET, ZONE, Look
from wickstats.pages.figures.svg import (
    KEY_ROW_IN,
    axes_at,
    drawing,
    key_under,
    lines_in,
    new_figure,
    to_svg,
    type_size,
    width_of,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def demand_and_supply(
    weeks: Sequence[SupplyRow],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture of demand (a thick line) and every treatment's water by week.

    Parameters
    ----------
    weeks
        Rows of the supply table that are weeks: liters a plant.
    """
    wide, left = width_of(narrow=narrow), 0.65
    below = 0.75 + KEY_ROW_IN * (len(arms) + 1)
    with drawing(narrow=narrow):
        figure = new_figure(below + 2.9, wide)
        axes = axes_at(figure, left, below, wide - left - 0.2, 2.7)
        starts = list(dict.fromkeys(str(row["from"]) for row in weeks))
        place = {day: k for k, day in enumerate(starts)}
        need = {str(r["from"]): per_week(r, "demand_l") for r in weeks}
        shown = [(place[d], v) for d, v in need.items() if v is not None]
        axes.plot([x for x, _ in shown], [y for _, y in shown], color=QUIET, linewidth=4.0)
        for arm in arms:
            own = [r for r in weeks if r["treatment"] == arm]
            look = looks[arm]
            points = [(place[str(r["from"])], best(r)) for r in own]
            axes.plot(
                [x for x, y in points if y is not None],
                [y for _, y in points if y is not None],
                color=look.color,
                linestyle=look.line_style,
                marker=look.marker,
                markersize=4,
                markerfacecolor="white",
                linewidth=1.2,
            )
        axes.set_ylim(bottom=0.0)
        axes.set_xlim(-0.5, len(starts) - 0.5)
        step = max(1, -(-len(starts) // (4 if narrow else 8)))
        axes.set_xticks(range(0, len(starts), step), [d[5:] for d in starts[::step]])
        axes.set_xlabel(say("supply axis week"))
        axes.set_ylabel(say("supply axis liters"))
        axes.grid(axis="y")
        _demand_key(axes, 0.62)
        key_under(axes, arms, looks, first_in=0.62 + KEY_ROW_IN)
        return to_svg(figure)


def per_week(row: SupplyRow, key: str) -> float | None:
    """Liters of a row, those of a shorter last week made up to seven days."""
    value, days = row[key], row["days"]
    if not isinstance(value, float) or not isinstance(days, float):
        return None
    return value * 7.0 / days


def best(row: SupplyRow) -> float | None:
    """Delivered where it is known, else planned, liters a week."""
    found = per_week(row, "delivered_l")
    return per_week(row, "planned_l") if found is None else found


def _demand_key(axes: "Axes", first_in: float) -> None:
    height = axes.get_position().height * float(axes.figure.get_size_inches()[1])  # type: ignore[union-attr]
    y = -first_in / height
    axes.plot(
        [0.0, 0.09],
        [y, y],
        transform=axes.transAxes,
        clip_on=False,
        color=QUIET,
        linewidth=4.0,
    )
    axes.text(
        0.13,
        y,
        say("supply line demand"),
        transform=axes.transAxes,
        va="center",
        fontsize=9.5,
    )


def cost_quadrants(
    pairs: Sequence[CostDifference],
    looks: Mapping[str, Look],
    *,
    effect_axis: str,
    cost_axis: str,
    narrow: bool = False,
) -> bytes:
    """Return the picture of cost difference against effect difference, a mark a block."""
    arms = [pair.treatment for pair in pairs]
    wide = width_of(narrow=narrow)
    effect_axis = wrapped(effect_axis, narrow=narrow)
    first = 0.62 + lines_in(effect_axis)
    below = first + 0.15 + KEY_ROW_IN * len(arms)
    with drawing(narrow=narrow):
        figure = new_figure(below + 3.6, wide)
        axes = axes_at(figure, 0.85, below, wide - 1.05, 3.4)
        for pair in pairs:
            look = looks[pair.treatment]
            axes.plot(
                [p.effect for p in pair.points],
                [p.cost for p in pair.points],
                linestyle="none",
                marker=look.marker,
                markersize=4,
                color=look.color,
                markerfacecolor="white",
                alpha=0.75,
            )
            axes.plot(
                [pair.effect], [pair.cost], marker=look.marker, markersize=10, color=look.color
            )
        _cross(axes, pairs, narrow=narrow)
        axes.set_xlabel(effect_axis)
        axes.set_ylabel(cost_axis)
        key_under(axes, arms, looks, first_in=first)
        return to_svg(figure)


def _cross(axes: "Axes", pairs: Sequence[CostDifference], *, narrow: bool) -> None:
    """Zero lines, room on all four sides, and the quadrants' names."""
    reach_x = 1.25 * max([abs(p.effect) for d in pairs for p in d.points] + [1e-9])
    reach_y = 1.25 * max([abs(p.cost) for d in pairs for p in d.points] + [1e-9])
    axes.set_xlim(-reach_x, reach_x)
    axes.set_ylim(-reach_y, reach_y)
    axes.axvline(0.0, color=INK, linewidth=0.9, zorder=0)
    axes.axhline(0.0, color=INK, linewidth=0.9, zorder=0)
    axes.axvspan(0.0, reach_x, ymin=0.0, ymax=0.5, color=ZONE, zorder=-1)
    names = (
        ("dearer better", 0.98, 0.97),
        ("dearer worse", 0.02, 0.97),
        ("cheaper better", 0.98, 0.03),
        ("cheaper worse", 0.02, 0.03),
    )
    for name, x, y in names:
        axes.text(
            x,
            y,
            say(f"costs quadrant {name}"),
            transform=axes.transAxes,
            ha="right" if x > 0.5 else "left",
            va="top" if y > 0.5 else "bottom",
            fontsize=type_size(8.5, narrow=narrow),
            color=QUIET,
        )
