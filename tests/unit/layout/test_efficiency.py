"""Identities and efficiencies of block designs; the plans that are drawn reach them.

b k = t r, lambda (t - 1) = r (k - 1): ASTM E1325-16 (text as read at 123docz.net 13714918,
which also gives t 7, k 4, b 7, lambda 2). E = t (k - 1)/(k (t - 1)) for balanced blocks,
computed from these. Square lattices, resolvable bound and Fisher's inequality: from memory.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import BLOCKS, letters, trial_of

from wickstats.layout.efficiency import (
    efficiency,
    information,
    pair_variances,
    resolvable_bound,
)
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import randomize
from wickstats.layout.strata import strata_of
from wickstats.layout.tell import efficiency_line, layout_lines

# t, b, r, k: lambda, E
BALANCED = {
    (4, 4, 3, 3): (2, 0.8889),
    (5, 10, 4, 2): (1, 0.6250),
    (6, 10, 5, 3): (2, 0.8000),
    (6, 15, 5, 2): (1, 0.6000),
    (7, 7, 3, 3): (1, 0.7778),
    (7, 7, 4, 4): (2, 0.8750),
    (9, 12, 4, 3): (1, 0.7500),
    (11, 11, 5, 5): (2, 0.8800),
    (13, 13, 4, 4): (1, 0.8125),
    (16, 20, 5, 4): (1, 0.8000),
    # further sizes for which a difference family or a lattice is known; E by the formula
    (8, 14, 7, 4): (3, 0.8571),
    (10, 15, 6, 4): (2, 0.8333),
    (13, 26, 6, 3): (1, 0.7222),
    (15, 15, 7, 7): (3, 0.9184),
    (15, 35, 7, 3): (1, 0.7143),
    (16, 16, 6, 6): (2, 0.8889),
    (21, 21, 5, 5): (1, 0.8400),
    (25, 30, 6, 5): (1, 0.8333),
}
# k: E at r = 2, 3, ...
LATTICES = {
    3: (0.6667, 0.7273, 0.7500),
    4: (0.7143, 0.7692, 0.7895),
    5: (0.7500, 0.8000, 0.8182),
}
# t, r, s blocks a replicate: bound, what the drawn plan must reach
RESOLVABLE = {
    (12, 3, 4): (0.7097, 0.680),
    (20, 4, 5): (0.7808, 0.768),
    (24, 3, 6): (0.7541, 0.729),
}


def blocks_of(t: int, r: int, k: int, *, resolvable: bool = False) -> Layout:
    more = ", resolvable: true" if resolvable else ""
    design = f"type: incomplete block, block_size: {k}, replicates: {r}{more}"
    return randomize(trial_of(design, factors=letters(t)), seed=1)


@pytest.mark.parametrize("sizes", BALANCED)
def test_balanced_where_balance_exists(sizes: tuple[int, int, int, int]) -> None:
    t, b, r, k = sizes
    meet, expected = BALANCED[sizes]
    assert b * k == t * r
    assert meet * (t - 1) == r * (k - 1)
    assert b >= t
    layout = blocks_of(t, r, k)
    held: dict[str, set[str]] = {}
    for plot in layout.plots:
        held.setdefault(str(plot.block), set()).add(plot.treatment)
    assert len(held) == b
    assert {len(block) for block in held.values()} == {k}
    names = sorted({p.treatment for p in layout.plots})
    met = {sum(x in h and y in h for h in held.values()) for x in names for y in names if x < y}
    assert met == {meet}
    found = efficiency(layout)
    assert found is not None
    assert found.average is not None
    assert round(found.average, 4) == expected
    assert found.average == pytest.approx(t * (k - 1) / (k * (t - 1)), rel=1e-10)
    assert found.bound == pytest.approx(found.average, rel=1e-10)
    assert str(efficiency_line(layout)).endswith("no layout of this size keeps more.")
    # every pair alike: 2 sigma^2/(r E)
    pairs = pair_variances(layout)[np.triu_indices(t, 1)]
    np.testing.assert_allclose(pairs, 2 / (r * found.average), rtol=1e-9)


@pytest.mark.parametrize(("k", "r"), [(k, r) for k in LATTICES for r in (2, 3, 4)])
def test_square_lattices(k: int, r: int) -> None:
    layout = blocks_of(k * k, r, k, resolvable=True)
    found = efficiency(layout)
    assert found is not None
    assert found.average is not None
    formula = (k + 1) * (r - 1) / ((k + 1) * (r - 1) + r)
    assert round(found.average, 4) == LATTICES[k][r - 2]
    assert found.average == pytest.approx(formula, rel=1e-10)
    assert found.bound == pytest.approx(formula, rel=1e-10)


@given(st.integers(2, 30), st.integers(2, 10))
def test_resolvable_bound_of_square_lattices(k: int, r: int) -> None:
    lattice = (k + 1) * (r - 1) / ((k + 1) * (r - 1) + r)
    assert resolvable_bound(k * k, r, k) == pytest.approx(lattice, rel=1e-12)


@pytest.mark.parametrize("sizes", RESOLVABLE)
def test_resolvable_sizes_reach_what_they_must(sizes: tuple[int, int, int]) -> None:
    t, r, s = sizes
    bound, least = RESOLVABLE[sizes]
    layout = blocks_of(t, r, t // s, resolvable=True)
    for replicate in {p.replicate for p in layout.plots}:
        held = [p.treatment for p in layout.plots if p.replicate == replicate]
        assert len(held) == len(set(held)) == t
    found = efficiency(layout)
    assert found is not None
    assert found.average is not None
    assert round(found.bound, 4) == bound
    assert least <= found.average < found.bound


@pytest.mark.parametrize(
    ("design", "t", "expected"),
    [
        ("rows: 3, columns: 7", 7, 0.7778),  # Youden square on the balanced blocks of 3
        ("rows: 4, columns: 7", 7, 0.8750),
        ("rows: 13, columns: 4", 13, 0.8125),
        ("rows: 4, columns: 4", 4, 1.0),  # a Latin square
        ("rows: 3, columns: 3, replicates: 2", 9, 0.5),  # a balanced lattice square
    ],
)
def test_rows_and_columns(design: str, t: int, expected: float) -> None:
    """E of the columns' blocks where rows are complete: computed as above."""
    layout = randomize(trial_of(f"type: row-column, {design}", factors=letters(t)), seed=1)
    found = efficiency(layout)
    assert found is not None
    assert found.average is not None
    assert round(found.average, 4) == expected
    assert found.bound == pytest.approx(found.average, rel=1e-9)


