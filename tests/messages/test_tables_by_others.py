"""Files as other people send them: every one is told in words, at its place, without a fault.

Each case is a whole season's folder. What ``check --json`` gives is read back: each finding
has its file, a code, what was found, what was expected and what to do.
"""

import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from wickstats.cli.app import run

TRIAL = """format: 1
trial: {id: small, season: {start: 2025-03-01, end: 2025-10-31}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 3, plants_per_plot: 2, layout: layout.csv, drawn: elsewhere}
records:
  visits: {file: visits.csv}
  measurements: {file: sizes.csv}
responses:
  - {name: survival, kind: survival, better: more}
  - {name: height, kind: growth, column: height_cm, measured_in: cm, better: more}
"""  # noqa: E501 - a line of the file as people write it
PLOTS = tuple(f"A{block}{place}" for block in (1, 2, 3) for place in (1, 2))
LAYOUT = "plot,block,watering\n" + "".join(
    f"{p},{p[1]},{'hand' if p[2] == '1' else 'wick'}\n" for p in PLOTS
)
VISITS = ["date,plot,plant,status"] + [
    f"{day},{p},{k},alive"
    for day in ("2025-06-01", "2025-10-30")
    for p in PLOTS
    for k in (1, 2)
]
SIZES = ["date,plot,plant,height_cm"] + [
    f"2025-10-30,{p},{k},{30 + 2 * i + k}" for i, p in enumerate(PLOTS) for k in (1, 2)
]
V, S = "\n".join(VISITS) + "\n", "\n".join(SIZES) + "\n"
CELLS: list[list[Any]] = [SIZES[0].split(",")] + [
    [date(2025, 10, 30), plot, int(plant), float(height)]
    for _, plot, plant, height in (line.split(",") for line in SIZES[1:])
]
BOOK = TRIAL.replace("sizes.csv", "sizes.xlsx")


def size(cell: str) -> str:
    """The table of sizes with another text in row 4."""
    return "\n".join([*SIZES[:3], f"2025-10-30,A12,1,{cell}", *SIZES[4:]]) + "\n"


def book(rows: list[list[Any]], change: Callable[[Any], None] | None = None) -> bytes:
    """A workbook of one sheet."""
    made = openpyxl.Workbook()
    for row in rows:
        made.worksheets[0].append(row)
    if change:
        change(made.worksheets[0])
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def merged(*areas: str) -> Callable[[Any], None]:
    """Merge areas of a sheet."""

    def change(sheet: Any) -> None:
        for area in areas:
            sheet.merge_cells(area)

    return change


@dataclass(frozen=True)
class Case:
    """Files besides the good ones, and what must be said: (place, code, words of the fix)."""

    name: str
    files: dict[str, str | bytes | None] = field(default_factory=dict)
    says: tuple[tuple[str, str, str], ...] = ()
    trial: str = TRIAL
    bad: bool = True


