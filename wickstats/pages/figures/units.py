"""Every unit's value as a point, with the arm's mean and interval above its points.

Points are laid out by seaborn so that none hides another; a point is one
randomized unit, never a plant. Leans on seaborn, pages.figures and core.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.responses import Mean, ResponseResult
from wickstats.core.words import say
from wickstats.pages.figures.palette import Look
from wickstats.pages.figures.svg import (
    LEAST_PT,
    axes_at,
    drawing,
    lines_in,
    name_rows,
    new_figure,
    to_svg,
    width_of,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN = 1.75
_WIDE_RANGE = 6.0  # a log axis where the largest is this many times the smallest


def shown_value(response: ResponseResult, value: float) -> float:
    """A unit's value on the reported scale.

    Counts and yields with zeros keep their own scale though their comparisons are ratios.
    """
    logged = response.unit_summary.measured_in.startswith("log(")
    return math.exp(min(value, 700.0)) if logged else value


def unit_values(
    response: ResponseResult,
    arms: Sequence[str],
    means: Sequence[Mean],
    looks: Mapping[str, Look],
    label: str,
    *,
    scale: float = 1.0,
    held: Mapping[str, Collection[str]] | None = None,
    narrow: bool = False,
) -> bytes:
    """Return the picture.

    ``means`` has at most one mean an arm, ``label`` names the axis, ``scale`` is 100 for
    shares; ``held`` says which treatments stand under an arm (None: its own).
    """
    by_arm: dict[str, list[float]] = {arm: [] for arm in arms}
    for arm, column in by_arm.items():
        own = (arm,) if held is None else held[arm]
        column.extend(
            scale * shown_value(response, unit.value)
            for unit in response.unit_summary.values
            if unit.value is not None and unit.treatment in own
        )
    told = {mean.treatment: mean for mean in means}
    label = wrapped(label, narrow=narrow)
    below = 0.6 + lines_in(label)
    left, wide = 0.15 if narrow else _LEFT_IN, width_of(narrow=narrow)
    height = below + 0.15 + (0.82 if narrow else 0.62) * len(arms)
    with drawing(narrow=narrow):
        figure = new_figure(height, wide)
        axes = axes_at(figure, left, below, wide - left - 0.25, height - below - 0.1)
        values = [v for column in by_arm.values() for v in column]
        if values and min(values) > 0 and max(values) / min(values) > _WIDE_RANGE:
            _log_axis(axes)
        for row, arm in enumerate(arms):
            _draw_arm(axes, row, by_arm[arm], told.get(arm), looks[arm], scale)
        axes.set_ylim(len(arms) - 0.45, -0.7 if narrow else -0.6)
        name_rows(axes, arms, narrow=narrow, over=0.45)
        axes.set_xlabel(label)
        axes.grid(axis="x")
        return to_svg(figure)


def _draw_arm(
    axes: "Axes", row: int, values: Sequence[float], mean: Mean | None, look: Look, scale: float
) -> None:
    _swarm(axes, row + 0.17, values, look)
    if not values:
        axes.text(
            0.01,
            row + 0.17,
            say("no unit left"),
            transform=axes.get_yaxis_transform(),
            va="center",
            fontsize=LEAST_PT,
        )
    if mean is None or mean.estimate is None:
        return
    at = row - 0.2
    if mean.low is not None and mean.high is not None:
        axes.plot(
            [scale * mean.low, scale * mean.high],
            [at, at],
            color=look.color,
            linewidth=3.2,
            solid_capstyle="butt",
        )
    axes.plot(
        [scale * mean.estimate],
        [at],
        marker=look.marker,
        color=look.color,
        markersize=8,
        markeredgecolor="white",
        markeredgewidth=0.8,
    )


def _swarm(axes: "Axes", at: float, values: Sequence[float], look: Look) -> None:
    import seaborn as sns

    if not values:
        return
    sns.swarmplot(
        x=list(values),
        y=[at] * len(values),
        orient="h",
        native_scale=True,
        ax=axes,
        size=5,
        marker=look.marker,
        facecolor="none",
        edgecolor=look.color,
        color="white",
        linewidth=1.1,
        warn_thresh=1.0,
    )


def _log_axis(axes: "Axes") -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _pos: f"{x:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
