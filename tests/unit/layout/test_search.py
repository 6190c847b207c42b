"""The search decides on whole numbers alone, and what it finds is what it says."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.layout.search.arrays import search_arrays
from wickstats.layout.search.blocks import Effort, search_blocks
from wickstats.layout.search.criterion import BITS, Criterion, connected, counts
from wickstats.layout.search.cyclic import cyclic_plan
from wickstats.layout.search.lattices import most_replicates, square_lattice
from wickstats.layout.search.make_stored import RESOLVABLE
from wickstats.layout.search.plans import block_plan, origin_of
from wickstats.layout.search.stored import stored_plan
from wickstats.layout.search.youden import complete_rows
from wickstats.layout.stream import Stream

SHORT = Effort(starts=4, tries=600, refined=1, fine=200)


def efficiency(plan: list[list[int]], labels: int) -> float:
    n = counts(plan, labels)
    r = n.sum(axis=1)
    info = np.diag(r) - n @ n.T / len(plan[0])
    values = np.linalg.eigvalsh(info / np.sqrt(np.outer(r, r)))[1:]
    return float(values.size / (1 / values).sum())


@given(st.integers(3, 9), st.integers(2, 4), st.integers(0, 10**6))
def test_criterion_is_the_sum_of_inverse_efficiencies(t: int, r: int, seed: int) -> None:
    """In units of 2^-24, up to powers beyond the 32nd and the overall mean's own 1."""
    stream = Stream(seed, "plan")
    k = 3
    plots = [label for label in range(t) for _ in range(r * k)]
    order = stream.shuffled(plots)
    plan = [order[i : i + k] for i in range(0, len(order), k)]
    n = counts(plan, t)
    values = np.linalg.eigvalsh((np.diag(n.sum(1)) - n @ n.T / k) / (r * k))[1:]
    if values[0] < 0.3:
        return
    found = Criterion([r * k] * t, k).value(n @ n.T) / 2**BITS
    assert found == pytest.approx(1 + (1 / values).sum(), rel=2e-5)


@pytest.mark.parametrize(("t", "r", "k"), [(7, 3, 3), (6, 5, 3), (9, 4, 3), (13, 4, 4)])
def test_search_alone_finds_balanced_plans(t: int, r: int, k: int) -> None:
    plan = search_blocks([r] * t, k, resolvable=False)
    both = counts(plan, t) @ counts(plan, t).T
    assert set(both[np.triu_indices(t, 1)].tolist()) == {r * (k - 1) // (t - 1)}


def test_search_is_the_same_every_time_and_no_worse_than_its_start() -> None:
    one = search_blocks([3] * 10, 5, resolvable=True, effort=SHORT)
    assert one == search_blocks([3] * 10, 5, resolvable=True, effort=SHORT)
    more = search_blocks([3] * 10, 5, resolvable=True, effort=Effort(starts=40, fine=400))
    assert efficiency(more, 10) >= efficiency(one, 10)
    for i in range(0, 6, 2):
        assert sorted(one[i] + one[i + 1]) == list(range(10))


def test_unequal_replication() -> None:
    each = [6, 3, 3, 3, 3]
    plan = search_blocks(each, 3, resolvable=False, effort=SHORT)
    assert counts(plan, 5).sum(axis=1).tolist() == each
    assert connected(plan, 5)
    # the reference stands once in each of the six blocks
    assert counts(plan, 5)[0].tolist() == [1] * 6


@pytest.mark.parametrize(
    ("each", "size", "resolvable", "why"),
    [
        ([2] * 5, 4, False, "do not fill"),
        ([2] * 10, 4, True, "do not fill"),
        ([1] * 6, 2, False, "connects"),
    ],
)
def test_impossible_plans(each: list[int], size: int, resolvable: bool, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        search_blocks(each, size, resolvable=resolvable, effort=SHORT)


@pytest.mark.parametrize(
    ("t", "k", "initial"), [(7, 3, 1), (13, 4, 1), (13, 3, 2), (19, 9, 1), (31, 6, 1)]
)
def test_difference_families(t: int, k: int, initial: int) -> None:
    """Sizes for which difference sets or families exist (from memory): all pairs alike."""
    both = counts(cyclic_plan(t, k, initial), t)
    pairs = (both @ both.T)[np.triu_indices(t, 1)]
    assert set(pairs.tolist()) == {initial * k * (k - 1) // (t - 1)}


@pytest.mark.parametrize("size", [3, 4, 5, 6, 7])
def test_lattices_meet_at_most_once(size: int) -> None:
    replicates = most_replicates(size)
    plan = square_lattice(size, replicates)
    both = counts(plan, size * size) @ counts(plan, size * size).T
    pairs = both[np.triu_indices(size * size, 1)]
    assert pairs.max() == 1
    assert (pairs.min() == 1) == (replicates == size + 1)
    assert np.diag(both).tolist() == [replicates] * size * size


@pytest.mark.parametrize("sizes", RESOLVABLE)
def test_kept_plans_are_resolvable_and_better_than_a_short_search(
    sizes: tuple[int, int, int],
) -> None:
    t, r, s = sizes
    plan = stored_plan(t, r, t // s, resolvable=True)
    assert plan is not None
    assert len(plan) == r * s
    for i in range(0, len(plan), s):
        assert sorted(label for block in plan[i : i + s] for label in block) == list(range(t))
    short = search_blocks([r] * t, t // s, resolvable=True, effort=SHORT)
    assert efficiency(plan, t) >= efficiency(short, t) - 1e-12


def test_where_plans_come_from() -> None:
    assert origin_of([4] * 9, 3, resolvable=False) == "lattice"
    assert origin_of([4] * 20, 4, resolvable=True) == "stored"
    assert origin_of([4] * 20, 4, resolvable=False) == "searched"
    assert origin_of([4, 2, 2, 2, 2], 3, resolvable=False) == "searched"
    assert len(block_plan([4] * 9, 3, resolvable=False)) == 12


@given(st.integers(3, 8), st.integers(1, 3), st.integers(0, 10**6))
def test_complete_rows_always_exist(t: int, copies: int, seed: int) -> None:
    """Any blocks in which labels are alike often can be ordered into complete rows."""
    stream = Stream(seed, "youden")
    size = 2
    columns = t * copies
    # a random regular plan: two random orders of the labels' copies
    one = stream.shuffled([label for label in range(t) for _ in range(copies)])
    two = stream.shuffled([label for label in range(t) for _ in range(copies)])
    blocks = [stream.shuffled([x, y]) for x, y in zip(one, two, strict=True)]
    rows = complete_rows(blocks, t)
    assert len(rows) == size
    for row in rows:
        assert sorted(row) == sorted(label for label in range(t) for _ in range(copies))
    assert [sorted(c) for c in zip(*rows, strict=True)] == [sorted(b) for b in blocks]
    assert len(rows[0]) == columns


def test_arrays_hold_every_label_alike_often() -> None:
    for t, rows, columns, arrays in ((8, 4, 6, 1), (6, 3, 4, 2), (4, 8, 4, 1), (5, 6, 5, 1)):
        plan = np.array(search_arrays(t, rows, columns, arrays))
        assert plan.shape == (rows * arrays, columns)
        assert set(np.bincount(plan.ravel()).tolist()) == {rows * columns * arrays // t}
    with pytest.raises(ValueError, match="no multiple"):
        search_arrays(5, 3, 4)
