"""The numbers of the survival study that may be quoted.

Bounds that the package sets itself: a null pair is called different in at most 6.5 % of
seasons anywhere and 6 % in 95 % of cells; intervals cover 92 % where every arm expects at
least 5 deaths and 5 survivors, 90 % elsewhere. Leans on numpy, survival_cells and
survival_run.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from survival_cells import SurvivalCell
from survival_run import ESTIMANDS

MOST = 0.065
USUALLY = 0.06
COVER_RICH = 0.92
COVER = 0.90


def highest_survival(cells: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Settings of the cell in which each estimand, then the score, rejects most often."""
    found = [
        max(cells, key=lambda c, name=name: c[name]["rejection"] or 0.0) for name in ESTIMANDS
    ]
    found.append(max(cells, key=lambda c: c["log-rank score"]["rejection_all"] or 0.0))
    return [cell["settings"] for cell in found]


def summarize_survival(
    cells: Sequence[dict[str, Any]],
    again: Sequence[dict[str, Any]],
    usual: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    """Worst, median and numbers of cells over each bound, by estimand.

    ``again`` holds the cells of ``highest_survival`` once more, with other seasons.
    """
    rich = [SurvivalCell(**cell["settings"]).is_rich for cell in cells]
    routes: dict[str, list[float]] = {}
    for cell in usual:
        for route in cell["routes"]:
            if route["rejection"] is not None:
                routes.setdefault(route["route"], []).append(route["rejection"])
    return {
        "cells": len(cells),
        "seasons_a_cell": min((c["seasons"] for c in cells), default=0),
        "bounds": {
            "rejection_anywhere": MOST,
            "rejection_in_95_percent_of_cells": USUALLY,
            "coverage_with_5_deaths_and_5_survivors_an_arm": COVER_RICH,
            "coverage_elsewhere": COVER,
        },
        "estimands": {name: _of(name, cells, rich) for name in ESTIMANDS},
        "log-rank score": _rejections(
            [c["log-rank score"]["rejection_all"] for c in cells], cells
        ),
        "highest_cells_again": {
            "seasons": min((c["seasons"] for c in again), default=0),
            **{name: c[name]["rejection"] for name, c in zip(ESTIMANDS, again, strict=False)},
            "log-rank score": again[-1]["log-rank score"]["rejection_all"],
        },
        "usual": {
            "seasons_a_cell": min((c["seasons"] for c in usual), default=0),
            "rejection": {k: [min(v), max(v)] for k, v in routes.items()},
        },
    }


def _of(name: str, cells: Sequence[dict[str, Any]], rich: Sequence[bool]) -> dict[str, Any]:
    found = [cell[name] for cell in cells]
    power = np.array([f["power"] for f in found if f["power"] is not None])
    flags = np.array(rich)
    cover = np.array([f["coverage"] for f in found])
    return {
        "rejection_pair": _rejections([f["rejection"] for f in found], cells),
        "rejection_all_arms": _rejections([f["rejection_all"] for f in found], cells),
        "coverage_with_5_deaths_and_5_survivors_an_arm": _covers(
            cover, flags, COVER_RICH, cells
        ),
        "coverage_elsewhere": _covers(cover, ~flags, COVER, cells),
        "mean_power": float(power.mean()),
        "seasons_without_inference": int(
            sum(c["seasons"] - f["judged"] for c, f in zip(cells, found, strict=True))
        ),
    }


def _rejections(
    rates: Sequence[float | None], cells: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    held = [(r, c["settings"]) for r, c in zip(rates, cells, strict=True) if r is not None]
    values = np.array([rate for rate, _ in held])
    return {
        "cells": int(values.size),
        "median": float(np.median(values)),
        "share_at_most_6_percent": float((values <= USUALLY).mean()),
        "over_6_percent": int((values > USUALLY).sum()),
        "over_6.5_percent": int((values > MOST).sum()),
        "highest": float(values.max()),
        "highest_cell": max(held, key=lambda one: one[0])[1],
    }


def _covers(
    cover: np.ndarray, where: np.ndarray, bound: float, cells: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    values = np.where(where, cover, np.inf)
    return {
        "cells": int(where.sum()),
        "lowest": float(values.min()),
        "median": float(np.median(cover[where])),
        "below_bound": int((values < bound).sum()),
        "lowest_cell": cells[int(values.argmin())]["settings"],
    }
