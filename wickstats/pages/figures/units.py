"""Every unit's value as a point, with the arm's mean and interval above its points.

Points are laid out by seaborn so that none hides another; a point is one
randomized unit, never a plant. Leans on seaborn, pages.figures and core.
"""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wickstats.core.responses import Mean, ResponseResult
from wickstats.core.words import say
from wickstats.pages.figures.palette import Look
from wickstats.pages.figures.svg import axes_at, drawing, new_figure, to_svg
from wickstats.pages.text import one_line

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
) -> bytes:
    """Return the picture.

    ``means`` has at most one mean an arm, ``label`` names the axis, ``scale`` is 100 for
    shares.
    """
    by_arm: dict[str, list[float]] = {arm: [] for arm in arms}
    for unit in response.unit_summary.values:
        if unit.value is not None and unit.treatment in by_arm:
            by_arm[unit.treatment].append(scale * shown_value(response, unit.value))
    told = {mean.treatment: mean for mean in means}
    height = 0.75 + 0.62 * len(arms)
    with drawing():
        figure = new_figure(height)
        axes = axes_at(figure, _LEFT_IN, 0.6, 8.0 - _LEFT_IN - 0.25, height - 0.7)
        values = [v for column in by_arm.values() for v in column]
        if values and min(values) > 0 and max(values) / min(values) > _WIDE_RANGE:
            _log_axis(axes)
        for row, arm in enumerate(arms):
            _draw_arm(axes, row, by_arm[arm], told.get(arm), looks[arm], scale)
        axes.set_ylim(len(arms) - 0.45, -0.6)
        axes.set_yticks(range(len(arms)), [one_line(arm, 24) for arm in arms])
        axes.tick_params(axis="y", length=0)
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
            fontsize=8,
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
