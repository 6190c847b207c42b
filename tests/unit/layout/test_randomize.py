"""Layouts are what the design says, equally likely, and the same everywhere."""

from collections import Counter
from itertools import permutations, product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import BLOCKS, FREE, trial_of

from wickstats.core.errors import LayoutError
from wickstats.layout.codes import is_code
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import randomize


def order(layout: Layout) -> str:
    return "".join(plot.treatment for plot in layout.plots)


def test_published_layout() -> None:
    """Fixed for decades: this seed gives this layout on every machine."""
    layout = randomize(trial_of(f"{BLOCKS}, blocks: 4, seed: 20250317"))
    assert order(layout) == "BACACBABCCBA"
    assert [p.plot for p in layout.plots[:4]] == ["EN-A", "KA-G", "WR-N", "ND-E"]
    assert [(p.block, p.row, p.column) for p in layout.plots[:4]] == [
        ("1", 1, 1),
        ("1", 1, 2),
        ("1", 1, 3),
        ("2", 2, 1),
    ]


def test_all_36_layouts_of_three_treatments_in_two_blocks_are_equally_likely() -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 2")
    draws = 36_000
    from wickstats.layout.arrange import arrange
    from wickstats.layout.stream import Stream

    counts: Counter[str] = Counter()
    for seed in range(draws):
        pieces = arrange(trial, None, Stream(seed, "layout"))
        counts["".join(piece.cell for piece in pieces)] += 1
    one = ["".join(p) for p in permutations("ABC")]
    assert set(counts) == {a + b for a, b in product(one, repeat=2)}
    expected = draws / 36
    chi2 = sum((n - expected) ** 2 / expected for n in counts.values())
    assert chi2 < 66.62  # chi-square, 35 df, upper 0.1 % (computed with scipy)
    # what was counted is what randomize gives
    assert order(randomize(trial, seed=35_999)) in counts


def test_completely_randomized_places_are_equally_likely() -> None:
    trial = trial_of(f"{FREE}, replicates: {{A: 2, B: 1, C: 1}}")
    counts = Counter(order(randomize(trial, seed=seed)) for seed in range(1200))
    assert len(counts) == 12  # 4! / 2!
    chi2 = sum((n - 100) ** 2 / 100 for n in counts.values())
    assert chi2 < 31.26  # chi-square, 11 df, upper 0.1 % (computed with scipy)


@given(st.integers(0, 2**53), st.integers(1, 8))
def test_blocks_are_complete(seed: int, blocks: int) -> None:
    factors = "watering: [A, B], shelter: [none, tube]"
    trial = trial_of(f"{BLOCKS}, blocks: {blocks}, plants_per_plot: 5", factors=factors)
    layout = randomize(trial, seed=seed)
    assert len(layout.plots) == 4 * blocks
    for block in range(1, blocks + 1):
        held = [p.treatment for p in layout.plots if p.block == str(block)]
        assert sorted(held) == ["A x none", "A x tube", "B x none", "B x tube"]
    names = [p.plot for p in layout.plots]
    assert len(set(names)) == len(names)
    assert all(is_code(name) for name in names)
    assert {p.plants for p in layout.plots} == {5}
    assert len({(p.row, p.column) for p in layout.plots}) == len(names)


@given(st.integers(0, 2**53))
def test_reservoirs_feed_neighbors_of_one_block(seed: int) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3, plots_per_reservoir: {{A: 3, B: 1}}")
    layout = randomize(trial, seed=seed)
    assert len(layout.plots) == 3 * 5
    assert len(layout.shared_reservoirs) == 3
    for reservoir in layout.shared_reservoirs:
        fed = [p for p in layout.plots if p.reservoir == reservoir]
        assert {p.treatment for p in fed} == {"A"}
        assert len({p.block for p in fed}) == 1
        columns = [p.column or 0 for p in fed]
        assert columns == list(range(columns[0], columns[0] + 3))
    assert len(set(layout.unit_of.values())) == 9


def test_identifiers_say_nothing_of_the_treatment() -> None:
    """The same identifiers come in the same order whatever the levels are called."""
    one = randomize(trial_of(f"{BLOCKS}, blocks: 3"), seed=5)
    other = randomize(
        trial_of(f"{BLOCKS}, blocks: 3", factors="watering: [hand, wick, pot]"), seed=5
    )
    assert [p.plot for p in one.plots] == [p.plot for p in other.plots]


def test_seed_of_the_file_and_without_one() -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3, seed: 11")
    assert randomize(trial).seed == 11
    assert randomize(trial).plots == randomize(trial, seed=11).plots
    free = trial_of(f"{BLOCKS}, blocks: 3")
    seeds = {randomize(free).seed for _ in range(3)}
    assert len(seeds) == 3
    assert all(seed is not None and 0 <= seed < 2**53 for seed in seeds)


@pytest.mark.parametrize(
    ("design", "code"),
    [
        (f"{BLOCKS}, drawn: elsewhere", "not drawn here"),
        (f"{BLOCKS}, drawn: not at random", "not drawn here"),
        (f'{BLOCKS}, blocks: 4, keep: ["no treatment twice in a column"]', "restriction"),
        (f"{BLOCKS}, blocks: 9000, plots_per_reservoir: {{A: 90}}", "too many plots"),
    ],
)
def test_refuses_in_words(design: str, code: str) -> None:
    with pytest.raises(LayoutError) as caught:
        randomize(trial_of(design))
    assert caught.value.problems[0].code.startswith(code)


def test_negative_seed() -> None:
    with pytest.raises(LayoutError):
        randomize(trial_of(f"{BLOCKS}, blocks: 3"), seed=-1)


def test_record_prevails_over_the_file(tmp_path: Path) -> None:
    first = trial_of(f"{BLOCKS}, blocks: 3, seed: 11", tmp_path)
    randomize(first).write()
    changed = trial_of(f"{BLOCKS}, blocks: 3, seed: 12", tmp_path)
    assert randomize(changed).seed == 11
