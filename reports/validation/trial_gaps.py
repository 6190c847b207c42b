"""Split-plots with gaps: the package's own first line, season by season.

Blocks of whole plots with three subplots; a fixed pattern of subplots is lost. Comparisons
inside whole plots are least squares; the others go through a restricted likelihood, so that
seasons are judged one at a time and there are fewer of them. Leans on numpy, trial_cells and
the package's analysis.
"""

from typing import Any

import numpy as np
from study_cells import generator
from trial_cells import PATTERN_SEED, Trial
from trial_run import BLOCK_VARIANCE

from wickstats.analysis.first_line import fit_line
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units, lay_out_units
from wickstats.design.trial import Design, Factor, Level, Response, TrialHead
from wickstats.design.trial import Trial as TrialFile
from wickstats.layout.plots import Layout, Plot
from wickstats.models.linear.contrasts import term_rows

SUBPLOTS = 3
PATTERNS = ("one subplot lost", "15 % of subplots lost")


def gap_trials() -> list[Trial]:
    """The cells; whole plots do not vary, or nearly as much as subplots."""
    return [
        Trial("gaps", blocks, arms, 1, variance, pattern)
        for blocks in (3, 4, 6)
        for arms in (3,)
        for variance in (0.0, 0.9)
        for pattern in PATTERNS
    ]


def run_gaps(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    ``plot_variance`` is that of whole plots here. Rejection of the three terms' F tests and
    coverage of two differences: inside whole plots, and between whole plots.
    """
    units = _units(trial.blocks, trial.arms)
    rng = generator(PATTERN_SEED, f"{trial.key}")
    many = 1 if trial.pattern == PATTERNS[0] else round(0.15 * units.n)
    lost = rng.permutation(units.n)[:many]
    rng = generator(seed, f"trial|{trial.key}")
    block, whole = (part.ravel() for part in np.indices((trial.blocks, trial.arms * SUBPLOTS)))
    whole = block * trial.arms + whole // SUBPLOTS
    shape = (trial.arms, SUBPLOTS)
    terms = {"whole plots": (0,), "subplots": (1,), "interaction": (0, 1)}
    eye = np.eye(trial.arms * SUBPLOTS)
    pairs = {
        "inside": (eye[1::SUBPLOTS] - eye[::SUBPLOTS]).mean(axis=0),
        "between": (eye[SUBPLOTS : 2 * SUBPLOTS] - eye[:SUBPLOTS]).mean(axis=0),
    }
    rejected = dict.fromkeys(terms, 0)
    covered = dict.fromkeys(pairs, 0)
    judged = 0
    for _ in range(seasons):
        y = rng.standard_normal(units.n)
        y += np.sqrt(BLOCK_VARIANCE) * rng.standard_normal(trial.blocks)[block]
        spread = np.sqrt(trial.plot_variance)
        y += spread * rng.standard_normal(trial.blocks * trial.arms)[whole]
        y[lost] = np.nan
        line = fit_line(units, _summary(y), 0.95)
        if line is None:
            continue
        judged += 1
        for name, factors in terms.items():
            p = line.test(term_rows(shape, factors)).p
            rejected[name] += p is not None and p < 0.05
        for name, weights in pairs.items():
            found = line.contrast(weights)
            inside = found.low is None or found.high is None or found.low <= 0.0 <= found.high
            covered[name] += inside
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        "judged": judged,
        "rejected": {name: count / judged for name, count in rejected.items()},
        "covered": {name: count / judged for name, count in covered.items()},
    }


def _units(blocks: int, arms: int) -> Units:
    def factor(name: str, count: int, applied_to: str) -> Factor:
        levels = tuple(Level(name=f"{name}{k}") for k in range(count))
        return Factor(name=name, applied_to=applied_to, levels=levels)

    factors = (factor("a", arms, "whole plot"), factor("b", SUBPLOTS, "subplot"))
    trial = TrialFile(
        format=1,
        trial=TrialHead(id="split"),
        factors=factors,
        design=Design(type="split-plot", layout="layout.csv", drawn="elsewhere"),
        responses=(Response(name="v", kind="measurement", column="v"),),
        plan=None,
    )
    plots = tuple(
        Plot(
            plot=f"{b}-{a}-{s}",
            levels={"a": f"a{a}", "b": f"b{s}"},
            block=str(b),
            whole_plot=f"{b}-{a}",
        )
        for b in range(blocks)
        for a in range(arms)
        for s in range(SUBPLOTS)
    )
    layout = Layout(
        type="split-plot",
        factors=("a", "b"),
        plots=plots,
        drawn="elsewhere",
        applied_to={f.name: f.applied_to for f in factors},
    )
    return lay_out_units(trial, layout)


def _summary(values: np.ndarray) -> Summary:
    n = values.size
    return Summary("v", "mean", None, values, np.ones(n), (None,) * n, "strata", "kg")
