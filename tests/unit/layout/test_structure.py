"""Degrees of freedom before any data, against textbook tables.

Randomized blocks: (b - 1)(t - 1) for error. Split-plot 6 x 4 in 3 replications: Gomez &
Gomez (1984), chapter 3: 2, 5, 10, 3, 15, 36 (from memory). Split-plot oats: Yates (1935),
shipped as MASS oats: 5, 2, 10, 3, 6, 45.
"""

from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import BLOCKS, FREE, trial_of

from wickstats.layout.plots import Layout
from wickstats.layout.randomize import randomize
from wickstats.layout.read import read_layout
from wickstats.layout.structure import degrees, layout_facts


def table(layout: Layout) -> list[tuple[str, str, int]]:
    return [(row.stratum, row.term, row.df) for row in degrees(layout)]


@given(st.integers(2, 8), st.integers(2, 6))
def test_blocks(blocks: int, treatments: int) -> None:
    factors = "watering: [" + ", ".join(f"T{i}" for i in range(treatments)) + "]"
    layout = randomize(trial_of(f"{BLOCKS}, blocks: {blocks}", factors=factors), seed=1)
    assert table(layout) == [
        ("block", "block", blocks - 1),
        ("plot", "treatment", treatments - 1),
        ("plot", "residual", (blocks - 1) * (treatments - 1)),
    ]


def test_unequal_replication() -> None:
    layout = randomize(trial_of(f"{FREE}, replicates: {{A: 5, B: 3, C: 2}}"), seed=1)
    assert table(layout) == [("plot", "treatment", 2), ("plot", "residual", 7)]
    assert layout_facts(layout).units == {"treatment": 10}


def test_factorial() -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 4", factors="water: [a, b], shelter: [c, d, e]")
    layout = randomize(trial, seed=1)
    assert table(layout) == [
        ("block", "block", 3),
        ("plot", "water", 1),
        ("plot", "shelter", 2),
        ("plot", "water x shelter", 2),
        ("plot", "residual", 15),
    ]
    assert set(layout_facts(layout).units.values()) == {24}


def names(letter: str, count: int) -> str:
    return "[" + ", ".join(f"{letter}{i}" for i in range(count)) + "]"


def split(blocks: int, wholes: int, subs: int) -> Layout:
    rows = [
        {"plot": f"{b}.{w}.{s}", "block": b, "whole_plot": w, "v": f"V{w}", "n": f"N{s}"}
        for b in range(blocks)
        for w in range(wholes)
        for s in range(subs)
    ]
    factors = (
        f"v: {{applied_to: whole plot, levels: {names('V', wholes)}}}, "
        f"n: {{applied_to: subplot, levels: {names('N', subs)}}}"
    )
    trial = trial_of("type: split-plot, drawn: elsewhere", factors=factors)
    return read_layout(trial, pd.DataFrame(rows))


@pytest.mark.parametrize(
    ("sizes", "dfs"),
    [((3, 6, 4), [2, 5, 10, 3, 15, 36]), ((6, 3, 4), [5, 2, 10, 3, 6, 45])],
)
def test_split_plot(sizes: tuple[int, int, int], dfs: list[int]) -> None:
    layout = split(*sizes)
    assert table(layout) == [
        ("block", "block", dfs[0]),
        ("whole plot", "v", dfs[1]),
        ("whole plot", "residual", dfs[2]),
        ("subplot", "n", dfs[3]),
        ("subplot", "v x n", dfs[4]),
        ("subplot", "residual", dfs[5]),
    ]
    wholes = sizes[0] * sizes[1]
    assert layout_facts(layout).units == {
        "v": wholes,
        "n": wholes * sizes[2],
        "v x n": wholes * sizes[2],
    }


def test_reservoirs_are_the_units() -> None:
    some = randomize(trial_of(f"{BLOCKS}, blocks: 4, plots_per_reservoir: {{A: 2}}"), seed=1)
    assert table(some)[-1] == ("plot", "residual", 6)
    every = "plots_per_reservoir: {A: 2, B: 2, C: 2}"
    layout = randomize(trial_of(f"{BLOCKS}, blocks: 4, {every}"), seed=1)
    assert table(layout)[1:] == [("reservoir", "treatment", 2), ("reservoir", "residual", 6)]
    assert layout_facts(layout).units == {"treatment": 12}


def test_one_reservoir_through_all_blocks_is_one_unit(tmp_path: Path) -> None:
    rows = [
        {"plot": f"{b}{t}", "block": b, "watering": t, "reservoir": "tank" if t == "A" else ""}
        for b in range(3)
        for t in "ABC"
    ]
    trial = trial_of(f"{BLOCKS}, drawn: elsewhere", tmp_path)
    layout = read_layout(trial, pd.DataFrame(rows))
    assert layout_facts(layout).units == {"treatment": 7}
    # seven units less mean, blocks (2) and treatments (2)
    assert table(layout)[-1] == ("plot", "residual", 2)


def test_missing_plots_take_from_the_residual(tmp_path: Path) -> None:
    rows = [{"plot": f"{b}{t}", "block": b, "watering": t} for b in range(4) for t in "ABC"]
    trial = trial_of(f"{BLOCKS}, drawn: elsewhere", tmp_path)
    layout = read_layout(trial, pd.DataFrame(rows[1:-1]))
    assert table(layout)[-1] == ("plot", "residual", 4)
