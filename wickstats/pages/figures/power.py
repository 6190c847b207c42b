"""Chance to show what matters by number of blocks: as planned, and as the units scattered.

Leans on pages.figures and core.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wickstats.core.results import PowerPoint
from wickstats.core.words import say
from wickstats.pages.figures.palette import INK, QUIET, RULE, ZONE, Look
from wickstats.pages.figures.svg import (
    KEY_ROW_IN,
    axes_at,
    drawing,
    key_under,
    new_figure,
    to_svg,
    type_size,
    width_of,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LOOKS = {
    "reached": Look("#0072b2", "s", ()),
    "planned": Look("#c0501c", "^", (6.0, 2.0)),
}
_KEY_IN = 0.66  # from the axes down to the first row of the key


def power_curve(
    points: Sequence[PowerPoint], *, word: str, target: float, here: int, narrow: bool = False
) -> bytes:
    """Return the picture.

    Parameters
    ----------
    word
        Name of the horizontal axis: blocks or replicates.
    target
        The chance that the plan aims at, a line across.
    here
        This season's number, a line down.
    """
    from matplotlib.ticker import MaxNLocator

    kinds = [kind for kind in _LOOKS if any(p.kind == kind for p in points)]
    named = {say(f"curve {kind}"): _LOOKS[kind] for kind in kinds}
    wide = width_of(narrow=narrow)
    below = 0.75 + KEY_ROW_IN * len(kinds)
    with drawing(narrow=narrow):
        figure = new_figure(below + 2.9, wide)
        axes = axes_at(figure, 0.65, below, wide - 0.9, 2.5)
        size = type_size(8.0, narrow=narrow)
        axes.axhline(100.0 * target, color=RULE, linewidth=1)
        axes.axvline(here, color=RULE, linewidth=1)
        axes.annotate(
            say("curve here"),
            (here, 100.0),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            fontsize=size,
            color=QUIET,
            annotation_clip=False,
        )
        for kind in kinds:
            _draw(axes, [p for p in points if p.kind == kind], _LOOKS[kind])
        axes.set_xlim(1.0, max(p.blocks for p in points) + 0.5)
        axes.set_ylim(0.0, 100.0)
        axes.set_xlabel(word, color=INK)
        axes.set_ylabel(say("axis chance"), color=INK)
        axes.xaxis.set_major_locator(MaxNLocator(6, integer=True))
        key_under(axes, tuple(named), named, first_in=_KEY_IN)
        return to_svg(figure)


def _draw(axes: "Axes", points: Sequence[PowerPoint], look: Look) -> None:
    xs = [p.blocks for p in points]
    band = [(p.low, p.high) for p in points if p.low is not None and p.high is not None]
    if len(band) == len(points):
        low, high = zip(*band, strict=True)
        axes.fill_between(
            xs, [100.0 * v for v in low], [100.0 * v for v in high], color=ZONE, linewidth=0
        )
    axes.plot(
        xs,
        [100.0 * (p.power or 0.0) for p in points],
        color=look.color,
        linestyle=look.line_style,
        marker=look.marker,
        markersize=4,
        linewidth=1.4,
        clip_on=False,
    )
