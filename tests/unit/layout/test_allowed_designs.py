"""Restrictions in every design: uniform draws against all layouts, shares, re-randomization.

All layouts are listed here by products of permutations and filtered by conditions written
anew; counts follow from numbers of derangements where a comment says so.
"""

from collections import Counter
from itertools import pairwise, permutations, product

import numpy as np
import pytest
from scipy.stats import chi2
from support_layouts import BLOCKS, SPLIT_SPLIT, STRIPS, letters, trial_of

from wickstats.core.errors import LayoutError
from wickstats.design.keep import KEEP
from wickstats.layout.allowed import rule_of
from wickstats.layout.few import smallest_p_by_stratum
from wickstats.layout.randomize import draw, randomize
from wickstats.layout.schemes import all_together, schemes_of

TWICE, ACROSS, BESIDE, CORNERS, ENDS, HALVES = KEEP
WHOLE = (
    "w: {applied_to: whole plot, levels: [A, B, C]}, n: {applied_to: subplot, levels: [x, y]}"
)
TWO_FACTORS = "w: [A, B], n: [x, y]"


def as_text(layout):
    return "".join("".join(plot.levels.values()) for plot in layout.plots)


def latin():
    """Squares of order 5, no symbol corner to corner, line by line."""
    lines = list(permutations("ABCDE"))

    def more(rows):
        if len(rows) == 5:
            yield "".join("".join(row) for row in rows)
            return
        for row in lines:
            if any(row[j] == old[j] for old in rows for j in range(5)):
                continue
            near = zip(rows[-1][1:] + rows[-1][:-1], row[:-1] + row[1:], strict=True)
            if all(a != b for a, b in near):
                yield from more([*rows, row])

    for row in lines:
        yield from more([row])


def split():
    """Two blocks of three whole plots, none at the same place in both: 6 x 2 derangements."""
    for blocks in product(permutations("ABC"), repeat=2):
        if all(a != b for a, b in zip(*blocks, strict=True)):
            for inside in product(("xy", "yx"), repeat=6):
                whole = [w for block in blocks for w in block]
                yield "".join(
                    w + s for w, pair in zip(whole, inside, strict=True) for s in pair
                )


def split_split():
    """Two blocks: whole plots and their plots differ from those of the other block."""
    for one, other in product(permutations("AB"), repeat=2):
        for plots in product(("cd", "dc"), repeat=4):
            held = [w + p for w, pair in zip(one + other, plots, strict=True) for p in pair]
            if one == other or any(a == b for a, b in zip(held[:4], held[4:], strict=True)):
                continue
            for inside in product(("xy", "yx"), repeat=8):
                cells = [h + s for h, pair in zip(held, inside, strict=True) for s in pair]
                if all(a != b for a, b in zip(cells[:8], cells[8:], strict=True)):
                    yield "".join(cells)


def strips():
    """Two blocks: rows deranged (6 x 2), columns the other way round (2 x 1)."""
    for one, other in product(permutations("ABC"), repeat=2):
        if any(a == b for a, b in zip(one, other, strict=True)):
            continue
        for across in ("xy", "yx"):
            first = [r + c for r in one for c in across]
            yield "".join(first + [r + c for r in other for c in across[::-1]])


def incomplete():
    """Three blocks of two of three treatments, no treatment at the same place as before."""
    for blocks in permutations(("AB", "AC", "BC")):
        for turned in product((1, -1), repeat=3):
            held = [b[::t] for b, t in zip(blocks, turned, strict=True)]
            if all(x != y for a, b in pairwise(held) for x, y in zip(a, b, strict=True)):
                yield "".join(held)


def resolvable():
    """Two replicates of two blocks of two: no treatment twice at the same place."""
    ways = [("AB", "CD"), ("AC", "BD"), ("AD", "BC")]
    for one, other in permutations(ways, 2):
        for a, b in product(permutations(one), permutations(other)):
            for turned in product((1, -1), repeat=4):
                held = [x[::t] for x, t in zip(a + b, turned, strict=True)]
                if len({x[0] for x in held}) == len({x[1] for x in held}) == 4:
                    yield "".join(held)


def factorial():
    """Two blocks of 2 x 2: 24 x 9 derangements of four."""
    cells = ("Ax", "Ay", "Bx", "By")
    for one, other in product(permutations(cells), repeat=2):
        if all(a != b for a, b in zip(one, other, strict=True)):
            yield "".join(one + other)


