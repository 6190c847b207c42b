"""The numbers of the study that may be quoted: worst and median by kind.

Leans on numpy and study_cells.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from study_cells import KINDS


def highest_cells(cells: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Settings of the cell of each kind in which a null pair is rejected most often."""
    return [
        max(_mine(kind, cells), key=lambda c: c["rejection"] or 0.0)["settings"]
        for kind in KINDS
    ]


def summarize(
    cells: Sequence[dict[str, Any]],
    again: Sequence[dict[str, Any]],
    seed: int,
) -> dict[str, Any]:
    """The numbers that may be quoted: worst and median by kind.

    ``again`` holds each kind's highest cell, run once more with other seasons.
    """
    kinds = {
        kind: _of_kind(kind, cells, once_more)
        for kind, once_more in zip(KINDS, again, strict=True)
    }
    return {
        "seed": seed,
        "cells": len(cells),
        "seasons_a_cell": min((c["seasons"] for c in cells), default=0),
        "kinds": kinds,
    }


def _mine(kind: str, cells: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    return [c for c in cells if c["settings"]["kind"] == kind]


def _of_kind(
    kind: str, cells: Sequence[dict[str, Any]], again: dict[str, Any]
) -> dict[str, Any]:
    mine = _mine(kind, cells)
    return {
        "rejection_pair": _spread([c["rejection"] for c in mine]),
        "rejection_all_arms": _spread([c["rejection_all"] for c in mine]),
        "coverage": _spread([c[name] for c in mine for name in ("coverage", "coverage_other")]),
        "seasons_without_inference": sum(c["seasons"] - c["judged"] for c in mine),
        "worst_cell": again["settings"],
        "worst_cell_again": {"seasons": again["seasons"], "rejection": again["rejection"]},
        "least_covered_cell": min(mine, key=_least)["settings"],
    }


def _spread(rates: Sequence[float | None]) -> dict[str, float | int]:
    held = np.array([r for r in rates if r is not None])
    return {
        "cells": int(held.size),
        "lowest": float(held.min()),
        "median": float(np.median(held)),
        "highest": float(held.max()),
    }


def _least(cell: dict[str, Any]) -> float:
    """The lower of a cell's coverages."""
    rates = (cell["coverage"], cell["coverage_other"])
    return min(float(rate) for rate in rates if rate is not None)
