"""The routes usually taken, on the same kind of seasons, for comparison.

    plants as replicates     least squares of plants on arms and blocks
    mixed model, z test      statsmodels MixedLM, REML, random plots, blocks fixed; in a few
                             cells (in every cell of totals and sizes: trial_usual)
    plants pooled            two proportions, z with the pooled share (pooled over plots)
    one pooled variance      plot shares in blocks, one residual mean square for all arms
    Poisson                  log ratio of totals, no dispersion

Each tests the null pair, the first two arms, at 5 %. Leans on numpy, scipy.special,
statsmodels, study_linear and study_seasons.
"""

import warnings
from typing import Any

import numpy as np
from scipy.special import ndtr, stdtr
from study_cells import Cell, generator, library_cells
from study_linear import judge
from study_seasons import Seasons, simulate


def run_usual(cell: Cell, seasons: int, seed: int) -> dict[str, Any]:
    """Rejection of each usual route in one cell, with how many seasons gave a test."""
    drawn = simulate(cell, seasons, generator(seed, f"usual|{cell.key}"))
    routes: list[dict[str, Any]] = []
    if cell.kind == "size":
        routes.append(_route("plants as replicates", _plants(drawn)))
        if cell in library_cells():
            p, settled = _mixed(drawn)
            routes.append(_route("mixed model, z test", p, converged=settled))
    elif cell.kind == "share":
        pair = np.array([np.eye(cell.arms)[0] - np.eye(cell.arms)[1]])
        routes.append(_route("plants pooled", _pooled(drawn)))
        routes.append(
            _route("one pooled variance", judge(drawn, pair, pooled=True).contrasts.p[:, 0])
        )
    else:
        routes.append(_route("Poisson", _poisson(drawn)))
    return {"settings": cell.settings(), "seasons": seasons, "routes": routes}


def _route(name: str, p: np.ndarray, *, converged: float | None = None) -> dict[str, Any]:
    tested = np.isfinite(p)
    rate = float((p[tested] < 0.05).mean()) if tested.any() else None
    out: dict[str, Any] = {"route": name, "tested": int(tested.sum()), "rejection": rate}
    if converged is not None:
        out["converged"] = converged
    return out


def _rows(seasons: Seasons, s: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Values, design (arm differences from the first arm, blocks) and unit of each plant."""
    if seasons.plant_values is None or seasons.plant_present is None:
        raise ValueError("plants are kept for sizes only")
    unit, _ = np.nonzero(seasons.plant_present[s])
    y = seasons.plant_values[s][seasons.plant_present[s]]
    arms = np.eye(int(seasons.cells.max()) + 1)[seasons.cells[unit]][:, 1:]
    blocks = np.eye(int(seasons.blocks.max()) + 1)[seasons.blocks[unit]]
    return y, np.hstack([arms, blocks]), unit


def _plants(seasons: Seasons) -> np.ndarray:
    out = np.full(seasons.values.shape[0], np.nan)
    for s in range(out.size):
        y, x, _ = _rows(seasons, s)
        if not x[:, 0].any():  # nothing is left of the second arm
            continue
        x = x[:, x.any(axis=0)]
        if y.size <= x.shape[1] or np.linalg.matrix_rank(x) < x.shape[1]:
            continue
        inverse = np.linalg.inv(x.T @ x)
        b = inverse @ (x.T @ y)
        df = y.size - x.shape[1]
        variance = float(np.sum((y - x @ b) ** 2)) / df * inverse[0, 0]
        out[s] = 2.0 * stdtr(df, -abs(b[0]) / np.sqrt(variance))
    return out


def _mixed(seasons: Seasons) -> tuple[np.ndarray, float]:
    from statsmodels.regression.mixed_linear_model import MixedLM

    out = np.full(seasons.values.shape[0], np.nan)
    settled = 0
    for s in range(out.size):
        y, x, unit = _rows(seasons, s)
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")  # they say what ``converged`` counts
            try:
                fit = MixedLM(y, x, groups=unit).fit(reml=True)
            except np.linalg.LinAlgError:
                continue
            out[s] = float(fit.pvalues[0])
            settled += bool(fit.converged)
    return out, settled / out.size


def _arm_sums(seasons: Seasons, what: np.ndarray) -> np.ndarray:
    """(S, 2) sums over the first two arms."""
    held = np.where(seasons.present, what, 0.0)
    return np.stack([held[:, seasons.cells == k].sum(axis=1) for k in (0, 1)], axis=1)


def _pooled(seasons: Seasons) -> np.ndarray:
    x, n = _arm_sums(seasons, seasons.values), _arm_sums(seasons, seasons.plants)
    p = x.sum(axis=1) / n.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        se = np.sqrt(p * (1.0 - p) * (1.0 / n).sum(axis=1))
        z = (x[:, 0] / n[:, 0] - x[:, 1] / n[:, 1]) / se
    return np.asarray(2.0 * ndtr(-np.abs(z)))


def _poisson(seasons: Seasons) -> np.ndarray:
    x = _arm_sums(seasons, seasons.values)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = np.log(x[:, 0] / x[:, 1]) / np.sqrt((1.0 / x).sum(axis=1))
    return np.asarray(2.0 * ndtr(-np.abs(z)))
