"""What may be quoted of the study of totals and sizes, and the bounds that it is held to.

Leans on numpy, trial_cells.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from trial_cells import GROUPS

RATES = ("rejection", "rejection_all", "rejection_paired")
COVERAGES = ("coverage", "coverage_other", "coverage_means")
VARIANCES = ("block", "plot", "residual")
NEAR, FAR = (0.04, 0.06), (0.03, 0.07)


def summarize_trials(
    cells: Sequence[dict[str, Any]],
    mixed: Sequence[dict[str, Any]],
    gaps: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    """By group of cells: lowest, median, highest of each rate and miss, and shares outside.

    Coverage is told as misses (1 - coverage), so that one scale serves all.
    """
    groups = {}
    for group, words in GROUPS.items():
        mine = [c for c in cells if c["settings"]["group"] == group]
        groups[group] = {"words": words, "cells": len(mine), **_of(mine)}
    return {
        "cells": len(cells),
        "seasons_a_cell": min((c["seasons"] for c in cells), default=0),
        "groups": groups,
        "second_line": {"cells": len(mixed), **_of(mixed), "components": _components(mixed)},
        "split_plots_with_gaps": _gaps(gaps),
    }


def spread(values: Sequence[float | None]) -> dict[str, float | int] | None:
    """Cells, lowest, median, highest, and how many lie outside 4 to 6 and 3 to 7 %."""
    held = np.array([v for v in values if v is not None])
    if held.size == 0:
        return None
    return {
        "cells": int(held.size),
        "lowest": float(held.min()),
        "median": float(np.median(held)),
        "highest": float(held.max()),
        "outside_4_to_6": int(((held < NEAR[0]) | (held > NEAR[1])).sum()),
        "outside_3_to_7": int(((held < FAR[0]) | (held > FAR[1])).sum()),
    }


def misses(cell: dict[str, Any], name: str) -> float | None:
    """1 - coverage, free of what subtraction leaves behind."""
    rate = cell.get(name)
    return None if rate is None else round(1.0 - rate, 10)


def _of(cells: Sequence[dict[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {n: spread([c.get(n) for c in cells]) for n in RATES}
    for name in COVERAGES:
        out[f"missed_{name.removeprefix('coverage').strip('_') or 'pair'}"] = spread(
            [misses(c, name) for c in cells]
        )
    out["worst"] = (
        max(cells, key=lambda c: c["rejection"] or 0.0)["settings"] if cells else None
    )
    return {k: v for k, v in out.items() if v is not None}


def _gaps(gaps: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Lowest and highest rejection by term, and misses by kind of difference."""
    out: dict[str, Any] = {
        "cells": len(gaps),
        "seasons_a_cell": min((c["seasons"] for c in gaps), default=0),
    }
    for name in ("whole plots", "subplots", "interaction"):
        out[name] = spread([c["rejected"][name] for c in gaps])
    for name in ("inside", "between"):
        out[f"missed_{name}"] = spread([round(1.0 - c["covered"][name], 10) for c in gaps])
    return out


def _components(mixed: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Misses of the profile intervals of each variance."""
    return {name: spread([_missed(c, name) for c in mixed]) for name in VARIANCES}


def _missed(cell: dict[str, Any], name: str) -> float:
    return round(1.0 - cell["components"][name], 10)