DATES = S.replace("2025-10-30", "{}")
CASES = (
    Case(
        "a title above the heads",
        {"sizes.csv": "Heights of 2025\n" + S},
        (("sizes.csv, row 2", "heads in another row", "write `header_row: 2`"),),
    ),
    Case(
        "a title and a blank row in a file with semicolons",
        {"sizes.csv": "Heights of 2025;;;\n;;;\n" + S.replace(",", ";")},
        (("sizes.csv, row 3", "heads in another row", "write `header_row: 3`"),),
    ),
    Case(
        "a merged title in a workbook",
        {"sizes.xlsx": book([["Heights"], [], *CELLS], merged("A1:D1"))},
        (("sizes.xlsx, row 3", "heads in another row", "write `header_row: 3`"),),
        BOOK,
    ),
    Case(
        "heads in two rows",
        {
            "sizes.xlsx": book(
                [
                    ["date", "plot", "plant", "sizes"],
                    [None, None, None, "height_cm"],
                    *CELLS[1:],
                ],
                merged("A1:A2", "B1:B2"),
            )
        },
        (("sizes.xlsx, row 2", "heads in two rows", "write every head into one row"),),
        BOOK,
    ),
    Case(
        "merged plots",
        {"sizes.xlsx": book(CELLS, merged("B2:B3"))},
        (("sizes.xlsx, row 3, column plot", "merged cells", "split the merged cells"),),
        BOOK,
    ),
    Case(
        "a merged head",
        {
            "sizes.xlsx": book(
                [[*CELLS[0], None], *([*r, 1] for r in CELLS[1:])], merged("D1:E1")
            )
        },
        (
            ("sizes.xlsx, row 1, column D", "merged heads", "write a head above every column"),
            ("sizes.xlsx, row 1, column E", "no head", "they are not used"),
        ),
        BOOK,
        bad=False,
    ),
    Case(
        "a file that is not there",
        {"sizes.csv": None, "sises.csv": S},
        (("trial.yaml, line 7, column 24", "missing file", "did you mean sises.csv?"),),
    ),
    Case(
        "a folder in the place of a file",
        {"visits.csv": None, "visits.csv/a.csv": V},
        (("trial.yaml, line 6, column 18", "missing file", "name a file inside it"),),
    ),
    Case(
        "an empty file",
        {"sizes.csv": ""},
        (("sizes.csv, row 1", "no header", "write the column names"),),
    ),
    Case(
        "heads only, of a table that a response needs",
        {"sizes.csv": SIZES[0] + "\n"},
        (("sizes.csv", "no rows", "nothing to do if nothing was recorded yet"),),
        bad=False,
    ),
    Case(
        "a binary file",
        {"sizes.csv": bytes(range(256))},
        (("sizes.csv, row 1", "not text", 'save the sheet as "CSV UTF-8"'),),
    ),
    Case(
        "text named as a workbook",
        {"sizes.xlsx": S},
        (("sizes.xlsx", "unreadable workbook", "name it .csv"),),
        BOOK,
    ),
    Case(
        "a workbook with a password",
        {"sizes.xlsx": bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600)},
        (("sizes.xlsx", "unreadable workbook", "without a password"),),
        BOOK,
    ),
    Case(
        "half a workbook",
        {"sizes.xlsx": book(CELLS)[:2000]},
        (("sizes.xlsx", "unreadable workbook", "save it again as .xlsx"),),
        BOOK,
    ),
    Case(
        "a row cut short",
        {"sizes.csv": S.replace("2025-10-30,A12,1,33", "2025-10-30,A12")},
        (("sizes.csv, row 4", "rows cut short", "the missing cells are blank"),),
        bad=False,
    ),
    Case(
        "a quote that is never closed",
        {"sizes.csv": size('"33')},
        (("sizes.csv, row 4", "broken text", "close it, or take it out"),),
    ),
    Case(
        "text behind a quote",
        {"sizes.csv": size('"33"x')},
        (("sizes.csv, row 4", "broken text", "double a quotation mark"),),
    ),
    Case(
        "a column without a head",
        {"sizes.csv": "\n".join([SIZES[0] + ",", *(line + ",x" for line in SIZES[1:])])},
        (("sizes.csv, row 1, column E", "no head", "they are not used"),),
        bad=False,
    ),
    *(
        Case(
            f"dates such as {text}",
            {"sizes.csv": DATES.format(*[text] * 12)},
            (("sizes.csv, row 2, column date", "unreadable value", fix),),
        )
        for text, fix in (
            ("03/04/2025", "the day comes first, `dates: 12/31/2025` if the month does"),
            ("30.10.2025", "write `dates: 31.12.2025`"),
            ("10/30/25", "write `dates: 12/31/25`"),
            ("2025/10/30", "write `dates: 2025/12/31`"),
            ("30 Oct 2025", "write the date in digits, like 2025-12-31"),
            ("45960", "45960 is how most of them keep 2025-10-30"),
        )
    ),
    Case(
        "one date of another kind",
        {"sizes.csv": S.replace("2025-10-30,A12,1", "30/10/2025,A12,1")},
        (("sizes.csv, row 4, column date", "unreadable value", "such as 2025-10-30"),),
    ),
    *(
        Case(
            f"a size {text}",
            {"sizes.csv": size(text)},
            (("sizes.csv, row 4, column height_cm", "unreadable value", fix),),
        )
        for text, fix in (
            ('"33,5"', 'add `decimal: ","`'),
            ('"1,033"', "write 1033 if thousands are meant"),
            ('"1,033.5"', "without any sign between the thousands"),
            ("1 033", "without any sign between the thousands"),
            ("33%", "write the number alone"),
            ("45 cm", "write the number alone"),
            ("n/a", "leave the cell blank"),
            ("-", "leave the cell blank"),
            ("#N/A", "mend its formula"),
            ("<5", "belongs into the note"),
            ("\u221245", "write the minus sign as -"),
        )
    ),
    *(
        Case(
            f"a head {head}",
            {"sizes.csv": S.replace("height_cm", head)},
            (("sizes.csv, row 1, column height_cm", "missing column", fix),),
        )
        for head, fix in (
            ("height_mm", 'write `columns: {height_cm: {head: "height_mm", measured_in: mm}}`'),
            ("Height cm", "rename Height cm, or write"),
            ("girth", "add the column, or say which one it is"),
            ("2025-09-30", "add `wide: {heads_are: date, cells_are: height_cm}`"),
        )
    ),
    Case(
        "water without any amount",
        {"water.csv": "date,plot,applied\n2025-06-01,A11,9\n"},
        (("water.csv, row 1", "missing column", "rename applied, or write"),),
        TRIAL.replace("responses:", "  water: {file: water.csv}\nresponses:"),
    ),
    Case(
        "a sum below the table",
        {"sizes.csv": S + "Total,,,442\n"},
        (
            ("sizes.csv, row 14, column date", "unreadable value", "delete the row if it is"),
            ("sizes.csv, row 14, column plot", "missing plot", "write the plot"),
        ),
    ),
    Case(
        "another word for alive",
        {"visits.csv": V.replace("alive", "ok")},
        (("visits.csv, row 2, column status", "unreadable value", "use one of these words"),),
    ),
    Case("capitals and spaces", {"visits.csv": V.replace("alive", "Alive ")}, bad=False),
    Case("spaces behind plots", {"visits.csv": V.replace("A12", "A12 ")}, bad=False),
    Case(
        "small letters",
        {"visits.csv": V.replace("A12", "a12")},
        (("visits.csv, row 4, column plot", "unknown plot", "did you mean A12?"),),
    ),
    Case(
        "a plant above the number planted",
        {"sizes.csv": S.replace("A12,1", "A12,7")},
        (("sizes.csv, row 4, column plant", "unknown plant", "correct the plant"),),
        bad=False,
    ),
    Case(
        "a size with its decimal sign lost",
        {"sizes.csv": size("3300")},
        (("sizes.csv, row 4, column height_cm", "far out of line", "slipped decimal sign"),),
        bad=False,
    ),
    Case(
        "visits without days",
        {"visits.csv": "\n".join(line.split(",", 1)[1] for line in VISITS)},
        (("visits.csv, row 1, column date", "missing date", "add the column"),),
    ),
    Case(
        "nobody went",
        {"visits.csv": V.replace("alive", "not visited")},
        (("visits.csv", "plots without records", "nothing is said of these plots"),),
        bad=False,
    ),
    Case(
        "one plot of six",
        {"sizes.csv": "\n".join(SIZES[:3])},
        (("sizes.csv, column height_cm", "plots without records", "fill in what is missing"),),
        bad=False,
    ),
    Case(
        "a unit that its column's name contradicts",
        says=(("trial.yaml, line 10, column 66", "unit and name differ", "else correct it"),),
        trial=TRIAL.replace("measured_in: cm", "measured_in: mm"),
        bad=False,
    ),
    Case(
        "a unit that nobody knows",
        says=(("trial.yaml, line 10, column 66", "unknown unit", "if mm is meant, write mm"),),
        trial=TRIAL.replace("measured_in: cm", "measured_in: mmm"),
        bad=False,
    ),
    Case(
        "an empty table of events",
        {"events.csv": "date,plot,what\n"},
        (("events.csv", "no rows", "nothing to do"),),
        TRIAL.replace("responses:", "  events: {file: events.csv}\nresponses:"),
        bad=False,
    ),
    Case(
        "one block",
        {"layout.csv": "\n".join(LAYOUT.splitlines()[:3]), "visits.csv": "\n".join(VISITS[:5])}
        | {"sizes.csv": "\n".join([SIZES[0], *SIZES[1:5]])},
        (("trial.yaml, line 4, column 51", "no degrees of freedom for error", "plan more"),),
        TRIAL.replace("blocks: 3", "blocks: 1"),
        bad=False,
    ),
    Case(
        "columns of a layout for people",
        {"layout.csv": LAYOUT.replace("\n", ",9\n").replace("watering,9", "watering,rep")},
        (("layout.csv, row 1, column rep", "column not used", "if replicate is meant"),),
        bad=False,
    ),
    Case(
        "an abbreviated column of a layout",
        {"layout.csv": LAYOUT.replace("\n", ",9\n").replace("watering,9", "watering,colum")},
        (("layout.csv, row 1, column colum", "unknown column", "write column"),),
    ),
    Case(
        "a title above a layout",
        {"layout.csv": "Terrace 3\n" + LAYOUT},
        (("layout.csv, row 2", "heads in another row", "delete the rows above"),),
    ),
)


