"""What ``randomize`` and ``check`` print for designs beyond complete blocks."""

import shutil
from pathlib import Path

import pytest
from support import ROOT

from wickstats.cli.app import run

SPACE = "\N{NO-BREAK SPACE}"


def copy_of(name: str, tmp_path: Path) -> Path:
    folder = tmp_path / name
    folder.mkdir()
    shutil.copy(ROOT / "designs" / "types" / name / "trial.yaml", folder)
    return folder / "trial.yaml"


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        (
            "twelve-sources",
            [
                "36 plots laid out with seed 5505: layout.csv",
                (
                    f"This layout of incomplete blocks keeps 68{SPACE}% of the information of "
                    f"complete blocks; the best possible at this size is 71{SPACE}%."
                ),
                "  plot: residual          13",
            ],
        ),
        (
            "cords-by-threes",
            [
                (
                    f"This layout of incomplete blocks keeps 78{SPACE}% of the information of "
                    "complete blocks; no layout of this size keeps more."
                ),
            ],
        ),
        (
            "reference-twice",
            ["Kept to: no treatment at an end of every block.", "  plot: residual     21"],
        ),
        (
            "roof-square",
            [
                (
                    "Each square was drawn so that all 161,280 Latin squares of order 5 were "
                    "equally likely."
                ),
                "  plot: residual     12",
            ],
        ),
    ],
)
def test_randomize_says_how_and_what_is_kept(
    name: str, lines: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = copy_of(name, tmp_path)
    assert run(["randomize", str(path)]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert [line for line in lines if line not in printed] == []
    assert run(["check", str(path)]) == 0
    checked = capsys.readouterr().out.splitlines()
    kept = [line for line in printed if "of the information" in line]
    assert [line for line in checked if "of the information" in line] == kept
    same = ROOT / "designs" / "types" / name / "layout.csv"
    assert (path.parent / "layout.csv").read_bytes() == same.read_bytes()


def test_restrictions_that_leave_too_little_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "trial.yaml").write_text(
        "format: 1\ntrial: {id: two}\nfactors: {watering: [wick, drip]}\n"
        "design: {type: randomized complete block, blocks: 6, layout: layout.csv,\n"
        '  keep: ["no treatment beside itself across blocks"]}\n'
    )
    for command in ("check", "randomize"):
        assert run([command, str(tmp_path / "trial.yaml")]) == 1
        told = capsys.readouterr().err
        assert "restriction too strict" in told
        assert "without the restriction it is 0.0312" in told
    assert not (tmp_path / "layout.csv").exists()


def test_schema_prints_the_restrictions(capsys: pytest.CaptureFixture[str]) -> None:
    from wickstats.design.keep import KEEP

    assert run(["schema"]) == 0
    printed = capsys.readouterr().out
    assert all(f'"{word}"' in printed for word in KEEP)
