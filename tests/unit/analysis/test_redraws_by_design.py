"""Re-randomization through the analysis: the scheme of each design, and its restrictions."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from analysis_makers import make_season

import wickstats as ws
from wickstats.analysis.season import analyze_season


def analyzed(tmp_path, factors, design, seed=1, measured=None):
    (tmp_path / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: made}}\nfactors: {factors}\n"
        f"design: {{type: {design}, layout: layout.csv, seed: 3}}\n"
        "records: {measurements: {file: m.csv}}\n"
        "responses: [{name: yield, kind: measurement, column: kg, measured_in: kg}]\n"
    )
    trial = ws.read_trial(tmp_path / "trial.yaml")
    layout = ws.randomize(trial)
    values = np.random.default_rng(seed).normal(size=len(layout.plots))
    frame = pd.DataFrame({"plot": [p.plot for p in layout.plots], "kg": values})
    frame = frame.assign(file="m.csv", row=2, date=pd.NaT)
    if measured is not None:
        frame = frame.iloc[measured:]
    season = make_season(layout, tables={"measurements": frame})
    return layout, analyze_season(trial, layout, season).responses[0]


@pytest.mark.parametrize(
    ("design", "total"),
    [
        ("Latin square, squares: 2", 144),  # 12 squares of order 3, twice
        ("randomized complete block, blocks: 2", 36),  # 3!^2
        # no treatment in the same place of both blocks: 6 times 2 derangements
        ("randomized complete block, blocks: 2, keep: [no treatment twice in a column]", 12),
        ("incomplete block, block_size: 2, replicates: 2", 48),  # 3! blocks, 2!^3 orders
    ],
)
def test_every_layout_of_the_scheme_is_counted(tmp_path, design, total):
    _, found = analyzed(tmp_path, "{water: [a, b, c]}", design)
    (test,) = found.tests
    if design.startswith("incomplete"):
        assert test.df_den == 1
    assert (test.redraws.kind, test.redraws.total) == ("exact", total)
    assert test.redraws.smallest_possible_p <= test.redraws.p <= 1


def test_pairs_stay_inside_the_restriction(tmp_path):
    design = (
        "randomized complete block, blocks: 4, keep: [no treatment beside itself across blocks]"
    )
    layout, found = analyzed(tmp_path, "{water: [a, b, c, d]}", design)
    plots = [p.treatment for p in layout.plots]
    blocks = [plots[k : k + 4] for k in range(0, 16, 4)]
    for row in found.comparisons:
        pair = {row.treatment, row.versus}
        allowed = 0
        for code in range(16):
            # the two trade places in the blocks whose bit is set
            moved = [
                [(pair - {t}).pop() if t in pair and code >> k & 1 else t for t in block]
                for k, block in enumerate(blocks)
            ]
            allowed += all(
                x != y for one, two in pairwise(moved) for x, y in zip(one, two, strict=True)
            )
        assert (row.redraws.kind, row.redraws.total) == ("exact", allowed)


def test_several_strata_move_their_own_pieces(tmp_path):
    factors = (
        "{water: {applied_to: row strip, levels: [a, b]}, "
        "mulch: {applied_to: column strip, levels: [x, y]}}"
    )
    _, found = analyzed(tmp_path, factors, "strip-plot, blocks: 4")
    redraws = {t.term: t.redraws for t in found.tests}
    # two strips of each direction change places in each of four blocks
    assert redraws["water"].total == redraws["mulch"].total == 2**4
    assert redraws["water x mulch"].total == 4**4
    kinds = {c.term: c.redraws.kind for c in found.comparisons if c.within is None}
    assert kinds["water"] == kinds["mulch"] == "exact"


def test_split_split_pieces(tmp_path):
    factors = (
        "{water: {applied_to: whole plot, levels: [a, b]}, "
        "mulch: {applied_to: plot, levels: [x, y]}, "
        "variety: {applied_to: subplot, levels: [u, v]}}"
    )
    _, found = analyzed(tmp_path, factors, "split-plot, blocks: 3")
    redraws = {t.term: t.redraws.total for t in found.tests}
    assert redraws["water"] == 2**3
    assert redraws["mulch"] == redraws["water x mulch"] == 2**6
    assert redraws["variety"] == redraws["water x mulch x variety"] == 2**12


def test_pairs_in_squares_have_the_term_only(tmp_path):
    _, found = analyzed(tmp_path, "{water: [a, b, c]}", "Latin square, squares: 2", measured=2)
    assert found.tests[0].redraws.kind == "exact"
    assert all("cannot be moved alone" in c.redraws.reason for c in found.comparisons)
