"""Every bad layout table gets exactly these problems, with row and column."""

from pathlib import Path

import pytest
from support_layouts import BLOCKS, FREE, SPLIT, trial_of

from wickstats.core.errors import LayoutError
from wickstats.layout.read import read_layout

GOOD = """\
plot,block,row,column,watering,reservoir,plants
1,1,1,1,A,,8
2,1,1,2,B,,8
3,1,1,3,C,,8
4,2,2,1,C,,8
5,2,2,2,A,,8
6,2,2,3,B,,8
"""
DESIGN = f"{BLOCKS}, blocks: 2, plants_per_plot: 8, drawn: elsewhere"

# name -> (old, new, "row, column: code: found | expected | fix", ...)
CASES: dict[str, tuple[str, str, str]] = {
    "unknown level": (
        "2,1,1,2,B",
        "2,1,1,2,b",
        (
            'row 3, column watering: unknown level: found "b" for watering; '
            "expected one of: A, B, C; to mend it: write B"
        ),
    ),
    "blank level": (
        "2,1,1,2,B",
        "2,1,1,2,",
        (
            'row 3, column watering: blank cell: found nothing under "watering"; '
            "expected a watering in every row; to mend it: fill the cell, or take the row out"
        ),
    ),
    "blank block": (
        "4,2,2",
        "4,,2",
        (
            'row 5, column block: blank cell: found nothing under "block"; '
            "expected a block in every row; to mend it: fill the cell, or take the row out"
        ),
    ),
    "plot twice": (
        "6,2,2",
        "5,2,2",
        (
            'row 7, column plot: duplicate plot: found "5" a second time (first in row 6); '
            "expected one row a plot; to mend it: correct the identifier, or take the row out"
        ),
    ),
    "position twice": (
        "6,2,2,3",
        "6,2,2,2",
        (
            "row 7, column column: duplicate position: found row 2, column 2 a second time "
            "(first in row 6 of the table); expected one plot at each position; "
            "to mend it: correct row or column, or leave both blank"
        ),
    ),
    "row is no number": (
        "6,2,2,3",
        "6,2,two,3",
        (
            'row 7, column row: not a number: found "two" for row; '
            "expected a whole number at least 1; to mend it: write digits, or leave the "
            "cell blank"
        ),
    ),
    "no plants": (
        "B,,8\n3",
        "B,,0\n3",
        (
            'row 3, column plants: not a number: found "0" for plants; '
            "expected a whole number at least 1; to mend it: write digits, or leave the "
            "cell blank"
        ),
    ),
    "other number of plants": (
        "B,,8\n3",
        "B,,7\n3",
        (
            "row 3, column plants: sizes differ: found 7 plants; "
            "expected 8, as plants_per_plot in the trial file says; to mend it: correct "
            "the table "
            "or the trial file; or leave the size out of the trial file"
        ),
    ),
    "another number of blocks": (
        "6,2,2,3,B",
        "6,3,2,3,B",
        (
            "column block: sizes differ: found 3 blocks in the table; "
            "expected 2, as blocks in the trial file says; to mend it: correct the table "
            "or the trial file; or leave the size out of the trial file"
        ),
    ),
    "missing factor": (
        "watering",
        "method",
        (
            'row 1: missing column: found no column "watering"; expected a column "watering"; '
            "to mend it: add the column"
        ),
    ),
    "misspelt factor": (
        "watering",
        "Watering ",
        (
            'row 1: missing column: found no column "watering", but "Watering"; '
            'expected a column "watering"; to mend it: rename "Watering"'
        ),
    ),
    "missing block": (
        "plot,block",
        "plot,strip",
        (
            'row 1: missing column: found no column "block"; expected a column "block"; '
            "to mend it: add the column"
        ),
    ),
    "misspelt column": (
        "reservoir,plants",
        "reservoir,plant",
        (
            'row 1, column plant: unknown column: found "plant"; expected one of: plot, block, '
            "row, column, replicate, square, whole_plot, subplot, row_strip, column_strip, "
            "reservoir, plants, coil, run, watering; to mend it: write plants; or give the "
            "column quite another name"
        ),
    ),
    "column twice": (
        "reservoir,plants",
        "block,plants",
        (
            'row 1, column block: duplicate column: found 2 columns "block"; '
            "expected each column once; to mend it: take one of them out, or rename it"
        ),
    ),
    "too many cells": (
        "1,1,1,1,A,,8",
        "1,1,1,1,A,,8,by the gate",
        (
            "row 2: too many cells: found 8 cells under 7 heads; expected one cell a column; "
            "to mend it: put quotes around texts that hold the delimiter"
        ),
    ),
    "reservoir of two treatments": (
        "1,1,1,1,A,,8\n2,1,1,2,B,,8",
        "1,1,1,1,A,T,8\n2,1,1,2,B,T,8",
        (
            'row 3, column reservoir: reservoir spans treatments: found reservoir "T" '
            "feeds A, B; "
            "expected one treatment a reservoir: what it feeds is one unit; "
            "to mend it: correct the reservoir or the treatment"
        ),
    ),
    "reservoir called as a plot": (
        "1,1,1,1,A,,8",
        "1,1,1,1,A,3,8",
        (
            'row 2, column reservoir: name used twice: found reservoir "3" has the name '
            "of a plot; "
            "expected names that tell plots and reservoirs apart; "
            "to mend it: rename the reservoir"
        ),
    ),
    "control character": (
        "2,1,1",
        "2\x1b,1,1",
        (
            "row 3, column plot: control character: found the invisible character U+001B; "
            "expected visible text only; to mend it: type the cell again"
        ),
    ),
}


