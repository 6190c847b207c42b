"""The picture of the study: rejection of every cell, by kind and number of blocks.

Leans on matplotlib through the package's pages.figures.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from study_cells import BLOCKS, KINDS, LOSSES

from wickstats.pages.figures.palette import INK, QUIET, ZONE
from wickstats.pages.figures.svg import axes_at, drawing, new_figure, to_svg

LOOKS = {
    "complete": ("#1b2226", "o", -0.22),
    "random gaps": ("#0072b2", "s", 0.0),
    "loss by arm": ("#c0501c", "^", 0.22),
}


def rejection_picture(cells: Sequence[dict[str, Any]], seasons: int) -> bytes:
    """Return the picture: one point a cell, a band of four Monte Carlo standard errors."""
    band = 400.0 * sqrt(0.05 * 0.95 / seasons)
    highest = max(100.0 * c["rejection"] for c in cells if c["rejection"] is not None)
    with drawing():
        figure = new_figure(3.6)
        for place, kind in enumerate(KINDS):
            axes = axes_at(figure, 0.6 + 1.83 * place, 0.95, 1.7, 2.2)
            axes.axhspan(5.0 - band, 5.0 + band, color=ZONE)
            axes.axhline(5.0, color=INK, linewidth=0.9)
            for loss in LOSSES:
                color, marker, shift = LOOKS[loss]
                points = [
                    (BLOCKS.index(c["settings"]["blocks"]) + shift, 100.0 * c["rejection"])
                    for c in cells
                    if c["settings"]["kind"] == kind
                    and c["settings"]["loss"] == loss
                    and c["rejection"] is not None
                ]
                axes.plot(
                    [x for x, _ in points],
                    [y for _, y in points],
                    linestyle="none",
                    marker=marker,
                    markersize=4.0,
                    color=color,
                    markerfacecolor="none",
                    label=loss,
                )
            axes.set_title(kind)
            axes.set_xticks(range(len(BLOCKS)), [str(b) for b in BLOCKS])
            axes.set_xlim(-0.6, len(BLOCKS) - 0.4)
            axes.set_ylim(0.0, max(7.0, highest * 1.08))
            axes.set_xlabel("blocks")
            axes.grid(axis="y")
            if place:
                axes.tick_params(axis="y", labelleft=False)
            else:
                axes.set_ylabel("5 % tests that reject, %")
                handles, labels = axes.get_legend_handles_labels()
                figure.legend(
                    handles,
                    labels,
                    loc="lower center",
                    ncols=3,
                    frameon=False,
                    labelcolor=INK,
                    edgecolor=QUIET,
                )
        return to_svg(figure)
