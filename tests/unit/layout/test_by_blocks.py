"""Complete blocks drawn one after another: equal chances, counts, what is refused."""

from collections import Counter
from itertools import permutations, product

import pytest
from scipy.stats import chi2
from support_layouts import BLOCKS, letters, trial_of

from wickstats.core.errors import LayoutError
from wickstats.design.keep import KEEP
from wickstats.layout.allowed import rule_of
from wickstats.layout.by_blocks import count_by_blocks, draw_by_blocks, lay_blocks
from wickstats.layout.randomize import draw, randomize
from wickstats.layout.stream import Stream

TWICE, ACROSS, _, CORNERS, ENDS, _ = KEEP


def laid(words, blocks, t):
    free = draw(trial_of(f"{BLOCKS}, blocks: {blocks}", factors=letters(t)), 1)
    keep = ", ".join(f'"{word}"' for word in words)
    trial = trial_of(f"{BLOCKS}, blocks: {blocks}, keep: [{keep}]", factors=letters(t))
    rule = rule_of(trial, free)
    return rule, lay_blocks(rule.tiers[0].conditions, blocks, t)


@pytest.mark.parametrize(
    ("words", "blocks", "t"),
    [([TWICE], 3, 4), ([ACROSS, ENDS], 3, 4), ([CORNERS], 2, 5), ([TWICE], 4, 4)],
)
def test_draws_are_uniform(words, blocks, t):
    rule, given = laid(words, blocks, t)
    one = list(permutations(range(t)))
    allowed = [
        sum(held, ())
        for held in product(one, repeat=blocks)
        if rule.tiers[0].conditions.fit(sum(held, ()))
    ]
    assert len(allowed) == {
        (TWICE, 3): 576,  # as many as Latin squares: the last line follows
        (TWICE, 4): 576,
    }.get((words[0], blocks), len(allowed))
    stream, n = Stream(3, "test"), 2_400
    drawn = Counter(tuple(draw_by_blocks(given, stream, 10_000)) for _ in range(n))
    assert set(drawn) <= set(allowed)
    # classes of about twenty, in the order of the list
    classes = min(40, len(allowed))
    where = {held: k * classes // len(allowed) for k, held in enumerate(allowed)}
    sizes, hits = Counter(where.values()), Counter()
    for held, times in drawn.items():
        hits[where[held]] += times
    wanted = {k: n * size / len(allowed) for k, size in sizes.items()}
    found = sum((hits[k] - wanted[k]) ** 2 / wanted[k] for k in wanted)
    assert found < chi2.isf(1e-3, classes - 1)
    # four standard errors of the mean are about a third here; all attempts alike: exact
    assert count_by_blocks(given, 1) == pytest.approx(len(allowed), rel=0.3)


def test_no_prefix_has_more_orders_than_the_bound():
    # first lines, derangements of six, ...: 6 lines without a treatment twice in a column
    _, given = laid([TWICE], 6, 6)
    assert given.most[0] == 720
    assert given.most[1] >= 265  # derangements of six (from memory)
    assert given.most[5] == 1


def test_latin_squares_in_blocks_are_drawn(monkeypatch):
    """812,851,200 of 720^6 layouts: drawing any would take years."""
    monkeypatch.setattr("wickstats.layout.restricted.TRIES", 5_000)
    monkeypatch.setattr("wickstats.layout.restricted.LOOKED_AT", 200)
    trial = trial_of(f'{BLOCKS}, blocks: 6, keep: ["{TWICE}"]', factors=letters(6))
    layout = randomize(trial, seed=1)
    assert layout.plots == randomize(trial, seed=1).plots
    for column in range(1, 7):
        assert len({p.treatment for p in layout.plots if p.column == column}) == 6
    for block in "123456":
        assert len({p.treatment for p in layout.plots if p.block == block}) == 6
    kept = layout.restricted
    assert kept.allowed == 0
    assert 720 / kept.smallest_possible_p == pytest.approx(812_851_200, rel=0.3)


def test_two_ways_only_are_still_refused(monkeypatch):
    """Two treatments that change places in all of twenty blocks: p is 1, whatever is found."""
    monkeypatch.setattr("wickstats.layout.restricted.TRIES", 100)
    monkeypatch.setattr("wickstats.layout.restricted.LOOKED_AT", 100)
    trial = trial_of(f'{BLOCKS}, blocks: 20, keep: ["{ACROSS}"]', factors=letters(2))
    with pytest.raises(LayoutError, match="no p below 1 is possible"):
        randomize(trial, seed=1)