def season_in(folder: Path, case: Case) -> Path:
    """Write a case's files into a folder."""
    files: dict[str, str | bytes | None] = {
        "trial.yaml": case.trial,
        "layout.csv": LAYOUT,
        "visits.csv": V,
        "sizes.csv": S,
        **case.files,
    }
    for name, content in files.items():
        if content is not None:
            (folder / name).parent.mkdir(exist_ok=True)
            data = content.encode() if isinstance(content, str) else content
            (folder / name).write_bytes(data)
    return folder / "trial.yaml"


def place(finding: dict[str, Any]) -> str:
    """Where a finding of ``check --json`` stands, as people read it."""
    parts = [
        f"{k} {finding[k]}" for k in ("line", "row", "column") if finding.get(k) is not None
    ]
    return ", ".join([finding["file"], *parts])


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_it_is_told_at_its_place(
    case: Case, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = season_in(tmp_path, case)
    assert run(["check", "--json", str(file)]) == int(case.bad)
    found = json.loads(capsys.readouterr().out)
    assert bool(found["problems"]) == case.bad
    told = [*found["problems"], *found["queries"], *found["notes"]]
    for finding in told:
        assert all(finding[key] for key in ("file", "code", "found", "expected", "fix"))
    for where, code, fix in case.says:
        alike = [f for f in told if place(f) == where and f["code"] == code]
        assert alike, [(place(f), f["code"]) for f in told]
        assert fix in alike[0]["fix"]
    assert len({f["code"] for f in told}) == len({code for _, code, _ in case.says})
    assert run(["check", str(file)]) == int(case.bad)
    said = capsys.readouterr()
    assert "Traceback" not in said.err + said.out
    assert all(code in said.err + said.out for _, code, _ in case.says)


def test_an_empty_optional_table_does_not_wait(tmp_path: Path) -> None:
    from wickstats.api import read_records, read_trial

    case = next(c for c in CASES if c.name == "an empty table of events")
    season = read_records(read_trial(season_in(tmp_path, case)))
    assert season.queries == ()
    assert [note.code for note in season.notes] == ["no rows"]


def test_power_says_why_one_block_has_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = TRIAL.replace("blocks: 3", "blocks: 1").replace(", drawn: elsewhere", "")
    text += "power: {assume: {height: {mean: {hand: 10, wick: 12}, plot_cv: 0.1}}}\n"
    file = tmp_path / "trial.yaml"
    file.write_text(text, encoding="utf-8")
    assert run(["power", str(file)]) == 0
    assert "in the stratum plot no degrees of freedom are left" in capsys.readouterr().out
    assert run(["randomize", str(file)]) == 0
    assert "differences are estimates only" in capsys.readouterr().out
