"""Commands aimed at the wrong thing: words and an exit code, never a fault."""

import json
from pathlib import Path

import pytest

from wickstats.cli.app import run
from wickstats.demo.trials import copy_demo


def said(capsys: pytest.CaptureFixture[str]) -> str:
    out = capsys.readouterr()
    assert "Traceback" not in out.out + out.err
    assert "fault of its own" not in out.err
    return out.out + out.err


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a file, a foreign folder and a trial."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("hello\n", encoding="utf-8")
    (tmp_path / "foreign").mkdir()
    (tmp_path / "foreign" / "mine.txt").write_text("keep me", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    copy_demo(tmp_path / "demo")
    return tmp_path


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        ("check none.yaml", 1, "no file none.yaml in ."),
        ("check foreign", 1, "foreign is a folder"),
        ("check file", 1, 'the file with "hello"'),
        (
            "check demo/quarry-oaks/trial.yaml demo/quarry-oaks/trial.yaml",
            2,
            "unexpected extra",
        ),
        ("randomize demo/quarry-oaks/trial.yaml", 1, "layout exists"),
        ("randomize demo/quarry-oaks/trial.yaml --redraw", 2, "go together"),
        ("analyze demo/quarry-oaks/trial.yaml --out foreign", 1, "without a manifest"),
        ("analyze demo/quarry-oaks/trial.yaml --out file", 1, "a file of that name"),
        ("audit empty", 1, "no manifest.json"),
        ("audit foreign", 1, "no manifest.json"),
        ("audit none", 1, "no such folder"),
        ("audit file", 2, "is a file"),
        ("new file", 1, "file is a file: name a folder"),
        ("new demo/quarry-oaks", 1, "already holds trial.yaml"),
        ("power file", 1, 'the file with "hello"'),
        ("demo --out file", 2, "is a file"),
    ],
)
def test_the_wrong_thing_is_refused_in_words(
    args: str, code: int, words: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(args.split()) == code
    assert words in said(capsys)
    assert (place / "foreign" / "mine.txt").read_text(encoding="utf-8") == "keep me"
    assert (place / "file").read_text(encoding="utf-8") == "hello\n"


def test_what_the_system_refuses_is_told_with_the_name_that_people_know(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", "/there/.layout.csv.ab12cd34.partial")

    monkeypatch.setattr("wickstats.core.codec.write_whole", refuse)
    assert run(["new", str(place / "trial")]) == 1
    assert said(capsys).startswith(
        "/there/layout.csv: cannot be read or written\n    found     permission denied\n"
    )


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"a":', "\0\1\2"])
def test_a_broken_manifest_is_a_finding(
    text: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "empty" / "manifest.json").write_text(text, encoding="utf-8")
    assert run(["audit", "--json", str(place / "empty")]) == 1
    out = capsys.readouterr()
    assert "Traceback" not in out.err
    assert "manifest" in out.out + out.err
    if out.out:
        json.loads(out.out)


def test_a_manifest_that_is_a_list_is_told_in_one_sentence(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "empty" / "manifest.json").write_text("[1]", encoding="utf-8")
    run(["audit", str(place / "empty")])
    out = said(capsys)
    assert "expected an object" in out
    assert ": :" not in out


def test_what_the_system_refuses_is_json_for_programs(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = place / "demo" / "quarry-oaks"
    (folder / "layout.record.json").unlink(missing_ok=True)
    (folder / "layout.record.json").mkdir()  # cannot be opened as a file
    assert run(["check", "--json", str(folder / "trial.yaml")]) == 1
    out = capsys.readouterr()
    assert out.err == ""
    (problem,) = json.loads(out.out)["problems"]
    assert problem["code"] == "cannot be read or written"
    assert problem["file"].endswith("layout.record.json")
    assert problem["found"] == "is a directory"
