"""The picture of totals and sizes: rejection of every cell, by group and what is lost.

Leans on matplotlib through the package's pages.figures.
"""

from collections.abc import Callable, Sequence
from math import sqrt
from typing import Any

from trial_cells import BLOCKS, LEFT, PATTERNS

from wickstats.pages.figures.palette import INK, QUIET, ZONE
from wickstats.pages.figures.svg import axes_at, drawing, new_figure, to_svg

Pick = Callable[[dict[str, Any]], float | None]
DARK, BLUE, RED = "#1b2226", "#0072b2", "#c0501c"


def trials_picture(cells: Sequence[dict[str, Any]], seasons: int) -> bytes:
    """Return the picture: one point a cell, a band of four Monte Carlo standard errors."""
    band = 400.0 * sqrt(0.05 * 0.95 / seasons)
    with drawing():
        figure = new_figure(4.1)
        for place, (title, marks) in enumerate(_panels()):
            axes = axes_at(figure, 0.6 + 2.46 * place, 1.3, 2.05, 2.3)
            axes.axhspan(5.0 - band, 5.0 + band, color=ZONE)
            axes.axhline(5.0, color=INK, linewidth=0.9)
            for label, color, marker, shift, pick in marks:
                points = [
                    (_place(cell) + shift, 100.0 * rate)
                    for cell in cells
                    if (rate := pick(cell)) is not None
                ]
                axes.plot(
                    [x for x, _ in points],
                    [y for _, y in points],
                    linestyle="none",
                    marker=marker,
                    markersize=3.2,
                    color=color,
                    markerfacecolor="none",
                    label=label,
                )
            axes.set_title(title)
            axes.set_xticks(range(len(BLOCKS)), [str(b) for b in BLOCKS])
            axes.set_xlim(-0.6, len(BLOCKS) - 0.4)
            axes.set_ylim(0.0, 18.0 if place == 2 else 8.0)
            axes.set_xlabel("blocks")
            axes.grid(axis="y")
            axes.legend(
                loc="upper left",
                bbox_to_anchor=(-0.05, -0.22),
                frameon=False,
                labelcolor=INK,
                edgecolor=QUIET,
                handletextpad=0.2,
            )
            if not place:
                axes.set_ylabel("5 % tests that reject, %")
        return to_svg(figure)


def _place(cell: dict[str, Any]) -> float:
    return float(BLOCKS.index(cell["settings"]["blocks"]))


def _panels() -> list[tuple[str, list[tuple[str, str, str, float, Pick]]]]:
    looks = ((DARK, "o", -0.22), (BLUE, "s", 0.0), (RED, "^", 0.22))

    def of(group: str, pattern: str) -> Pick:
        def pick(cell: dict[str, Any]) -> float | None:
            s = cell["settings"]
            mine = s["group"] == group and s["pattern"] == pattern
            return cell["rejection"] if mine else None

        return pick

    def varied(name: str) -> Pick:
        def pick(cell: dict[str, Any]) -> float | None:
            s = cell["settings"]
            mine = s["group"] == "variance" or s["truth"].startswith("raw")
            return cell[name] if mine else None

        return pick

    alike = [(p, *look, of("alike", p)) for p, look in zip(PATTERNS, looks, strict=True)]
    loss = [(p, *look, of("loss", p)) for p, look in zip(LEFT, looks[1:], strict=True)]
    variance = [
        ("first line", RED, "^", 0.12, varied("rejection")),
        ("paired result", DARK, "o", -0.12, varied("rejection_paired")),
    ]
    return [
        ("arms alike", alike),
        ("loss by arm", loss),
        ("variance by arm", variance),
    ]
