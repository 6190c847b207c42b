"""Comparisons as points with their adjusted intervals; what is too small to matter is gray.

Leans on pages.figures and core.
"""

import math
from collections.abc import Mapping, Sequence
from textwrap import fill
from typing import TYPE_CHECKING

from wickstats.core.numbers import number, with_interval
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.pages.figures.palette import INK, QUIET, ZONE, Look
from wickstats.pages.figures.svg import (
    LEAST_PT,
    axes_at,
    drawing,
    lines_in,
    new_figure,
    to_svg,
    width_of,
    wrapped,
)
from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN = 2.35
_RIGHT_IN = 1.75
_LETTER_IN = 0.075  # of the numbers at the right
_ROW_IN = 0.42
_NARROW_ROW_IN = 0.72
_FEWEST_TICKS = 3
_LADDERS = (
    (1.0,),
    (1.0, 2.0, 5.0),
    (1.0, 1.5, 2.0, 3.0, 5.0, 7.0),
    (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0),
    (*(k / 10.0 for k in range(10, 30)), *(k / 2.0 for k in range(6, 20))),
    tuple(k / 100.0 for k in range(100, 1000)),
)


def forest(
    comparisons: Sequence[Comparison],
    looks: Mapping[str, Look],
    label: str,
    *,
    scale: float = 1.0,
    narrow: bool = False,
) -> bytes:
    """Return the picture of comparisons that share one measure.

    Parameters
    ----------
    comparisons
        All of one estimand, date and measure; those without an estimate say so.
    looks
        Of the treatments.
    label
        The axis: what, in which unit, and which side is which.
    scale
        Estimates are drawn times this (100 for shares).
    """
    ratio = comparisons[0].measure != "difference"
    none = 1.0 if ratio else 0.0
    label = wrapped(label, narrow=narrow)
    below = 0.62 + lines_in(label)
    told = [_words(comparison, scale) for comparison in comparisons]
    room = max(_RIGHT_IN, _LETTER_IN * max(map(len, told)) + 0.15)
    left, right = (0.15, 0.2) if narrow else (_LEFT_IN, room)
    wide = width_of(narrow=narrow)
    height = below + (_NARROW_ROW_IN if narrow else _ROW_IN) * len(comparisons) + 0.38
    with drawing(narrow=narrow):
        figure = new_figure(height, wide)
        axes = axes_at(figure, left, below, wide - left - right, height - below - 0.28)
        if ratio:
            axes.set_xscale("log")
        _limits(axes, comparisons, ratio=ratio, scale=scale)
        if ratio:
            _ratio_ticks(axes)
        _zone(axes, comparisons[0], scale=scale)
        axes.axvline(none, color=INK, linewidth=0.9)
        for row, comparison in enumerate(comparisons):
            words = told[row]
            _draw_row(axes, row, comparison, looks.get(comparison.treatment), scale)
            _tell(axes, row, _name(comparison), words, narrow=narrow)
        axes.set_ylim(len(comparisons) - (0.7 if narrow else 0.5), -0.75)
        _name_rows(axes, comparisons, narrow=narrow)
        axes.set_xlabel(label)
        axes.grid(axis="x")
        return to_svg(figure)


def bounds(comparison: Comparison) -> tuple[float | None, float | None]:
    """The adjusted interval, or the plain one where there is none."""
    if comparison.low_adjusted is None and comparison.high_adjusted is None:
        return comparison.low, comparison.high
    return comparison.low_adjusted, comparison.high_adjusted


def _limits(
    axes: "Axes", comparisons: Sequence[Comparison], *, ratio: bool, scale: float
) -> None:
    found = [1.0 if ratio else 0.0]
    for comparison in comparisons:
        known = (comparison.estimate, *bounds(comparison))
        found += [v * scale for v in known if v is not None and (v > 0 or not ratio)]
    low, high = min(found), max(found)
    if ratio:
        room = max(math.log(high / low) * 0.06, 0.02)
        axes.set_xlim(low / math.exp(room), high * math.exp(room))
    else:
        room = max((high - low) * 0.06, 1e-9)
        axes.set_xlim(low - room, high + room)


