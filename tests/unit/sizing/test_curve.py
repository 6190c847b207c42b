"""Chance by size: as planned and as this season's units scatter, beside plain formulas."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from support_simulate import trial_of

import wickstats as ws
from wickstats.core.results import Results
from wickstats.layout.randomize import draw
from wickstats.pages.blocks import Picture
from wickstats.report.power import power_part

HEAD = """\
format: 1
trial: {id: small}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 6, layout: layout.csv, seed: 3}
records: {measurements: {file: m.csv}}
"""
SIZE = "  - {name: mass, kind: measurement, column: g, measured_in: g, better: more}"
PLAN = "plan: {primary: mass, matters: {mass: {difference: 6}}}\n"


def results(rest: str = PLAN) -> tuple[Results, np.ndarray]:
    assume = "    mass: {mean: {hand: 40, wick: 45}, plot_sd: 3}"
    trial = trial_of(SIZE, assume, head=HEAD, rest=rest)
    layout = draw(trial, 3)
    rng = np.random.default_rng(8)
    values = rng.normal(40, 4, len(layout.plots))
    table = pd.DataFrame({"plot": [p.plot for p in layout.plots], "g": values.round(3)})
    season = ws.read_records(trial, tables={"measurements": table}, layout=layout)
    arms = {"hand": np.zeros(6), "wick": np.zeros(6)}
    for plot, value in zip(layout.plots, values.round(3), strict=True):
        arms[plot.treatment][int(plot.block) - 1] = value
    return ws.analyze(trial, season), arms["wick"] - arms["hand"]


def power(size: float, se: float, df: float) -> float:
    cut = stats.t.ppf(0.975, df)
    return 1 - stats.nct.cdf(cut, df, size / se) + stats.nct.cdf(-cut, df, size / se)


def test_points_are_those_of_paired_plots_by_hand() -> None:
    found, differences = results()
    curve = found.power.curve
    se = differences.std(ddof=1) / np.sqrt(6)
    reached = {p.blocks: p for p in curve if p.kind == "reached"}
    planned = {p.blocks: p for p in curve if p.kind == "planned"}
    assert set(reached) == set(planned)
    assert [n for n, p in reached.items() if p.now] == [6]
    for n, point in reached.items():
        own = se * np.sqrt(6 / n)
        wide, small = (np.sqrt(5 / stats.chi2.ppf(q, 5)) for q in (0.2, 0.8))
        assert point.power == pytest.approx(power(6, own, n - 1), rel=1e-6)
        assert point.low == pytest.approx(power(6, own * wide, n - 1), rel=1e-6)
        assert point.high == pytest.approx(power(6, own * small, n - 1), rel=1e-6)
        assert planned[n].power == pytest.approx(power(6, np.sqrt(18 / n), n - 1), rel=1e-6)
    for kind in (reached, planned):
        powers = [p.power for p in kind.values()]
        assert powers == sorted(powers)


def test_the_page_says_what_the_picture_shows() -> None:
    found, _ = results()
    (picture,) = [b for b in power_part(found).blocks if isinstance(b, Picture)]
    assert picture.data == ("power-curve.csv",)
    now = next(p for p in found.power.curve if p.now and p.kind == "reached")
    assert picture.alternative.startswith(
        "Wick against hand in mass, for a true difference of 6"
    )
    assert f"the chance is {100 * now.power:.0f}\N{NO-BREAK SPACE}%" in picture.alternative
    assert "As planned it was" in picture.alternative
    assert picture.narrow is not None
    assert b"as planned" in picture.svg or b"<path" in picture.svg


def test_without_what_matters_there_is_no_curve() -> None:
    found, _ = results("plan: {primary: mass}\n")
    assert found.power.curve == ()
    assert not [b for b in power_part(found).blocks if isinstance(b, Picture)]
