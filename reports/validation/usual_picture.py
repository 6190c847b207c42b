"""The picture of the usual routes: rejection of every cell with arms alike, by blocks.

Leans on matplotlib through the package's pages.figures, trial_cells, usual_mixed and
usual_summary.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from trial_cells import BLOCKS
from usual_mixed import KENWARD_ROGER, ROWS, SATTERTHWAITE, Z
from usual_summary import rate_of

from wickstats.pages.figures.palette import INK, ZONE
from wickstats.pages.figures.svg import axes_at, drawing, new_figure, to_svg

PANELS = (
    (ROWS, "rows as replicates", "#c0501c", "^"),
    (Z, "mixed, z test", "#0072b2", "s"),
    (SATTERTHWAITE, "mixed, Satterthwaite", "#0072b2", "D"),
    (KENWARD_ROGER, "mixed, Kenward-Roger", "#0072b2", "v"),
)
DARK = "#1b2226"


def usual_picture(
    usual: Sequence[dict[str, Any]], cells: Sequence[dict[str, Any]], seasons: int
) -> bytes:
    """Return the picture: one panel a route, the first line in every panel."""
    band = 400.0 * sqrt(0.05 * 0.95 / seasons)
    shown = [
        (theirs, ours)
        for theirs, ours in zip(usual, cells, strict=True)
        if theirs["settings"]["group"] == "alike" and theirs["settings"]["plants"] > 1
    ]
    highest = max(rate_of(theirs, name) or 0.0 for theirs, _ in shown for name, *_ in PANELS)
    with drawing():
        figure = new_figure(3.5)
        for place, (route, title, color, marker) in enumerate(PANELS):
            axes = axes_at(figure, 0.6 + 1.83 * place, 0.75, 1.7, 2.3)
            axes.axhspan(max(5.0 - band, 0.0), 5.0 + band, color=ZONE)
            axes.axhline(5.0, color=INK, linewidth=0.9)
            for shift, look, tone, size, rates in (
                (-0.2, "o", DARK, 2.4, [ours["rejection"] for _, ours in shown]),
                (0.2, marker, color, 3.2, [rate_of(theirs, route) for theirs, _ in shown]),
            ):
                points = [
                    (BLOCKS.index(ours["settings"]["blocks"]) + shift, 100.0 * rate)
                    for (_, ours), rate in zip(shown, rates, strict=True)
                    if rate is not None
                ]
                axes.plot(
                    [x for x, _ in points],
                    [y for _, y in points],
                    linestyle="none",
                    marker=look,
                    markersize=size,
                    color=tone,
                    markerfacecolor="none",
                )
            axes.set_title(title)
            axes.set_xticks(range(len(BLOCKS)), [str(b) for b in BLOCKS])
            axes.set_xlim(-0.6, len(BLOCKS) - 0.4)
            axes.set_ylim(0.0, 105.0 * highest)
            axes.set_xlabel("blocks")
            axes.grid(axis="y")
            if place:
                axes.set_yticklabels([])
            else:
                axes.set_ylabel("5 % tests that reject, %")
        return to_svg(figure)
