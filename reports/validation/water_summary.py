"""The numbers of the water study that may be quoted.

Bounds that the package sets itself: intervals of delivered water and of ratios between arms
cover 94 % at a coefficient of variation up to 0.3, 92 % up to 0.8; log ratios of yield per
liter 94 %; ratios of sums with zeros 92 %; arms that differ by the bound are called equal in
5 % at most. Leans on the standard library.
"""

from collections.abc import Sequence
from typing import Any

COVER, COVER_WIDE, COVER_ZEROS = 0.94, 0.92, 0.94
LEDGER = ("unit", "arm mean", "ratio of arms")
FEWEST = 1_000  # judged seasons for a rate to be quoted


def summarize_water(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest and median coverage by estimate, and its cell."""
    out: dict[str, Any] = {
        "cells": len(cells),
        "seasons_a_cell": min((c["seasons"] for c in cells), default=0),
        "ledger": {},
        "estimates": {},
    }
    for name in LEDGER:
        out["ledger"][name] = {
            label: _spread(cells, name, low, high)
            for label, low, high in (("cv up to 0.3", 0.0, 0.3), ("cv 0.5 and 0.8", 0.4, 1.0))
        }
    others = dict.fromkeys(n for c in cells for n in c["rates"] if n not in LEDGER)
    for name in others:
        out["estimates"][name] = _spread(cells, name, 0.0, 1.0)
    return out


def _spread(cells: Sequence[dict[str, Any]], name: str, low: float, high: float) -> Any:
    found = [
        (c["rates"][name]["rate"], c["settings"])
        for c in cells
        if name in c["rates"]
        and c["rates"][name]["judged"] >= FEWEST
        and low <= c["settings"]["cv"] <= high
    ]
    rates = sorted(rate for rate, _ in found)
    return {
        "cells": len(rates),
        "lowest": rates[0],
        "median": rates[len(rates) // 2],
        "highest": rates[-1],
        "lowest_cell": min(found, key=lambda one: one[0])[1],
        "highest_cell": max(found, key=lambda one: one[0])[1],
    }
