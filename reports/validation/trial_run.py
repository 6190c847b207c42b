"""One cell of the study of totals and sizes, judged by the batch engine.

All random parts are normal: block (rows, columns) variance 0.25, whole plots 0.3, plots the
cell's plot variance, plants 1. A plot's number is the mean of its plants that are left;
with one plant it is that number. Growth: a plant's least-squares slope over six visits of

    (visit / last visit) x (block + plot) + serial error (correlation 0.6 from visit to visit),

so that plots start alike and grow apart. Doubled mean: lognormal plots, log standard
deviation 0.3, block variance 0.04. Leans on numpy, trial_cells, trial_layouts and the
package's batch engine.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from study_cells import generator
from trial_cells import DOUBLED, GROWTH_VISITS, Trial
from trial_layouts import Plots, lay_trial

from wickstats.models.batch.draw import draw_plants, draw_units, unit_means
from wickstats.models.batch.error_strata import (
    StrataLayout,
    judge_error_strata,
    lay_error_strata,
)
from wickstats.models.batch.layout import BatchLayout, lay_batch
from wickstats.models.batch.paired import judge_pairs
from wickstats.models.batch.results import Answers, Judged
from wickstats.models.batch.strata import judge_units
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.error_strata import ErrorStratum

BLOCK_VARIANCE = 0.25
WHOLE_VARIANCE = 0.3
SERIAL = 0.6
LOG_SD = 0.3
CHUNK_NUMBERS = 2_000_000  # random numbers held in memory at a time


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """What is asked in a cell: pair (first contrast), others, means, the truth of each."""

    contrasts: np.ndarray
    means: np.ndarray
    levels: np.ndarray  # (t,) true cell values on the scale that is judged
    together: np.ndarray | None


def run_trial(trial: Trial, seasons: int, seed: int) -> dict[str, Any]:
    """Simulate and judge one cell.

    ``rejection``: 5 % tests of the null pair. ``rejection_all``: of all arms, at a global
    null. ``coverage``: 95 % intervals of the pair; ``coverage_other`` of the first arm
    against the last; ``coverage_means`` of the arms' means, over all arms.
    ``rejection_paired``: the pair by differences within blocks, where variances differ.
    """
    plots = lay_trial(trial)
    question = question_of(trial, plots)
    judge = _judge_of(trial, plots, question)
    draw = _draw_of(trial, plots, question)
    rng = generator(seed, f"trial|{trial.key}")
    chunk = max(200, CHUNK_NUMBERS // max(plots.units.size, 1))
    parts: list[Judged] = []
    paired: list[Answers] = []
    left = seasons
    while left > 0:
        values = draw(rng, min(left, chunk))
        parts.append(judge(values))
        if trial.group in {"variance", "doubled"}:
            paired.append(_paired(plots, question, values))
        left -= chunk
    return {
        "settings": trial.settings(),
        "seasons": seasons,
        **_rates(trial, question, parts),
        "rejection_paired": _paired_rate(paired),
    }


def question_of(trial: Trial, plots: Plots) -> Question:
    """What is asked in a cell."""
    t = plots.n_cells
    eye = np.eye(t)
    levels = np.zeros(t)
    together: np.ndarray | None = None
    pair, other = eye[1] - eye[0], eye[-1] - eye[0]
    if trial.truth == "partial null":
        levels[2:] = 1.0
    elif trial.group == "doubled":
        low = trial.truth.endswith("low pair")
        logs = np.where(np.arange(t) < 2, 0.0 if low else DOUBLED, DOUBLED if low else 0.0)
        raw = trial.truth.startswith("raw")
        levels = np.exp(logs + 0.5 * LOG_SD**2) if raw else logs
    elif trial.group == "split-plot":
        shape = (trial.arms, 2)
        if trial.truth == "whole plots":
            pair = 0.5 * (eye[2] + eye[3] - eye[0] - eye[1])
            together = term_rows(shape, (0,))
        elif trial.truth == "subplots":
            pair = (eye[1::2].sum(axis=0) - eye[::2].sum(axis=0)) / trial.arms
            together = term_rows(shape, (0, 1))
        else:
            pair = eye[2] - eye[0]
    return Question(np.array([pair, other]), eye, levels, together)


def _judge_of(trial: Trial, plots: Plots, question: Question) -> Callable[[np.ndarray], Judged]:
    if trial.group == "split-plot":
        strata = _strata(trial, plots, question)
        return lambda values: judge_error_strata(strata, values)
    layout = _layout(plots, question)
    plants = plots.plants if trial.plants > 1 else None
    return lambda values: judge_units(layout, values, plants=plants)


def _layout(plots: Plots, question: Question) -> BatchLayout:
    return lay_batch(
        plots.cells,
        plots.n_cells,
        blocks=list(plots.classes),
        contrasts=question.contrasts,
        means=question.means,
    )


def _strata(trial: Trial, plots: Plots, question: Question) -> StrataLayout:
    if plots.whole_plots is None:
        raise ValueError("a split-plot has whole plots")
    strata = [
        ErrorStratum("whole plot", plots.whole_plots, (0,), (plots.classes[0],)),
        ErrorStratum("subplot", np.arange(plots.n), (0, 1), (plots.whole_plots,)),
    ]
    laid = lay_error_strata(
        plots.cells, (trial.arms, 2), strata, contrasts=question.contrasts,
        means=question.means, together=question.together,
    )  # fmt: skip
    if isinstance(laid, str):
        raise ValueError(laid)
    return laid


Draw = Callable[[np.random.Generator, int], np.ndarray]


def _draw_of(trial: Trial, plots: Plots, question: Question) -> Draw:
    """(S, n) unit values of seasons."""
    if trial.group == "growth":
        return _draw_growth(trial, plots)
    rows = draw_rows(trial, plots, question)
    if trial.plants == 1:
        return rows
    return lambda rng, s: unit_means(rows(rng, s), plots.units, plots.n)


def draw_rows(trial: Trial, plots: Plots, question: Question) -> Draw:
    """(S, N) plants of seasons, not of growth; with one plant a plot its number."""
    if trial.group == "doubled":
        return _draw_doubled(trial, plots, question)
    sd = np.sqrt(BLOCK_VARIANCE)
    groups = [(codes, sd) for codes in plots.classes]
    if plots.whole_plots is not None:
        groups.append((plots.whole_plots, np.sqrt(WHOLE_VARIANCE)))
    levels = question.levels[plots.cells]
    if trial.plants == 1:
        own = _unit_sd(trial, plots)
        return lambda rng, s: draw_units(rng, s, levels, unit_sd=own, groups=groups)
    plot_sd = np.sqrt(trial.plot_variance)
    return lambda rng, s: draw_plants(
        rng, s, levels, plots.units, plant_sd=1.0, unit_sd=plot_sd, groups=groups
    )


def _unit_sd(trial: Trial, plots: Plots) -> np.ndarray:
    of_cell = np.ones(plots.n_cells)
    if trial.truth == "pair 1 to 2":
        of_cell[1::2] = 2.0
    elif trial.truth == "pair of 1 beside 2":
        of_cell[2:] = 2.0
    elif trial.truth == "pair of 2 beside 1":
        of_cell[:2] = 2.0
    return of_cell[plots.cells]


def _draw_doubled(trial: Trial, plots: Plots, question: Question) -> Draw:
    raw = trial.truth.startswith("raw")
    means = np.log(question.levels) - 0.5 * LOG_SD**2 if raw else question.levels
    # blocks are additive on the scale that is judged
    block_sd = 0.2

    def draw(rng: np.random.Generator, s: int) -> np.ndarray:
        y = draw_units(rng, s, means[plots.cells], unit_sd=LOG_SD)
        y = np.exp(y) if raw else y
        codes = plots.classes[0]
        return y + block_sd * rng.standard_normal((s, int(codes.max()) + 1))[:, codes]

    return draw


def _draw_growth(trial: Trial, plots: Plots) -> Draw:
    time = np.arange(GROWTH_VISITS) / (GROWTH_VISITS - 1.0)
    slope = (time - time.mean()) / np.sum((time - time.mean()) ** 2)

    def draw(rng: np.random.Generator, s: int) -> np.ndarray:
        rows = draw_growth(rng, s, trial, plots)
        return unit_means(np.tensordot(rows, slope, axes=(2, 0)), plots.units, plots.n)

    return draw


def draw_growth(
    rng: np.random.Generator, seasons: int, trial: Trial, plots: Plots
) -> np.ndarray:
    """(S, N, visits) sizes of plants: plots that grow apart, and serial error."""
    time = np.arange(GROWTH_VISITS) / (GROWTH_VISITS - 1.0)
    plot = draw_units(
        rng, seasons, np.zeros(plots.n), unit_sd=np.sqrt(trial.plot_variance),
        groups=[(plots.classes[0], np.sqrt(BLOCK_VARIANCE))],
    )  # fmt: skip
    error = rng.standard_normal((seasons, plots.units.size, GROWTH_VISITS))
    for visit in range(1, GROWTH_VISITS):
        error[:, :, visit] *= np.sqrt(1.0 - SERIAL**2)
        error[:, :, visit] += SERIAL * error[:, :, visit - 1]
    error += plot[:, plots.units, None] * time
    return error


def _paired(plots: Plots, question: Question, values: np.ndarray) -> Answers:
    return judge_pairs(_layout(plots, question), values, blocks=plots.classes[0])


def _rates(trial: Trial, question: Question, parts: list[Judged]) -> dict[str, Any]:
    judged = np.concatenate([part.contrasts.judged for part in parts])
    truth = question.contrasts @ question.levels
    p, low, high = (
        np.concatenate([getattr(part.contrasts, name) for part in parts])
        for name in ("p", "low", "high")
    )
    inside = (low <= truth) & (truth <= high)
    p_all = np.concatenate([part.p_all for part in parts])
    means = np.concatenate([part.means.judged for part in parts])
    covered = np.concatenate(
        [
            (part.means.low <= question.levels) & (question.levels <= part.means.high)
            for part in parts
        ]
    )
    at_null = not question.levels.any() and np.isfinite(p_all).any()
    if trial.group == "growth":  # slopes: arms' levels are zero as well
        at_null = True
    return {
        "judged": int(judged[:, 0].sum()),
        "rejection": _rate(p[:, 0] < 0.05, judged[:, 0]),
        "rejection_all": _rate(p_all < 0.05, np.isfinite(p_all)) if at_null else None,
        "coverage": _rate(inside[:, 0], judged[:, 0]),
        "coverage_other": _rate(inside[:, 1], judged[:, 1]),
        "coverage_means": _rate(covered, means),
    }


def _paired_rate(paired: list[Answers]) -> float | None:
    if not paired:
        return None
    p = np.concatenate([part.p[:, 0] for part in paired])
    return _rate(p < 0.05, np.isfinite(p))


def _rate(hits: np.ndarray, among: np.ndarray) -> float | None:
    return float(hits[among].mean()) if among.any() else None
