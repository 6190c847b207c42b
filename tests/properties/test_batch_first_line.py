"""Many seasons at once give the single-season code's own numbers, whatever is lost."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.draw import draw_plants, draw_units, unit_means
from wickstats.models.batch.families import simultaneous
from wickstats.models.batch.layout import lay_batch, left_over
from wickstats.models.batch.paired import judge_pairs
from wickstats.models.batch.results import Answers
from wickstats.models.batch.strata import judge_patterns, judge_units
from wickstats.models.linear.contrasts import against_reference, all_pairs, steps
from wickstats.models.linear.multiplicity import adjust
from wickstats.models.linear.paired import paired_contrast
from wickstats.models.linear.strata import fit_units
from wickstats.models.ratios.counts import fit_counts
from wickstats.models.redraw.scheme import generator

SEASONS = 4
CLOSE = {"rtol": 1e-10, "atol": 1e-10}
FIELDS = ("estimate", "se", "df", "low", "high", "p")


@dataclass(frozen=True)
class Trial:
    cells: np.ndarray
    blocks: object
    n_cells: int
    seed: int

    @property
    def n(self) -> int:
        return self.cells.size

    @property
    def rng(self) -> np.random.Generator:
        return generator(self.seed, "batch")

    @property
    def contrasts(self) -> np.ndarray:
        rows = all_pairs(self.n_cells)
        return np.vstack([rows, np.r_[1.0, np.full(self.n_cells - 1, -1 / (self.n_cells - 1))]])

    @property
    def questions(self) -> dict:
        return {"contrasts": self.contrasts, "means": np.eye(self.n_cells)}

    def lay(self, **more):
        asked = {**self.questions, **more}
        return lay_batch(self.cells, self.n_cells, blocks=self.blocks, **asked)


@st.composite
def trials(draw) -> Trial:
    """Blocks with units lost, no blocks, rows and columns, or incomplete blocks."""
    t = draw(st.integers(2, 4))
    kind = draw(st.sampled_from(["blocks", "none", "square", "incomplete"]))
    b = t if kind == "square" else draw(st.integers(2, 5))
    cells, rows = np.tile(np.arange(t), b), np.repeat(np.arange(b), t)
    blocks: object = rows
    if kind == "none":
        blocks = None
    elif kind == "square":
        cells = (np.arange(t)[:, None] + np.arange(t)[None, :]).ravel() % t
        blocks = [rows, np.tile(np.arange(t), t)]
    elif kind == "incomplete":
        blocks = np.arange(cells.size) // 2
    lost = draw(st.lists(st.integers(0, cells.size - 1), max_size=3, unique=True))
    kept = np.setdiff1d(np.arange(cells.size), lost)
    if kept.size < 2:
        kept = np.arange(cells.size)
    if isinstance(blocks, list):
        blocks = [part[kept] for part in blocks]
    elif blocks is not None:
        blocks = blocks[kept]
    return Trial(cells[kept], blocks, t, draw(st.integers(0, 10**6)))


def same(answers: Answers, s: int, k: int, one) -> None:
    """One answer against the single-season estimate."""
    found = [getattr(answers, name)[s, k] for name in FIELDS]
    expected = [getattr(one, name) for name in FIELDS]
    assert answers.judged[s, k] == (one.p is not None)
    expected = [np.nan if v is None else v for v in expected]
    np.testing.assert_allclose(found, expected, **CLOSE)


def compare(trial: Trial, many, fits, *, means: bool = True) -> None:
    for s, fit in enumerate(fits):
        for k, weights in enumerate(trial.contrasts):
            same(many.contrasts, s, k, fit.contrast(weights))
        for k, weights in enumerate(np.eye(trial.n_cells) if means else []):
            same(many.means, s, k, fit.mean(weights))
        p = fit.test(steps(trial.n_cells)).p
        np.testing.assert_allclose(many.p_all[s], np.nan if p is None else p, **CLOSE)


@settings(max_examples=40, deadline=None)
@given(trials(), st.sampled_from(["none", "shared", "own"]))
def test_totals_and_sizes(trial: Trial, guard: str) -> None:
    rng = trial.rng
    y = 20.0 + rng.standard_normal((SEASONS, trial.n)) * 3.0
    shape = {"none": (), "shared": (trial.n,), "own": (SEASONS, trial.n)}[guard]
    plants = None if guard == "none" else rng.integers(1, 7, shape)
    many = judge_units(trial.lay(), y, plants=plants, confidence=0.9)
    fits = [
        fit_units(
            y[s], trial.cells, trial.n_cells, blocks=trial.blocks, confidence=0.9,
            plants=None if plants is None else np.broadcast_to(plants, y.shape)[s],
        )
        for s in range(SEASONS)
    ]  # fmt: skip
    compare(trial, many, fits)


@settings(max_examples=25, deadline=None)
@given(trials(), st.sampled_from([0.3, 2.0, 15.0]))
def test_counts(trial: Trial, level: float) -> None:
    counts = trial.rng.poisson(level, (SEASONS, trial.n)).astype(float)
    many = judge_counts(trial.lay(means=None), counts)
    fits = [
        fit_counts(counts[s], trial.cells, trial.n_cells, blocks=trial.blocks)
        for s in range(SEASONS)
    ]
    compare(trial, many, fits, means=False)


@settings(max_examples=30, deadline=None)
@given(trials())
def test_differences_within_blocks(trial: Trial) -> None:
    y = trial.rng.standard_normal((SEASONS, trial.n))
    blocks = trial.blocks if isinstance(trial.blocks, np.ndarray) else None
    many = judge_pairs(trial.lay(), y, blocks=blocks)
    for s in range(SEASONS):
        for k, weights in enumerate(trial.contrasts):
            same(many, s, k, paired_contrast(y[s], trial.cells, weights, blocks=blocks))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_units_that_are_lost_season_by_season(seed: int) -> None:
    rng = generator(seed, "lost")
    cells, blocks = np.tile(np.arange(3), 4), np.repeat(np.arange(4), 3)
    trial = Trial(cells, blocks, 3, seed)
    layout = trial.lay()
    y = rng.standard_normal((12, 12))
    plants = rng.integers(0, 4, (12, 12))

    def judge(left, which, units):
        at = np.ix_(which, units)
        return judge_units(left, y[at], plants=plants[at])

    many = judge_patterns(layout, plants > 0, judge)
    for s in range(12):
        here = plants[s] > 0
        fit = fit_units(y[s, here], cells[here], 3, blocks=blocks[here], plants=plants[s, here])
        for k, weights in enumerate(trial.contrasts):
            same(many.contrasts, s, k, fit.contrast(weights))


def test_a_covariate_and_terms_are_kept_when_units_are_lost() -> None:
    rng = generator(3, "covariate")
    cells, blocks, place = np.tile(np.arange(4), 5), np.repeat(np.arange(5), 4), rng.random(20)
    together = np.array([[1.0, 1.0, -1.0, -1.0]])
    layout = lay_batch(
        cells, 4, blocks=blocks, covariate=place, contrasts=together / 2, together=together
    )
    here = np.ones(20, dtype=bool)
    here[[2, 11]] = False
    y = rng.standard_normal((3, 20))
    many = judge_units(left_over(layout, here), y[:, here])
    for s in range(3):
        fit = fit_units(y[s, here], cells[here], 4, blocks=blocks[here], covariate=place[here])
        same(many.contrasts, s, 0, fit.contrast(together[0] / 2))
        assert many.p_all[s] == pytest.approx(fit.test(together).p, rel=1e-10)


@pytest.mark.parametrize("method", ["dunnett", "tukey", "single-step", "bonferroni", "none"])
@pytest.mark.parametrize("plants", ["equal", "shared", "own"])
def test_simultaneous_intervals_are_those_of_single_seasons(method: str, plants: str) -> None:
    rng = generator(5, plants)
    cells, blocks = np.tile(np.arange(4), 4)[1:], np.repeat(np.arange(4), 4)[1:]
    rows = against_reference(4, 0) if method == "dunnett" else all_pairs(4)
    layout = lay_batch(cells, 4, blocks=blocks, contrasts=rows)
    y = rng.standard_normal((12, 15))
    m = {"equal": np.ones(15), "shared": rng.integers(1, 6, 15)}.get(
        plants, rng.integers(1, 6, (12, 15))
    )
    low, high = simultaneous(layout, judge_units(layout, y, plants=m).contrasts, method)
    for s in range(12):
        one = np.broadcast_to(m, y.shape)[s]
        fit = fit_units(y[s], cells, 4, blocks=blocks, plants=one)
        found = adjust([fit.contrast(w) for w in rows], method, covariance=fit.covariance(rows))
        # many different df are interpolated
        rel = 1e-7 if plants == "own" else 1e-10
        assert low[s] == pytest.approx(found.low, rel=rel, abs=rel)
        assert high[s] == pytest.approx(found.high, rel=rel, abs=rel)


def test_seasons_without_scatter_are_not_judged() -> None:
    layout = lay_batch([0, 1] * 3, 2, blocks=[0, 0, 1, 1, 2, 2], contrasts=[[1.0, -1.0]])
    y = np.array([[1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [1.0, 2.0, 3.0, 4.1, 5.0, 6.0]])
    many = judge_units(layout, y)
    assert many.contrasts.judged.ravel().tolist() == [False, True]
    assert np.isnan(many.contrasts.low[0, 0])
    assert many.contrasts.estimate[0, 0] == pytest.approx(-1.0)
    assert not judge_pairs(layout, y, blocks=[0, 0, 1, 1, 2, 2]).judged[0, 0]


def test_drawn_variances_are_those_asked_for() -> None:
    # an unbiased variance's own standard error is sigma^2 sqrt(2 / df); four of them
    units = np.repeat(np.arange(6), [3, 3, 2, 4, 3, 3])
    blocks = np.array([0, 0, 0, 1, 1, 1])
    plants = draw_plants(
        generator(1, "draw"), 20_000, np.arange(6.0), units, plant_sd=2.0, unit_sd=1.0,
        groups=[(blocks, 0.5)],
    )  # fmt: skip
    means = unit_means(plants, units, 6)
    expected = 0.25 + 1.0 + 4.0 / np.bincount(units)
    four = 4.0 * np.sqrt(2.0 / 20_000)
    np.testing.assert_allclose(means.var(axis=0, ddof=1), expected, rtol=four)
    np.testing.assert_allclose(means.mean(axis=0), np.arange(6.0), atol=0.08)
    again = draw_units(generator(1, "x"), 3, np.zeros(4), unit_sd=[1.0, 2.0, 3.0, 4.0])
    plain = generator(1, "x").standard_normal((3, 4)) * [1.0, 2.0, 3.0, 4.0]
    np.testing.assert_array_equal(again, plain)
    shuffled = np.array([1, 0, 2, 0, 1, 2])
    np.testing.assert_allclose(unit_means(np.arange(6.0)[None], shuffled, 3), [[2.0, 2.0, 3.5]])


@pytest.mark.parametrize(
    ("values", "plants", "words"),
    [
        (np.zeros(6), None, r"values must be \(seasons, 6\), found \(6,\)"),
        (np.full((2, 6), np.nan), None, "values must be finite"),
        (np.zeros((2, 6)), np.zeros(6), "plants must be above zero"),
        (np.zeros((2, 6)), np.ones(5), r"plants must be \(6,\) or \(2, 6\), found \(1, 5\)"),
    ],
)
def test_what_does_not_fit_is_refused(values, plants, words: str) -> None:
    layout = lay_batch([0, 1] * 3, 2, contrasts=[[1.0, -1.0]])
    with pytest.raises(ValueError, match=words):
        judge_units(layout, values, plants=plants)
