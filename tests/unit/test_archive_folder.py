"""The folder: manifest, swap, lock, and what is never overwritten."""

import hashlib
import io
from pathlib import Path

import pytest
from openpyxl import Workbook
from support_results import SOURCES, rich_results

from wickstats.archive import folder as module
from wickstats.archive.folder import archive_files, read_folder, write_folder
from wickstats.archive.manifest import (
    MANIFEST_NAME,
    Change,
    compare,
    make_manifest,
    read_manifest,
    row_digests,
    write_manifest,
)
from wickstats.core.errors import ReportError

FILES = {"report.html": b"<p>", "inputs/visits.csv": b"a,b\n1,2\n3,4\n"}


def test_the_manifest_lists_every_file_but_itself(tmp_path: Path) -> None:
    files = archive_files(rich_results())
    place = write_folder(tmp_path / "out", files, trial="hill-hazels")
    manifest = read_manifest((place / MANIFEST_NAME).read_bytes())
    assert {e.path for e in manifest.files} == set(files)
    for entry in manifest.files:
        data = (place / entry.path).read_bytes()
        assert entry.sha256 == hashlib.sha256(data).hexdigest()
        assert entry.size == len(data)
    assert compare(manifest, read_folder(place)) == ()
    assert manifest.libraries["numpy"].count(".") >= 1


def test_inputs_hold_the_exact_bytes(tmp_path: Path) -> None:
    place = write_folder(tmp_path / "out", archive_files(rich_results()), trial="x")
    for path, data in SOURCES.items():
        assert (place / "inputs" / path).read_bytes() == data


def test_nothing_but_the_folder_is_left(tmp_path: Path) -> None:
    for _ in range(2):
        write_folder(tmp_path / "out", FILES, trial="x")
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_files_of_an_earlier_report_do_not_stay(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", {**FILES, "figures/old.svg": b"x"}, trial="x")
    place = write_folder(tmp_path / "out", FILES, trial="x")
    assert set(read_folder(place)) == {*FILES, MANIFEST_NAME}


def _stranger(place: Path) -> None:
    place.mkdir()
    (place / "notes.txt").write_text("mine")


def _strange_manifest(place: Path) -> None:
    place.mkdir()
    (place / MANIFEST_NAME).write_text('{"files": []}')


def _file_among_ours(place: Path) -> None:
    write_folder(place, FILES, trial="x")
    (place / "notes.txt").write_text("mine")


def _plain_file(place: Path) -> None:
    place.write_text("mine")


@pytest.mark.parametrize(
    ("prepare", "found"),
    [
        (_stranger, "a folder without a manifest of wickstats"),
        (_strange_manifest, "a folder whose manifest is not readable"),
        (_file_among_ours, "a file in it that is not ours: notes.txt"),
        (_plain_file, "a file of that name"),
    ],
)
def test_what_is_not_ours_is_never_touched(tmp_path: Path, prepare: object, found: str) -> None:
    place = tmp_path / "out"
    assert callable(prepare)
    prepare(place)
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    with pytest.raises(ReportError) as caught:
        write_folder(place, {**FILES, "report.html": b"new"}, trial="x")
    assert caught.value.problems[0].found == found
    assert "--out" in caught.value.problems[0].fix
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_a_failed_write_leaves_the_earlier_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = write_folder(tmp_path / "out", FILES, trial="x")

    def fail(*_args: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(module, "_write_all", fail)
    with pytest.raises(OSError, match="disk full"):
        write_folder(place, {"report.html": b"new"}, trial="x")
    assert (place / "report.html").read_bytes() == b"<p>"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_run_stopped_in_the_swap_is_mended(tmp_path: Path) -> None:
    place = write_folder(tmp_path / "out", FILES, trial="x")
    place.rename(tmp_path / ".out.old")
    write_folder(place, {"report.html": b"new"}, trial="x")
    assert (place / "report.html").read_bytes() == b"new"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_one_run_at_a_time(tmp_path: Path) -> None:
    place = tmp_path / "out"
    with module._lock(place), pytest.raises(ReportError) as caught:
        write_folder(place, FILES, trial="x")
    assert caught.value.problems[0].code == "in use"
    assert write_folder(place, FILES, trial="x").is_dir()


@pytest.mark.parametrize("path", ["../x", "/etc/x", "a/../../x", "a\\b", "", "c:/x", ".hidden"])
def test_paths_stay_inside_the_folder(tmp_path: Path, path: str) -> None:
    with pytest.raises(ReportError):
        write_folder(tmp_path / "out", {path: b"x"}, trial="x")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_without_manifest_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(ReportError) as caught:
        read_folder(tmp_path / "nowhere")
    assert caught.value.problems[0].found == "no such folder"


def test_changes_are_named_by_file_and_row() -> None:
    manifest = read_manifest(write_manifest(make_manifest(FILES, trial="x")))
    changed = {"inputs/visits.csv": b"a,b\n1,2\n3,5\n", "extra.txt": b""}
    assert compare(manifest, changed) == (
        Change("inputs/visits.csv", "changed", ((None, 3),)),
        Change("report.html", "missing"),
        Change("extra.txt", "unlisted"),
    )


@pytest.mark.parametrize(
    ("data", "rows"),
    [
        (b"a,b\n9,9\n1,2\n3,4\n", (2,)),  # a row put in
        (b"a,b\n3,4\n", (2,)),  # a row taken out: where it stood
        (b"a,b\n1,2\n3,4\n5,6\n", (4,)),
    ],
)
def test_rows_put_in_or_taken_out_shift_no_blame(data: bytes, rows: tuple[int, ...]) -> None:
    manifest = make_manifest(FILES, trial="x")
    found = compare(manifest, {**FILES, "inputs/visits.csv": data})
    assert found[0].rows == tuple((None, row) for row in rows)


def test_a_line_end_inside_quotes_is_not_a_row_end() -> None:
    (rows,) = row_digests("inputs/v.csv", b'a;b\r\n1;"wet\nsoil"\r\n2;x\r\n')
    assert len(rows.digests) == 3


def test_a_changed_cell_of_a_workbook_is_named_by_sheet_and_row() -> None:
    def workbook(value: float) -> bytes:
        book = Workbook()
        sheet = book.active
        assert sheet is not None
        sheet.title = "heights"
        for row in (["plot", "cm"], ["KA", 1.0], ["KB", value]):
            sheet.append(row)
        held = io.BytesIO()
        book.save(held)
        return held.getvalue()

    manifest = make_manifest({"inputs/s.xlsx": workbook(2.0)}, trial="x")
    (change,) = compare(manifest, {"inputs/s.xlsx": workbook(2.5)})
    assert change.rows == (("heights", 3),)


def test_a_broken_workbook_has_no_rows_but_its_hash_guards_it() -> None:
    assert row_digests("inputs/s.xlsx", b"not a zip") == ()
