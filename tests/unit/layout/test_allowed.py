"""Restrictions: what they mean, equal chances among allowed layouts, shares, refusals."""

import json
from collections import Counter
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support_layouts import BLOCKS, FREE, letters, trial_of

from wickstats.core.errors import LayoutError
from wickstats.design.keep import KEEP, MEANINGS
from wickstats.layout.allowed import Restrictions, allowed, restrictions
from wickstats.layout.few import smallest_p_by_stratum
from wickstats.layout.places import tier_places
from wickstats.layout.randomize import draw, randomize
from wickstats.layout.read import read_layout

TWICE, ACROSS, BESIDE, CORNERS, ENDS, HALVES = KEEP

# restriction -> an allowed and a forbidden layout of three blocks of four
EXAMPLES = {
    TWICE: ("ABCD BADC CDAB", "ABCD BADC CBAD"),
    ACROSS: ("ABCD BADC ABCD", "ABCD BADC CDAC"),
    BESIDE: ("ABCD BADC ABCD", "AACD BBDC CCAB"),
    ENDS: ("ABCD BACD ABDC", "ABCD ACBD ACDB"),
    HALVES: ("ABCD CDAB ABCD", "ABCD ABDC BADC"),
    CORNERS: ("ABCD CDAB ABCD", "ABCD BADC ABCD"),
}


def rules(words: list[str]) -> Restrictions:
    """Of three blocks of four."""
    (places,) = tier_places(draw(trial_of(f"{BLOCKS}, blocks: 3", factors=letters(4)), 1))
    return restrictions(words, places)


@pytest.mark.parametrize("word", KEEP)
def test_what_each_restriction_means(word: str) -> None:
    rule = rules([word])
    good, bad = (list(text.replace(" ", "")) for text in EXAMPLES[word])
    assert rule.fit(good)
    assert not rule.fit(bad)
    codes = np.array([[ord(c) for c in good], [ord(c) for c in bad]])
    assert rule.fit_all(codes).tolist() == [True, False]


@given(st.lists(st.sampled_from(KEEP), unique=True), st.integers(0, 2**32))
def test_many_at_once_is_one_by_one(words: list[str], seed: int) -> None:
    codes = np.random.default_rng(seed).integers(0, 4, size=(40, 12))
    rule = rules(words)
    assert rule.fit_all(codes).tolist() == [rule.fit(row) for row in codes.tolist()]


@given(st.lists(st.sampled_from(KEEP), unique=True), st.permutations("ABCD"))
def test_names_of_treatments_do_not_matter(words: list[str], names: list[str]) -> None:
    rule = rules(words)
    as_named = dict(zip("ABCD", names, strict=True))
    for text in (t.replace(" ", "") for pair in EXAMPLES.values() for t in pair):
        assert rule.fit(text) == rule.fit([as_named[c] for c in text])


def test_every_allowed_layout_is_equally_likely() -> None:
    """Two blocks of three, no treatment beside itself: 3! orders x 2 derangements."""
    trial = trial_of(f'{BLOCKS}, blocks: 2, keep: ["{ACROSS}"]', factors=letters(3))
    counts = Counter(
        "".join(p.treatment for p in draw(trial, seed).plots) for seed in range(1200)
    )
    one = ["".join(p) for p in permutations("ABC")]
    assert set(counts) == {
        a + b for a, b in product(one, one) if all(x != y for x, y in zip(a, b, strict=True))
    }
    assert sum((n - 100) ** 2 / 100 for n in counts.values()) < 31.27  # 11 df, upper 0.1 %


def test_share_by_counting_all(tmp_path: Path) -> None:
    """Three blocks of four: 24 x 9 x 9 of 24^3; a row has 9 derangements (from memory)."""
    trial = trial_of(
        f'{BLOCKS}, blocks: 3, keep: ["{ACROSS}"], seed: 4', tmp_path, factors=letters(4)
    )
    layout = randomize(trial)
    assert layout.restricted is not None
    assert (layout.restricted.allowed, layout.restricted.total) == (24 * 81, 24**3)
    assert layout.restricted.exact
    assert layout.restricted.unrestricted_p == pytest.approx(24 / 24**3)
    assert layout.restricted.smallest_possible_p == pytest.approx(1 / 81)
    layout.write()
    record = json.loads((tmp_path / "layout.record.json").read_text())
    assert record["restricted"]["words"] == [ACROSS]
    assert (record["restricted"]["allowed"], record["restricted"]["exact"]) == (1944, True)
    again = read_layout(trial)
    assert again.plots == layout.plots


def test_share_by_looking_at_seeded_draws() -> None:
    trial = trial_of(f'{BLOCKS}, blocks: 5, keep: ["{ACROSS}"]', factors=letters(4))
    layout = randomize(trial, seed=1)
    assert layout.restricted is not None
    share = layout.restricted.allowed / layout.restricted.total
    # four derangements of four in a row: (9/24)^4 = 0.0198; four standard errors of 10,000
    assert not layout.restricted.exact
    assert abs(share - 0.375**4) < 4 * (0.0198 * 0.9802 / 10_000) ** 0.5
    assert randomize(trial, seed=1).restricted == layout.restricted


