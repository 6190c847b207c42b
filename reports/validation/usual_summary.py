"""What may be quoted of the usual routes: lowest, median and highest cell by route.

Leans on trial_cells and trial_summary.
"""

from collections.abc import Sequence
from typing import Any

from trial_cells import GROUPS
from trial_summary import spread


def summarize_usual(
    first: Sequence[dict[str, Any]],
    trials: Sequence[dict[str, Any]],
    held: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    """``kinds`` and ``groups``: rejection of a null pair by each route.

    ``held``: the general library's own fits of a sample, counted.
    """
    kinds = list(dict.fromkeys(c["settings"]["kind"] for c in first))
    settled = [r["converged"] for c in first for r in c["routes"] if "converged" in r]
    return {
        "seasons_a_cell": min((c["seasons"] for c in (*first, *trials)), default=0),
        "cells": len(first) + len(trials),
        "kinds": {k: _routes([c for c in first if c["settings"]["kind"] == k]) for k in kinds},
        "mixed_model_converged": [min(settled), max(settled)] if settled else None,
        "groups": {
            group: _routes([c for c in trials if c["settings"]["group"] == group])
            for group in GROUPS
        },
        "three_blocks": {name: of["median"] for name, of in _routes(_few(trials)).items()},
        "held": {
            "cells": len(held),
            "fits": sum(c["seasons"] for c in held),
            **{
                name: sum(c[name] for c in held)
                for name in ("converged", "short", "alike", "rejected", "rejected_library")
            },
        },
    }


def rate_of(cell: dict[str, Any], route: str) -> float | None:
    """Rejection by one route in one cell."""
    found = [r["rejection"] for r in cell["routes"] if r["route"] == route]
    return found[0] if found else None


def _few(cells: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Three blocks, several plants a plot, arms alike."""
    return [
        c
        for c in cells
        if (c["settings"]["group"], c["settings"]["blocks"]) == ("alike", 3)
        and c["settings"]["plants"] > 1
    ]


def _routes(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    names = dict.fromkeys(r["route"] for c in cells for r in c["routes"])
    return {name: spread([rate_of(c, name) for c in cells]) for name in names}
