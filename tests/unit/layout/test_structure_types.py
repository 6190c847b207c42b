"""Degrees of freedom by stratum for every design type, drawn here and read from a table."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import BLOCKS, SPLIT_SPLIT, STRIPS, letters, trial_of

from wickstats.layout.plots import Layout
from wickstats.layout.randomize import randomize
from wickstats.layout.read import read_layout
from wickstats.layout.structure import degrees, layout_facts

BIG = (
    "w: {applied_to: whole plot, levels: [a, b, c]}, p: {applied_to: plot, levels: [d, e]}, "
    "n: {applied_to: subplot, levels: [x, y, z]}"
)
WITH_THIRD = STRIPS + ", m: {applied_to: plot, levels: [u, v]}"

# Textbook skeletons, counted by hand: error of a square (t - 1)(t - 2), and so on.
SKELETONS: dict[str, tuple[str, str, str]] = {
    "square of 5": (
        "type: Latin square",
        letters(5),
        "row: row 4, column: column 4, plot: treatment 4, plot: residual 12",
    ),
    "two squares of 4": (
        "type: Latin square, squares: 2",
        letters(4),
        "square: square 1, row: row 6, column: column 6, plot: treatment 3, plot: residual 15",
    ),
    "whole plots without blocks": (
        "type: split-plot, replicates: 4",
        "w: {applied_to: whole plot, levels: [a, b, c]}, n: {applied_to: plot, levels: [x, y]}",
        (
            "whole plot: w 2, whole plot: residual 9, subplot: n 1, subplot: w x n 2, "
            "subplot: residual 9"
        ),
    ),
    "split-split-plot": (
        "type: split-plot, blocks: 4",
        BIG,
        (
            "block: block 3, whole plot: w 2, whole plot: residual 6, plot: p 1, "
            "plot: w x p 2, "
            "plot: residual 9, subplot: n 2, subplot: w x n 4, subplot: p x n 2, "
            "subplot: w x p x n 4, subplot: residual 36"
        ),
    ),
    "strip-plot": (
        "type: strip-plot, blocks: 4",
        STRIPS,
        (
            "block: block 3, row strip: w 2, row strip: residual 6, column strip: n 1, "
            "column strip: residual 3, plot: w x n 2, plot: residual 6"
        ),
    ),
    "strip-plot with plots split": (
        "type: strip-plot, blocks: 4",
        WITH_THIRD,
        (
            "block: block 3, row strip: w 2, row strip: residual 6, column strip: n 1, "
            "column strip: residual 3, plot: w x n 2, plot: residual 6, subplot: m 1, "
            "subplot: w x m 2, subplot: n x m 1, subplot: w x n x m 2, subplot: residual 18"
        ),
    ),
    "balanced incomplete blocks": (
        "type: incomplete block, block_size: 3, replicates: 3",
        letters(7),
        "block: block 6, plot: treatment 6, plot: residual 8",
    ),
    "lattice in three replicates": (
        "type: incomplete block, block_size: 3, replicates: 3, resolvable: true",
        letters(9),
        "replicate: replicate 2, block: block 6, plot: treatment 8, plot: residual 10",
    ),
    "rows and columns": (
        "type: row-column, rows: 4, columns: 6",
        letters(8),
        "row: row 3, column: column 5, plot: treatment 7, plot: residual 8",
    ),
    "two arrays": (
        "type: row-column, rows: 3, columns: 3, replicates: 2",
        letters(9),
        (
            "replicate: replicate 1, row: row 4, column: column 4, plot: treatment 8, "
            "plot: residual 0"
        ),
    ),
    "factorial in incomplete blocks": (
        "type: incomplete block, block_size: 4, replicates: 4",
        "a: [a1, a2], b: [b1, b2, b3]",
        "block: block 5, plot: a 1, plot: b 2, plot: a x b 2, plot: residual 13",
    ),
    "a reference twice": (
        f"{BLOCKS}, blocks: 5, replicates: {{A: 2}}",
        letters(4),
        "block: block 4, plot: treatment 3, plot: residual 17",
    ),
    "reservoirs in a square": (
        "type: Latin square, plots_per_reservoir: {A: 2, B: 2, C: 2, D: 2}",
        letters(4),
        "row: row 3, column: column 3, reservoir: treatment 3, reservoir: residual 6",
    ),
}


def skeleton(layout: Layout) -> str:
    return ", ".join(f"{row.stratum}: {row.term} {row.df}" for row in degrees(layout))


@pytest.mark.parametrize("name", SKELETONS)
def test_skeletons(name: str) -> None:
    design, factors, expected = SKELETONS[name]
    layout = randomize(trial_of(design, factors=factors), seed=1)
    assert skeleton(layout) == expected
    units = len(set(layout.unit_of.values()))
    assert sum(row.df for row in degrees(layout)) == units - 1


@pytest.mark.parametrize("name", SKELETONS)
def test_a_table_drawn_elsewhere_has_the_same_strata(name: str) -> None:
    design, factors, expected = SKELETONS[name]
    layout = randomize(trial_of(design, factors=factors), seed=2)
    frame = layout.frame().drop(columns=["unit", "treatment"]).sample(frac=1, random_state=3)
    kind = design.split(",")[0]
    read = read_layout(trial_of(f"{kind}, drawn: elsewhere", factors=factors), frame)
    assert skeleton(read) == expected
    assert read.applied_to == layout.applied_to


@given(st.integers(2, 5), st.integers(2, 4), st.integers(2, 4))
def test_strips_and_split_plots_share_out_the_block(b: int, a: int, c: int) -> None:
    """Strip-plot and split-plot of the same sizes: the same total, other strata."""

    def names(letter: str, count: int) -> str:
        return "[" + ", ".join(f"{letter}{k}" for k in range(count)) + "]"

    strip = randomize(
        trial_of(
            f"type: strip-plot, blocks: {b}",
            factors=f"a: {{applied_to: row strip, levels: {names('a', a)}}}, "
            f"c: {{applied_to: column strip, levels: {names('c', c)}}}",
        ),
        seed=0,
    )
    rows = {f"{r.stratum}: {r.term}": r.df for r in degrees(strip)}
    assert rows == {
        "block: block": b - 1,
        "row strip: a": a - 1,
        "row strip: residual": (a - 1) * (b - 1),
        "column strip: c": c - 1,
        "column strip: residual": (c - 1) * (b - 1),
        "plot: a x c": (a - 1) * (c - 1),
        "plot: residual": (a - 1) * (c - 1) * (b - 1),
    }


def test_units_by_term() -> None:
    split = randomize(trial_of("type: split-plot, blocks: 2", factors=SPLIT_SPLIT), seed=1)
    assert layout_facts(split).units == {
        "w": 4, "p": 8, "n": 16, "w x p": 8, "w x n": 16, "p x n": 16, "w x p x n": 16
    }  # fmt: skip
    strip = randomize(trial_of("type: strip-plot, blocks: 2", factors=STRIPS), seed=1)
    assert layout_facts(strip).units == {"w": 6, "n": 4, "w x n": 12}


def test_blocks_named_anew_in_each_replicate() -> None:
    """Blocks 1, 2 of replicate 1 are not blocks 1, 2 of replicate 2."""
    rows = [
        {"plot": f"{r}{k}{w}", "replicate": r, "block": k, "watering": w}
        for r, blocks in ((1, ("AB", "CD")), (2, ("AC", "BD")), (3, ("AD", "BC")))
        for k, block in enumerate(blocks)
        for w in block
    ]
    design = "type: incomplete block, resolvable: true, drawn: elsewhere"
    layout = read_layout(trial_of(design, factors=letters(4)), pd.DataFrame(rows))
    assert skeleton(layout) == (
        "replicate: replicate 2, block: block 3, plot: treatment 3, plot: residual 3"
    )


def test_blocks_of_unequal_size() -> None:
    rows = [
        {"plot": f"{b}{w}", "block": b, "watering": w}
        for b, block in enumerate(("ABC", "ABCD", "ABD", "CD"))
        for w in block
    ]
    design = "type: incomplete block, drawn: elsewhere"
    layout = read_layout(trial_of(design, factors=letters(4)), pd.DataFrame(rows))
    assert skeleton(layout) == "block: block 3, plot: treatment 3, plot: residual 5"


def test_lost_rows_of_a_split_plot_leave_their_stratum_alone() -> None:
    layout = randomize(trial_of("type: split-plot, blocks: 4", factors=BIG), seed=1)
    frame = layout.frame().drop(columns=["unit", "treatment"]).iloc[1:]
    read = read_layout(trial_of("type: split-plot, drawn: elsewhere", factors=BIG), frame)
    assert skeleton(read).endswith("subplot: residual 35")
    assert "whole plot: residual 6, " in skeleton(read)


@given(st.data(), st.integers(2, 5), st.integers(2, 6))
def test_degrees_are_differences_of_ranks(data: st.DataObject, blocks: int, t: int) -> None:
    """Any table of rows and columns, also unconnected: ranks of the dense incidence."""
    cells = st.integers(0, t - 1)
    grid = [[data.draw(cells) for _ in range(4)] for _ in range(blocks)]
    used = sorted({code for line in grid for code in line})
    name = {code: chr(65 + k) for k, code in enumerate(used)}
    if len(used) < 2:
        return
    rows = [
        {"plot": f"{i}.{j}", "row": i + 1, "column": j + 1, "watering": name[code]}
        for i, line in enumerate(grid)
        for j, code in enumerate(line)
    ]
    trial = trial_of("type: row-column, drawn: elsewhere", factors=letters(len(used)))
    found = [row.df for row in degrees(read_layout(trial, pd.DataFrame(rows)))]
    frame = pd.DataFrame(rows)
    parts = [np.ones((len(rows), 1))]
    ranks = [1]
    for column in ("row", "column", "watering"):
        parts.append(pd.get_dummies(frame[column]).to_numpy(dtype=float))
        ranks.append(int(np.linalg.matrix_rank(np.hstack(parts))))
    assert found == [*np.diff(ranks).tolist(), len(rows) - ranks[-1]]