def test_efficiency_is_the_harmonic_mean_of_the_pairs() -> None:
    """For equal replication the mean pair variance is 2 sigma^2/(r E)."""
    layout = blocks_of(8, 3, 4)
    found = efficiency(layout)
    assert found is not None
    assert found.average is not None
    pairs = pair_variances(layout)[np.triu_indices(8, 1)]
    assert pairs.mean() == pytest.approx(2 / (3 * found.average), rel=1e-10)


def test_complete_blocks_lose_nothing() -> None:
    layout = randomize(trial_of(f"{BLOCKS}, blocks: 5"), seed=1)
    assert efficiency(layout) is None
    np.testing.assert_allclose(pair_variances(layout)[np.triu_indices(3, 1)], 2 / 5, rtol=1e-12)
    info, replication = information(strata_of(layout))
    np.testing.assert_allclose(info, 5 * (np.eye(3) - 1 / 3), atol=1e-12)
    assert replication.tolist() == [5, 5, 5]


def test_pairs_inside_whole_plots_only() -> None:
    factors = (
        "w: {applied_to: whole plot, levels: [a, b]}, n: {applied_to: subplot, levels: [x, y]}"
    )
    layout = randomize(trial_of("type: split-plot, blocks: 6", factors=factors), seed=1)
    pairs = pair_variances(layout)
    names = list(dict.fromkeys(p.treatment for p in layout.plots))
    for i, one in enumerate(names):
        for j, other in enumerate(names):
            if i == j or one[0] != other[0]:
                assert i == j or np.isnan(pairs[i, j])
            else:
                assert pairs[i, j] == pytest.approx(2 / 6)


def test_words_on_screen() -> None:
    lines = layout_lines(blocks_of(12, 3, 3, resolvable=True))
    assert lines[1] == (
        "This layout of incomplete blocks keeps 68\N{NO-BREAK SPACE}% of the information of "
        "complete blocks; the best possible at this size is 71\N{NO-BREAK SPACE}%."
    )
    assert lines[2] == "Degrees of freedom, before any data:"


def test_treatments_that_never_meet() -> None:
    import pandas as pd

    from wickstats.layout.read import read_layout

    rows = [
        {"plot": f"{b}{w}", "block": b, "watering": w}
        for b, block in enumerate(("AB", "AB", "CD", "CD"))
        for w in block
    ]
    trial = trial_of("type: incomplete block, drawn: elsewhere", factors=letters(4))
    layout = read_layout(trial, pd.DataFrame(rows))
    found = efficiency(layout)
    assert found is not None
    assert (found.average, found.groups) == (None, 2)
    assert "they fall into 2 groups that never meet" in str(efficiency_line(layout))
