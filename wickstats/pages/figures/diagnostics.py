"""Diagnostics by unit: residuals, blocks by treatments, each block's own difference.

All on the model's scale, one point a randomized unit. Leans on pages.figures
and core.
"""

from collections.abc import Mapping, Sequence
from math import inf
from textwrap import fill
from typing import TYPE_CHECKING

from wickstats.core.responses import ResponseResult, UnitValue
from wickstats.core.words import say
from wickstats.pages.figures.palette import INK, QUIET, Look
from wickstats.pages.figures.svg import (
    KEY_ROW_IN,
    NARROW_IN,
    axes_at,
    drawing,
    key_under,
    name_rows,
    new_figure,
    spread,
    to_svg,
    type_size,
    wrapped,
)
from wickstats.pages.text import one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TALLEST_IN = 9.0  # of one panel
_NAME_IN = 0.075  # of one letter of a name at its line
_MOST_LETTERS = 34


def diagnostics(
    response: ResponseResult,
    arms: Sequence[str],
    looks: Mapping[str, Look],
    reference: str | None,
    *,
    narrow: bool = False,
) -> bytes:
    """Return the picture: residuals against fitted, blocks by treatments, differences."""
    values = [u for u in response.unit_summary.values if u.value is not None]
    blocks = list(dict.fromkeys(u.block for u in values if u.block is not None))
    base = reference if reference is not None and reference in arms else arms[0]
    with drawing(narrow=narrow):
        draw = _narrow if narrow else _wide
        return to_svg(draw(values, arms, looks, blocks, base))


def _wide(
    values: Sequence[UnitValue],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    blocks: Sequence[str],
    base: str,
) -> "Figure":
    """Two panels over a third; taller, and with more room for names, where arms are many."""
    upper = min(max(1.9, 0.44 * (len(arms) - 1)), _TALLEST_IN)
    lower = min(max(1.95, 0.2 * len(arms)), _TALLEST_IN)
    names = _NAME_IN * max(len(one_line(arm, _MOST_LETTERS)) for arm in arms)
    figure = new_figure(lower + upper + 1.75)
    over = lower + 1.4
    _residuals(axes_at(figure, 0.75, over, 3.0, upper), values, arms, looks)
    if len(blocks) > 1:
        below = axes_at(figure, 0.75, 0.6, 7.1 - max(names + 0.1, 1.4), lower)
        _block_lines(below, values, arms, looks, blocks, gap=0.195 / lower)
    if len(blocks) > 1 and len(arms) > 1:
        by_block = axes_at(figure, 4.75, over, 3.0, upper)
        _differences(by_block, values, arms, looks, blocks, base)
    return figure


def _narrow(
    values: Sequence[UnitValue],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    blocks: Sequence[str],
    base: str,
) -> "Figure":
    """The panels one under another, the arms' key under the first."""
    key = KEY_ROW_IN * len(arms)
    tall = 0.3 + 0.75 * len([arm for arm in arms if arm != base])
    first = 0.35 + 2.0 + 0.65 + key
    differences = 0.45 + tall + 0.75 if len(arms) > 1 else 0.0
    height = first + (0.45 + 2.0 + 0.6 + differences if len(blocks) > 1 else 0.0)
    figure = new_figure(height, NARROW_IN)
    width = NARROW_IN - 1.0
    axes = axes_at(figure, 0.8, height - 2.35, width, 2.0)
    _residuals(axes, values, arms, looks)
    key_under(axes, arms, looks, first_in=0.65)
    if len(blocks) > 1:
        below = height - first - 2.45
        _block_lines(
            axes_at(figure, 0.8, below, width, 2.0), values, arms, looks, blocks, gap=None
        )
    if len(blocks) > 1 and len(arms) > 1:
        last = axes_at(figure, 0.2, 0.75, NARROW_IN - 0.4, tall)
        _differences(last, values, arms, looks, blocks, base, narrow=True)
    return figure


def _residuals(
    axes: "Axes", values: Sequence[UnitValue], arms: Sequence[str], looks: Mapping[str, Look]
) -> None:
    for arm in arms:
        known = [
            (u.fitted, u.residual)
            for u in values
            if u.treatment == arm and u.fitted is not None and u.residual is not None
        ]
        if known:
            axes.plot(
                [f for f, _ in known],
                [r for _, r in known],
                linestyle="none",
                marker=looks[arm].marker,
                color=looks[arm].color,
                markersize=5,
                markerfacecolor="white",
                markeredgewidth=1.2,
            )
    axes.axhline(0.0, color=INK, linewidth=0.8, linestyle=(0, (4, 2)))
    axes.set_title(say("title residuals"))
    axes.set_xlabel(say("axis fitted"))
    axes.set_ylabel(say("axis residual"))


