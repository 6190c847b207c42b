# ruff: noqa: E501 - sentences are kept whole, as users see them
"""Plots that do not nest as the design says get exactly these words, with row and column."""

from pathlib import Path

import pytest
from support_layouts import STRIPS, letters, trial_of

from wickstats.core.errors import LayoutError
from wickstats.layout.read import read_layout

SQUARE = "plot,row,column,watering\n1,1,1,A\n2,1,2,B\n3,2,1,B\n4,2,2,A\n"
CROSSED = (
    "plot,block,row_strip,column_strip,w,n\n"
    "1,1,1,1,A,x\n2,1,1,2,A,y\n3,1,2,1,B,x\n4,1,2,2,B,y\n5,1,3,1,C,x\n6,1,3,2,C,y\n"
)
PAIRS = (
    "plot,replicate,block,watering\n1,1,1,A\n2,1,1,B\n3,1,2,C\n4,1,2,D\n"
    "5,2,1,A\n6,2,1,C\n7,2,2,B\n8,2,2,D\n"
)
RESOLVABLE = "type: incomplete block, resolvable: true"

# name -> (table, old, new, design, factors, the problems)
CASES: dict[str, tuple[str, str, str, str, str, list[str]]] = {
    "twice in a column": (
        SQUARE,
        "3,2,1,B\n4,2,2,A",
        "3,2,1,A\n4,2,2,B",
        "type: Latin square",
        letters(2),
        [
            "row 4, column column: no Latin square: found A twice in column 1 (first in row 2 of the table); expected each treatment once in each column of a square; to mend it: correct the table, or write type: row-column",
            "row 5, column column: no Latin square: found B twice in column 2 (first in row 3 of the table); expected each treatment once in each column of a square; to mend it: correct the table, or write type: row-column",
        ],
    ),
    "two squares without their names": (
        SQUARE,
        "4,2,2,A\n",
        "4,2,2,A\n5,1,1,B\n",
        "type: Latin square",
        letters(2),
        [
            "row 6, column column: duplicate position: found row 1, column 1 a second time (first in row 2 of the table); expected one plot at each position; to mend it: correct row or column; several squares or arrays need a column square",
            "row 6, column row: no Latin square: found B twice in row 1 (first in row 3 of the table); expected each treatment once in each row of a square; to mend it: correct the table, or write type: row-column",
            "row 6, column column: no Latin square: found B twice in column 1 (first in row 4 of the table); expected each treatment once in each column of a square; to mend it: correct the table, or write type: row-column",
        ],
    ),
    "squares meant, none named": (
        SQUARE,
        "",
        "",
        "type: Latin square, squares: 2",
        letters(2),
        ['row 1: missing column: found no column "square"; expected a column "square"; to mend it: add the column'],
    ),
    "another number of rows": (
        SQUARE,
        "",
        "",
        "type: row-column, rows: 3, columns: 2",
        letters(2),
        ["column row: sizes differ: found 2 rows in the table; expected 3, as rows in the trial file says; to mend it: correct the table or the trial file; or leave the size out of the trial file"],
    ),
    "strip of two levels": (
        CROSSED,
        "2,1,1,2,A,y",
        "2,1,1,2,B,y",
        "type: strip-plot",
        STRIPS,
        ['row 3, column w: row strip spans levels: found row strip "1" holds A, B; expected one level of w in a row strip; to mend it: correct the row strip or the level'],
    ),
    "crossing twice": (
        CROSSED,
        "2,1,1,2,A,y",
        "2,1,1,1,A,x",
        "type: strip-plot",
        STRIPS,
        ['row 3, column column_strip: duplicate crossing: found row strip "1" and column strip "1" cross a second time (first in row 2); expected one plot where two strips cross; to mend it: correct the strips or the block; give plots on one reservoir its name'],
    ),
    "not resolvable": (
        PAIRS,
        "6,2,1,C",
        "6,2,1,B",
        RESOLVABLE,
        letters(4),
        ['row 8, column replicate: not resolvable: found B twice in replicate "2" (first in row 7); expected each treatment once in each replicate, as resolvable: true says; to mend it: correct the table, or take resolvable out'],
    ),
    "no replicates named": (
        PAIRS,
        "replicate",
        "turn",
        RESOLVABLE,
        letters(4),
        ['row 1: missing column: found no column "replicate"; expected a column "replicate"; to mend it: add the column'],
    ),
    "blocks of another size": (
        PAIRS,
        "",
        "",
        f"{RESOLVABLE}, block_size: 3",
        letters(4),
        [
            f"row {row}, column block: sizes differ: found 2 units in block {block}; expected 3, as block_size in the trial file says; to mend it: correct the table or the trial file; or leave the size out of the trial file"
            for row, block in ((2, 1), (4, 2), (6, 1), (8, 2))
        ],
    ),
    "blocks of a replicate are its own": (
        PAIRS,
        "",
        "",
        f"{RESOLVABLE}, blocks: 3",
        letters(4),
        ["column block: sizes differ: found 4 blocks in the table; expected 3, as blocks in the trial file says; to mend it: correct the table or the trial file; or leave the size out of the trial file"],
    ),
    "another number of arrays": (
        SQUARE.replace("plot,", "replicate,plot,").replace("\n", "\n1,")[:-2],
        "",
        "",
        "type: row-column, replicates: 2",
        letters(2),
        ["column replicate: sizes differ: found 1 replicates in the table; expected 2, as replicates in the trial file says; to mend it: correct the table or the trial file; or leave the size out of the trial file"],
    ),
    "a reference that should stand twice": (
        "plot,block,watering\n1,1,A\n2,1,A\n3,1,B\n4,2,A\n5,2,B\n",
        "",
        "",
        "type: randomized complete block, replicates: {A: 2}",
        letters(2),
        ["layout.csv: sizes differ: found 1 units of A in block 2; expected 2, as replicates in the trial file says; to mend it: correct the table or the trial file; or leave the size out of the trial file"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_exact_words(name: str, tmp_path: Path) -> None:
    table, old, new, design, factors, words = CASES[name]
    assert old in table
    (tmp_path / "layout.csv").write_text(table.replace(old, new, 1))
    with pytest.raises(LayoutError) as caught:
        read_layout(trial_of(f"{design}, drawn: elsewhere", tmp_path, factors=factors))
    found = [str(p).removeprefix("layout.csv, ") for p in caught.value.problems]
    assert sorted(found) == sorted(words)


@pytest.mark.parametrize(
    ("table", "design", "factors"),
    [
        (SQUARE, "type: Latin square", letters(2)),
        (CROSSED, "type: strip-plot", STRIPS),
        (PAIRS, f"{RESOLVABLE}, block_size: 2, replicates: 2, blocks: 4", letters(4)),
    ],
)
def test_good_tables(table: str, design: str, factors: str, tmp_path: Path) -> None:
    (tmp_path / "layout.csv").write_text(table)
    layout = read_layout(trial_of(f"{design}, drawn: elsewhere", tmp_path, factors=factors))
    assert len(layout.plots) == table.count("\n") - 1


def test_one_position_for_the_plots_of_a_reservoir(tmp_path: Path) -> None:
    head, *rows = SQUARE.splitlines()
    table = [f"{head},reservoir", rows[0] + ",T", "9" + rows[0][1:] + ",T"]
    table += [row + "," for row in rows[1:]]
    (tmp_path / "layout.csv").write_text("\n".join(table))
    layout = read_layout(
        trial_of("type: Latin square, drawn: elsewhere", tmp_path, factors=letters(2))
    )
    assert len(set(layout.unit_of.values())) == 4
