"""Folders that a version-control program or a file manager went through are honest ones."""

from pathlib import Path

from support_audit import audited

from wickstats.archive.folder import read_folder
from wickstats.archive.manifest import make_manifest, read_manifest
from wickstats.recheck.audit import judge
from wickstats.recheck.line_ends import restored, with_line_feeds

Files = dict[str, bytes]


def ended(files: Files, end: bytes) -> Files:
    """With other line ends in everything that is text."""
    return {
        path: data if path.endswith(".xlsx") else with_line_feeds(data).replace(b"\n", end)
        for path, data in files.items()
    }


def test_line_ends_are_told_as_such_in_one_note() -> None:
    held = audited("quarry-oaks")
    files = ended(held.files, b"\r\n")
    files, notes = restored(files, read_manifest(files["manifest.json"]))
    audit = judge(files, held.again, name="r", results=held.results, extra=tuple(notes))
    assert audit.serious == 0
    (found,) = [f for f in audit.findings if f.kind == "line ends"]
    assert found.weight == "note"
    assert found.sentence.startswith("only their line ends differ")
    assert "store files as they are" in found.ask
    for path, data in files.items():
        if path.startswith("inputs/"):
            assert data == held.files[path]


def test_tables_of_the_crew_that_had_pairs_get_them_back() -> None:
    files = {"inputs/visits.csv": b"a,b\r\n1,2\r\n", "report.html": b"<p>\n"}
    manifest = make_manifest(files, trial="t")
    changed = ended(files, b"\n")
    back, (note,) = restored(changed, manifest)
    assert back == files
    assert (note.place, note.weight) == ("inputs/visits.csv", "note")
    assert note.sentence.startswith("only its line ends differ")


def test_what_says_something_else_too_is_left_as_it_is() -> None:
    files = {"inputs/visits.csv": b"a,b\n1,2\n"}
    manifest = make_manifest(files, trial="t")
    changed = {"inputs/visits.csv": b"a,b\r\n1,3\r\n"}
    assert restored(changed, manifest) == (changed, [])


def test_hidden_folders_are_no_part_of_a_report(tmp_path: Path) -> None:
    for name in ("manifest.json", ".git/HEAD", ".git/objects/ab/cd", "tables/.DS_Store"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"{}")
    assert set(read_folder(tmp_path)) == {"manifest.json"}
