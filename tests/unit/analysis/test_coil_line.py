"""Heights at the top in coils and pieces: each cord on its own coils, by hand."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ttest_ind, ttest_rel
from support_bench import CORD, RISE, WASHED, bench_trial, coil_layout, heights

import wickstats as ws
from wickstats.core.responses import Comparison
from wickstats.core.results import Results
from wickstats.second.coils import coil_contrast

RUNS, COILS = 3, 3


def season(folder: Path, hour_mm: np.ndarray, layout: pd.DataFrame) -> Results:
    trial = bench_trial(folder, f"{CORD}\n{WASHED}", "split-plot", RISE)
    layout.to_csv(folder / "layout.csv", index=False)
    heights(layout, hour_mm).to_csv(folder / "readings.csv", index=False)
    return ws.analyze(trial, ws.read_records(trial))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[pd.DataFrame, Results]:
    """Cord A below the top, washed pieces of cord B mostly at it."""
    layout = coil_layout(COILS, RUNS)
    rng = np.random.default_rng(4)
    coil = dict(zip(layout["coil"].unique(), rng.normal(0, 6, 6), strict=True))
    mm = np.where(layout["cord"] == "A", 130.0, 185.0) + layout["coil"].map(coil).to_numpy()
    mm = mm + np.where(layout["washing"] == "yes", 14.0, 0.0) + rng.normal(0, 5, len(layout))
    results = season(tmp_path_factory.mktemp("coils"), mm, layout)
    return layout.assign(mm=np.minimum(mm, 200.0)), results


def row(results: Results, treatment: str, within: str | None = None) -> Comparison:
    return next(
        c
        for c in results.response("rise").comparisons
        if c.treatment == treatment and c.within == within
    )


def test_cords_are_compared_on_their_own_coils(made: tuple[pd.DataFrame, Results]) -> None:
    table, results = made
    assert (table["mm"] >= 200).any()
    coils = table.groupby(["cord", "coil"])["mm"].mean()
    wanted = ttest_ind(coils["B"], coils["A"], equal_var=False)  # scipy: Welch's test
    found = row(results, "B")
    assert found.rule == "paired"
    assert found.estimate == pytest.approx(coils["B"].mean() - coils["A"].mean(), rel=1e-9)
    assert found.p == pytest.approx(wanted.pvalue, rel=1e-6)
    assert found.df == pytest.approx(wanted.df, rel=1e-6)


def test_washing_within_a_cord_is_a_difference_in_its_coils_and_runs(
    made: tuple[pd.DataFrame, Results],
) -> None:
    table, results = made
    mine = table[table["cord"] == "A"]
    wide = mine.pivot_table(index=["coil", "run"], columns="washing", values="mm")
    wanted = ttest_rel(wide["yes"], wide["no"])  # scipy: the paired t test
    found = row(results, "yes", "A")
    assert found.estimate == pytest.approx(float((wide["yes"] - wide["no"]).mean()), rel=1e-9)
    assert (found.p, found.df) == (pytest.approx(wanted.pvalue, rel=1e-6), 8)


def test_what_runs_do_cancels_and_sameness_is_not_told(
    made: tuple[pd.DataFrame, Results], tmp_path: Path
) -> None:
    table, results = made
    low = table["mm"].to_numpy() * 0.8  # nobody at the top
    shifted = low + 3.0 * table["run"].to_numpy()
    folders = [tmp_path / name for name in ("plain", "shifted", "top")]
    for folder in folders:
        folder.mkdir()
    layout = table.drop(columns="mm")
    at_top = np.where(table["cord"] == "B", 230.0, low)
    plain, moved, top = (
        season(f, mm, layout) for f, mm in zip(folders, (low, shifted, at_top), strict=True)
    )
    assert row(plain, "B").rule == row(moved, "B").rule == "strata"
    # a cord that stands at the top altogether: the other cord's coils are what varies
    found = row(top, "B")
    coils = table.assign(low=low)[table["cord"] == "A"].groupby("coil")["low"].mean()
    assert found.se == pytest.approx(coils.std(ddof=1) / np.sqrt(3), rel=1e-9)
    assert found.df == 2
    assert found.verdict in ("better", "cannot tell")
    assert results.response("rise").bench is not None
    assert row(top, "yes", "B").not_estimable is not None  # no scatter, said in words


def test_runs_that_share_no_coil_stay_in_the_coils_numbers(
    made: tuple[pd.DataFrame, Results], tmp_path: Path
) -> None:
    """Each day three runs of its own and its own two coils: day and coil cannot be told apart.

    Both engines take out runs within a day only, and say so without a word of their solvers.
    """
    table, _ = made
    day = table.groupby("cord")["coil"].transform(lambda c: pd.factorize(c)[0]).to_numpy()
    apart = table.assign(run=table["run"].to_numpy() + 10 * day, mm=table["mm"] * 0.8)
    shift = np.array([0.0, 9.0, -7.0])[day] + 2.0 * (table["run"].to_numpy() % 3)
    mm = np.where(apart["cord"] == "B", 0.0, shift) + apart["mm"].to_numpy()
    mm[(apart["cord"] == "B").to_numpy() & (apart["washing"] == "yes").to_numpy()] = 230.0
    results = season(tmp_path, mm, apart.drop(columns="mm"))
    seen = apart.assign(mm=np.minimum(mm, 200.0))
    coils = seen.groupby(["cord", "coil"])["mm"].mean()  # in balance runs cancel in a coil
    wanted = ttest_ind(coils["B"], coils["A"], equal_var=False)
    found = row(results, "B")
    assert found.rule == "paired"
    assert found.estimate == pytest.approx(coils["B"].mean() - coils["A"].mean(), rel=1e-9)
    assert (found.p, found.df) == pytest.approx((wanted.pvalue, wanted.df), rel=1e-6)
    cautions = " ".join(results.response("rise").cautions)
    assert "The runs fall into 3 groups that share no coil" in cautions
    # pieces lost: the two engines still agree
    kept = np.ones(len(seen), dtype=bool)
    kept[[0, 7, 20]] = False
    uneven = apart.drop(columns="mm")[kept]
    (tmp_path / "uneven").mkdir()
    ours = row(season(tmp_path / "uneven", mm[kept], uneven), "B")
    rest = seen[kept]
    again = coil_contrast(
        rest["mm"].tolist(),
        list(zip(rest["cord"], rest["washing"], strict=True)),
        rest["coil"].tolist(),
        {(c, w): s / 2 for c, s in (("B", 1.0), ("A", -1.0)) for w in ("yes", "no")},
        rest["run"].tolist(),
    )
    assert again.estimate == pytest.approx(ours.estimate, rel=1e-9)
    assert (again.se, again.df) == pytest.approx((ours.se, ours.df), rel=1e-9)