CASES = {
    "Latin": ("type: Latin square", letters(5), CORNERS, latin, None),
    "split": ("type: split-plot, blocks: 2", WHOLE, ACROSS, split, 12 * 64),
    "split-split": ("type: split-plot, blocks: 2", SPLIT_SPLIT, TWICE, split_split, None),
    "strips": ("type: strip-plot, blocks: 2", STRIPS, ACROSS, strips, 24),
    "incomplete": (
        "type: incomplete block, block_size: 2, replicates: 2", letters(3), ACROSS,
        incomplete, None,
    ),
    "resolvable": (
        "type: incomplete block, block_size: 2, replicates: 2, resolvable: true",
        letters(4), TWICE, resolvable, None,
    ),
    "factorial": (f"{BLOCKS}, blocks: 2", TWO_FACTORS, ACROSS, factorial, 24 * 9),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_draws_are_uniform_over_the_allowed_layouts(name):
    design, factors, word, every, count = CASES[name]
    trial = trial_of(f'{design}, keep: ["{word}"]', factors=factors)
    layouts = Counter(every())
    assert set(layouts.values()) == {1}
    assert count in (None, len(layouts))
    most = {"Latin": 60}.get(name, 400 if len(layouts) > 100 else 12 * len(layouts))
    drawn = Counter(as_text(draw(trial, seed)) for seed in range(most))
    assert set(drawn) <= set(layouts)
    # layouts in classes of at least ten wanted, in the order in which they were listed
    classes = min(20, most // 10, len(layouts))
    where = {layout: k * classes // len(layouts) for k, layout in enumerate(layouts)}
    sizes = Counter(where.values())
    hits = Counter()
    for layout, times in drawn.items():
        hits[where[layout]] += times
    wanted = {k: most * size / len(layouts) for k, size in sizes.items()}
    found = sum((hits[k] - wanted[k]) ** 2 / wanted[k] for k in wanted)
    assert found < chi2.isf(1e-3, classes - 1)


@pytest.mark.parametrize(
    "name", [n for n in CASES if n not in ("Latin", "incomplete", "resolvable")]
)
def test_share_is_that_of_all_layouts(name):
    design, factors, word, every, _ = CASES[name]
    trial = trial_of(f'{design}, keep: ["{word}"]', factors=factors)
    laid = draw(trial, 1)
    scheme = all_together(laid, [f.level_names for f in trial.factors])
    codes = scheme.every()
    assert len(np.unique(codes, axis=0)) == len(codes) == scheme.total
    rule = rule_of(trial, laid)
    assert int(rule.fit_all(codes).sum()) == len(list(every()))
    # one by one, by the treatments' names
    names = [" x ".join(c) for c in product(*(f.level_names for f in trial.factors))]
    some = codes[:: max(1, len(codes) // 300)]
    by_name = [rule.fit([names[k] for k in row]) for row in some.tolist()]
    assert by_name == rule.fit_all(some).tolist()


def test_arrays_keep_corners():
    design = "type: row-column, rows: 2, columns: 3"
    trial = trial_of(f'{design}, keep: ["{HALVES}"]', factors=letters(3))
    # two columns of a half cannot hold three treatments: the middle one belongs to neither
    with pytest.raises(LayoutError, match="no layout is left"):
        draw(trial, 1)
    wide = "type: row-column, rows: 2, columns: 6, replicates: 2"
    trial = trial_of(f'{wide}, keep: ["{CORNERS}"]', factors=letters(6))
    layout = draw(trial, 3)
    at = {(p.replicate, p.row, p.column): p.treatment for p in layout.plots}
    for (array, row, column), own in at.items():
        for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
            assert at.get((array, row + down, column + right)) != own


@pytest.mark.parametrize(
    ("design", "factors"),
    [
        ("type: Latin square", letters(4)),
        ("type: Latin square, squares: 2", letters(3)),
        ("type: split-plot, replicates: 2", WHOLE),
        ("type: split-plot, blocks: 3", WHOLE),
        ("type: split-plot, blocks: 3", SPLIT_SPLIT),
        ("type: strip-plot, blocks: 3", STRIPS),
        ("type: incomplete block, block_size: 3, replicates: 3", letters(4)),
        ("type: incomplete block, block_size: 3, replicates: 2, resolvable: true", letters(6)),
        ("type: row-column, rows: 4, columns: 6", letters(4)),
        (f"{BLOCKS}, blocks: 3", TWO_FACTORS),
    ],
)
@pytest.mark.parametrize("word", KEEP)
def test_every_word_goes_with_every_design(word, design, factors):
    """It is kept, or refused because no layout of the plan and sizes is left."""
    trial = trial_of(f'{design}, keep: ["{word}"]', factors=factors)
    free = draw(trial_of(design, factors=factors), 5)
    rule = rule_of(trial, free)
    levels = [f.level_names for f in trial.factors]
    parts = [(rule, all_together(free, levels))]
    parts += [(rule.of(s.name), s.scheme) for s in schemes_of(free, levels) if s.largest]
    none = rule.impossible() or any(
        scheme.total <= 65_536 and not own.fit_all(scheme.every()).any()
        for own, scheme in parts
    )
    if none:
        with pytest.raises(LayoutError, match="no layout is left by keep"):
            draw(trial, 5)
        return
    layout = draw(trial, 5)
    assert rule.fit([plot.treatment for plot in layout.plots])


def test_smallest_p_is_counted_by_stratum(monkeypatch):
    monkeypatch.setattr("wickstats.layout.restricted.LOOKED_AT", 2_000)
    # whole plots A and B in six blocks: 2 of 2^6 names without, 2 of 2 with the restriction
    factors = WHOLE.replace("[A, B, C]", "[A, B]")
    design = "type: split-plot, blocks: 6"
    free = smallest_p_by_stratum(draw(trial_of(design, factors=factors), 1))
    assert free == {"whole plot": 2 / 64, "subplot": 2 / 2**12}
    trial = trial_of(f'{design}, keep: ["{ACROSS}"]', factors=factors)
    with pytest.raises(LayoutError, match="no p below 1 is possible in the stratum whole plot"):
        randomize(trial, seed=1)
    # three whole plots in six blocks: 6 x 2^5 orders, 3! of them alike
    kept = randomize(
        trial_of(f'type: split-plot, blocks: 6, keep: ["{ACROSS}"]', factors=WHOLE), seed=1
    ).restricted
    assert (kept.in_stratum, kept.smallest_possible_p) == ("whole plot", pytest.approx(6 / 192))
    assert kept.unrestricted_p == pytest.approx(6 / 6**6)
    assert not kept.exact
    share = (2 / 6) ** 5  # derangements in five blocks after another
    assert abs(kept.allowed / kept.total - share) < 4 * (share / 2_000) ** 0.5


def test_size_is_no_reason_to_refuse():
    # one block pair of strips: p is above 0.05 with and without the restriction
    trial = trial_of(f'type: strip-plot, blocks: 2, keep: ["{ACROSS}"]', factors=STRIPS)
    kept = randomize(trial, seed=1).restricted
    assert (kept.allowed, kept.total, kept.exact) == (24, 6**2 * 2**2, True)
    assert kept.in_stratum == "column strip"
    assert kept.smallest_possible_p == 1.0


def test_plans_have_a_smallest_p():
    # three blocks of two of three treatments: 3! orders of blocks, 2^3 inside; each of the 3!
    # exchanges of names is one of these 48
    small = draw(
        trial_of("type: incomplete block, block_size: 2, replicates: 2", factors=letters(3)), 1
    )
    assert smallest_p_by_stratum(small) == {"plot": pytest.approx(6 / 48)}
    # all triples of four treatments: 4! of 4! x 3!^4
    four = draw(
        trial_of("type: incomplete block, block_size: 3, replicates: 3", factors=letters(4)), 1
    )
    assert smallest_p_by_stratum(four) == {"plot": pytest.approx(24 / 31_104)}
    # a Latin rectangle of two rows of three: 2! x 3! moves, six of which exchange names
    flat = draw(trial_of("type: row-column, rows: 2, columns: 3", factors=letters(3)), 1)
    assert smallest_p_by_stratum(flat) == {"plot": pytest.approx(6 / 12)}
    (large,) = schemes_of(
        draw(trial_of("type: incomplete block, block_size: 4, replicates: 5",
                      factors=letters(16)), 1)
    )  # fmt: skip
    assert large.smallest_p() < 2e-4
