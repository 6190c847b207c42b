"""One table however it was stored: text of many kinds, workbooks, frames."""
# ruff: noqa: E501  (files are quoted on one line)

import hashlib
import io
import struct
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from support_records import HEIGHT, problems_of, small_layout, small_trial

from wickstats.records.read import read_records
from wickstats.records.season import Season

VISITS = "date,plot,plant,status\n2025-04-01,A1,1,alive\n2025-05-01,A1,1,dead\n"
SIZES = [("A1", "1", "2025-04-01", 12.5), ("007", "2", "2025-04-02", 30.0)]


def read(folder: Path, table: str, data: bytes, name: str, **options: Any) -> Season:
    (folder / name).write_bytes(data)
    responses = (HEIGHT,) if table == "measurements" else ()
    trial = small_trial(folder, {table: {"file": name, **options}}, responses)
    return read_records(trial, small_layout())


def sizes(season: Season) -> list[tuple[Any, ...]]:
    table = season.tables["measurements"]
    days = table["date"].dt.strftime("%Y-%m-%d")
    return list(zip(table["plot"], table["plant"], days, table["height_cm"], strict=True))


def workbook(rows: list[list[Any]], title: str = "heights") -> openpyxl.Workbook:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    return book


def saved(book: openpyxl.Workbook) -> bytes:
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("text", "options"),
    [
        ("plot,plant,date,height_cm\nA1,1,2025-04-01,12.5\n007,2,2025-04-02,30\n", {}),
        ("plot;plant;date;height_cm\nA1;1;2025-04-01;12,5\n007;2;2025-04-02;30\n", {"decimal": ","}),
        ("plot\tplant\tdate\theight_cm\nA1\t1\t2025-04-01\t12.5\n007\t2\t2025-04-02\t3e1\n", {}),
        ("sep=;\nplot;plant;date;height_cm\nA1;1;2025-04-01;12.5\n007;2;2025-04-02;30\n", {}),
        ("plot,plant,date,height_cm\nA1,1,1/4/2025,12.5\n007,2,02/04/2025,30\n", {"dates": "31/12/2025"}),
        ("plot,plant,date,height_cm\nA1,1,04/01/2025,12.5\n007,2,4/2/2025,30\n", {"dates": "12/31/2025"}),
        ("plot,plant,date,height_cm\nA1,1,01.04.25,12.5\n007,2,02.04.25,30\n", {"dates": "31.12.25"}),
        ("a title\n\nplot,plant,date,height_cm\nA1,1,2025-04-01,12.5\n007,2,2025-04-02,30\n", {"header_row": 3}),
        (
            'plot;plant;date;height, mm\nA1;1;2025-04-01;125\n007;2;2025-04-02;300\n',
            {"columns": {"height_cm": {"head": "height, mm", "measured_in": "mm"}}},
        ),
        (
            "plot,plant,date,steps\nA1,1,2025-04-01,2.5\n007,2,2025-04-02,6\n",
            {"columns": {"height_cm": {"head": "steps", "times": 5.0}}},
        ),
        (
            "plot,plant,2025-04-01,2025-04-02\nA1,1,12.5,\n007,2,,30\n",
            {"wide": {"heads_are": "date", "cells_are": "height_cm"}},
        ),
        ("plot,plant,date,height_cm\r\nA1,1,2025-04-01,12.5\r\n\r\n007,2,2025-04-02,30", {}),
    ],
    ids=[
        "commas", "semicolons", "tabs", "sep line", "day first", "month first", "short years",
        "header row", "own head and unit", "times", "crosswise", "carriage returns",
    ],
)  # fmt: skip
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_the_same_sizes_come_out(
    text: str, options: dict[str, Any], encoding: str, tmp_path: Path
) -> None:
    season = read(tmp_path, "measurements", text.encode(encoding), "m.csv", **options)
    assert sizes(season) == SIZES
    assert [q.code for q in season.queries] == ["plots without records"]


def test_row_numbers_count_as_a_spreadsheet_does(tmp_path: Path) -> None:
    text = 'plot,plant,date,height_cm,note\nA1,1,2025-04-01,12.5,"two\nlines"\n\n007,2,2025-04-02,30,\n'
    season = read(tmp_path, "measurements", text.encode(), "m.csv")
    assert season.tables["measurements"]["row"].tolist() == [2, 4]
    assert season.inputs[0].rows == 2


