"""The program: exit codes, words instead of tracebacks, nothing half-written."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from wickstats.cli.app import COMMANDS, run
from wickstats.demo.trials import copy_demo


@pytest.fixture
def oaks(tmp_path: Path) -> Path:
    return copy_demo(tmp_path)[0]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([name, "--help"]) == 0
    assert "Example: wickstats" in capsys.readouterr().out


def test_a_mistyped_command_is_misuse_and_names_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["analyse"]) == 2
    assert "Did you mean analyze?" in capsys.readouterr().err


def test_a_missing_file_is_a_problem_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", str(tmp_path / "none.yaml")]) == 1
    said = capsys.readouterr()
    assert "Traceback" not in said.err + said.out
    assert "none.yaml" in said.err + said.out


def test_check_lists_queries_without_failing(
    oaks: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", str(oaks / "trial.yaml"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["problems"] == []
    assert found["queries"]
    for query in found["queries"]:
        assert {"file", "code", "found", "expected", "fix"} <= set(query)


def test_randomize_refuses_a_second_draw_and_keeps_the_first(
    oaks: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (oaks / "layout.csv").read_bytes()
    assert run(["randomize", str(oaks / "trial.yaml")]) == 1
    assert (oaks / "layout.csv").read_bytes() == before
    assert run(["randomize", str(oaks / "trial.yaml"), "--redraw"]) == 2
    capsys.readouterr()


@pytest.mark.parametrize("like", ["field", "garden", "bench"])
def test_a_new_trial_checks_clean(
    tmp_path: Path, like: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["new", str(tmp_path / "mine"), "--like", like]) == 0
    assert run(["check", str(tmp_path / "mine" / "trial.yaml")]) == 0
    assert run(["new", str(tmp_path / "mine"), "--like", like]) == 1
    capsys.readouterr()


def test_power_prints_the_answer_first(oaks: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["power", str(oaks / "trial.yaml")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].startswith("With 6 blocks, this trial has")


def test_a_broken_table_stops_the_analysis_with_its_row(
    oaks: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = oaks / "water.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    lines[3] = lines[3].replace("20", "2O", 1)
    table.write_text("\n".join(lines), encoding="utf-8")
    assert run(["analyze", str(oaks / "trial.yaml"), "--out", str(oaks / "out")]) == 1
    said = capsys.readouterr().err
    assert "water.csv, row 4" in said
    assert "Traceback" not in said
    assert not (oaks / "out").exists()


def test_the_package_loads_nothing_heavy_for_help() -> None:
    code = (
        "import sys; from wickstats.cli.app import run; run(['--help']);"
        "print([m for m in ('numpy', 'pandas', 'pydantic', 'matplotlib') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
