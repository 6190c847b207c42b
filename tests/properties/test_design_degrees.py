"""Every design type: what the fits leave as degrees of freedom is what the layout promised."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import wickstats as ws
from wickstats.analysis.season import analyze_season
from wickstats.layout.structure import degrees
from wickstats.records.season import Season

ONE = "{water: [a, b, c, d]}"
SIX = "{water: [a, b, c, d, e, f]}"
NINE = "{water: [a, b, c, d, e, f, g, h, i]}"


def levels(**factors):
    """``factor=("applied to", "a b c")``."""
    parts = [
        f"{name}: {{applied_to: {where}, levels: [{', '.join(names.split())}]}}"
        for name, (where, names) in factors.items()
    ]
    return "{" + ", ".join(parts) + "}"


def two(first, second):
    return levels(water=(first, "a b c"), mulch=(second, "x y"))


SPLIT, STRIP = two("whole plot", "subplot"), two("row strip", "column strip")
THREE = levels(water=("whole plot", "a b"), mulch=("plot", "x y"), variety=("subplot", "u v w"))
ON_WHOLE = levels(
    water=("whole plot", "a b"), mulch=("whole plot", "x y"), variety=("subplot", "u v")
)
STRIP_THREE = levels(
    water=("row strip", "a b"), mulch=("column strip", "x y z"), variety=("plot", "u v")
)
FED = "plots_per_reservoir: {a: 2, b: 2, c: 2, d: 2}"
CASES = {
    "unequal numbers": (ONE, "completely randomized, replicates: {a: 5, b: 3, c: 3, d: 3}"),
    "blocks": (ONE, "randomized complete block, blocks: 4"),
    "factorial in blocks": (two("plot", "plot"), "randomized complete block, blocks: 3"),
    "one Latin square": (ONE, "Latin square"),
    "three Latin squares": ("{water: [a, b, c]}", "Latin square, squares: 3"),
    "factorial Latin squares": ("{water: [a, b], mulch: [x, y]}", "Latin square, squares: 2"),
    "reservoirs in a Latin square": (ONE, f"Latin square, {FED}"),
    "rows and columns": (SIX, "row-column, rows: 3, columns: 6, replicates: 2"),
    "incomplete blocks": (SIX, "incomplete block, block_size: 3, replicates: 5"),
    "resolvable": (NINE, "incomplete block, block_size: 3, replicates: 3, resolvable: true"),
    "split-plot": (SPLIT, "split-plot, blocks: 3"),
    "split-plot without blocks": (SPLIT, "split-plot, replicates: 3"),
    "split-split-plot": (THREE, "split-plot, blocks: 3"),
    "two factors on whole plots": (ON_WHOLE, "split-plot, blocks: 3"),
    "strip-plot": (STRIP, "strip-plot, blocks: 4"),
    "strip-plot with a third factor": (STRIP_THREE, "strip-plot, blocks: 3"),
}


def trial_of(name, folder: Path):
    factors, design = CASES[name]
    path = folder / "trial.yaml"
    path.write_text(
        f"format: 1\ntrial: {{id: made}}\nfactors: {factors}\n"
        f"design: {{type: {design}, layout: layout.csv, seed: 11}}\n"
        "records: {measurements: {file: m.csv}}\n"
        "responses: [{name: yield, kind: measurement, column: kg, measured_in: kg}]\n"
    )
    return ws.read_trial(path)


def first_of(trial, layout, values):
    frame = pd.DataFrame(
        {"plot": [p.plot for p in layout.plots], "kg": values, "file": "m.csv", "row": 2}
    )
    frame["date"] = pd.NaT
    season = Season(
        layout=layout, tables={"measurements": frame}, queries=(), exclusions=(), inputs=()
    )
    return analyze_season(trial, layout, season).responses[0]


@pytest.mark.parametrize("name", CASES)
def test_degrees_of_the_fits_are_those_of_the_layout(name, tmp_path):
    trial = trial_of(name, tmp_path)
    layout = ws.randomize(trial)
    values = np.random.default_rng(1).normal(size=len(layout.plots))
    found = first_of(trial, layout, values)
    promised = {(row.stratum, row.term): row.df for row in degrees(layout)}
    for test in found.tests:
        assert test.df_num == promised[test.stratum, test.term]
        assert test.df_den == pytest.approx(promised[test.stratum, "residual"], rel=1e-12)
        assert 0.0 < test.p < 1.0
    if found.strata:
        table = {(row.stratum, row.source): row.df for row in found.strata}
        assert table == {key: df for key, df in promised.items() if df}
        total = sum(row.sum_of_squares for row in found.strata)
        units = [u.value for u in found.unit_summary.values]
        assert total == pytest.approx(np.sum((units - np.mean(units)) ** 2), rel=1e-8)
    assert all(m.se is not None and m.df is not None for m in found.means)
    # a contrast inside one stratum has that stratum's df; across strata more than the least
    least = min(df for (_, term), df in promised.items() if term == "residual")
    for row in found.comparisons:
        known = promised.get((row.unit_of_replication, "residual"))
        assert row.df == pytest.approx(known, rel=1e-9) if known else row.df > least - 1e-9


@pytest.mark.parametrize("name", ["three Latin squares", "split-split-plot"])
@given(st.data())
@settings(max_examples=3)
def test_shifts_of_any_fixed_piece_change_no_comparison(name, tmp_path_factory, data):
    # rows, columns, squares, replicates and blocks are taken out wholly
    trial = trial_of(name, tmp_path_factory.mktemp("shift"))
    layout = ws.randomize(trial)
    rng = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    values = rng.normal(size=len(layout.plots))
    columns = {"three Latin squares": ("square", "row", "column")}.get(name, ("block",))
    moved = values.copy()
    for column in columns:
        keys = [
            (p.square, getattr(p, column)) if name == "three Latin squares"
            else (p.replicate, getattr(p, column))
            for p in layout.plots
        ]  # fmt: skip
        shift = {key: rng.normal() * 5 for key in dict.fromkeys(keys)}
        moved += np.array([shift[key] for key in keys])
    one, two = first_of(trial, layout, values), first_of(trial, layout, moved)
    for a, b in zip(one.comparisons, two.comparisons, strict=True):
        assert a.estimate == pytest.approx(b.estimate, abs=1e-8)
        assert a.se == pytest.approx(b.se, rel=1e-7)
    for a, b in zip(one.tests, two.tests, strict=True):
        assert a.value == pytest.approx(b.value, rel=1e-6)