def _ratio_ticks(axes: "Axes") -> None:
    """The coarsest round ratios of which at least three stand inside the limits."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter, NullLocator

    low, high = axes.get_xlim()
    tens = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    inside: list[float] = []
    for steps in _LADDERS:
        inside = [s * 10.0**k for k in tens for s in steps if low <= s * 10.0**k <= high]
        if len(inside) >= _FEWEST_TICKS:
            break
    axes.xaxis.set_major_locator(FixedLocator(inside))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _pos: f"{x:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())


def matters_zone(comparison: Comparison) -> tuple[float, float] | None:
    """The zone of differences too small to matter, on the reported scale."""
    if comparison.matters is None:
        return None
    if comparison.measure == "difference":
        return -comparison.matters, comparison.matters
    return 1.0 / comparison.matters, comparison.matters


def _zone(axes: "Axes", comparison: Comparison, *, scale: float) -> None:
    zone = matters_zone(comparison)
    if zone is None:
        return
    low, high = axes.get_xlim()
    axes.axvspan(max(zone[0] * scale, low), min(zone[1] * scale, high), color=ZONE, linewidth=0)
    axes.set_xlim(low, high)
    axes.annotate(
        say("picture zone"),
        (1.0, 1.0),
        (0, 2),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="right",
        va="bottom",
        fontsize=LEAST_PT,
        color=QUIET,
    )


def _draw_row(
    axes: "Axes", row: int, comparison: Comparison, look: Look | None, scale: float
) -> None:
    """Draw the estimate and its interval, whole: dashes would hide the ends of a short one."""
    from matplotlib.markers import CARETLEFT, CARETRIGHT

    color = look.color if look else INK
    marker = look.marker if look else "o"
    if comparison.estimate is None:
        return
    low, high = bounds(comparison)
    left, right = axes.get_xlim()
    if low is not None or high is not None:
        start = left if low is None else max(low * scale, left)
        stop = right if high is None else high * scale
        axes.plot(
            [start, stop],
            [row, row],
            color=color,
            linewidth=2.6,
        )
        for end, at, tip in ((low, left, CARETLEFT), (high, right, CARETRIGHT)):
            if end is None:  # open: the interval has no limit on that side
                axes.plot([at], [row], marker=tip, color=color, markersize=9, clip_on=False)
    axes.plot(
        [comparison.estimate * scale],
        [row],
        marker=marker,
        color=color,
        markersize=8,
        markeredgecolor="white",
    )


def _words(comparison: Comparison, scale: float) -> str:
    """The estimate with its interval, or the bound, or that there is none."""
    if comparison.estimate is None:
        return say("picture no estimate")
    low, high = bounds(comparison)
    words, between = with_interval(
        comparison.estimate * scale,
        None if low is None else low * scale,
        None if high is None else high * scale,
    )
    label = f"{words} ({between})"
    few = comparison.se is None and comparison.rule != "bound"
    if comparison.bound and few and (low is None) != (high is None):
        limit = number(scale * (high if high is not None else low or 0.0))
        label = say("picture at most" if high is not None else "picture at least", n=limit)
    return label


def _tell(axes: "Axes", row: int, name: str, words: str, *, narrow: bool) -> None:
    """The numbers at the right of the row; if narrow, name and numbers over it."""
    transform = axes.get_yaxis_transform()
    if not narrow:
        axes.text(1.02, row, words, transform=transform, va="center", fontsize=8.5)
        return
    for at, text in ((row - 0.56, one_line(name, 48)), (row - 0.29, words)):
        axes.text(
            0.012,
            at,
            text,
            transform=transform,
            va="center",
            fontsize=LEAST_PT,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8},
        )


def _name(comparison: Comparison) -> str:
    """Its name, with the level of the other factor in which it holds."""
    within = comparison.within
    return comparison.name if within is None else f"{comparison.name} ({within})"


def _name_rows(axes: "Axes", comparisons: Sequence[Comparison], *, narrow: bool) -> None:
    names = [fill(one_line(_name(c), 62), 32) for c in comparisons]
    axes.set_yticks(range(len(names)), [""] * len(names) if narrow else names)
    axes.tick_params(axis="y", length=0, labelsize=8.5)
