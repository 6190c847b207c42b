"""The second line on plants in plots in blocks: REML with Kenward-Roger, many seasons.

Tests and intervals of the null pair, the joint test, arms' means, and the intervals of the
components. Blocks' and plots' hold the true variance where holding it there raises the
deviance by less than its quantile on the stratum's own degrees of freedom (profile
likelihood, Venzon & Moolgavkar 1988; the plots' with blocks as fixed), which is how coverage
is counted here, or where it lies between that deviance's least and the estimate; the
plants' is that of the sum of squares inside plots. Plots' variance goes beyond that of the
other cells, to where it exceeds the blocks'. Leans on numpy, scipy.special, trial_cells,
trial_layouts, trial_run and the package's batch engine and intervals.
"""

from math import inf
from typing import Any

import numpy as np
from scipy.special import chdtri
from study_cells import generator
from trial_cells import Trial
from trial_layouts import lay_trial
from trial_run import BLOCK_VARIANCE

from wickstats.models.batch.draw import draw_plants, unit_means
from wickstats.models.batch.mixed import (
    judge_mixed,
    lay_mixed,
    least_deviance,
    within_squares,
)
from wickstats.models.linear.profile import likelihood_rise

CHUNK = 2_000


def mixed_trials() -> list[Trial]:
    """The cells: blocks, arms, plot variance, complete or with plants lost."""
    return [
        Trial("mixed", blocks, arms, 4, variance, pattern)
        for blocks in (3, 4, 6)
        for arms in (2, 4)
        for variance in (0.0, 0.2, 0.5, 2.0)
        for pattern in ("complete", "15 % of plants lost")
    ]


def run_mixed(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell; ``components`` holds the coverage of each variance."""
    plots = lay_trial(trial)
    eye = np.eye(plots.n_cells)
    layout = lay_mixed(
        plots.cells, plots.n_cells, plots.plants, blocks=plots.classes[0],
        contrasts=[eye[1] - eye[0]], means=eye,
    )  # fmt: skip
    true = {"block": BLOCK_VARIANCE, "plot": trial.plot_variance, "residual": 1.0}
    own = {"block": trial.blocks - 1.0, "plot": plots.n - trial.blocks - trial.arms + 1.0}
    most = {name: likelihood_rise(df, 0.95) for name, df in own.items()}
    points = [chdtri(layout.plots.inside, tail) for tail in (0.025, 0.975)]
    rng = generator(seed, f"mixed|{trial.key}")
    held: dict[str, list[np.ndarray]] = {
        name: [] for name in ("p", "p_all", "mean", "zero", *true)
    }
    for start in range(0, seasons, CHUNK):
        count = min(CHUNK, seasons - start)
        plants = draw_plants(
            rng, count, np.zeros(plots.n), plots.units, plant_sd=1.0,
            unit_sd=np.sqrt(trial.plot_variance),
            groups=[(plots.classes[0], np.sqrt(BLOCK_VARIANCE))],
        )  # fmt: skip
        y, w = (
            unit_means(plants, plots.units, plots.n),
            within_squares(plants, plots.units, plots.n),
        )
        found = judge_mixed(layout, y, w)
        held["p"].append(found.contrasts.p[:, 0])
        held["p_all"].append(found.p_all)
        inside = (found.means.low <= 0.0) & (found.means.high >= 0.0)
        held["mean"].append(np.where(found.means.judged, inside, np.nan).ravel())
        held["zero"].append(1.0 * (found.components[:, 1] == 0.0))
        for k, (name, point) in enumerate(most.items()):
            ground = {} if name == "block" else {"block": inf}
            least, best = least_deviance(layout, y, w, ground)
            there, _ = least_deviance(layout, y, w, {**ground, name: true[name]})
            own, estimate = best[:, k], found.components[:, k]
            between = (np.minimum(own, estimate) <= true[name]) & (
                true[name] <= np.maximum(own, estimate)
            )
            inside = (there - least <= point) | between
            held[name].append(np.where(np.isfinite(there - least), inside, np.nan))
        estimate = found.components[:, 2]
        low, high = np.minimum(w / points[0], estimate), np.maximum(w / points[1], estimate)
        held["residual"].append(1.0 * ((low <= 1.0) & (high >= 1.0)))
    joined = {name: np.concatenate(parts) for name, parts in held.items()}
    judged = np.isfinite(joined["p"])
    rejection = float((joined["p"][judged] < 0.05).mean())
    every = joined["p_all"][np.isfinite(joined["p_all"])]
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        "judged": int(judged.sum()),
        "rejection": rejection,
        "rejection_all": float((every < 0.05).mean()) if trial.arms > 2 else None,
        "coverage": 1.0 - rejection,
        "coverage_means": float(np.nanmean(joined["mean"])),
        "components": {name: float(np.nanmean(joined[name])) for name in true},
        "plot_zero": float(joined["zero"].mean()),
    }