@pytest.mark.parametrize("word", KEEP)
@pytest.mark.parametrize(
    "design",
    [
        f"{BLOCKS}, blocks: 3",
        f"{FREE}, replicates: 3",
        "type: incomplete block, block_size: 3, replicates: 3",
        "type: row-column, rows: 4, columns: 6",
    ],
)
def test_drawn_layouts_are_allowed_and_known_to_be(word: str, design: str) -> None:
    trial = trial_of(f'{design}, keep: ["{word}"]', factors=letters(4))
    if word == CORNERS:  # four treatments leave no room for it in some of these
        trial = trial_of(
            f'{BLOCKS}, blocks: 3, keep: ["{CORNERS}", "{ENDS}"]', factors=letters(6)
        )
    for seed in range(3):
        layout = draw(trial, seed)
        rule = allowed(trial, layout)
        assert rule is not None
        codes = np.array([[ord(p.treatment) for p in layout.plots]])
        assert rule(codes).tolist() == [True]
        assert not rule(np.zeros_like(codes)).all() or word in (HALVES, ENDS)


def test_ground_of_a_free_layout_is_its_rows_and_columns() -> None:
    layout = draw(trial_of(f"{FREE}, replicates: 3", factors=letters(3)), 1)
    (places,) = tier_places(layout)
    assert places.spots == tuple((i, j) for i in range(3) for j in range(3))
    assert len(restrictions([BESIDE], places).differ) == 12  # neighbors in a 3 x 3 grid
    assert len(restrictions([CORNERS], places).differ) == 12 + 8


def test_no_restrictions_no_rule() -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3")
    assert allowed(trial, randomize(trial, seed=1)) is None


@pytest.mark.parametrize(
    ("design", "count", "found"),
    [
        # 2 of 64 layouts are left: only the two that alternate
        (
            f'{BLOCKS}, blocks: 6, keep: ["{ACROSS}"]',
            2,
            "so few allowed layouts that no p below 1 is possible",
        ),
        (f'{BLOCKS}, blocks: 3, keep: ["{TWICE}"]', 2, "no layout is left by keep"),
        (f'{FREE}, replicates: {{A: 5, B: 1}}, keep: ["{BESIDE}"]', 2, "no layout is left"),
        (f'{FREE}, replicates: {{A: 1, B: 4}}, keep: ["{HALVES}"]', 2, "no layout is left"),
        (f'{BLOCKS}, blocks: 7, keep: ["{TWICE}"]', 6, "no layout is left by keep"),
        (f'{BLOCKS}, blocks: 8, keep: ["{TWICE}"]', 8, "no allowed layout among 100,000"),
    ],
)
def test_refused_when_the_restriction_leaves_too_little(
    design: str, count: int, found: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if "among" in found:
        monkeypatch.setattr("wickstats.layout.restricted.TRIES", 200)
        found = found.replace("100,000", "200")
    with pytest.raises(LayoutError) as caught:
        randomize(trial_of(design, factors=letters(count)), seed=1)
    assert caught.value.problems[0].found.startswith(found)


def test_small_trials_are_cautioned_not_refused() -> None:
    """Two blocks of two: the size, not the restriction, leaves p at 0.5 or more."""
    from wickstats.layout.tell import layout_lines

    trial = trial_of(f'{BLOCKS}, blocks: 2, keep: ["{ACROSS}"]', factors=letters(2))
    layout = randomize(trial, seed=1)
    assert layout.restricted is not None
    assert layout.restricted.unrestricted_p == 0.5
    lines = layout_lines(layout)
    assert lines[1] == "2 of all 4 layouts are allowed (50.0\N{NO-BREAK SPACE}%)."
    assert lines[2].startswith("With so few layouts no test by re-randomization can give a p")


def test_smallest_p_without_restrictions() -> None:
    """t! (t!)^-b of complete blocks; the labels of treatments alike often may change."""
    blocks = draw(trial_of(f"{BLOCKS}, blocks: 3", factors=letters(3)), 1)
    assert smallest_p_by_stratum(blocks) == {"plot": 6 / 216}
    free = draw(trial_of(f"{FREE}, replicates: {{A: 3, B: 3, C: 2}}"), 1)
    assert smallest_p_by_stratum(free) == {"plot": 2 / 560}


def test_schema_says_what_each_means() -> None:
    from wickstats.design.schema import trial_schema

    items = trial_schema()["$defs"]["Design"]["properties"]["keep"]["items"]["oneOf"]
    assert {item["const"]: item["description"] for item in items} == MEANINGS
    assert set(MEANINGS) == set(KEEP)
