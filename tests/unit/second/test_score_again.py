"""The log-rank score of a whole season, computed again without any of the package's numerics.

From the lives of the invented oak season: curves of every block, and of all, by plain
self-consistency (Turnbull 1976), plants' scores (Sun 1996), sums by plot, and the tests by
numpy's least squares. Known days give the ordinary log-rank scores, which R checks elsewhere.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import wickstats as ws

OAKS = Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml"


def plain_scores(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Scores of the plants on their own curve; death in (low, high]."""
    ends = np.unique(high)  # with infinity: those that live on
    may = (low[:, None] < ends) & (ends <= high[:, None])
    mass = np.full(ends.size, 1.0 / ends.size)
    for _ in range(200_000):
        part = may * mass
        new = (part / part.sum(axis=1, keepdims=True)).mean(axis=0)
        if np.abs(new - mass).max() < 1e-15:
            break
        mass = new
    before = mass[::-1].cumsum()[::-1]
    hazard = np.where(before > 1e-12, mass / np.where(before > 1e-12, before, 1.0), 0.0)
    one = 1.0 - hazard.cumsum()
    return (may * mass * one).sum(axis=1) / (may * mass).sum(axis=1)


def test_the_score_of_the_oak_season_by_plain_means() -> None:
    trial = ws.read_trial(OAKS)
    season = ws.read_records(trial)
    response = ws.analyze(trial, season).response("survival")
    (told,) = [t for t in response.tests if t.term == "treatment, log-rank score"]
    layout = {p.plot: (p.block, p.levels["watering"]) for p in season.layout.plots}
    frame = season.lives
    frame = frame[frame["original"].astype(bool) & ~frame["plot"].isin(list(season.lost_plots))]
    day = pd.Timedelta(days=1)
    low = np.nan_to_num(((frame["last_alive"] - frame["planted_on"]) / day).to_numpy(), nan=0.0)
    high = ((frame["first_dead"] - frame["planted_on"]) / day).fillna(np.inf).to_numpy()
    plot = frame["plot"].to_numpy()
    block = np.array([layout[p][0] for p in plot])
    scores, aligned = np.zeros(plot.size), plain_scores(low, high)
    for b in np.unique(block):
        mine = block == b
        scores[mine] = plain_scores(low[mine], high[mine])
        aligned[mine] -= aligned[mine].mean()
        assert abs(scores[mine].sum()) < 1e-9
    plots = np.unique(plot)
    many = np.array([(plot == p).sum() for p in plots])
    blocks = pd.get_dummies([layout[p][0] for p in plots]).to_numpy(dtype=float)
    arms = pd.get_dummies([layout[p][1] for p in plots]).to_numpy(dtype=float)[:, 1:]
    x = np.hstack([blocks, arms])
    inverse = np.linalg.inv(x.T @ x)
    c = np.eye(x.shape[1])[blocks.shape[1] :]
    ways = []
    for each in (scores, aligned):
        sums = np.array([each[plot == p].sum() for p in plots])
        spread = {
            b: (each[block == b] ** 2).sum() / ((block == b).sum() - 1) for b in set(block)
        }
        variance = np.array([spread[layout[p][0]] for p in plots]) * many
        beta = inverse @ (x.T @ sums)
        rest = sums - x @ beta
        df = plots.size - x.shape[1]
        for v, den in (
            (np.full(plots.size, rest @ rest / df), df),
            (variance, int(many.sum()) - plots.size),
        ):
            cover = c @ inverse @ (x.T * v) @ x @ inverse @ c.T
            f = float(beta @ c.T @ np.linalg.solve(cover, c @ beta)) / arms.shape[1]
            ways.append((float(stats.f.sf(f, arms.shape[1], den)), f, den))
    p, f, den = max(ways)
    assert told.p == pytest.approx(p, rel=1e-6)
    assert told.value == pytest.approx(f, rel=1e-6)
    assert told.df_den == pytest.approx(den, rel=1e-9)
