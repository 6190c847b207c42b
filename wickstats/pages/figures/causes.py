"""Areas of causes of death by treatment: one panel each, causes stacked, the living above.

Causes are told apart by hatching and shade and named beside their area; where a death lies
between two visits the edge slopes. Leans on pages.figures and core.
"""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from wickstats.core.histories import IncidencePoint
from wickstats.core.numbers import fixed
from wickstats.pages.figures.palette import INK, QUIET
from wickstats.pages.figures.svg import (
    axes_at,
    drawing,
    new_figure,
    spread,
    to_svg,
    type_size,
    width_of,
)
from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# dark enough for 3:1 on white, different in gray and in hatching
_FILLS = ("#1b2226", "#c0501c", "#0072b2", "#5a7080", "#00805e", "#8a4a9e", "#8a6d00")
_HATCHES = ("", "///", "\\\\\\", "...", "xxx", "---", "|||")
_LEFT_IN, _NAME_IN, _PANEL_IN = 0.6, 1.35, 1.75

Layer = tuple[np.ndarray, np.ndarray]


def cause_areas(
    points: Sequence[IncidencePoint],
    arms: Sequence[str],
    causes: Sequence[str],
    days: str,
    dead: str,
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture; ``days`` and ``dead`` name the axes."""
    columns = 2 if len(arms) > 1 and not narrow else 1
    rows = -(-len(arms) // columns)
    height = rows * (_PANEL_IN + 0.55) + 0.45
    wide = width_of(narrow=narrow)
    each = (wide - 0.1) / columns
    end = max((p.time_high or 0.0 for p in points), default=1.0)
    top = _top(points, arms)
    with drawing(narrow=narrow):
        figure = new_figure(height, wide)
        for i, arm in enumerate(arms):
            row, column = divmod(i, columns)
            low = height - 0.35 - _PANEL_IN - row * (_PANEL_IN + 0.55)
            axes = axes_at(
                figure,
                _LEFT_IN + column * each,
                low,
                each - _LEFT_IN - _NAME_IN,
                _PANEL_IN,
            )
            own = [p for p in points if p.group == arm]
            _panel(axes, own, causes, end, top, narrow=narrow)
            axes.set_title(one_line(arm, 30))
            if row == rows - 1 or i + columns >= len(arms):
                axes.set_xlabel(days)
            if column == 0:
                axes.set_ylabel(dead)
        return to_svg(figure)


def _top(points: Sequence[IncidencePoint], arms: Sequence[str]) -> float:
    """A common upper end, of 100: room for what died most, in steps of ten."""
    last: dict[str, float] = {}
    for arm in arms:
        ends: dict[str, float] = {}
        for p in points:
            if p.group == arm:
                ends[p.cause] = max(ends.get(p.cause, 0.0), p.share or 0.0)
        last[arm] = 100.0 * sum(ends.values())
    return min(100.0, max(10.0, 10.0 * float(np.ceil(max(last.values()) / 10.0 + 0.2))))


def _panel(
    axes: "Axes",
    points: Sequence[IncidencePoint],
    causes: Sequence[str],
    end: float,
    top: float,
    *,
    narrow: bool,
) -> None:
    axes.set_xlim(0.0, end)
    axes.set_ylim(0.0, top)
    axes.grid(axis="y")
    below: np.ndarray | None = None
    times = np.zeros(0)
    middles: dict[str, tuple[float, float]] = {}
    for k, cause in enumerate(causes):
        times, share = _layer([p for p in points if p.cause == cause])
        if times.size == 0:
            continue
        floor = np.zeros_like(share) if below is None else below
        upper = floor + 100.0 * share
        if share[-1] > 0.0:
            axes.fill_between(
                times,
                floor,
                upper,
                facecolor=_FILLS[k % len(_FILLS)] if k == 0 else "white",
                edgecolor=_FILLS[k % len(_FILLS)],
                hatch=_HATCHES[k % len(_HATCHES)],
                linewidth=1.0,
            )
            middles[cause] = (0.5 * float(floor[-1] + upper[-1]), 100.0 * float(share[-1]))
        below = upper
    if times.size:
        _names(axes, middles, causes, float(times[-1]), end, top, narrow=narrow)


def _layer(points: Sequence[IncidencePoint]) -> Layer:
    """Corners of the area: level while the share holds, sloped where deaths may lie."""
    kept = sorted(
        (p for p in points if p.share is not None and p.time_low is not None),
        key=lambda p: (p.time_low or 0.0, p.time_high or 0.0),
    )
    times = [t for p in kept for t in (p.time_low or 0.0, p.time_high or p.time_low or 0.0)]
    shares = [p.share or 0.0 for p in kept for _ in (0, 1)]
    return np.array(times), np.array(shares)


def _names(
    axes: "Axes",
    middles: Mapping[str, tuple[float, float]],
    causes: Sequence[str],
    last: float,
    end: float,
    top: float,
    *,
    narrow: bool,
) -> None:
    """Each cause's name and number beside its area, or that nothing died."""
    names = list(middles)
    at = spread([middles[name][0] for name in names], 0.1 * top, 0.04 * top, 0.97 * top)
    for name, y in zip(names, at, strict=True):
        middle, share = middles[name]
        axes.annotate(
            f"{one_line(name, 16)} {fixed(share, 0)}",
            xy=(last, middle),
            xytext=(end * 1.06, y),
            va="center",
            fontsize=type_size(8.0, narrow=narrow),
            color=INK,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": _FILLS[list(causes).index(name) % len(_FILLS)],
                "linewidth": 1.0,
                "shrinkA": 0,
                "shrinkB": 0,
                "relpos": (0.0, 0.5),
            },
        )
    if not names:
        axes.text(0.5 * end, 0.5 * top, "0", ha="center", va="center", color=QUIET)
