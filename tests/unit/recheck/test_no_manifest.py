"""A folder without its manifest is audited all the same, and its absence is serious."""

from pathlib import Path

import pytest
from support_audit import audited

from wickstats.cli.app import run
from wickstats.report.write import report_files


def written(folder: Path, language: str = "en") -> Path:
    """The demo report without its manifest, in one language."""
    season = audited("quarry-oaks")
    for path, data in report_files(season.results, language).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    return folder


@pytest.mark.parametrize("language", ["en", "es"])
def test_only_the_manifest_is_missing(
    language: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = written(tmp_path / "report", language)
    assert run(["audit", str(folder)]) == 1
    said = capsys.readouterr().out
    (found,) = [line for line in said.splitlines() if line.startswith("serious: ")]
    assert found.startswith("serious: manifest.json: the manifest is not in the folder")
    page = (tmp_path / "report-audit.html").read_text(encoding="utf-8")
    assert "the manifest is not in the folder" in page


def test_an_edited_record_is_still_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = written(tmp_path / "report")
    visits = folder / "inputs" / "visits.csv"
    visits.write_text(visits.read_text("utf-8").replace(",alive,", ",dead,", 1), "utf-8")
    assert run(["audit", str(folder)]) == 1
    said = capsys.readouterr().out
    assert "serious: inputs/visits.csv" in said
    assert "serious: manifest.json" in said