def test_a_workbook_gives_the_same(tmp_path: Path) -> None:
    rows = [
        ["plot", "plant", "date", "height_cm"],
        ["A1", 1, date(2025, 4, 1), 12.5],
        ["007", 2, datetime(2025, 4, 2), 30],  # noqa: DTZ001  (workbooks know no time zones)
    ]
    data = saved(workbook(rows))
    assert sizes(read(tmp_path, "measurements", data, "m.xlsx")) == SIZES
    named = read(tmp_path, "measurements", data, "m.xlsx", sheet="heights")
    assert set(named.tables["measurements"]["file"]) == {"m.xlsx, sheet heights"}
    assert named.inputs[0].path == "m.xlsx"


def test_dates_as_heads_of_a_workbook(tmp_path: Path) -> None:
    rows = [
        ["plot", "plant", date(2025, 4, 1), date(2025, 4, 2)],
        ["A1", 1, 12.5, None],
        ["007", 2, None, 30],
    ]
    wide = {"heads_are": "date", "cells_are": "height_cm"}
    assert (
        sizes(read(tmp_path, "measurements", saved(workbook(rows)), "m.xlsx", wide=wide))
        == SIZES
    )


def test_several_files_become_one_table(tmp_path: Path) -> None:
    head = "plot,plant,date,height_cm"
    (tmp_path / "a.csv").write_text(f"{head}\nA1,1,2025-04-01,12.5\n")
    (tmp_path / "b.csv").write_text(f"{head},girth_mm\n007,2,2025-04-02,30,4\n")
    files = ({"file": "a.csv"}, {"file": "b.csv"})
    trial = small_trial(tmp_path, {"measurements": files}, (HEIGHT,))
    season = read_records(trial, small_layout())
    assert sizes(season) == SIZES
    assert season.tables["measurements"]["girth_mm"].fillna(-1).tolist() == [-1, 4]
    assert [i.path for i in season.inputs] == ["a.csv", "b.csv"]


def test_two_quantities_of_one_plant_on_two_sheets_are_no_duplicate(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("plot,plant,date,height_cm\nA1,1,2025-04-01,12.5\n")
    (tmp_path / "b.csv").write_text("plot,plant,date,girth_mm\nA1,1,2025-04-01,4\n")
    trial = small_trial(
        tmp_path, {"measurements": ({"file": "a.csv"}, {"file": "b.csv"})}, (HEIGHT,)
    )
    season = read_records(trial, small_layout())
    assert len(season.tables["measurements"]) == 2
    assert {q.code for q in season.queries} == {"plots without records"}


def test_what_a_spreadsheet_hides_is_told(tmp_path: Path) -> None:
    rows = [
        ["plot", "plant", "date", "height_cm", "note"],
        ["A1", 1, date(2025, 4, 1), 12.5, "a"],
        ["A1", 2, date(2025, 4, 1), "=D2*2", "b"],
        ["A1", 3, date(2025, 4, 1), 14, "c"],
    ]
    book = workbook(rows)
    sheet = book["heights"]
    sheet.merge_cells("E2:E3")
    sheet.row_dimensions[4].hidden = True
    season = read(tmp_path, "measurements", saved(book), "m.xlsx")
    told = {(q.code, q.row, q.column) for q in season.queries}
    assert told == {
        ("formula without a value", 3, "height_cm"),
        ("merged cells", 2, "note"),
        ("hidden rows", 4, None),
        ("plots without records", None, "height_cm"),
    }
    assert season.tables["measurements"]["row"].tolist() == [2, 4]
    assert [(x.row, x.reason) for x in season.exclusions] == [(3, "no quantity in this row")]


def test_an_error_cell_is_no_blank(tmp_path: Path) -> None:
    rows = [["plot", "plant", "date", "height_cm"], ["A1", 1, date(2025, 4, 1), "#DIV/0!"]]
    (tmp_path / "m.xlsx").write_bytes(saved(workbook(rows)))
    trial = small_trial(tmp_path, {"measurements": {"file": "m.xlsx"}}, (HEIGHT,))
    (problem,) = problems_of(trial)
    assert (problem.code, problem.found, problem.row) == ("unreadable value", "#DIV/0!", 2)


def test_a_workbook_of_several_sheets_needs_a_name(tmp_path: Path) -> None:
    book = workbook([["plot"]])
    book.create_sheet("spare")
    (tmp_path / "m.xlsx").write_bytes(saved(book))
    trial = small_trial(tmp_path, {"measurements": {"file": "m.xlsx"}}, (HEIGHT,))
    (problem,) = problems_of(trial)
    assert (problem.code, problem.found) == ("which sheet", "2 sheets: heights, spare")
    trial = small_trial(tmp_path, {"measurements": {"file": "m.xlsx", "sheet": "height"}})
    assert [p.code for p in problems_of(trial)] == ["missing sheet"]


def lying_bomb() -> bytes:
    """An archive of 210 MB of zeros whose directory claims a kilobyte."""
    buffer = io.BytesIO()
    archive = zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED)
    with archive, archive.open("xl/worksheets/sheet1.xml", "w") as part:
        for _ in range(210):
            part.write(bytes(1024 * 1024))
    data = bytearray(buffer.getvalue())
    place = data.rindex(b"PK\x01\x02")
    struct.pack_into("<L", data, place + 24, 1024)
    return bytes(data)


