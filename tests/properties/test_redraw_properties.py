"""Re-randomization does not depend on names, units of measure or row order."""

from math import factorial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wickstats.models.redraw.pairs import redraw_pair, sign_flip
from wickstats.models.redraw.scheme import all_layouts, count_layouts
from wickstats.models.redraw.terms import redraw_term

ARGS = {"seed": 3, "stream": "property"}


@st.composite
def trials(draw):
    """A complete block trial with few layouts and lumpy values, ties included."""
    t, b = draw(st.sampled_from([(2, 3), (2, 5), (3, 2), (3, 4), (4, 2), (4, 3)]))
    values = draw(st.lists(st.integers(-6, 6), min_size=t * b, max_size=t * b))
    return np.array(values, dtype=float), np.tile(np.arange(t), b), np.repeat(np.arange(b), t)


@pytest.mark.parametrize(("t", "b"), [(2, 3), (2, 10), (3, 2), (3, 4), (4, 3), (5, 2)])
def test_complete_blocks_have_t_factorial_to_the_b_layouts(t, b):
    cells, blocks = np.tile(np.arange(t), b), np.repeat(np.arange(b), t)
    assert count_layouts(cells, blocks) == factorial(t) ** b
    assert len(np.unique(all_layouts(cells, blocks), axis=0)) == factorial(t) ** b


@settings(max_examples=40, deadline=None)
@given(trials(), st.integers(-50, 50), st.sampled_from([0.25, 3.0, -2.0]), st.randoms())
def test_shift_scale_names_and_order_leave_p(trial, shift, scale, random):
    y, cells, blocks = trial
    plain = redraw_term(y, cells, blocks=blocks, **ARGS)
    moved = redraw_term(scale * y + shift + 7.0 * blocks, cells, blocks=blocks, **ARGS)
    assert moved == plain
    names = list(range(int(cells.max()) + 1))
    random.shuffle(names)
    assert redraw_term(y, np.array(names)[cells], blocks=blocks, **ARGS) == plain
    order = list(range(y.size))
    random.shuffle(order)
    assert redraw_term(y[order], cells[order], blocks=blocks[order], **ARGS) == plain


@settings(max_examples=40, deadline=None)
@given(trials(), st.data())
def test_p_is_at_least_the_smallest_possible_and_a_whole_count(trial, data):
    y, cells, blocks = trial
    lost = np.zeros(y.size, dtype=bool)
    lost[data.draw(st.integers(0, y.size - 1))] = True
    for found in (
        redraw_term(y, cells, blocks=blocks, lost=lost, **ARGS),
        redraw_pair(y, cells, (0, 1), blocks=blocks, lost=lost, **ARGS),
    ):
        if found.kind == "none":
            assert found.reason
            continue
        assert found.smallest_possible_p <= found.p + 1e-12 <= 1 + 2e-12
        assert abs(found.p * found.total - round(found.p * found.total)) < 1e-9


@settings(max_examples=30, deadline=None)
@given(trials())
def test_two_arms_as_term_pair_and_signs_agree(trial):
    y, cells, blocks = trial
    b = int(blocks.max()) + 1
    two = cells < 2
    pair = redraw_pair(y[two], cells[two], (0, 1), blocks=blocks[two], **ARGS)
    swapped = redraw_pair(y[two], cells[two], (1, 0), blocks=blocks[two], **ARGS)
    signs = sign_flip(y[cells == 0] - y[cells == 1], **ARGS)
    assert pair == swapped
    assert pair.p == pytest.approx(signs.p, abs=1e-12)
    assert pair.total == signs.total == 2**b
    term = redraw_term(y[two], cells[two], blocks=blocks[two], **ARGS)
    assert term.p == pytest.approx(pair.p, abs=1e-12)


@settings(max_examples=30, deadline=None)
@given(trials())
def test_rejection_under_the_null_is_at_most_nominal(trial):
    # over all layouts, p <= alpha happens in at most a share alpha of them
    y, cells, blocks = trial
    if count_layouts(cells, blocks) > 300:
        return
    layouts = all_layouts(cells, blocks)
    p = np.array([redraw_term(y, lay, blocks=blocks, **ARGS).p for lay in layouts], dtype=float)
    for alpha in (0.05, 0.1, 0.25, 0.5):
        assert np.mean(p <= alpha + 1e-12) <= alpha + 1e-9
