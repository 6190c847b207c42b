# ruff: noqa: E501 - sentences are kept whole, as users see them
"""Sizes of a design that do not fit get exactly these words, with what sizes would."""

import pytest
from support_layouts import BLOCKS, FREE, SPLIT, STRIPS, letters, trial_of

from wickstats.core.errors import TrialError

INCOMPLETE = "type: incomplete block"
ARRAYS = "type: row-column"
CHANGE = "change one of the sizes under design; power tells what more plots would bring"
PLACE = "trial.yaml, line 4, column "

# name -> (design, factors, "code: found | expected")
CASES = {
    "blocks that do not fill": (
        f"{INCOMPLETE}, block_size: 5, replicates: 4",
        letters(12),
        (
            "sizes do not fit: 12 treatments x 4 replicates = 48 plots, which do not fill blocks of "
            "5 | replicates: 5 or block_size: 2, 3, 4, 6, 8"
        ),
    ),
    "more replicates would do": (
        f"{INCOMPLETE}, block_size: 4, replicates: 5",
        letters(6),
        (
            "sizes do not fit: 6 treatments x 5 replicates = 30 plots, which do not fill blocks of "
            "4 | replicates: 4 or 6 or block_size: 2, 3, 5"
        ),
    ),
    "replicates by treatment": (
        f"{INCOMPLETE}, block_size: 3, replicates: {{A: 6, B: 4, C: 3, D: 3}}",
        letters(4),
        (
            "sizes do not fit: replicates that add up to 16 plots, which do not fill blocks of 3 | "
            "replicates that add up to 15 or 18 or block_size: 2"
        ),
    ),
    "not resolvable": (
        f"{INCOMPLETE}, block_size: 5, replicates: 5, resolvable: true",
        letters(12),
        (
            "sizes do not fit: blocks of 5 for 12 treatments, resolvable | a block_size that "
            "divides 12: 2, 3, 4, 6"
        ),
    ),
    "a prime number of treatments": (
        f"{INCOMPLETE}, block_size: 3, replicates: 3, resolvable: true",
        letters(7),
        (
            "sizes do not fit: blocks of 3 for 7 treatments, resolvable | a block_size that "
            "divides 7; it has no divisor, so none is resolvable"
        ),
    ),
    "blocks that contradict": (
        f"{INCOMPLETE}, block_size: 3, replicates: 4, blocks: 10",
        letters(12),
        (
            "sizes do not fit: blocks: 10, but 48 plots fill 16 blocks of 3 | blocks: 16 "
            "(12 treatments, blocks x block_size = plots)"
        ),
    ),
    "too few blocks to compare": (
        f"{INCOMPLETE}, block_size: 2, replicates: 1",
        letters(6),
        (
            "sizes do not fit: 3 blocks of 2 for 6 treatments | at least 5 blocks, so that all "
            "treatments can be compared: at least 2 replicates"
        ),
    ),
    "a block that holds all": (
        f"{INCOMPLETE}, block_size: 6, replicates: 2",
        letters(6),
        (
            "impossible value: blocks of 6 for 6 treatments | from 2 to 5: an incomplete block "
            "holds some of them"
        ),
    ),
    "resolvable and unequal": (
        f"{INCOMPLETE}, block_size: 2, replicates: {{A: 4, B: 2, C: 2, D: 2}}, resolvable: true",
        letters(4),
        (
            "contradiction: resolvable: true with more replicates of some treatments | one number: "
            "each replicate holds every treatment once"
        ),
    ),
    "rows and columns": (
        f"{ARRAYS}, rows: 4, columns: 6",
        letters(7),
        (
            "sizes do not fit: 4 rows x 6 columns = 24 plots, 7 treatments | a multiple of 7 plots: "
            "columns: 7, or rows: 7"
        ),
    ),
    "several arrays": (
        f"{ARRAYS}, rows: 3, columns: 5, replicates: 2",
        letters(12),
        (
            "sizes do not fit: 3 rows x 5 columns x 2 replicates = 30 plots, 12 treatments | "
            "a multiple of 12 plots: columns: 4 or 6, or rows: 6"
        ),
    ),
    "rows and columns take up all": (
        f"{ARRAYS}, rows: 2, columns: 8",
        letters(16),
        (
            "sizes do not fit: 2 rows x 8 columns for 16 treatments | (rows - 1) x (columns - 1) at "
            "least 15: rows and columns take up the other comparisons"
        ),
    ),
    "one row": (
        f"{ARRAYS}, rows: 1, columns: 8",
        letters(4),
        (
            "sizes do not fit: 1 row of 8 | at least 2 rows and 2 columns; one line of blocks is "
            "randomized complete block"
        ),
    ),
    "a large square": (
        "type: Latin square",
        letters(41),
        "impossible value: a Latin square for 41 treatments, of 41 rows | at most 40 treatments",
    ),
    "too many treatments for a plan": (
        f"{INCOMPLETE}, block_size: 3, replicates: 3",
        letters(102),
        "impossible value: 102 treatments in a design of type incomplete block | at most 100 treatments where the layout is drawn here",
    ),
    "strips without blocks": (
        "type: strip-plot, replicates: 3",
        STRIPS,
        "missing key: no blocks under design | blocks, since the layout is drawn here",
    ),
    "replicates by treatment in a square": (
        f"{ARRAYS}, rows: 4, columns: 4, replicates: {{A: 4, B: 4}}",
        letters(2),
        "contradiction: replicates by treatment in a row-column design | one number",
    ),
    "an unknown whole plot": (
        "type: split-plot, replicates: {V1: 4, V2: 4, N3: 4}",
        SPLIT,
        'unknown treatment: "N3" in design.replicates | one of: V1, V2, V3',
    ),
    "a free trial that leaves one out": (
        f"{FREE}, replicates: {{A: 4, B: 3}}",
        letters(3),
        (
            'missing treatment: design.replicates without "C" | a number for every treatment; 0 '
            "where there is none"
        ),
    ),
    "keep with reservoirs": (
        f'{BLOCKS}, blocks: 4, plots_per_reservoir: {{A: 2}}, keep: ["no treatment beside itself"]',
        letters(4),
        (
            'contradiction: "no treatment beside itself" together with plots_per_reservoir '
            "above 1 | restrictions on columns only where every unit is one plot: units of "
            "several plots have no column of their own, and shift those beside them"
        ),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_exact_words(name: str) -> None:
    design, factors, words = CASES[name]
    with pytest.raises(TrialError) as caught:
        trial_of(design, factors=factors)
    found = [p for p in caught.value.problems if f"{p.code}: {p.found} | {p.expected}" == words]
    assert found, [f"{p.code}: {p.found} | {p.expected}" for p in caught.value.problems]
    assert all(str(p).startswith(PLACE) for p in caught.value.problems)
    if found[0].code == "sizes do not fit":
        assert len(caught.value.problems) == 1
        assert found[0].fix == CHANGE


@pytest.mark.parametrize(
    ("design", "count"),
    [
        # what the messages above say would fit
        (f"{INCOMPLETE}, block_size: 5, replicates: 5", 12),
        (f"{INCOMPLETE}, block_size: 8, replicates: 4", 12),
        (f"{INCOMPLETE}, block_size: 4, replicates: 4", 6),
        (f"{INCOMPLETE}, block_size: 3, replicates: 4, blocks: 16", 12),
        (f"{INCOMPLETE}, block_size: 3, replicates: {{A: 6, B: 3, C: 3, D: 3}}", 4),
        (f"{ARRAYS}, rows: 4, columns: 7", 7),
        (f"{ARRAYS}, rows: 3, columns: 4, replicates: 2", 12),
    ],
)
def test_sizes_that_the_words_propose_do_fit(design: str, count: int) -> None:
    assert trial_of(design, factors=letters(count)).design.drawn == "here"


def test_sizes_of_layouts_drawn_elsewhere_need_not_fit() -> None:
    """Blocks may be of unequal size there; the table is what counts."""
    trial = trial_of(f"{INCOMPLETE}, replicates: 4, drawn: elsewhere", factors=letters(7))
    assert trial.design.block_size is None