def test_a_workbook_that_unpacks_without_end_is_refused(tmp_path: Path) -> None:
    (tmp_path / "m.xlsx").write_bytes(lying_bomb())
    (problem,) = problems_of(small_trial(tmp_path, {"visits": {"file": "m.xlsx"}}))
    assert str(problem) == (
        "m.xlsx: too large: found a workbook that unpacks to more than 200 MB; expected less; "
        "to mend it: save only the sheets of this trial, or save the sheet as CSV"
    )


@pytest.mark.parametrize("cut", [0, 10, 200, -40])
def test_a_damaged_workbook_is_a_problem_and_no_crash(cut: int, tmp_path: Path) -> None:
    data = saved(workbook([["plot", "plant", "date", "height_cm"]]))
    (tmp_path / "m.xlsx").write_bytes(data[:cut])
    (problem,) = problems_of(small_trial(tmp_path, {"measurements": {"file": "m.xlsx"}}))
    assert problem.code == "unreadable workbook"


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    text = "date,plot,plant,status,note\n2025-04-01,A1,1,alive,=HYPERLINK(1)\n"
    season = read(tmp_path, "visits", text.encode(), "v.csv")
    assert season.tables["visits"]["note"].tolist() == ["=HYPERLINK(1)"]


def test_a_path_that_leaves_the_folder_by_a_link_is_refused(tmp_path: Path) -> None:
    inside = tmp_path / "trial"
    inside.mkdir()
    (tmp_path / "secret.csv").write_text(VISITS)
    (inside / "visits.csv").symlink_to(tmp_path / "secret.csv")
    (problem,) = problems_of(small_trial(inside, {"visits": {"file": "visits.csv"}}))
    assert problem.code == "outside the folder"


def test_a_missing_file_names_one_like_it(tmp_path: Path) -> None:
    (tmp_path / "visits.csv").write_text(VISITS)
    (problem,) = problems_of(small_trial(tmp_path, {"visits": {"file": "visit.csv"}}))
    assert (problem.code, problem.fix) == ("missing file", "did you mean visits.csv?")


def test_frames_take_the_same_checks() -> None:
    trial = small_trial()
    frame = pd.DataFrame(
        {"date": ["2025-04-01"], "plot": ["A9"], "plant": [1], "status": ["aliv"]}
    )
    with pytest.raises(
        Exception, match=r"visits \(in memory\), row 2, column plot: unknown plot"
    ):
        read_records(trial, small_layout(), {"visits": frame})
    with pytest.raises(Exception, match="unknown table: found a table visit"):
        read_records(trial, small_layout(), {"visit": frame})


def test_a_frame_is_not_changed() -> None:
    frame = pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-04-01"]),
            "plot": ["A1"],
            "plant": [1],
            "height_cm": [500.0],
        }
    )
    before = frame.copy(deep=True)
    season = read_records(
        small_trial(responses=(HEIGHT,)), small_layout(), {"measurements": frame}
    )
    assert [q.code for q in season.queries] == ["outside its range"]
    pd.testing.assert_frame_equal(frame, before)


def test_bytes_and_digests_are_kept(tmp_path: Path) -> None:
    season = read(tmp_path, "visits", VISITS.encode(), "v.csv")
    assert season.source_bytes["v.csv"] == VISITS.encode()
    assert season.inputs[0].rows == 2
    assert season.inputs[0].sha256 == hashlib.sha256(VISITS.encode()).hexdigest()