def _table(values: Sequence[UnitValue]) -> dict[tuple[str, str], float]:
    """Mean of the units of each block and treatment."""
    cells: dict[tuple[str, str], list[float]] = {}
    for unit in values:
        if unit.block is not None and unit.value is not None:
            cells.setdefault((unit.block, unit.treatment), []).append(unit.value)
    return {key: sum(column) / len(column) for key, column in cells.items()}


def _block_lines(
    axes: "Axes",
    values: Sequence[UnitValue],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    blocks: Sequence[str],
    *,
    gap: float | None,
) -> None:
    """One line an arm; named at its end, ``gap`` of the height apart, or not at all."""
    cells = _table(values)
    ends: list[tuple[str, float]] = []
    for arm in arms:
        known = [(i, cells[b, arm]) for i, b in enumerate(blocks) if (b, arm) in cells]
        if known:
            look = looks[arm]
            axes.plot(
                [i for i, _ in known],
                [v for _, v in known],
                color=look.color,
                linestyle=look.line_style,
                marker=look.marker,
                markersize=5,
                linewidth=1.4,
            )
            ends.append((arm, known[-1][1]))
    low, high = axes.get_ylim()
    heights = spread([y for _, y in ends], (gap or 0.0) * (high - low), low, high)
    for (arm, own), y in () if gap is None else zip(ends, heights, strict=True):
        axes.annotate(
            one_line(arm, _MOST_LETTERS),
            xy=(len(blocks) - 1, own),
            xytext=(len(blocks) - 0.8, y),
            va="center",
            fontsize=8,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": looks[arm].color,
                "linewidth": 0.8,
                "relpos": (0.0, 0.5),
            },
        )
    axes.set_xticks(range(len(blocks)), [one_line(b, 8) for b in blocks])
    axes.set_xlabel(say("axis block"))
    axes.set_ylabel(say("axis unit value"))
    axes.set_title(say("title blocks"))
    axes.grid(axis="y")


def _differences(
    axes: "Axes",
    values: Sequence[UnitValue],
    arms: Sequence[str],
    looks: Mapping[str, Look],
    blocks: Sequence[str],
    base: str,
    *,
    narrow: bool = False,
) -> None:
    """Each block's own difference from the base arm; a lone odd block stands out."""
    cells = _table(values)
    others = [arm for arm in arms if arm != base]
    found = [v - cells[b, base] for (b, _), v in cells.items() if (b, base) in cells]
    letters = max((len(one_line(b, 5)) for b in blocks), default=1)
    near = (0.02 + 0.02 * letters) * (max(found, default=0.0) - min(found, default=0.0))
    for i, arm in enumerate(others):
        known = [
            (cells[b, arm] - cells[b, base], b)
            for b in blocks
            if (b, arm) in cells and (b, base) in cells
        ]
        look = looks[arm]
        axes.plot(
            [d for d, _ in known],
            [i] * len(known),
            linestyle="none",
            marker=look.marker,
            color=look.color,
            markersize=5,
            markerfacecolor="white",
            markeredgewidth=1.2,
        )
        same: dict[float, list[str]] = {}
        for d, b in known:
            same.setdefault(round(d, 9), []).append(one_line(b, 5))
        under = -12.5 if narrow else -10.5
        last: dict[float, float] = {}  # height of a name -> the last one that stands there
        for d, names in sorted(same.items()):
            ways = (under, 5.0, 13.0) if narrow else (under, 5.0, under - 8.0, 13.0)
            way = next((w for w in ways if d - last.get(w, -inf) >= near), ways[0])
            last[way] = d
            axes.annotate(
                ", ".join(names),
                (d, i),
                xytext=(0, way),
                textcoords="offset points",
                ha="center",
                fontsize=type_size(7.0, narrow=narrow),
                color=QUIET,
            )
    axes.axvline(0.0, color=INK, linewidth=0.8)
    axes.set_ylim(len(others) - 0.4, -0.85 if narrow else -0.6)
    if narrow:
        name_rows(axes, others, narrow=True, over=0.6)
    else:
        axes.set_yticks(range(len(others)), [fill(one_line(arm, 26), 13) for arm in others])
        axes.tick_params(axis="y", length=0, labelsize=7.5)
    axes.set_title(wrapped(say("title differences"), narrow=narrow))
    label = say("axis difference", base=one_line(base, 24))
    axes.set_xlabel(wrapped(label, narrow=narrow))