def problems(text: str, design: str, folder: Path, **more: str) -> list[str]:
    (folder / "layout.csv").write_text(text, encoding="utf-8")
    with pytest.raises(LayoutError) as caught:
        read_layout(trial_of(design, folder, **more))
    return [str(p).removeprefix("layout.csv, ") for p in caught.value.problems]


def test_good_table(tmp_path: Path) -> None:
    (tmp_path / "layout.csv").write_text(GOOD)
    assert len(read_layout(trial_of(DESIGN, tmp_path)).plots) == 6


@pytest.mark.parametrize("name", CASES)
def test_exact_words(name: str, tmp_path: Path) -> None:
    old, new, words = CASES[name]
    assert old in GOOD
    assert problems(GOOD.replace(old, new, 1), DESIGN, tmp_path) == [words]


def test_level_without_plot(tmp_path: Path) -> None:
    (found,) = problems(GOOD.replace(",C,", ",A,"), DESIGN, tmp_path)
    assert found.startswith(
        'column watering: missing treatment: found no plot with watering "C"; '
    )


def test_all_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("2,1,1,2,B", "2,1,1,2,X").replace("6,2,2,3", "5,2,x,3")
    assert [p.split(": ")[1] for p in problems(text, DESIGN, tmp_path)] == [
        "unknown level",
        "not a number",
        "duplicate plot",
    ]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty table"),
        ("\n\n", "empty table"),
        ("plot,block,watering\n", "empty table"),
        ("PK\x03\x04", "not a text table"),
    ],
)
def test_no_table(text: str, code: str, tmp_path: Path) -> None:
    assert any(f"{code}: " in found for found in problems(text, DESIGN, tmp_path))


def test_not_utf8(tmp_path: Path) -> None:
    (tmp_path / "layout.csv").write_bytes(GOOD.encode() + b"caf\xe9,1,1,1,A,,8\n")
    with pytest.raises(LayoutError) as caught:
        read_layout(trial_of(DESIGN, tmp_path))
    assert str(caught.value).startswith("layout.csv, row 8: not UTF-8: found the byte 0xE9")


def test_no_file(tmp_path: Path) -> None:
    for drawn, fix in (("here", "with the command randomize"), ("elsewhere", "put the table")):
        with pytest.raises(LayoutError) as caught:
            read_layout(trial_of(f"{BLOCKS}, blocks: 2, drawn: {drawn}", tmp_path))
        assert fix in caught.value.problems[0].fix


def test_blocks_in_a_completely_randomized_trial(tmp_path: Path) -> None:
    (found,) = problems(GOOD, f"{FREE}, drawn: elsewhere", tmp_path)
    assert found.startswith("row 1, column block: contradiction: found 2 blocks in the table; ")


def test_replicates_differ(tmp_path: Path) -> None:
    text = GOOD.replace("block", "site")
    (found,) = problems(
        text, f"{FREE}, replicates: {{A: 2, B: 2, C: 3}}, drawn: elsewhere", tmp_path
    )
    assert "sizes differ: found 2 units of C in the table; expected 3, as replicates" in found


def test_reservoirs_differ(tmp_path: Path) -> None:
    found = problems(GOOD, f"{DESIGN}, plots_per_reservoir: {{A: 2}}", tmp_path)
    assert len(found) == 2
    assert "sizes differ: found 1 plot on one reservoir (1); expected 2, as plots_p" in found[0]


def test_split_plot(tmp_path: Path) -> None:
    rows = [f"{w}{s},{w},V{w},N{s}" for w in (1, 2, 3) for s in (0, 1, 2, 3)]
    text = "plot,whole_plot,variety,nitrogen\n" + "\n".join(rows)
    design = "type: split-plot, drawn: elsewhere"
    (found,) = problems(text.replace("21,2,V2", "21,2,V3"), design, tmp_path, factors=SPLIT)
    assert found == (
        'row 7, column variety: whole plot spans levels: found whole plot "2" holds V2, V3; '
        "expected one level of variety in a whole plot; "
        "to mend it: correct the whole plot or the level"
    )
    (found,) = problems(text.replace("whole_plot", "main"), design, tmp_path, factors=SPLIT)
    assert found.startswith('row 1: missing column: found no column "whole_plot"; ')


def test_mistyped_identifier_among_ours(tmp_path: Path) -> None:
    from wickstats.layout.randomize import randomize

    trial = trial_of(f"{BLOCKS}, blocks: 2, seed: 1", tmp_path)
    layout = randomize(trial)
    text = layout.source_bytes["layout.csv"].decode()
    first = layout.plots[0].plot
    other = "A" if first[0] != "A" else "C"
    (found,) = problems(
        text.replace(first, other + first[1:]), f"{BLOCKS}, blocks: 2, seed: 1", tmp_path
    )
    assert found.startswith(
        f'row 2, column plot: mistyped identifier: found "{other + first[1:]}", '
    )
