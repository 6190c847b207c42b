"""One cell of the study.

Leans on study_cells, study_seasons and study_linear.
"""

from typing import Any

import numpy as np
from study_cells import Cell, generator
from study_linear import judge
from study_seasons import simulate

CHUNK = 5_000  # seasons held in memory at a time


def run_cell(cell: Cell, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    Rates are over the seasons that gave inference; ``judged`` says how many did.
    ``rejection``: 5 % tests of the null pair, the first two arms. ``rejection_all``: of all
    arms, where none differ and there are more than two. ``coverage``: 95 % intervals of the
    first pair. ``coverage_other``: of the first arm against the last, where they differ.
    """
    rng = generator(seed, cell.key)
    eye = np.eye(cell.arms)
    contrasts = np.array([eye[0] - eye[1], eye[0] - eye[-1]])
    truth = contrasts @ cell.true_values
    parts = []
    left = seasons
    while left > 0:
        drawn = simulate(cell, min(left, CHUNK), rng)
        parts.append(judge(drawn, contrasts))
        left -= CHUNK
    p, low, high = (
        np.concatenate([getattr(part.contrasts, name) for part in parts])
        for name in ("p", "low", "high")
    )
    p_all = np.concatenate([part.p_all for part in parts])
    judged = np.isfinite(p[:, 0])
    inside = (low <= truth) & (truth <= high)
    differ = cell.truth != "global null"
    return {
        "settings": cell.settings(),
        "seasons": seasons,
        "judged": int(judged.sum()),
        "rejection": _rate(p[:, 0] < 0.05, judged) if cell.has_null_pair else None,
        "rejection_all": (
            _rate(p_all < 0.05, np.isfinite(p_all)) if cell.arms > 2 and not differ else None
        ),
        "coverage": _rate(inside[:, 0], judged),
        "coverage_other": (
            _rate(inside[:, 1], np.isfinite(p[:, 1])) if differ and cell.arms > 2 else None
        ),
    }


def _rate(hits: np.ndarray, among: np.ndarray) -> float | None:
    return float(hits[among].mean()) if among.any() else None
