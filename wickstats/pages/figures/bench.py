"""The bench in pictures: height against the root of time, volume against time, by piece.

Leans on pages.figures and core.
"""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.bench import BenchPiece
from wickstats.core.words import say
from wickstats.pages.figures.palette import Look
from wickstats.pages.figures.svg import (
    KEY_ROW_IN,
    axes_at,
    drawing,
    key_under,
    lines_in,
    new_figure,
    spread,
    to_svg,
    type_size,
    width_of,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_DAYS_FROM_MIN = 2880.0
_WIDE_RANGE = 30.0  # between the treatments' ends: a log axis then


def piece_lines(
    pieces: Sequence[BenchPiece],
    groups: Mapping[str, str],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    quantity: str,
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture.

    Parameters
    ----------
    pieces
        With their readings.
    groups
        Piece -> the arm whose look its line has (a treatment, or a level of it).
    quantity
        height (against the root of minutes) or volume (against hours or days).
    """
    rooted = quantity == "height"
    longest = max(r.minutes for p in pieces for r in p.readings)
    by_day = not rooted and longest >= _DAYS_FROM_MIN
    label = say("axis root" if rooted else "axis days bench" if by_day else "axis hours")
    below = 0.65 + ((lines_in(label) + KEY_ROW_IN * len(arms)) if narrow else 0.0)
    step = 1440.0 if by_day else 60.0

    def at(minutes: float) -> float:
        return math.sqrt(minutes) if rooted else minutes / step

    with drawing(narrow=narrow):
        figure = new_figure(below + 3.35, width_of(narrow=narrow))
        axes = axes_at(figure, 0.75, below, 2.85 if narrow else 4.6, 3.15)
        ends: dict[str, list[float]] = {arm: [] for arm in arms}
        for piece in pieces:
            arm = groups.get(piece.piece)
            if arm not in ends or not piece.readings:
                continue
            xs = [at(r.minutes) for r in piece.readings]
            ys = [r.value for r in piece.readings]
            _draw_piece(axes, xs, ys, looks[arm], top=piece.reached_top)
            ends[arm].append(ys[-1])
        _scale(axes, ends, quantity)
        axes.set_xlim(0.0, 1.02 * at(longest))
        axes.set_xlabel(label)
        axes.set_ylabel(say("axis height" if rooted else "axis volume"))
        if narrow:
            key_under(axes, arms, looks, first_in=0.62 + lines_in(label))
        else:
            _name_ends(axes, ends, looks, 1.03 * at(longest))
        return to_svg(figure)


def _draw_piece(
    axes: "Axes", xs: Sequence[float], ys: Sequence[float], look: Look, *, top: bool
) -> None:
    axes.plot(xs, ys, color=look.color, linewidth=0.9, linestyle=look.line_style, alpha=0.8)
    axes.plot(
        xs[-1:],
        ys[-1:],
        linestyle="none",
        marker=look.marker,
        markersize=5,
        color=look.color,
        markerfacecolor=look.color if top else "white",
        clip_on=False,
    )


def _scale(axes: "Axes", ends: Mapping[str, Sequence[float]], quantity: str) -> None:
    middle = [sum(v) / len(v) for v in ends.values() if v]
    if quantity == "volume" and min(middle) > 0 and max(middle) / min(middle) > _WIDE_RANGE:
        axes.set_yscale("log")
    else:
        axes.set_ylim(bottom=0.0)
    axes.grid(axis="y")


def _name_ends(
    axes: "Axes", ends: Mapping[str, Sequence[float]], looks: Mapping[str, Look], at: float
) -> None:
    """Each arm's name beside the mean end of its lines, apart from each other."""
    told = [(arm, sum(v) / len(v)) for arm, v in ends.items() if v]
    low, high = axes.get_ylim()
    logged = axes.get_yscale() == "log"

    def share(value: float) -> float:
        if logged:
            return math.log(value / low) / math.log(high / low)
        return (value - low) / (high - low)

    places = spread([share(v) for _, v in told], 0.075, 0.02, 0.98)
    for (arm, _), place in zip(told, places, strict=True):
        axes.annotate(
            arm,
            (1.03, place),
            xycoords="axes fraction",
            color=looks[arm].color,
            va="center",
            fontsize=type_size(9.0, narrow=False),
            annotation_clip=False,
        )
